"""Models in national coordinates are brought to a local origin; what is far from all the rest is left out."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np

from router.readers.ifc.heads import moved, some
from router.scenario.errors import number_text

if TYPE_CHECKING:
    from collections.abc import Callable

    from router.readers.drawn import Drawn, Xyz

SHIFT_MM = 5e6
"""A model whose middle is farther than this from the origin is brought to a local one."""
STEP_MM = 1000.0


def near_origin(drawn: Drawn, farthest: float, origin: Xyz | None = None) -> None:
    """Shift a model to a given origin, else by whole metres to one near its middle, if that is far away.

    Parameters
    ----------
    drawn
        Changed in place; its notes say by how much.
    farthest
        What lies farther than this (mm) from the middle is left out, with a note.
    origin
        The place of the model that becomes 0, 0, 0, mm.
    """
    points = [head.at for head in drawn.heads] + [end for pipe in drawn.pipes for end in (pipe.a, pipe.b)]
    points = points or [(*solid.corners[0], solid.low) for solid in drawn.solids]
    if not points:
        return
    middle = np.median(np.array(points), axis=0)
    x, y, z = (round(float(value) / STEP_MM) * STEP_MM if abs(value) > SHIFT_MM else 0.0 for value in middle)
    shift: Xyz = origin or (x, y, z)
    if shift != (0.0, 0.0, 0.0):
        _shift(drawn, shift)
        told = ", ".join(number_text(value) for value in shift)
        if origin is None:
            drawn.shift = shift
            drawn.notes.append(
                f"the model lies far from its origin: everything is shifted by -({told}) mm; "
                f"origin: [{told}] in the mapping brings other states of it to the same place"
            )
        else:
            drawn.notes.append(f"({told}) mm of the model is the scenario's origin")
    _drop_far(drawn, middle - np.array(shift), farthest)


def _shift(drawn: Drawn, by: Xyz) -> None:
    def less(point: Xyz) -> Xyz:
        return (point[0] - by[0], point[1] - by[1], point[2] - by[2])

    drawn.heads = [moved(head, by) for head in drawn.heads]
    drawn.pipes = [replace(pipe, a=less(pipe.a), b=less(pipe.b)) for pipe in drawn.pipes]
    drawn.solids = [
        replace(
            solid,
            corners=[(x - by[0], y - by[1]) for x, y in solid.corners],
            low=solid.low - by[2],
            high=solid.high - by[2],
        )
        for solid in drawn.solids
    ]
    for record in (*drawn.ceilings, *drawn.keep_out):
        record["polygon"] = [[x - by[0], y - by[1]] for x, y in record["polygon"]]
        if "elevation" in record:
            record["elevation"] -= by[2]
        if "elevations" in record:
            record["elevations"] = [value - by[2] for value in record["elevations"]]


def _drop_far(drawn: Drawn, middle: Any, farthest: float) -> None:
    def kept(name: str, rows: list[Any], points: Callable[[Any], list[Xyz]]) -> list[Any]:
        away = {each.id for each in rows if np.abs(np.array(points(each)) - middle).max() > farthest}
        if away:
            where = f"over {farthest / 1e6:g} km from the middle of the model"
            drawn.notes.append(f"{len(away)} {name} left out: {where}: {some(sorted(away))}")
        return [each for each in rows if each.id not in away]

    drawn.heads = kept("heads", drawn.heads, lambda head: [head.at])
    drawn.pipes = kept("pipes", drawn.pipes, lambda pipe: [pipe.a, pipe.b])
    drawn.solids = kept(
        "obstructions",
        drawn.solids,
        lambda solid: [(x, y, z) for x, y in solid.corners for z in (solid.low, solid.high)],
    )
