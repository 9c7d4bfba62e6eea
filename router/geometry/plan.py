"""A run's line in plan: stations along it, and the frame of each straight section."""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

if TYPE_CHECKING:
    from collections.abc import Sequence

FloatArray = NDArray[np.float64]


@dataclass(frozen=True)
class Section:
    """One straight part of a plan line.

    ``start``/``end`` are stations in mm, ``origin`` the plan point at ``start``,
    ``along`` the unit vector away from the supply and ``left`` its left normal.
    """

    start: float
    end: float
    origin: FloatArray
    along: FloatArray
    left: FloatArray

    def point(self, station: float) -> FloatArray:
        """Plan point at ``station`` (mm), on the section's infinite line."""
        return self.origin + (station - self.start) * self.along

    def local(self, xy: FloatArray) -> FloatArray:
        """World plan points, shape (n, 2), as (station, lateral), left positive, mm."""
        rel = np.atleast_2d(xy) - self.origin
        return np.column_stack([self.start + rel @ self.along, rel @ self.left])


STRAIGHT_DEG = 0.01
"""A vertex that turns by less, and stands no more than ``ON_LINE`` beside the straight line, is none."""
ON_LINE = 0.05
"""mm."""


def straightened(vertices: Sequence[tuple[float, float]]) -> list[tuple[float, float]]:
    """Leave out points in the middle of a straight leg; the first and the last one stay."""
    kept = [vertices[0]]
    left: list[tuple[float, float]] = []
    for here, after in itertools.pairwise(vertices[1:]):
        legs = (here[0] - kept[-1][0], here[1] - kept[-1][1]), (after[0] - here[0], after[1] - here[1])
        (ax, ay), (bx, by) = legs
        turn = math.degrees(math.atan2(abs(ax * by - ay * bx), ax * bx + ay * by))
        if turn < STRAIGHT_DEG and all(_beside(p, kept[-1], after) <= ON_LINE for p in (*left, here)):
            left.append(here)
        else:
            kept.append(here)
            left = []
    return [*kept, vertices[-1]]


def _beside(p: tuple[float, float], a: tuple[float, float], b: tuple[float, float]) -> float:
    """Return how far ``p`` is from the line through ``a`` and ``b``, mm."""
    return abs((b[0] - a[0]) * (p[1] - a[1]) - (b[1] - a[1]) * (p[0] - a[0])) / math.dist(a, b)


class PlanLine:
    """A polyline in plan, in mm, from its supply end.

    Parameters
    ----------
    vertices
        Plan points, at least two, no two neighbours equal. Those in the middle of
        a straight leg change nothing: they are left out.
    """

    def __init__(self, vertices: Sequence[tuple[float, float]]) -> None:
        points = np.asarray(straightened(vertices), dtype=float)
        steps = np.diff(points, axis=0)
        lengths = np.hypot(steps[:, 0], steps[:, 1])
        self.vertices = points
        self.stations = np.concatenate([[0.0], np.cumsum(lengths)])
        self.sections: list[Section] = []
        for i, (step, length) in enumerate(zip(steps, lengths, strict=True)):
            along = step / length
            self.sections.append(
                Section(
                    float(self.stations[i]),
                    float(self.stations[i + 1]),
                    points[i],
                    along,
                    np.array([-along[1], along[0]]),
                )
            )

        self._plain = [(s.start, s.end, *(float(v) for v in (*s.origin, *s.along))) for s in self.sections]

    @property
    def length(self) -> float:
        """Whole plan length, mm."""
        return float(self.stations[-1])

    def section_at(self, station: float) -> Section:
        """Section that holds ``station``; at a bend the one nearer the supply."""
        for section in self.sections:
            if station <= section.end + 1e-9:
                return section
        return self.sections[-1]

    def point(self, station: float) -> FloatArray:
        """Plan point at ``station``, mm."""
        return self.section_at(station).point(station)

    def place(self, station: float) -> tuple[float, float]:
        """Plan point at ``station`` as plain numbers, mm."""
        here = next((row for row in self._plain if station <= row[1] + 1e-9), self._plain[-1])
        start, _, ox, oy, ax, ay = here
        on = station - start
        return ox + on * ax, oy + on * ay

    def nearest(self, xy: tuple[float, float] | FloatArray) -> tuple[float, float]:
        """(station, distance) of the point on the line nearest to ``xy``, mm."""
        best = (0.0, float("inf"))
        x, y = float(xy[0]), float(xy[1])
        # plain floats: asked for one point at a time, arrays take twenty times as long
        for start, end, ox, oy, ax, ay in self._plain:
            station = min(max(start + (x - ox) * ax + (y - oy) * ay, start), end)
            on = station - start
            distance = math.hypot(ox + on * ax - x, oy + on * ay - y)
            if distance < best[1] - 1e-9:
                best = (station, distance)
        return best

    def turn_at(self, index: int) -> float:
        """Change of direction at vertex ``index``, degrees, 0 to 180."""
        before, after = self.sections[index - 1].along, self.sections[index].along
        cross = before[0] * after[1] - before[1] * after[0]
        return float(np.degrees(np.arctan2(abs(cross), float(before @ after))))


class Lines:
    """Many plan lines at once, for distances to all of them."""

    def __init__(self, lines: Sequence[PlanLine]) -> None:
        sections = [s for line in lines for s in line.sections]
        self.origin = np.array([s.origin for s in sections]).reshape(-1, 2)
        self.along = np.array([s.along for s in sections]).reshape(-1, 2)
        self.length = np.array([s.end - s.start for s in sections])
        counts = np.array([len(line.sections) for line in lines], dtype=np.int64)
        self.first = np.cumsum(counts) - counts

    def distances(self, xy: FloatArray) -> FloatArray:
        """Distances in mm from points, shape (n, 2), to the lines; shape (n, lines)."""
        rel = xy[:, None, :] - self.origin[None, :, :]
        along = np.clip(np.einsum("nsk,sk->ns", rel, self.along), 0.0, self.length)
        rest = rel - along[..., None] * self.along
        return np.asarray(np.minimum.reduceat(np.hypot(rest[..., 0], rest[..., 1]), self.first, axis=1))
