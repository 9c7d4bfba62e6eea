"""A chain of drawn pipes becomes a plan without needless points."""

from __future__ import annotations

from math import atan2, degrees, dist

from shapely.geometry import LineString

Xy = tuple[float, float]

COLLINEAR_MM = 3.0
"""A plan point that lies this close to the straight line between its neighbours goes."""

SLIGHT_DEG = 2.0
SLIGHT_MM = 50.0
"""No fitting turns by less than a few degrees: such a bend, this far off at most, is drawing noise."""


def straighten(plan: list[Xy]) -> tuple[list[Xy], float]:
    """Drop plan points that are no bends.

    Parameters
    ----------
    plan
        Points in mm, from the supply end.

    Returns
    -------
    plan : list of points
        First and last as given.
    moved : float
        The farthest, in mm, that a dropped point lies off the new plan.
    """
    points = [plan[0]]
    for point in plan[1:]:
        if dist(point, points[-1]) >= 1.0:
            points.append(point)
    if len(points) < 2:
        return [plan[0], plan[-1]], 0.0
    kept = [(float(x), float(y)) for x, y in LineString(points).simplify(COLLINEAR_MM).coords]
    kept = _without_slight(kept)
    line = LineString(kept)
    moved = max(line.distance(LineString([p, p])) for p in points)
    return kept, float(moved)


def _without_slight(points: list[Xy]) -> list[Xy]:
    while len(points) > 2:
        slight = [
            (_turn(points, k), k)
            for k in range(1, len(points) - 1)
            if _turn(points, k) < SLIGHT_DEG and _off(points, k) < SLIGHT_MM
        ]
        if not slight:
            return points
        _, k = min(slight)
        points = points[:k] + points[k + 1 :]
    return points


def _turn(points: list[Xy], k: int) -> float:
    (ax, ay), (bx, by), (cx, cy) = points[k - 1 : k + 2]
    angle = degrees(atan2(cy - by, cx - bx) - atan2(by - ay, bx - ax))
    return abs((angle + 180.0) % 360.0 - 180.0)


def _off(points: list[Xy], k: int) -> float:
    chord = LineString([points[k - 1], points[k + 1]])
    return float(chord.distance(LineString([points[k], points[k]])))
