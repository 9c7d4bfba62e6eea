"""What one isometric shows: a line with what leaves it, or a part of it between two stations."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from router.geometry.plan import PlanLine

if TYPE_CHECKING:
    from collections.abc import Sequence

    from router.deliver.sheets.projection import Xyz
    from router.route.model import Fitting, Hanger, HeadResult, LevelChange, Piece, Route, RunResult, Takeoff
    from router.scenario.model import Run, Scenario


@dataclass(frozen=True)
class Stretch:
    """A piece, or the part of it that the strip shows, through ``points``.

    ``tagged``: its middle is here, so its tag is. ``open``: whether it goes on beyond either end.
    """

    piece: Piece
    points: tuple[Xyz, ...]
    tagged: bool
    open: tuple[bool, bool] = (False, False)


@dataclass
class Strip:
    """One isometric."""

    run: Run
    result: RunResult
    line: PlanLine
    first: float
    last: float
    part: int = 1
    parts: int = 1
    takeoffs: list[Takeoff] = field(default_factory=list)
    stretches: list[Stretch] = field(default_factory=list)
    fittings: list[Fitting] = field(default_factory=list)
    heads: list[HeadResult] = field(default_factory=list)
    hangers: list[Hanger] = field(default_factory=list)
    changes: list[LevelChange] = field(default_factory=list)

    @property
    def title(self) -> str:
        """Name of the isometric."""
        return self.run.id + (f", part {self.part} of {self.parts}" if self.parts > 1 else "")

    def along(self) -> tuple[float, float]:
        """Plan direction of the run in the middle of the strip, unit vector."""
        end = min(max((self.first + min(self.last, self.result.built_to)) / 2, 0.0), self.line.length)
        a = self.line.section_at(end).along
        return (float(a[0]), float(a[1]))

    def level(self, point: Sequence[float]) -> Xyz:
        """Give a point as if the run had no pitch, so that what is in line is drawn in line."""
        if not self.result.pitch:
            return (point[0], point[1], point[2])
        station = self.line.nearest((point[0], point[1]))[0]
        return (point[0], point[1], point[2] - self.result.pitch * station / 1000.0)

    def pipes(self) -> list[tuple[Xyz, Xyz]]:
        """Give every straight part of a pipe from corner to corner, without the pitch."""
        flat = [[self.level(p) for p in s.points] for s in self.stretches]
        return [pair for way in flat for pair in pairwise(way)]

    def points(self) -> list[Xyz]:
        """Give every place where something is, without the pitch."""
        found = [p for s in self.stretches for p in s.points]
        found += [f.at for f in self.fittings] + [h.inlet for h in self.heads]
        return [self.level(p) for p in found]


@dataclass
class Lines:
    """A route sorted by runs, once."""

    scenario: Scenario
    route: Route

    def __post_init__(self) -> None:
        """Sort."""
        self.runs = {run.id: run for run in self.scenario.runs}
        self.takeoff = {t.id: t for t in self.route.takeoffs}
        self.pieces: dict[str, list[Piece]] = {}
        self.fittings: dict[str, list[Fitting]] = {}
        for piece in self.route.pieces:
            self.pieces.setdefault(self._run(piece.owner, piece.run), []).append(piece)
        for fitting in self.route.fittings:
            self.fittings.setdefault(self._run(fitting.owner, fitting.run), []).append(fitting)
        self.heads: dict[str, list[HeadResult]] = {}
        for head in self.route.heads:
            if head.served and head.takeoff in self.takeoff:
                self.heads.setdefault(self.takeoff[head.takeoff].run, []).append(head)

    def _run(self, owner: str, run: str) -> str:
        return self.takeoff[owner].run if owner in self.takeoff else run

    def ids(self) -> list[str]:
        """Runs that have pipe, in the scenario's order."""
        results = {r.id for r in self.route.runs}
        return [run.id for run in self.scenario.runs if run.id in results and self.pieces.get(run.id)]

    def strip(self, run_id: str, part: int = 1, parts: int = 1) -> Strip:
        """Give a run's part: its takeoffs are shared out evenly, cuts lie between them.

        Returns
        -------
        Strip
        """
        run, result = self.runs[run_id], next(r for r in self.route.runs if r.id == run_id)
        line = PlanLine(run.plan)
        takeoffs = sorted((t for t in self.route.takeoffs if t.run == run_id), key=lambda t: (t.station, t.id))
        bounds = self._bounds(takeoffs, result, parts)
        first, last = bounds[part - 1], bounds[part]
        strip = Strip(run, result, line, first, last, part, parts)
        strip.takeoffs = [t for t in takeoffs if first <= t.station < last]
        names = {t.id for t in strip.takeoffs}
        for piece in self.pieces.get(run_id, []):
            if piece.owner in self.takeoff:
                if piece.owner in names:
                    strip.stretches.append(Stretch(piece, (piece.start, piece.end), tagged=True))
            else:
                shown = _stretch(piece, strip)
                if shown is not None:
                    strip.stretches.append(shown)
        for fitting in self.fittings.get(run_id, []):
            owned = fitting.owner in names
            station = line.nearest(fitting.at[:2])[0]
            if owned or (fitting.owner not in self.takeoff and first <= station < last):
                strip.fittings.append(fitting)
        strip.heads = [h for h in self.heads.get(run_id, []) if h.takeoff in names]
        here = {s.piece.id for s in strip.stretches}
        for hanger in self.route.hangers:
            if hanger.piece in here and (hanger.kind != "run" or self._near(hanger, strip)):
                strip.hangers.append(hanger)
        strip.changes = [c for c in result.level_changes if first <= sum(c.stations) / 2 < last]
        return strip

    @staticmethod
    def _near(hanger: Hanger, strip: Strip) -> bool:
        return strip.first <= strip.line.nearest(hanger.at[:2])[0] < strip.last

    @staticmethod
    def _bounds(takeoffs: list[Takeoff], result: RunResult, parts: int) -> list[float]:
        stations = [t.station for t in takeoffs]
        cuts: list[float] = []
        for k in range(1, parts):
            i = round(k * len(stations) / parts)
            if not 0 < i < len(stations):
                continue
            cut = (stations[i - 1] + stations[i]) / 2
            for change in result.level_changes:
                if change.stations[0] - 1.0 <= cut <= change.stations[1] + 1.0:
                    before = (stations[i - 1] + change.stations[0]) / 2
                    cut = before if before < change.stations[0] else (change.stations[1] + stations[i]) / 2
            cuts.append(cut)
        cuts = sorted(set(cuts))
        return [-math.inf, *cuts, *[math.inf] * (parts - len(cuts))]


def _stretch(piece: Piece, strip: Strip) -> Stretch | None:
    """Give what the strip shows of a run's piece, with a corner wherever something leaves it."""
    s0, s1 = (strip.line.nearest(p[:2])[0] for p in (piece.start, piece.end))
    if abs(s1 - s0) < 1e-6:
        inside = strip.first <= s0 < strip.last
        return Stretch(piece, (piece.start, piece.end), tagged=True) if inside else None
    low, high = max(min(s0, s1), strip.first), min(max(s0, s1), strip.last)
    if high - low < 1e-6:
        return None
    stops = {low, high} | {t.station for t in strip.takeoffs if low < t.station < high}
    start, end = np.array(piece.start), np.array(piece.end)
    ordered = sorted(stops, reverse=s1 < s0)
    points = [start + (s - s0) / (s1 - s0) * (end - start) for s in ordered]
    shown = tuple((float(p[0]), float(p[1]), float(p[2])) for p in points)
    middle = (s0 + s1) / 2
    ends = tuple(abs(a - b) > 1e-6 for a, b in ((ordered[0], s0), (ordered[-1], s1)))
    return Stretch(piece, shown, strip.first <= middle < strip.last, (ends[0], ends[1]))
