"""Single lines on a layer of outlines: those that close to a ring are an outline."""

from __future__ import annotations

from typing import TYPE_CHECKING

from router.readers.dxf.ends import chained
from router.readers.dxf.outlines import Outline
from router.readers.dxf.places import corners, sound

if TYPE_CHECKING:
    from router.readers.dxf.walk import Found, Reading


def rings(reading: Reading, lines: list[Found]) -> list[tuple[Found, Outline]]:
    """Join lines end to end, layer by layer; what does not close is counted.

    Returns
    -------
    list of (Found, Outline)
        The first line of each ring, and the ring.
    """
    result: list[tuple[Found, Outline]] = []
    for layer in dict.fromkeys(each.layer for each in lines):
        ways, founds = [], []
        for each in (line for line in lines if line.layer == layer):
            made = corners(reading, each)
            if made is not None and sound(reading, each, made[0]):
                ways.append(made[0])
                founds.append(each)
        for chain in chained(ways, reading.mapping.tolerance_mm):
            if not chain.closed or len(chain.points) < 4:
                for number in chain.members:
                    reading.skip("LINE", founds[number].layer, "lines that do not close to an outline")
                continue
            z = min(p[2] for p in chain.points)
            if max(p[2] for p in chain.points) - z > 1.0:
                reading.skip("LINE", layer, "a ring in space, not at one elevation")
                continue
            first = founds[chain.members[0]]
            thickness = reading.factor * float(first.entity.dxf.get("thickness", 0.0))
            result.append((first, Outline([(x, y) for x, y, _ in chain.points[:-1]], z, thickness)))
    return result
