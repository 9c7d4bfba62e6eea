"""Where a dry system cannot drain back to its supply."""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING

from router.check.findings import TOLERANCE_MM

if TYPE_CHECKING:
    from router.check.lines import Line
    from router.check.survey import Survey


def trapped(line: Line, built_to: float) -> list[tuple[float, float]]:
    """Maximal stretches that lie lower than a point nearer the supply, as station ranges in mm.

    A stretch begins where the run falls below the highest point before it and
    ends where it is that high again, or where the run ends.
    """
    points = _corners(line, built_to)
    if not points:
        return []
    found: list[tuple[float, float]] = []
    top = points[0][1]
    since: float | None = None
    for (sa, za), (sb, zb) in pairwise(points):
        if since is None and zb < top - TOLERANCE_MM:
            # A fall slower than the tolerance may have begun before this leg.
            since = sa if zb < za else sb
        elif since is not None and zb >= top - TOLERANCE_MM:
            t = (top - za) / (zb - za) if zb > za else 1.0
            found.append((since, sa + min(max(t, 0.0), 1.0) * (sb - sa)))
            since = None
        top = max(top, zb)
    if since is not None:
        found.append((since, points[-1][0]))
    return found


def _corners(line: Line, built_to: float) -> list[tuple[float, float]]:
    """(station, z) where the run may turn up or down, up to where it is built."""
    inside = [(s, level) for s, level in line.profile if s <= built_to + 1e-6]
    if not inside:
        return []
    if inside[-1][0] < built_to - 1e-6:
        inside.append((built_to, line.levels(built_to)[0]))
    return [(s, level + line.rise(s)) for s, level in inside]


def can_trap(survey: Survey) -> bool:
    """Only dry and preaction systems have to drain."""
    return survey.system.kind in ("dry", "preaction")


def downward_children(survey: Survey) -> list[tuple[str, str]]:
    """(takeoff, child run) where a child run starts lower than its parent is there."""
    found: list[tuple[str, str]] = []
    for takeoff in survey.takeoffs.values():
        at = survey.place_of(takeoff)
        for name in takeoff.child_runs:
            child = survey.built.get(name)
            if at is not None and child is not None and child.supply_level < at[2] - TOLERANCE_MM:
                found.append((takeoff.id, name))
    return found


def drains_needed(survey: Survey) -> int:
    """Auxiliary drains of the whole route: trapped stretches, and child runs that leave downwards."""
    if not can_trap(survey):
        return 0
    stretches = sum(len(trapped(line, survey.built[key].built_to)) for key, line in survey.lines.items())
    return stretches + len(downward_children(survey))
