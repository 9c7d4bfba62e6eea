"""Cross checks on where things lie to each other: what no building has is a slip of unit or datum."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import shapely

from router.scenario.check_items import FARTHEST_MM
from router.scenario.errors import Fault, Path, number_text, value_text
from router.scenario.view import ITEM

if TYPE_CHECKING:
    from collections.abc import Iterator

    from router.scenario.view import View

# Bounds are far beyond what buildings have, so that nothing real meets them. Common practice, no source.
LARGEST_PLAN_MM = 5e6
"""No scenario is wider than 5 km."""
SMALLEST_PLAN_MM = 300.0
"""A takeoff alone takes as much."""
HIGHEST_MM, LOWEST_MM = 6e6, -1e6
"""Elevations may be the site's own: no town lies above 5.1 km, none as far as 1 km below the sea."""
HIGHEST_BUILDING_MM = 1e6
LONGEST_VERTICAL_MM = 30_000.0
"""No drop or sprig goes through 30 m."""
NO_TAKEOFF_MM = 10_000.0
"""Where every head is farther from every run than this, not one can have a takeoff."""


def plan_extent(view: View) -> Iterator[Fault]:
    """Check that runs and heads together are no wider than any site and no narrower than a takeoff."""
    places: list[tuple[Path, str, tuple[float, float]]] = []
    for i, run in enumerate(view.scenario.runs):
        places += [(("runs", i, "plan", k), f"run {run.id}", point) for k, point in enumerate(run.plan)]
    places += [
        (("heads", i, "at"), f"head {head.id}", head.at[:2]) for i, head in enumerate(view.scenario.heads)
    ]
    if not places:
        return
    points = np.array([point for _, _, point in places], dtype=float)
    extent = float(np.max(np.ptp(points, axis=0)))
    if extent > LARGEST_PLAN_MM and np.abs(points).max() <= FARTHEST_MM:
        middle = np.median(points, axis=0)
        path, item, point = places[int(np.argmax(np.abs(points - middle).max(axis=1)))]
        message = (
            f"the plan would be {number_text(extent / 1e6)} km wide, more than any site; "
            f'is units "{view.unit}" right, and the same all through?'
        )
        yield view.fault(path, item, value_text(tuple(point)), "mm", message)
    elif extent < SMALLEST_PLAN_MM and not any(view.dropped.values()):
        path, item, _ = places[0]
        path = path[:3]
        message = (
            f"the whole plan of runs and heads measures that much, less than a takeoff takes; "
            f'is units "{view.unit}" right?'
        )
        yield view.fault(path, item, number_text(extent), "mm", message)


def elevations(view: View) -> Iterator[Fault]:
    """Check that elevations are those of a place where people build."""
    for i, run in enumerate(view.scenario.runs):
        yield from _elevation(view, ("runs", i, "elevation"), f"run {run.id}", run.elevation)
    for i, head in enumerate(view.scenario.heads):
        yield from _elevation(view, ("heads", i, "at", 2), f"head {head.id}", head.at[2])
    for i, one in enumerate(view.scenario.ceilings):
        yield from _elevation(view, ("ceilings", i, "elevation"), f"ceiling {one.id}", one.elevation)


def _elevation(view: View, path: Path, item: str, value: float) -> Iterator[Fault]:
    if not LOWEST_MM <= value <= HIGHEST_MM and abs(value) <= FARTHEST_MM:
        message = (
            f"no elevation of a building; {LOWEST_MM / 1e6:g} to {HIGHEST_MM / 1e6:g} km expected; "
            f'is units "{view.unit}" right?'
        )
        yield view.fault(path, item, number_text(value), "mm", message)


def head_levels(view: View) -> Iterator[Fault]:
    """Check that each head has a run at a level from which a drop or sprig could reach it."""
    levels = np.array(sorted(run.elevation for run in view.scenario.runs))
    if not len(levels) or view.dropped.get("runs"):
        return
    for i, head in enumerate(view.scenario.heads):
        away = float(np.min(np.abs(levels - head.at[2])))
        if away > LONGEST_VERTICAL_MM and abs(head.at[2]) <= FARTHEST_MM:
            message = (
                f"{number_text(away / 1000)} m above or below the nearest level of a run, more than any "
                f'drop; is units "{view.unit}" right, and the same all through?'
            )
            yield view.fault(("heads", i, "at", 2), f"head {head.id}", number_text(head.at[2]), "mm", message)


def heads_at_runs(view: View) -> Iterator[Fault]:
    """Check that at least one head is near enough to a run for any takeoff."""
    heads = view.scenario.heads
    lines = [(run, view.lines[run.id]) for run in view.scenario.runs if run.id in view.lines]
    if not heads or not lines or any(view.dropped.values()):
        return
    inlets = np.array([head.at for head in heads], dtype=float)
    points = shapely.points(inlets[:, :2])
    least, nearest = np.inf, (0, "")
    for run, line in lines:
        away = np.hypot(shapely.distance(points, line), inlets[:, 2] - run.elevation)
        k = int(np.argmin(away))
        if away[k] < least:
            least, nearest = float(away[k]), (k, run.id)
        if least <= NO_TAKEOFF_MM:
            return
    k, run_id = nearest
    message = (
        f"no head is within {NO_TAKEOFF_MM / 1000:g} m of a run; this one is the nearest, "
        f'{number_text(least / 1000)} m from run {run_id}; is units "{view.unit}" right?'
    )
    yield view.fault(("heads", k, "at"), f"head {heads[k].id}", value_text(heads[k].at), "mm", message)


def solid_levels(view: View) -> Iterator[Fault]:
    """Check that obstructions and keep-out zones lie within a building's height of the runs."""
    levels = [run.elevation for run in view.scenario.runs]
    if not levels or view.dropped.get("runs"):
        return
    for name in ("obstructions", "keep_out"):
        for i, one in enumerate(getattr(view.scenario, name)):
            if one.elevations is None or max(map(abs, one.elevations)) > FARTHEST_MM:
                continue
            away = max(min(one.elevations) - max(levels), min(levels) - max(one.elevations))
            if away > HIGHEST_BUILDING_MM:
                message = (
                    f"{number_text(away / 1e6)} km above or below every run, more than any building is high; "
                    f'is units "{view.unit}" right, and the same all through?'
                )
                item = f"{ITEM[name]} {one.id}"
                yield view.fault((name, i, "elevations"), item, value_text(one.elevations), "mm", message)


CHECKS = (plan_extent, elevations, head_levels, heads_at_runs, solid_levels)
