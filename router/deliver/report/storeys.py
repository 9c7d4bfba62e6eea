"""Storeys of a building: trees of lines that lie over each other get a plan each."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import shapely

if TYPE_CHECKING:
    from collections.abc import Iterable

    from router.route.model import Route
    from router.scenario.model import Scenario

APART = 1200.0
"""Line pipe whose elevations are further apart than that (mm) lies in different storeys."""
ABOVE, BELOW = 600.0, 100.0
"""What reaches so far over the highest pipe or under the lowest head (mm) is shown with a storey."""


@dataclass(frozen=True)
class Storey:
    """A part of scenario and route that fits on one plan; ``elevations``: of its lines, mm."""

    scenario: Scenario
    route: Route
    runs: frozenset[str]
    elevations: tuple[float, float]


def storeys(scenario: Scenario, route: Route) -> list[Storey]:
    """Take a building apart, lowest storey first; one storey where nothing lies over another.

    Returns
    -------
    list of Storey
    """
    spans = _spans(scenario, route)
    groups: list[tuple[list[str], float, float]] = []
    for names, low, high in sorted(spans, key=lambda span: (span[1], span[2], span[0])):
        if groups and low - groups[-1][2] <= APART:
            before, least, most = groups[-1]
            groups[-1] = ([*before, *names], least, max(most, high))
        else:
            groups.append((names, low, high))
    if len(groups) < 2 or not _over_each_other(scenario, [set(names) for names, _, _ in groups]):
        ends = (min(s[1] for s in spans), max(s[2] for s in spans))
        return [Storey(scenario, route, frozenset(run.id for run in scenario.runs), ends)]
    return [_part(scenario, route, frozenset(names), (low, high)) for names, low, high in groups]


def _spans(scenario: Scenario, route: Route) -> list[tuple[list[str], float, float]]:
    """Lines of each tree with the lowest and highest elevation of their pipe."""
    root: dict[str, str] = {}
    supply = {run.id: run.supply for run in scenario.runs}
    for name in supply:
        top, seen = name, {name}
        while (above := supply.get(top)) is not None and above not in seen:
            top = above
            seen.add(top)
        root[name] = top
    heights = {run.id: [run.elevation] for run in scenario.runs}
    for piece in route.pieces:
        if piece.kind == "run" and piece.run in heights:
            heights[piece.run] += [piece.start[2], piece.end[2]]
    trees: dict[str, list[str]] = {}
    for name, top in root.items():
        trees.setdefault(top, []).append(name)
    return [
        (names, min(min(heights[n]) for n in names), max(max(heights[n]) for n in names))
        for names in trees.values()
    ]


def _over_each_other(scenario: Scenario, groups: list[set[str]]) -> bool:
    """Whether lines of two groups share ground in plan."""
    boxes = []
    for names in groups:
        points = [p for run in scenario.runs if run.id in names for p in run.plan]
        boxes.append(shapely.MultiPoint(points).envelope.buffer(1.0))
    return any(a.intersects(b) for k, a in enumerate(boxes) for b in boxes[:k])


def _part(scenario: Scenario, route: Route, runs: frozenset[str], ends: tuple[float, float]) -> Storey:
    served = {head.id: head.run for head in route.heads}
    wanted = {head.id: served.get(head.id) or head.run for head in scenario.heads}
    heads = [
        h for h in scenario.heads if wanted[h.id] in runs or (wanted[h.id] is None and _near(h.at[2], ends))
    ]
    names = {head.id for head in heads}
    low = min([ends[0], *(head.at[2] for head in heads)]) - BELOW
    high = max([ends[1], *(head.at[2] for head in heads)]) + ABOVE
    part = scenario.model_copy(
        update={
            "runs": [run for run in scenario.runs if run.id in runs],
            "heads": heads,
            "obstructions": [
                o for o in scenario.obstructions if o.elevations[0] < high and o.elevations[1] > low
            ],
            "ceilings": [c for c in scenario.ceilings if low <= c.elevation <= high],
        }
    )
    own = {
        field: [item for item in getattr(route, field) if item.run in runs]
        for field in ("takeoffs", "pieces", "fittings", "low_sections", "hangers")
    }
    own |= {
        "heads": [head for head in route.heads if head.id in names],
        "runs": [run for run in route.runs if run.id in runs],
    }
    return Storey(part, route.model_copy(update=own), runs, ends)


def _near(z: float, ends: Iterable[float]) -> bool:
    low, high = ends
    return low - 4000.0 <= z <= high + 1500.0
