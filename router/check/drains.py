"""Where a dry system cannot drain back to its supply."""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING

from router.check.findings import TOLERANCE_MM

if TYPE_CHECKING:
    from router.check.lines import Line
    from router.check.survey import Survey


def trapped(line: Line, built_to: float) -> list[tuple[float, float]]:
    """Low points that water cannot leave towards the supply, as station ranges in mm.

    Each low point of the profile beyond the supply has its own range: from
    where the pipe begins to fall to where it is that high again, or falls
    anew after a rise, or ends. On a pitched line every fall has its own low
    point, since the pipe beyond it rises.
    """
    found: list[tuple[float, float]] = []
    since: float | None = None
    crest = 0.0
    rising = True
    for (sa, za), (sb, zb) in pairwise(_corners(line, built_to)):
        if zb < za - TOLERANCE_MM:
            if since is not None and rising:
                found.append((since, sa))
                since = None
            if since is None:
                since, crest = sa, za
            rising = False
        elif zb > za + TOLERANCE_MM:
            rising = True
            if since is not None and zb >= crest - TOLERANCE_MM:
                found.append((since, sa + min(max((crest - za) / (zb - za), 0.0), 1.0) * (sb - sa)))
                since = None
    if since is not None:
        found.append((since, built_to))
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
    # two runs on one nipple meet in its tee, their common low point
    return stretches + len({takeoff for takeoff, _ in downward_children(survey)})
