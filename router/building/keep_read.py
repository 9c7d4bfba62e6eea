"""What a finished route says of every head, run and change of level, as places in space.

Stations hang on a plan that may have changed, ids of takeoffs on their order:
only places and the ids of the designer's own things are compared.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from math import dist, hypot
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterable

    from router.route.model import HeadResult, Piece, Route, RunResult, Takeoff, Xyz

SAME = 0.002
"""mm. Places nearer than this are one: a route's numbers are rounded to a micrometre."""
ALIKE = ("return_bend", "raised_arm")
"""Styles with the same fittings, that differ in the level of the arm only: places tell them apart."""
ON_LINE = 0.05
"""mm. A place this near to a pipe's axis is on it."""


def same_place(a: Xyz, b: Xyz) -> bool:
    """Whether two places are one."""
    return all(abs(p - q) <= SAME for p, q in zip(a, b, strict=True))


def same_places(a: tuple[Xyz, ...], b: tuple[Xyz, ...]) -> bool:
    """Whether two lines have the same corners."""
    return len(a) == len(b) and all(same_place(p, q) for p, q in zip(a, b, strict=True))


def same_style(a: str, b: str) -> bool:
    """Whether two styles are made of the same fittings."""
    return a == b or (a in ALIKE and b in ALIKE)


@dataclass(frozen=True)
class Way:
    """How a head hangs on its run: corners from the outlet to its inlet, both included."""

    run: str
    style: str
    side: str
    points: tuple[Xyz, ...]
    heads: tuple[str, ...]
    takeoff: Takeoff

    @property
    def outlet(self) -> Xyz:
        """Where it leaves the run."""
        return self.points[0]

    def same_outlet(self, other: Way) -> bool:
        """Whether both leave the same run at the same place towards the same side."""
        return (
            self.run == other.run and self.side == other.side and same_place(self.points[0], other.points[0])
        )

    def same(self, other: Way) -> bool:
        """Whether both are one to the micrometre."""
        return (
            self.same_outlet(other)
            and same_style(self.style, other.style)
            and same_places(self.points, other.points)
        )


@dataclass(frozen=True)
class Begin:
    """How a run begins: its first point, the run that it leaves (``None``: a root), where, to which side."""

    start: Xyz
    parent: str | None
    side: str
    outlet: Xyz

    def same(self, other: Begin) -> bool:
        """Whether both are one to the micrometre."""
        return (
            self.parent == other.parent
            and self.side == other.side
            and same_place(self.start, other.start)
            and same_place(self.outlet, other.outlet)
        )


@dataclass(frozen=True)
class Step:
    """A change of level: the centres of its two elbows."""

    id: str
    run: str
    first: Xyz
    second: Xyz

    def same(self, other: Step) -> bool:
        """Whether both are one to the micrometre."""
        return same_place(self.first, other.first) and same_place(self.second, other.second)

    @property
    def middle(self) -> tuple[float, float]:
        """Its middle in plan."""
        return (self.first[0] + self.second[0]) / 2, (self.first[1] + self.second[1]) / 2


@dataclass
class Laid:
    """A route read for comparison. ``lines``: pipe of each run."""

    heads: dict[str, Way] = field(default_factory=dict)
    begins: dict[str, Begin] = field(default_factory=dict)
    steps: dict[str, list[Step]] = field(default_factory=dict)
    lines: dict[str, list[Piece]] = field(default_factory=dict)

    def passes(self, run: str, at: tuple[float, float]) -> bool:
        """Whether a run's pipe goes on beyond a place in plan."""
        for piece in self.lines.get(run, []):
            (ax, ay, _), (bx, by, _) = piece.start, piece.end
            length = hypot(bx - ax, by - ay)
            if length < SAME:
                if hypot(at[0] - ax, at[1] - ay) <= SAME:
                    return True
                continue
            t = ((at[0] - ax) * (bx - ax) + (at[1] - ay) * (by - ay)) / length
            away = abs((at[1] - ay) * (bx - ax) - (at[0] - ax) * (by - ay)) / length
            if away <= SAME and -SAME <= t < length - SAME:
                return True
        return False


