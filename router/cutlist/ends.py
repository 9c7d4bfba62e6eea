"""The ends of a piece: the fitting's port, its take-out, the end's preparation.

Written from the pieces and fittings of any route, drawn or computed: which
port a pipe is in follows from the openings' directions.
"""

from __future__ import annotations

from functools import cached_property
from itertools import combinations
from typing import TYPE_CHECKING, NamedTuple

from router.cutlist.records import End, Preparation, place
from router.trade.joining import joining_for

if TYPE_CHECKING:
    from router.route.model import Fitting, Piece, Route, Xyz
    from router.scenario.model import Scenario
    from router.trade.tables import Tables

WORDS = {
    "tee": "tee",
    "cross": "cross",
    "elbow_90": "elbow 90",
    "elbow_45": "elbow 45",
    "elbow_odd": "elbow, odd angle",
    "outlet": "outlet",
    "cap": "cap",
    "plug": "plug",
    "reducer": "reducer",
    "reducing_coupling": "reducing coupling",
}
BARE = ("barrel", "hose")
_STRAIGHT = -0.98
"""Cosine: openings that face away from each other, to 11 degrees (a drawing need not be exact)."""


class Openings(NamedTuple):
    """Indices of a fitting's openings: those along its run (larger first), and the others."""

    along: tuple[int, ...]
    out: tuple[int, ...]


def dot(a: Xyz, b: Xyz) -> float:
    """Give the scalar product."""
    return a[0] * b[0] + a[1] * b[1] + a[2] * b[2]


def openings(fitting: Fitting) -> Openings:
    """Tell the run of a fitting from its outlets: the pair that is in line, the larger of two.

    Where no two openings are in line (an elbow), the larger is the run.
    """
    ways, sizes = fitting.directions, fitting.sizes
    known = range(min(len(ways), len(sizes)))
    pairs = [(i, j) for i, j in combinations(known, 2) if dot(ways[i], ways[j]) < _STRAIGHT]
    if fitting.kind in ("tee", "cross") and pairs:
        best = max(pairs, key=lambda p: (max(sizes[p[0]], sizes[p[1]]), sizes[p[0]] + sizes[p[1]], -p[0]))
        along = tuple(sorted(best, key=lambda k: (-sizes[k], k)))
        return Openings(along, tuple(k for k in known if k not in along))
    order = sorted(known, key=lambda k: (-sizes[k], k))
    return Openings(tuple(order[:1]), tuple(order[1:]))


def preparation(joining: str) -> Preparation:
    """Say what is done to a pipe's end for a joining method."""
    if joining == "threaded":
        return "threaded"
    return "grooved" if joining == "grooved" else "bevel"


