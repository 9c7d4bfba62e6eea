"""Isometric axonometry (ISO 5456-3, from memory: three equal axes, 30 degrees) with gaps that a label fits in.

A line in true proportions does not fit a sheet: drops are short, lines long.
Each coordinate is therefore stretched by itself, from place to place where
something is: what is in line stays in line, square stays square, longer stays
no shorter; only lengths are not to scale.
"""

from __future__ import annotations

import math
from bisect import bisect_right
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from router.deliver.draw_canvas import Xy

Xyz = tuple[float, float, float]
COS30, SIN30 = math.cos(math.radians(30.0)), 0.5
SAME = 4.0
"""Places nearer than this, mm, are one: the tolerance of alignment is 3 mm."""


def isometric(x: float, y: float, z: float) -> Xy:
    """Project a point: x to the upper right, y to the upper left, z up; paper y downwards.

    >>> [round(v, 3) + 0.0 for v in isometric(10.0, 0.0, 0.0)]
    [8.66, -5.0]

    Returns
    -------
    Xy
    """
    return ((x - y) * COS30, -(z + (x + y) * SIN30))


@dataclass(frozen=True)
class Axis:
    """A coordinate in mm to one in mm on paper, piece by piece, never falling."""

    knots: tuple[float, ...]
    places: tuple[float, ...]

    @classmethod
    def of(
        cls,
        values: Iterable[float],
        spans: Iterable[tuple[float, float]],
        least: float,
        most: float,
        scale: float,
    ) -> Axis:
        """Make an axis whose gaps are ``gap / scale``, at most ``most``.

        ``spans``: from where to where pipes go on this axis, which are at least ``least`` long on paper.

        Returns
        -------
        Axis
        """
        ordered = sorted(values) or [0.0]
        knots = [ordered[0]]
        for value in ordered[1:]:
            if value - knots[-1] > SAME:
                knots.append(value)
        wanted: dict[int, list[int]] = {}
        for a, b in spans:
            i, j = (bisect_right(knots, v) - 1 for v in (min(a, b), max(a, b)))
            if j > i:
                wanted.setdefault(j, []).append(i)
        places = [0.0]
        for j, (a, b) in enumerate(pairwise(knots), 1):
            near = places[-1] + min((b - a) / scale, most)
            places.append(max([near, *(places[i] + least for i in wanted.get(j, ()))]))
        return cls(tuple(knots), tuple(places))

    def at(self, value: float) -> float:
        """Give the place of a coordinate.

        Returns
        -------
        float
            mm on paper; within the same-place tolerance exactly that of the knot.
        """
        k = max(bisect_right(self.knots, value) - 1, 0)
        if value - self.knots[k] <= SAME or k + 1 == len(self.knots):
            return self.places[k]
        share = (value - self.knots[k]) / (self.knots[k + 1] - self.knots[k])
        return self.places[k] + share * (self.places[k + 1] - self.places[k])


@dataclass(frozen=True)
class Isometry:
    """World points (mm) to paper (mm): turned so that ``along`` is x, stretched, projected."""

    along: tuple[float, float]
    axes: tuple[Axis, Axis, Axis]
    origin: Xy = (0.0, 0.0)

    @classmethod
    def of(
        cls,
        along: tuple[float, float],
        points: Sequence[Xyz],
        pipes: Sequence[tuple[Xyz, Xyz]],
        wider: float = 1.0,
    ) -> Isometry:
        """Fit the axes to the points where something is and to the pipes. ``wider``: more room for labels.

        Returns
        -------
        Isometry
        """
        turned = np.array([turn(along, p) for p in points])
        ends = [(turn(along, a), turn(along, b)) for a, b in pipes]
        gaps = ((12.0, 34.0, 80.0), (12.0, 30.0, 60.0), (11.0, 26.0, 45.0))
        axes = []
        for k, (least, most, scale) in enumerate(gaps):
            # what is askew by no more than two fittings' tolerance does not go along this axis
            spans = [(a[k], b[k]) for a, b in ends if abs(a[k] - b[k]) > 2 * SAME]
            values = turned[:, k].tolist()
            axes.append(Axis.of(values, spans, least * wider, max(most, least * wider), scale / wider))
        return cls(along, (axes[0], axes[1], axes[2]))

    def paper(self, point: Sequence[float]) -> Xy:
        """Paper point of a world point.

        Returns
        -------
        Xy
        """
        x, y, z = (axis.at(v) for axis, v in zip(self.axes, turn(self.along, point), strict=True))
        shown = isometric(x, y, z)
        return (self.origin[0] + shown[0], self.origin[1] + shown[1])


def turn(along: tuple[float, float], point: Sequence[float]) -> Xyz:
    """Turn a world point so that ``along`` lies on x.

    Returns
    -------
    Xyz
    """
    c, s = along
    return (c * point[0] + s * point[1], -s * point[0] + c * point[1], point[2])
