"""Remarks on a scenario: nothing wrong, but worth a look."""

from __future__ import annotations

from typing import TYPE_CHECKING

from shapely.geometry import LineString, MultiPoint, Point

from router.scenario.errors import number_text
from router.scenario.view import some

if TYPE_CHECKING:
    from router.scenario.model import Scenario

_SMALL_MM = 500.0
_APART_MM = 30_000.0
"""An obstruction farther above or below all runs and heads than this is in nobody's way."""


def notes(scenario: Scenario) -> list[str]:
    """Remark on what a designer may have overlooked.

    Parameters
    ----------
    scenario
        In mm, without faults.

    Returns
    -------
    list of str
        One sentence each, naming item, value and unit; empty if all is plain.
    """
    return [*_roots(scenario), *_size(scenario), *_reach(scenario), *_apart(scenario), *_rules(scenario)]


def _roots(scenario: Scenario) -> list[str]:
    roots = [run.id for run in scenario.runs if run.supply is None]
    if len(roots) < 2:
        return []
    return [f"{len(roots)} runs have no supply ({some(roots)}): each is the root of a tree of its own"]


def _size(scenario: Scenario) -> list[str]:
    points = MultiPoint(
        [*(p for run in scenario.runs for p in run.plan), *(h.at[:2] for h in scenario.heads)]
    )
    x0, y0, x1, y1 = points.bounds
    extent = max(x1 - x0, y1 - y0)
    if extent >= _SMALL_MM:
        return []
    return [f"the whole plan measures {number_text(extent)} mm; is the unit right?"]


def _reach(scenario: Scenario) -> list[str]:
    lines = {run.id: LineString(run.plan) for run in scenario.runs}
    reach = scenario.rules.reach
    result = []
    for head in scenario.heads:
        place = Point(head.at[:2])
        if head.run is not None:
            away, name = lines[head.run].distance(place), f"its run {head.run}"
        else:
            nearest = min(lines, key=lambda key: (lines[key].distance(place), key))
            away, name = lines[nearest].distance(place), f"the nearest run {nearest}"
        if away > reach:
            result.append(
                f"head {head.id} is {number_text(round(away, 1))} mm from {name}, "
                f"beyond rules.reach {number_text(reach)} mm"
            )
    return result


def _apart(scenario: Scenario) -> list[str]:
    levels = [run.elevation for run in scenario.runs] + [head.at[2] for head in scenario.heads]
    low, high = min(levels) - _APART_MM, max(levels) + _APART_MM
    apart = [one for one in scenario.obstructions if one.elevations[0] > high or one.elevations[1] < low]
    if not apart:
        return []
    first = " to ".join(number_text(value) for value in apart[0].elevations)
    far = f"over {number_text(_APART_MM / 1000)} m above or below all runs and heads"
    return [
        f"{len(apart)} obstructions ({some([one.id for one in apart])}) lie {far}, the first at {first} mm: "
        "they are in no way; are their elevations right?"
    ]


def _rules(scenario: Scenario) -> list[str]:
    result = []
    if scenario.rules.allow_flexible and not scenario.rules.hose_lengths:
        result.append("rules.allow_flexible is true, but rules.hose_lengths gives no hose (mm)")
    if scenario.system.kind == "wet" and not scenario.system.heated:
        result.append("a wet system that is not heated may freeze (system.heated false)")
    return result