class Ends:
    """Knows of every piece what stands at its ends and what is taken out there."""

    def __init__(self, scenario: Scenario, route: Route, tables: Tables) -> None:
        self.scenario, self.route, self.tables = scenario, route, tables
        self.fittings = {fitting.id: fitting for fitting in route.fittings}
        self.heads = {place(head.inlet): head.id for head in route.heads}

    @cached_property
    def _joinings(self) -> dict[str, str]:
        """How each run is joined: its own method, or the system's for its size at its supply end."""
        supply: dict[str, int] = {}
        for piece in self.route.pieces:
            if piece.kind == "run":
                supply[piece.run] = max(piece.dn, supply.get(piece.run, 0))
        found = {}
        for run in self.scenario.runs:
            own = run.joining
            dn = supply.get(run.id, 0)
            found[run.id] = str(own) if own is not None else joining_for(self.scenario.system.joining, dn)
        return found

    @cached_property
    def loose(self) -> dict[tuple[float, float, float], list[Piece]]:
        """Run pieces by the place where they end without a fitting; two at one place are coupled."""
        found: dict[tuple[float, float, float], list[Piece]] = {}
        for piece in self.route.pieces:
            if piece.kind != "run":
                continue
            for at, name in zip((piece.start, piece.end), piece.fittings, strict=True):
                if name is None:
                    found.setdefault(place(at), []).append(piece)
        return found

    def run_joining(self, run: str) -> str:
        """Give how a run is joined."""
        return self._joinings.get(run, "threaded")

    def joining(self, piece: Piece) -> str:
        """Give how a piece is joined: arms and nipples are always threaded (common practice, no source)."""
        return self.run_joining(piece.run) if piece.kind == "run" else "threaded"

    @cached_property
    def _met(self) -> dict[str, list[Piece]]:
        found: dict[str, list[Piece]] = {}
        for piece in self.route.pieces:
            for name in piece.fittings:
                if name is not None:
                    found.setdefault(name, []).append(piece)
        return found

    def fitting_joining(self, fitting: Fitting) -> str:
        """Give how a fitting is joined: as the run pipe that meets it, its own run's first."""
        runs = [piece.run for piece in self._met.get(fitting.id, []) if piece.kind == "run"]
        if fitting.run in runs or fitting.kind == "outlet":
            return self.run_joining(fitting.run)
        return self.run_joining(runs[0]) if runs else "threaded"

    @cached_property
    def seats(self) -> dict[str, tuple[Piece, float]]:
        """Give the run piece that each outlet sits on, and how far from the piece's start its centre is."""
        by_run: dict[str, list[Piece]] = {}
        for piece in self.route.pieces:
            if piece.kind == "run":
                by_run.setdefault(piece.run, []).append(piece)
        found = {}
        for fitting in self.route.fittings:
            if fitting.kind != "outlet":
                continue
            near = [_along(piece, fitting.at) for piece in by_run.get(fitting.run, [])]
            if near:
                off, station, piece = min(near, key=lambda n: (n[0], n[2].id))
                if off < 5.0:
                    found[fitting.id] = (piece, station)
        return found

    def end(self, piece: Piece, which: int) -> End:
        """Give one end of a piece (0: start, 1: end)."""
        name = piece.fittings[which]
        at = (piece.start, piece.end)[which]
        joining = self.joining(piece)
        if name is None:
            return End(self._nothing(piece, at, which), preparation(joining))
        fitting = self.fittings.get(name)
        if fitting is None:
            return End(f"fitting {name}", preparation(joining), 0.0, "D")
        stands = f"{WORDS[fitting.kind]} {name}"
        head = self.heads.get(place(at))
        if fitting.kind == "reducer" and head is not None:
            stands += f", head {head}"
        less, grade = (0.0, "") if piece.kind in BARE else self.less(piece, fitting, which, joining)
        return End(stands, preparation(joining), less, grade)

    def _nothing(self, piece: Piece, at: Xyz, which: int) -> str:
        head = self.heads.get(place(at))
        if piece.kind != "run":
            return f"head {head}" if head is not None else "open end"
        if len(self.loose.get(place(at), [])) > 1:
            return "coupling"
        return "supply" if which == 0 else "open end"

    def less(self, piece: Piece, fitting: Fitting, which: int, joining: str) -> tuple[float, str]:
        """Give take-out less engagement at an end of a piece, mm, and the worse of their grades."""
        try:
            mm, grade = self.take_out(fitting, piece, which)
            into = self.tables.engagement(piece.dn, joining=joining)
        except ValueError:
            return 0.0, "D"
        if joining == "threaded":
            metric = self.scenario.system.standard == "metric"
            table = "thread_engagement_metric" if metric else "thread_engagement"
            grade = max(grade, str(self.tables.source(table)[1]))
        return mm - into, grade

    def take_out(self, fitting: Fitting, piece: Piece, which: int) -> tuple[float, str]:
        """Give centre to end of a fitting towards a piece, mm, and its grade.

        Raises
        ------
        ValueError
            If the tables have no such fitting.
        """
        kind, sizes = fitting.kind, fitting.sizes
        joining = self.fitting_joining(fitting)
        if kind in ("plug", "cap") or not sizes:
            return 0.0, ""
        if kind == "outlet":
            seat = self.seats.get(fitting.id)
            run = seat[0].dn if seat is not None else max(sizes)
            port, dn, small = "outlet", run, min(sizes)
        elif kind in ("tee", "cross"):
            found = openings(fitting)
            at = self._opening(fitting, piece, which)
            port = "run" if at in found.along else "outlet"
            dn = max(sizes[k] for k in found.along)
            small = max((sizes[k] for k in found.out), default=dn)
        else:
            dn, small = max(sizes), min(sizes)
            port = "run" if piece.dn == dn else "outlet"
        value = self.tables.found(kind, port, dn, small, joining=joining)
        return value.mm, str(value.sure)

    @staticmethod
    def _opening(fitting: Fitting, piece: Piece, which: int) -> int:
        """Index of the opening that points along a piece."""
        a, b = (piece.start, piece.end) if which == 0 else (piece.end, piece.start)
        way = (b[0] - a[0], b[1] - a[1], b[2] - a[2])
        return max(range(len(fitting.directions)), key=lambda k: (dot(fitting.directions[k], way), -k))


def _along(piece: Piece, at: Xyz) -> tuple[float, float, Piece]:
    """Distance of a place from a piece's axis, and where along it, mm."""
    axis = (piece.end[0] - piece.start[0], piece.end[1] - piece.start[1], piece.end[2] - piece.start[2])
    to = (at[0] - piece.start[0], at[1] - piece.start[1], at[2] - piece.start[2])
    length = max(dot(axis, axis) ** 0.5, 1e-9)
    station = min(max(dot(axis, to) / length, 0.0), length)
    foot = [t - a * station / length for t, a in zip(to, axis, strict=True)]
    return sum(f * f for f in foot) ** 0.5, station, piece