def read_laid(route: Route) -> Laid:
    """Read a route; what does not hang together is left out of it."""
    return read_parts(route.pieces, route.takeoffs, route.runs, route.heads)


def read_parts(
    pieces: Iterable[Piece],
    takeoffs: Iterable[Takeoff],
    runs: Iterable[RunResult],
    heads: Iterable[HeadResult],
) -> Laid:
    """Read the parts of a route."""
    inlets = {head.id: head.inlet for head in heads}
    out = Laid()
    by_id: dict[str, Piece] = {}
    owned: dict[str, list[Piece]] = {}
    for piece in pieces:
        by_id[piece.id] = piece
        if piece.kind == "run":
            out.lines.setdefault(piece.run, []).append(piece)
        else:
            owned.setdefault(piece.owner, []).append(piece)
    takeoffs = list(takeoffs)
    for takeoff in takeoffs:
        own = owned.get(takeoff.id, [])
        outlet = _outlet(own, out.lines.get(takeoff.run, []))
        if outlet is None:
            continue
        for head, points in _ways(own, outlet, takeoff, inlets).items():
            out.heads[head] = Way(
                takeoff.run, takeoff.style, takeoff.side, points, tuple(takeoff.heads), takeoff
            )
    _begins(out, takeoffs, owned)
    for run in runs:
        for change in run.level_changes:
            between = [by_id[name] for name in change.pieces if name in by_id]
            if between:
                step = Step(change.id, run.id, between[0].start, between[0].end)
                out.steps.setdefault(run.id, []).append(step)
    return out


def _outlet(own: list[Piece], line: list[Piece]) -> Xyz | None:
    """Find the end of a takeoff's pieces that lies on its run's pipe."""
    ends = [end for piece in own for end in (piece.start, piece.end)]
    best: tuple[float, Xyz] | None = None
    for end in ends:
        for piece in line:
            away = _to_axis(end, piece)
            if away <= ON_LINE and (best is None or away < best[0]):
                best = away, end
    return None if best is None else best[1]


def _to_axis(at: Xyz, piece: Piece) -> float:
    along = [q - p for p, q in zip(piece.start, piece.end, strict=True)]
    square = sum(v * v for v in along)
    t = sum((a - p) * v for a, p, v in zip(at, piece.start, along, strict=True)) / square if square else 0.0
    t = min(max(t, 0.0), 1.0)
    return dist(at, [p + t * v for p, v in zip(piece.start, along, strict=True)])


def _ways(
    own: list[Piece], outlet: Xyz, takeoff: Takeoff, inlets: dict[str, Xyz]
) -> dict[str, tuple[Xyz, ...]]:
    """By head: corners from the outlet to its inlet, for those whose pieces lead there."""
    ends: list[tuple[Xyz, ...]] = []

    def follow(points: tuple[Xyz, ...], left: list[Piece]) -> None:
        for piece in left:
            for a, b in ((piece.start, piece.end), (piece.end, piece.start)):
                if same_place(a, points[-1]):
                    ends.append((*points, b))
                    follow(ends[-1], [other for other in left if other is not piece])
                    break

    follow((outlet,), own)
    out: dict[str, tuple[Xyz, ...]] = {}
    for head in takeoff.heads:
        found = [points for points in ends if head in inlets and dist(points[-1], inlets[head]) <= ON_LINE]
        if found:
            out[head] = found[0]
    return out


def _begins(out: Laid, takeoffs: list[Takeoff], owned: dict[str, list[Piece]]) -> None:
    fed = {child: takeoff for takeoff in takeoffs for child in takeoff.child_runs}
    for run, line in out.lines.items():
        ends = [piece.end for piece in line]
        start = next((p.start for p in line if not any(same_place(p.start, e) for e in ends)), None)
        if start is None:
            continue
        takeoff = fed.get(run)
        if takeoff is None:
            out.begins[run] = Begin(start, None, "", start)
            continue
        outlet = start
        for piece in owned.get(takeoff.id, []):
            for a, b in ((piece.start, piece.end), (piece.end, piece.start)):
                if same_place(a, start):
                    outlet = b
        out.begins[run] = Begin(start, takeoff.run, takeoff.side, outlet)
