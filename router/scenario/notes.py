"""Remarks on a scenario: nothing wrong, but worth a look."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from shapely import distance, points
from shapely.geometry import LineString, MultiPoint, Point

from router.scenario.errors import number_text
from router.scenario.view import some

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from router.scenario.model import Scenario

_SMALL_MM = 500.0
_APART_MM = 30_000.0
"""An obstruction farther above or below all runs and heads than this is in nobody's way."""
_SAME_DECIMALS = 3
"""Of a mm: distances that are one to a micrometre are taken as equal where heads are given to runs."""


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
    parts = (_roots, _size, _reach, _ties, _apart, _rules)
    return [note for part in parts for note in part(scenario)]


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


def _ties(scenario: Scenario) -> list[str]:
    """Name heads that are as near to one run as to another: the order of the runs decides then."""
    reach = scenario.rules.reach
    free = [head for head in scenario.heads if head.run is None and not _pinned_to_run(scenario, head.id)]
    if not free:
        return []
    places = points([head.at[:2] for head in free])
    away = np.stack([distance(LineString(run.plan), places) for run in scenario.runs])
    branch = np.array([run.kind == "branch" for run in scenario.runs])
    # branch lines come first; a main serves a head only where none is in reach
    mine = np.where(branch[:, None] & (away <= reach), away, np.inf)
    away = np.round(np.where(np.isfinite(mine).any(axis=0), mine, away), _SAME_DECIMALS)
    tied: dict[tuple[str, ...], list[int]] = {}
    for k in np.flatnonzero((away == away.min(axis=0)).sum(axis=0) > 1).tolist():
        runs = np.flatnonzero(away[:, k] == away[:, k].min())
        tied.setdefault(tuple(scenario.runs[r].id for r in runs), []).append(k)
    return [_tie(runs, [free[k].id for k in heads], away.min(axis=0)[heads]) for runs, heads in tied.items()]


def _tie(runs: tuple[str, ...], heads: list[str], away: NDArray[np.float64]) -> str:
    first, *others = runs
    far = list(dict.fromkeys(number_text(round(v, 1)) for v in (float(away.min()), float(away.max()))))
    who, verb, it, its = ("head", "is", "it goes", "its") if len(heads) == 1 else (
        "heads", "are", "they go", "their")  # fmt: skip
    return (
        f"{who} {some(heads)} {verb} as near to run {some(others)} as to run {first} "
        f"({' to '.join(far)} mm): {it} to {first}, which stands first, unless {its} run is named"
    )


def _pinned_to_run(scenario: Scenario, head: str) -> bool:
    pin = scenario.pins.heads.get(head)
    return pin is not None and pin.run is not None


def _rules(scenario: Scenario) -> list[str]:
    result = []
    if scenario.rules.allow_flexible and not scenario.rules.hose_lengths:
        result.append("rules.allow_flexible is true, but rules.hose_lengths gives no hose (mm)")
    if scenario.system.kind == "wet" and not scenario.system.heated:
        result.append("a wet system that is not heated may freeze (system.heated false)")
    return result
