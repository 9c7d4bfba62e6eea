"""What a route changed of an older one, as the referee sees it: from fittings and pieces of both."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from router.check.survey import Survey

if TYPE_CHECKING:
    from router.check.vectors import Xyz
    from router.route.model import LevelChange, Piece, Route, Takeoff

SAME_MM = 0.002
"""Places nearer than this are one: a route's lengths are written to a micrometre."""
SAME_FITTINGS = {"return_bend", "raised_arm"}
"""Styles that differ in the level of their arm only."""
HALF = 0.5
"""A head whose outlet stays counts by half."""


@dataclass(frozen=True)
class Hung:
    """A head on its run: from which outlet, and through which corners."""

    run: str
    style: str
    side: str
    outlet: Xyz
    corners: tuple[Xyz, ...]


@dataclass
class Places:
    """Where everything of a route is. ``fed``: by run, (parent, side, outlet, first point)."""

    heads: dict[str, Hung] = field(default_factory=dict)
    fed: dict[str, tuple[str | None, str, Xyz, Xyz]] = field(default_factory=dict)
    elbows: dict[str, list[tuple[str, Xyz, Xyz]]] = field(default_factory=dict)


@dataclass
class Amount:
    """What changed: heads by how much each counts, runs by id, changes of level by id."""

    heads: dict[str, float] = field(default_factory=dict)
    runs: list[str] = field(default_factory=list)
    gone: list[str] = field(default_factory=list)
    new: list[str] = field(default_factory=list)

    def points(self, head: float, run: float, offset: float) -> float:
        """Cost at the weights of a head, of a run's begin, of a change of level."""
        return (
            head * sum(self.heads.values()) + run * len(self.runs) + offset * (len(self.gone) + len(self.new))
        )


def near(a: Xyz, b: Xyz) -> bool:
    """Whether two places are one."""
    return max(abs(a[k] - b[k]) for k in range(3)) <= SAME_MM


def places(survey: Survey) -> Places:
    """Read a route's places; what does not hang together is left out."""
    out = Places()
    starts = {run: _first(pieces) for run, pieces in survey.run_pieces.items()}
    for run, start in starts.items():
        if start is not None:
            out.fed[run] = (None, "", start, start)
    for takeoff in survey.takeoffs.values():
        fitting = survey.run_fitting(takeoff)
        for run in takeoff.child_runs:
            start = starts.get(run)
            if start is not None:
                at = fitting.at if fitting is not None else start
                out.fed[run] = (takeoff.run, takeoff.side, at, start)
        if fitting is None:
            continue
        for head in takeoff.heads:
            inlet = survey.results[head].inlet if head in survey.results else None
            corners = None if inlet is None else _corners(survey, takeoff, fitting.at, inlet)
            if corners is not None:
                out.heads[head] = Hung(takeoff.run, takeoff.style, takeoff.side, fitting.at, corners)
    for key, built in survey.built.items():
        found = [_elbows(survey, change) for change in built.level_changes]
        out.elbows[key] = [each for each in found if each is not None]
    return out


def _first(pieces: list[Piece]) -> Xyz | None:
    """First point of a run's pipe: a start at which no piece of it ends."""
    for piece in pieces:
        if all(not near(other.end, piece.start) for other in pieces):
            return piece.start
    return None


def _corners(survey: Survey, takeoff: Takeoff, outlet: Xyz, inlet: Xyz) -> tuple[Xyz, ...] | None:
    """Walk a takeoff's pieces back from an inlet to the outlet."""
    left = [p for p in survey.takeoff_pieces.get(takeoff.id, []) if p.kind != "run"]
    waiting: list[tuple[tuple[Xyz, ...], tuple[str, ...]]] = [((inlet,), ())]
    while waiting:
        way, used = waiting.pop()
        if near(way[-1], outlet):
            return tuple(reversed(way))
        for piece in left:
            if piece.id in used:
                continue
            for a, b in ((piece.start, piece.end), (piece.end, piece.start)):
                if near(a, way[-1]):
                    waiting.append(((*way, b), (*used, piece.id)))
    return None


def _elbows(survey: Survey, change: LevelChange) -> tuple[str, Xyz, Xyz] | None:
    fittings = [survey.fittings[name] for name in change.fittings if name in survey.fittings]
    if len(fittings) != 2:
        return None
    return change.id, fittings[0].at, fittings[1].at


def changes(new: Survey, older: Route) -> Amount:
    """Compare a route with an older one."""
    then, now, out = places(Survey(new.scenario, older)), places(new), Amount()
    for head in new.heads:
        a, b = then.heads.get(head), now.heads.get(head)
        if a is None or b is None:
            continue
        stays = a.run == b.run and a.side == b.side and near(a.outlet, b.outlet)
        corners = len(a.corners) == len(b.corners) and all(
            near(p, q) for p, q in zip(a.corners, b.corners, strict=True)
        )
        alike = a.style == b.style or {a.style, b.style} <= SAME_FITTINGS
        if not (stays and corners and alike):
            out.heads[head] = HALF if stays else 1.0
    for run in new.runs:
        one, other = then.fed.get(run), now.fed.get(run)
        if one is None or other is None:
            continue
        if one[:2] != other[:2] or not near(one[2], other[2]) or not near(one[3], other[3]):
            out.runs.append(run)
        before, after = then.elbows.get(run, []), now.elbows.get(run, [])
        out.new += [name for name, a, b in after if not _among(a, b, before)]
        out.gone += [name for name, a, b in before if not _among(a, b, after) and _goes_past(new, run, a, b)]
    return out


def _among(a: Xyz, b: Xyz, changes: list[tuple[str, Xyz, Xyz]]) -> bool:
    return any(near(a, c) and near(b, d) for _, c, d in changes)


def _goes_past(survey: Survey, run: str, a: Xyz, b: Xyz) -> bool:
    """Whether a run is built beyond the middle between two elbows, as its line is now."""
    line, built = survey.lines.get(run), survey.built.get(run)
    if line is None or built is None:
        return False
    station, away = line.nearest((a[0] + b[0]) / 2, (a[1] + b[1]) / 2)
    return away <= SAME_MM and station < built.built_to - SAME_MM


def said_points(survey: Survey) -> float:
    """Sum of what the route's own list of changes says that they cost, points."""
    kept = survey.route.kept
    return 0.0 if kept is None else sum(change.points for change in kept.changes)
