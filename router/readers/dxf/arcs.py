"""Arcs in outlines become corners that never cut a corner off what was drawn."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from collections.abc import Sequence

    from router.readers.drawn import Xy

OFF_MM: Final = 1.0
OFF_SHARE: Final = 0.01
"""Corners stand at most this far off the arc, mm, or this share of its radius if that is more."""

LARGEST_PART: Final = math.pi / 4


def parts_of(angle: float, radius: float) -> int:
    """Give how many straight parts an arc takes.

    Parameters
    ----------
    angle
        Radians.
    radius
        mm.

    Returns
    -------
    int
    """
    off = max(OFF_MM, OFF_SHARE * radius)
    widest = min(2.0 * math.acos(radius / (radius + off)), LARGEST_PART)
    return max(1, math.ceil(angle / widest - 1e-9))


def circle(centre: Xy, radius: float) -> list[Xy]:
    """Give a polygon around a circle.

    Returns
    -------
    list of Xy
    """
    count = parts_of(2.0 * math.pi, radius)
    outer = radius / math.cos(math.pi / count)
    turn = 2.0 * math.pi / count
    return [
        (centre[0] + outer * math.cos(turn * (k + 0.5)), centre[1] + outer * math.sin(turn * (k + 0.5)))
        for k in range(count)
    ]


def around(vertices: Sequence[tuple[float, float, float]]) -> list[Xy]:
    """Give a polygon that holds a closed outline of lines and arcs.

    An arc that swells outwards is followed by its tangents, one that bites into
    the area by its chords.

    Parameters
    ----------
    vertices
        x, y in mm and the bulge of the part that begins there: the tangent of a quarter of
        the arc's angle, positive anticlockwise (DXF reference).

    Returns
    -------
    list of Xy
        Not closed.
    """
    following = [*vertices[1:], *vertices[:1]]
    area = sum(p[0] * q[1] - q[0] * p[1] + _swell(p, q) for p, q in zip(vertices, following, strict=True))
    corners: list[Xy] = []
    for p, q in zip(vertices, following, strict=True):
        corners.append((p[0], p[1]))
        if p[2] and math.dist(p[:2], q[:2]) > 1e-9:
            corners += arc(p, q, outside=(p[2] > 0) == (area >= 0))
    return corners


def _swell(p: tuple[float, float, float], q: tuple[float, float, float]) -> float:
    """Give twice the area between chord and arc."""
    chord = math.dist(p[:2], q[:2])
    if not p[2] or chord < 1e-9:
        return 0.0
    angle = 4.0 * math.atan(abs(p[2]))
    radius = chord / 2.0 / math.sin(angle / 2.0) if angle < 2 * math.pi else 0.0
    return math.copysign(radius * radius * (angle - math.sin(angle)), p[2])


def arc(p: tuple[float, float, float], q: tuple[float, ...], *, outside: bool) -> list[Xy]:
    """Give the corners between two vertices that an arc joins.

    ``outside``: where its tangents meet, else points on it.

    Returns
    -------
    list of Xy
    """
    bulge = p[2]
    angle = 4.0 * math.atan(abs(bulge))
    radius = math.dist(p[:2], q[:2]) / 2.0 / math.sin(angle / 2.0)
    middle = ((p[0] + q[0]) / 2.0, (p[1] + q[1]) / 2.0)
    # From the chord's middle to the centre: to the left of the way for an arc anticlockwise.
    off = (1.0 - bulge * bulge) / (4.0 * bulge)
    centre = (middle[0] - off * (q[1] - p[1]), middle[1] + off * (q[0] - p[0]))
    start = math.atan2(p[1] - centre[1], p[0] - centre[0])
    count = parts_of(angle, radius)
    part = math.copysign(angle / count, bulge)
    if outside:
        far = radius / math.cos(part / 2.0)
        turns = [start + part * (k + 0.5) for k in range(count)]
    else:
        far = radius
        turns = [start + part * k for k in range(1, count)]
    return [(centre[0] + far * math.cos(t), centre[1] + far * math.sin(t)) for t in turns]
