"""Cross checks on heads."""

from __future__ import annotations

from math import dist
from typing import TYPE_CHECKING

import numpy as np
import shapely
from shapely.geometry import Polygon

from router.scenario.errors import Fault, number_text, value_text
from router.scenario.view import View, some

if TYPE_CHECKING:
    from collections.abc import Iterator

SAME_PLACE_MM = 1.0
"""Two inlets closer than this are the same place."""

LEAST_APART_MM = 10.0
"""No two heads have their inlets closer than this: a head is several times as wide."""


def head_run(view: View) -> Iterator[Fault]:
    """Check that the run that must serve a head exists."""
    for i, head in enumerate(view.scenario.heads):
        if head.run is not None and not view.knows_run(head.run):
            yield view.fault(
                ("heads", i, "run"),
                f"head {head.id}",
                value_text(head.run),
                "",
                f"no such run; runs are {some(list(view.runs))}",
            )


def head_facing(view: View) -> Iterator[Fault]:
    """Check that a sidewall faces somewhere and nothing else does."""
    for i, head in enumerate(view.scenario.heads):
        place, item = ("heads", i, "facing"), f"head {head.id}"
        if head.kind == "sidewall" and head.facing is None:
            message = "a sidewall needs facing: plan direction of the water, degrees anticlockwise from +x"
            yield view.fault(place, item, "", "deg", message)
        elif head.facing is not None and head.kind != "sidewall":
            message = f"only sidewalls face a direction; this head is {head.kind}"
            yield view.fault(place, item, number_text(head.facing), "deg", message)
        elif head.facing is not None and not -360 <= head.facing <= 360:
            yield view.fault(place, item, number_text(head.facing), "deg", "from -360 to 360 deg expected")


def head_numbers(view: View) -> Iterator[Fault]:
    """Check K-factor (above 0), shift (not negative), thread (no larger than the arms)."""
    arm = view.scenario.rules.arm_size
    for i, head in enumerate(view.scenario.heads):
        item = f"head {head.id}"
        if head.k_factor <= 0:
            message = "more than 0 expected (gpm/psi^0.5)"
            yield view.fault(("heads", i, "k_factor"), item, number_text(head.k_factor), "", message)
        if head.shift < 0:
            yield view.fault(("heads", i, "shift"), item, number_text(head.shift), "mm", "0 or more expected")
        if head.thread > arm:
            yield view.fault(
                ("heads", i, "thread"),
                item,
                f"DN{head.thread}",
                "",
                f"larger than the arms, DN{arm} (rules.arm_size)",
            )


def head_exposed(view: View) -> Iterator[Fault]:
    """Check that only a dry head asks for an exposed barrel, and for 0 or more of it."""
    for i, head in enumerate(view.scenario.heads):
        if head.exposed is None:
            continue
        place, item, value = ("heads", i, "exposed"), f"head {head.id}", number_text(head.exposed)
        if not head.dry:
            yield view.fault(place, item, value, "mm", "only a dry head has a barrel; this head is not dry")
        elif head.exposed < 0:
            yield view.fault(place, item, value, "mm", "0 or more expected")


def head_place(view: View) -> Iterator[Fault]:
    """Check that no two inlets are in one place, or nearer than two heads can be."""
    heads = view.scenario.heads
    points = np.array([head.at for head in heads], dtype=float).reshape(-1, 3)
    spots = [shapely.Point(x, y) for x, y, _ in points]
    one, two = shapely.STRtree(spots).query(spots, predicate="dwithin", distance=LEAST_APART_MM)
    told: set[int] = set()
    for a, b in sorted(zip(one.tolist(), two.tolist(), strict=True), key=lambda pair: (pair[1], pair[0])):
        away = dist(points[a], points[b])
        if a >= b or b in told or away >= LEAST_APART_MM:
            continue
        told.add(b)
        message = f"the same place as head {heads[a].id}"
        if away >= SAME_PLACE_MM:
            message = (
                f"{number_text(away)} mm from head {heads[a].id}, nearer than two heads can be; "
                f'is units "{view.unit}" right?'
            )
        yield view.fault(("heads", b, "at"), f"head {heads[b].id}", value_text(heads[b].at), "mm", message)


def head_in_obstruction(view: View) -> Iterator[Fault]:
    """Check that no inlet is inside an obstruction, where nothing can reach it."""
    heads = view.scenario.heads
    outlined = [one for one in view.scenario.obstructions if len(one.polygon) > 2]
    shapes = [Polygon(one.polygon) for one in outlined]
    valid = shapely.is_valid(shapes)
    solids = [one for one, sound in zip(outlined, valid, strict=True) if sound]
    if not solids or not heads:
        return
    tree = shapely.STRtree([shape for shape, sound in zip(shapes, valid, strict=True) if sound])
    inlets = np.array([head.at for head in heads], dtype=float)
    elevations = np.array([one.elevations for one in solids], dtype=float)
    at, hit = tree.query(shapely.points(inlets[:, :2]), predicate="within")
    inside = (elevations[hit, 0] < inlets[at, 2]) & (inlets[at, 2] < elevations[hit, 1])
    for i, k in sorted(zip(at[inside].tolist(), hit[inside].tolist(), strict=True)):
        low, high = solids[k].elevations
        yield view.fault(
            ("heads", i, "at"),
            f"head {heads[i].id}",
            value_text(heads[i].at),
            "mm",
            f"the inlet is inside obstruction {solids[k].id} ({number_text(low)} to {number_text(high)} mm)",
        )


CHECKS = (head_run, head_facing, head_numbers, head_exposed, head_place, head_in_obstruction)
