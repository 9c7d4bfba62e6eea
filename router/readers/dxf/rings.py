"""Single lines on a layer of outlines: those that close to a ring are an outline."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Final

import shapely

from router.readers.dxf.ends import chained
from router.readers.dxf.gaps import tell_gaps
from router.readers.dxf.outlines import Outline
from router.readers.dxf.places import corners, sound

if TYPE_CHECKING:
    from router.readers.drawn import Xy, Xyz
    from router.readers.dxf.walk import Found, Reading

SAME_MM: Final = 1.0
"""Ends this close are one corner; of others that are joined both stay, so that no outline shrinks."""
MOST_OF: Final = 0.8
"""An outline that crosses itself is the largest of its parts if that is so much of all."""


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
        loose: list[list[Xyz]] = []
        for chain in chained(ways, reading.mapping.tolerance_mm, SAME_MM):
            first = founds[chain.members[0]]
            points = list(chain.points)
            if chain.closed and math.dist(points[0], points[-1]) <= SAME_MM:
                points.pop()
            if not chain.closed or len(points) < 3:
                loose.append(chain.points)
                for number in chain.members:
                    reading.lose(founds[number], "lines that do not close to an outline", ways[number][0])
                continue
            z = min(p[2] for p in points)
            if max(p[2] for p in points) - z > 1.0:
                reading.lose(first, "a ring in space, not at one elevation", points[0])
                continue
            thickness = reading.factor * float(first.entity.dxf.get("thickness", 0.0))
            result.append((first, Outline(_uncrossed([(x, y) for x, y, _ in points]), z, thickness)))
        tell_gaps(reading, layer, loose)
    return result


def _uncrossed(corners: list[Xy]) -> list[Xy]:
    """Cut off what lines stick out beyond each other at corners; what else crosses itself stays."""
    area = shapely.Polygon(corners)
    if area.is_valid:
        return corners
    parts = [part for part in shapely.get_parts(shapely.make_valid(area)) if part.geom_type == "Polygon"]
    largest = max(parts, key=lambda part: float(part.area), default=None)
    if largest is None or largest.interiors or largest.area < MOST_OF * sum(part.area for part in parts):
        return corners
    return [(float(x), float(y)) for x, y in largest.exterior.coords[:-1]]
