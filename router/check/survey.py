"""The route as the referee looks things up in it. Nothing here judges."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from functools import cached_property
from math import dist
from typing import TYPE_CHECKING, NamedTuple, Protocol, TypeVar

import numpy as np

from router.check.findings import TOLERANCE_MM
from router.check.lines import Line, snapped_plan
from router.check.vectors import Xyz, along, minus, opposite, unit
from router.trade.joining import joining_for
from router.trade.tables import Tables

if TYPE_CHECKING:
    from collections.abc import Iterable

    from numpy.typing import NDArray

    from router.check.drains import Low
    from router.check.joints import Length
    from router.route.model import Counts, Fitting, HeadResult, Piece, Route, RunResult, Takeoff
    from router.scenario.model import Head, Run, Scenario


class _Named(Protocol):
    @property
    def id(self) -> str: ...


N = TypeVar("N", bound=_Named)


class End(NamedTuple):
    """One end of a piece: where it is, and the unit direction from there into the piece."""

    piece: Piece
    side: int
    at: Xyz
    into: Xyz | None


@dataclass(frozen=True)
class Seat:
    """Where an outlet sits on an uncut run: the piece, and how far from the piece's start, mm."""

    piece: Piece
    at: float


class Survey:
    """Look-ups over one scenario and one route, by id and by place.

    Where an id stands twice, the first is kept and the id is in ``doubles``.
    """

    def __init__(self, scenario: Scenario, route: Route, older: Route | None = None) -> None:
        self.scenario = scenario
        self.route = route
        self.older = older
        """The route that it was to keep, if that is at hand."""
        self.rules = scenario.rules
        self.system = scenario.system
        self.tables = Tables(scenario.system.standard, scenario.rules.tables)
        self.doubles: list[tuple[str, str]] = []
        self.runs: dict[str, Run] = {run.id: run for run in reversed(scenario.runs)}
        self.heads: dict[str, Head] = {head.id: head for head in reversed(scenario.heads)}
        self.pieces: dict[str, Piece] = self._by_id("piece", route.pieces)
        self.fittings: dict[str, Fitting] = self._by_id("fitting", route.fittings)
        self.takeoffs: dict[str, Takeoff] = self._by_id("takeoff", route.takeoffs)
        self.built: dict[str, RunResult] = self._by_id("run", route.runs)
        self.results: dict[str, HeadResult] = self._by_id("head", route.heads)
        # what several rules ask of the same piece, fitting or takeoff is worked out once
        self._ends: dict[str, tuple[End, End]] = {}
        self._radii: dict[int, float] = {}
        self._run_fittings: dict[str, Fitting | None] = {}
        self._places: dict[str, Xyz | None] = {}
        self._fitting_joinings: dict[str, str] = {}
        self.openings: dict[tuple[str, Xyz], int | None] = {}
        """By fitting id and direction: what :func:`router.check.joints.opening` found."""
        self.units: dict[str, list[Xyz | None]] = {}
        """By fitting id: the directions of its openings, made unit vectors."""
        self.turns: dict[str, dict[tuple[int, int], float]] = {}
        """By fitting id: what :func:`router.check.joints.turns` found."""
        self.in_line: dict[str, tuple[tuple[int, ...], int, int]] = {}
        """By fitting id: the run of a tee or cross, as :mod:`router.check.joints` found it."""
        self.match_deg: float | None = None
        """What :func:`router.check.joints.match_tolerance` found."""
        self.letters: dict[tuple[str, Xyz], str] = {}
        """By piece id and where the flow enters it: what :func:`router.check.arms.letter` found."""
        self.take_outs: dict[tuple[str, Xyz | None], Length] = {}
        """By fitting id and direction: what :func:`router.check.joints.take_out` found."""
        self.nipples: dict[tuple[int, str], Length] = {}
        """By DN and joining: what :func:`router.check.joints.nipple` found."""
        self.engagements: dict[tuple[int, str], float] = {}
        """By DN and joining: what :func:`router.check.joints.engagement` found."""
        self.unsupported: dict[str, list[tuple[str, float]]] = {}
        """By takeoff id: what :func:`router.check.arms.unsupported` found."""
        self.arm_limits: dict[bool, tuple[float, str, str]] = {}
        """By whether the shorter limit holds: what :func:`router.check.arms.unsupported_limit` found."""
        self.lows: list[Low] | None = None
        """What :func:`router.check.drains.low_sections` found."""
        self.own_counts: Counts | None = None
        """What :func:`router.check.figures.recount` found."""

    def _by_id(self, kind: str, records: Iterable[N]) -> dict[str, N]:
        found: dict[str, N] = {}
        for record in records:
            if record.id in found:
                self.doubles.append((kind, record.id))
            else:
                found[record.id] = record
        return found

    # -- runs -------------------------------------------------------------------------------

    def pitch(self, run: Run) -> float:
        """Pitch that the trade tables ask of a run, mm per m."""
        return float(self.tables.pitch(run.kind, self.system))

    @cached_property
    def lines(self) -> dict[str, Line]:
        """The line of each run that the route builds and the scenario knows."""
        return {
            key: Line(snapped_plan(self.runs[key], self.runs), built.profile, self.pitch(self.runs[key]))
            for key, built in self.built.items()
            if key in self.runs
        }

    @cached_property
    def run_pieces(self) -> dict[str, list[Piece]]:
        """Run pipe by run id."""
        found: dict[str, list[Piece]] = defaultdict(list)
        for piece in self.pieces.values():
            if piece.kind == "run":
                found[piece.run].append(piece)
        return found

    def joining(self, run_id: str) -> str:
        """How a run's pipe is joined: its own method, else the system's for its size at its supply end."""
        found = self._joinings.get(run_id)
        if found is None:
            run = self.runs.get(run_id)
            own = run.joining if run is not None else None
            built = self.built.get(run_id)
            found = own or joining_for(self.system.joining, self._largest(run_id))
            written = built.joining if built is not None else None
            if own is None and written in self._joinings_from(run_id):
                found = written
            self._joinings[run_id] = found
        return found

    def _joinings_from(self, run_id: str) -> set[str]:
        """How a run of its size or larger is joined: heads still to be served may ask for a larger one."""
        least = self._largest(run_id)
        return {joining_for(self.system.joining, dn) for dn in self.tables.sizes if dn >= least}

    @cached_property
    def _joinings(self) -> dict[str, str]:
        return {}

    def _largest(self, run_id: str) -> int:
        """Given size of a run, else the largest of its pipes (sizes never grow downstream), DN."""
        run = self.runs.get(run_id)
        if run is not None and run.size != "schedule":
            return run.size
        return max((piece.dn for piece in self.run_pieces.get(run_id, [])), default=self.rules.arm_size)

    def piece_joining(self, piece: Piece) -> str:
        """How a piece is joined: run pipe as its run, arms and nipples always threaded."""
        return self.joining(piece.run) if piece.kind == "run" else "threaded"

    def fitting_joining(self, fitting: Fitting) -> str:
        """How a fitting is joined: as the run pipe that meets it, its own run's first, else threaded."""
        found = self._fitting_joinings.get(fitting.id)
        if found is None:
            runs = [end.piece.run for end in self.meeting[fitting.id] if end.piece.kind == "run"]
            if fitting.run in runs or fitting.id in self.seats:
                found = self.joining(fitting.run)
            else:
                found = self.joining(runs[0]) if runs else "threaded"
            self._fitting_joinings[fitting.id] = found
        return found

    # -- pieces and fittings ----------------------------------------------------------------

    def radius(self, piece: Piece) -> float:
        """Half the outside diameter, mm; a size that is not made gets a guess (rule sizes reports it)."""
        return self.radius_of(piece.dn)

    def radius_of(self, dn: int) -> float:
        """Give the same for a size."""
        found = self._radii.get(dn)
        if found is None:
            try:
                found = float(self.tables.od(dn)) / 2
            except ValueError:
                found = (1.1 * max(dn, 0) + 6.0) / 2
            self._radii[dn] = found
        return found

    @cached_property
    def order(self) -> list[Piece]:
        """All pieces with distinct ids, in the route's order; the rows of :attr:`axes`."""
        return list(self.pieces.values())

    @cached_property
    def axes(self) -> NDArray[np.float64]:
        """Axes of the pieces, shape (pieces, 2, 3), mm."""
        if not self.order:
            return np.zeros((0, 2, 3))
        return np.array([[piece.start, piece.end] for piece in self.order], dtype=float)

    @cached_property
    def radii(self) -> NDArray[np.float64]:
        """Outside radii of the pieces, shape (pieces,), mm."""
        return np.array([self.radius(piece) for piece in self.order], dtype=float)

    def ends(self, piece: Piece) -> tuple[End, End]:
        """Both ends of a piece."""
        found = self._ends.get(piece.id)
        if found is None:
            forward = unit(minus(piece.end, piece.start))
            back = opposite(forward) if forward is not None else None
            found = (End(piece, 0, piece.start, forward), End(piece, 1, piece.end, back))
            self._ends[piece.id] = found
        return found

    @cached_property
    def meeting(self) -> dict[str, list[End]]:
        """By fitting id: the piece ends that name it (wherever they are)."""
        found: dict[str, list[End]] = defaultdict(list)
        for piece in self.pieces.values():
            for end, fitting_id in zip(self.ends(piece), piece.fittings, strict=True):
                if fitting_id is not None:
                    found[fitting_id].append(end)
        return found

    @cached_property
    def seats(self) -> dict[str, Seat]:
        """By fitting id: where an outlet sits on its run's pipe, inside the piece or at its end."""
        found: dict[str, Seat] = {}
        for fitting in self.fittings.values():
            if fitting.kind != "outlet":
                continue
            for piece in self.run_pieces.get(fitting.run, []):
                t, away = along(piece.start, piece.end, fitting.at)
                if away <= TOLERANCE_MM:
                    found[fitting.id] = Seat(piece, t * dist(piece.start, piece.end))
                    break
        return found

    # -- takeoffs ---------------------------------------------------------------------------

    @cached_property
    def takeoff_pieces(self) -> dict[str, list[Piece]]:
        """By takeoff id: the pieces that it owns."""
        found: dict[str, list[Piece]] = defaultdict(list)
        for piece in self.pieces.values():
            found[piece.owner].append(piece)
        return found

    @cached_property
    def takeoff_fittings(self) -> dict[str, list[Fitting]]:
        """By owner: the fittings."""
        found: dict[str, list[Fitting]] = defaultdict(list)
        for fitting in self.fittings.values():
            found[fitting.owner].append(fitting)
        return found

    def run_fitting(self, takeoff: Takeoff) -> Fitting | None:
        """Return the fitting of a takeoff that stands on its run: it meets the run's pipe or sits on it."""
        if takeoff.id not in self._run_fittings:
            self._run_fittings[takeoff.id] = self._on_run(takeoff)
        return self._run_fittings[takeoff.id]

    def _on_run(self, takeoff: Takeoff) -> Fitting | None:
        for fitting in self.takeoff_fittings.get(takeoff.id, []):
            if fitting.id in self.seats and fitting.run == takeoff.run:
                return fitting
            if fitting.kind in ("plug", "cap", "reducer"):
                continue
            meeting = [end.piece for end in self.meeting[fitting.id]]
            if any(piece.kind == "run" and piece.run == takeoff.run for piece in meeting):
                return fitting
        return None

    def place_of(self, takeoff: Takeoff) -> Xyz | None:
        """Where a takeoff leaves its run by what the route says of it, mm."""
        if takeoff.id not in self._places:
            line = self.lines.get(takeoff.run)
            self._places[takeoff.id] = (
                None
                if line is None
                else (*line.point(takeoff.station), takeoff.level + line.rise(takeoff.station))
            )
        return self._places[takeoff.id]

    @cached_property
    def takeoffs_of(self) -> dict[str, list[Takeoff]]:
        """By run id: the takeoffs that leave it, in the route's order."""
        found: dict[str, list[Takeoff]] = defaultdict(list)
        for takeoff in self.takeoffs.values():
            found[takeoff.run].append(takeoff)
        return found
