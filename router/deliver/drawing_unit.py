"""Whether a drawing was saved in another unit than mm: then it lies nowhere near the scenario."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import shapely

from router.scenario.errors import Fault, number_text

if TYPE_CHECKING:
    from collections.abc import Sequence

    from router.readers.segments import Segment
    from router.scenario.model import Scenario

NEAR_MM = 1000.0
"""A pipe's end this near to a run or an inlet may be meant as on it."""
OTHERS = {"m": 1000.0, "cm": 10.0, "in": 25.4, "ft": 304.8}
FEW, MANY = 0.05, 0.5
"""Shares of a drawing's ends that are near: no more than few as it stands, at least many in another unit."""


def other_unit(scenario: Scenario, segments: Sequence[Segment], file: str) -> list[Fault]:
    """Find that a drawing is not in mm.

    Parameters
    ----------
    scenario
        In mm.
    segments
        As read, taken for mm.
    file
        Its name, for the message.

    Returns
    -------
    list of Fault
        One if hardly an end is near a run or inlet as it stands, and most are in
        another unit; else none (it may well be a drawing of something else).
    """
    ends = np.array([end for one in segments for end in (one.a, one.b)], dtype=float)
    lines: list[shapely.Geometry] = [shapely.LineString(run.plan) for run in scenario.runs]
    lines += [shapely.Point(head.at[:2]) for head in scenario.heads]
    levels = np.array(
        [run.elevation for run in scenario.runs] + [head.at[2] for head in scenario.heads], dtype=float
    )
    tree = shapely.STRtree(lines)
    if _share(ends, tree, levels) > FEW:
        return []
    shares = {unit: _share(ends * factor, tree, levels) for unit, factor in OTHERS.items()}
    unit = max(shares, key=lambda name: shares[name])
    if shares[unit] < MANY:
        return []
    first = segments[0]
    value = f"[{', '.join(number_text(number) for number in first.a)}]"
    message = (
        f"lengths in mm expected; taken as mm hardly a pipe comes near a run or head, taken as {unit} they do"
    )
    return [Fault(f"{file} row {first.row}", f"pipe {first.id}", value, "mm", message, first.row)]


def _share(ends: np.ndarray, tree: shapely.STRtree, levels: np.ndarray) -> float:
    """Give the share of places that are near something of the scenario, in plan and in level."""
    at, which = tree.query(shapely.points(ends[:, :2]), predicate="dwithin", distance=NEAR_MM)
    near = np.abs(ends[at, 2] - levels[which]) <= NEAR_MM
    return len(np.unique(at[near])) / len(ends)
