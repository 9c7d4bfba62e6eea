"""The body of a round pipe that is an obstruction: an octagon around it, swept along its axis."""

from __future__ import annotations

from math import cos, hypot, pi, sin
from typing import TYPE_CHECKING

import numpy as np

from router.readers.ifc.footprint import footprint

if TYPE_CHECKING:
    from router.readers.drawn import Xyz
    from router.readers.ifc.found import Part

SIDES = 8
STEEP = 1e-4


def bar(a: Xyz, b: Xyz, radius: float) -> list[Part]:
    """Give the plan view of a pipe.

    Parameters
    ----------
    a, b
        Ends of its axis, mm.
    radius
        Outer, mm.

    Returns
    -------
    list of Part
        It contains the pipe; of a level one it is exactly as wide and high.
    """
    start, way = np.array(a), np.array(b) - np.array(a)
    length = float(np.linalg.norm(way))
    way = way / length
    if hypot(way[0], way[1]) < STEEP:
        side = np.array([1.0, 0.0, 0.0])
    else:
        side = np.array([-way[1], way[0], 0.0]) / hypot(way[0], way[1])
    up = np.cross(way, side)
    outer = radius / cos(pi / SIDES)
    around = [(k + 0.5) * 2 * pi / SIDES for k in range(SIDES)]
    ring = np.array([outer * (cos(t) * side + sin(t) * up) for t in around])
    points = np.concatenate([start + ring, start + length * way + ring])
    faces = []
    for k in range(SIDES):
        n = (k + 1) % SIDES
        faces += [(k, n, SIDES + n), (k, SIDES + n, SIDES + k)]
        if 0 < k < SIDES - 1:
            faces += [(0, k, k + 1), (SIDES, SIDES + k, SIDES + k + 1)]
    return footprint(points, np.array(faces))
