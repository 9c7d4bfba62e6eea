"""A body seen from above: plan polygons without holes, each with a lowest and highest elevation.

What comes out always contains the body. A vertical prism comes out exactly;
what is sloped or bent is cut into strips, so that a strip is not much higher
than the body is there.
"""

from __future__ import annotations

import itertools
from math import ceil
from typing import TYPE_CHECKING

import numpy as np
import shapely
import shapely.ops
from shapely.geometry import LineString, MultiPoint, Polygon

from router.readers.ifc.found import Part, Unusable

if TYPE_CHECKING:
    import numpy.typing as npt
    from shapely.geometry.base import BaseGeometry

    Points = npt.NDArray[np.float64]
    Faces = npt.NDArray[np.int64]

MOST_STRIPS = 40
SLOPED_MM = 100.0
"""Cut into strips only if that makes them lower by this much, on average."""
LOCAL = 0.7
TRIED = 8
STEP_MM = 50.0
LEAST_AREA_MM2 = 1.0
LEAST_HOLE_MM2 = 2500.0
"""A hole that no pipe goes through is filled."""
MOST_HOLES = 40
MOST_CORNERS = 60
NEAR_MM = 0.01
TOUCH_MM = 0.1
COARSE_MM = 1.0


def footprint(points: Points, faces: Faces, most_triangles: int = 100_000) -> list[Part]:
    """Give the parts of a body seen from above.

    Parameters
    ----------
    points
        Vertices, n x 3, mm.
    faces
        Triangles, m x 3, numbers of vertices.
    most_triangles
        Beyond, the convex hull is taken.

    Returns
    -------
    list of Part
        Their union contains the body, to 0.1 mm.

    Raises
    ------
    Unusable
        If it has no plan area or no height.
    """
    used = points[np.unique(faces)]
    low, high = float(used[:, 2].min()), float(used[:, 2].max())
    if high - low < 0.1:
        raise Unusable("a body without height")
    if len(faces) > most_triangles:
        hull = MultiPoint(used[:, :2]).convex_hull
        return _parts(hull, used)
    plan = _plan(points[faces])
    polygons = [each for each in getattr(plan, "geoms", [plan]) if isinstance(each, Polygon)]
    result: list[Part] = []
    for polygon in sorted(polygons, key=lambda each: each.bounds):
        own = faces
        if len(polygons) > 1:
            first = points[faces[:, 0]]
            own = faces[shapely.contains_xy(polygon.buffer(TOUCH_MM), first[:, 0], first[:, 1])]
        if len(own) and polygon.area >= LEAST_AREA_MM2:
            result += _strips(polygon, points, own) or _parts(polygon, points[np.unique(own)])
    if not result:
        raise Unusable("a body without plan area")
    return result


def _plan(triangles: npt.NDArray[np.float64]) -> BaseGeometry:
    """Unite the plan views of triangles (m x 3 x 3)."""
    flat = np.round(triangles[:, :, :2], 4)
    sides = flat[:, 1:] - flat[:, :1]
    twice = np.abs(sides[:, 0, 0] * sides[:, 1, 1] - sides[:, 0, 1] * sides[:, 1, 0])
    if not np.any(twice > 1e-3):
        # walls of a shell that is open above and below: what they stand around is not free
        return MultiPoint(flat.reshape(-1, 2)).convex_hull
    flat = flat[twice > 1e-3]
    union = shapely.union_all(shapely.polygons(flat))
    # slivers between faces that should meet
    return union.buffer(NEAR_MM, join_style="mitre").buffer(-NEAR_MM, join_style="mitre")


def _strips(plan: Polygon, points: Points, faces: Faces) -> list[Part]:
    """Cut a body that is much lower in most places than as a whole; else nothing."""
    used = points[np.unique(faces)]
    height = float(np.ptp(used[:, 2]))
    if height < SLOPED_MM:
        return []
    origin, way, length = _main_way(used[:, :2])
    if length < 2 * STEP_MM:
        return []
    triangles = points[faces]
    edges = np.stack([triangles, triangles[:, (1, 2, 0)]], axis=2).reshape(-1, 2, 3)
    along = (edges[:, :, :2] - origin) @ way
    heights = [_height(_between(edges, along, first, last)) for first, last in _bounds(length, TRIED)]
    local = float(np.mean(heights))
    # a slope adds to each tried strip what it rises in it
    local = max(0.0, (local * TRIED - height) / (TRIED - 1))
    if local > LOCAL * height or height - local < SLOPED_MM:
        return []
    count = min(MOST_STRIPS, max(2, ceil(height / max(STEP_MM, local / 2))), max(2, int(length / STEP_MM)))
    across = np.array([-way[1], way[0]])
    middle, wide = float(used[0, :2] @ across), float(np.ptp(used[:, :2] @ across)) + 1.0
    result: list[Part] = []
    for first, last in _bounds(length, count):
        ends = [origin + first * way + middle * across, origin + last * way + middle * across]
        band = Polygon(
            [
                ends[0] - wide * across,
                ends[1] - wide * across,
                ends[1] + wide * across,
                ends[0] + wide * across,
            ]
        )
        piece = plan.intersection(band)
        inside = _between(edges, along, first, last)
        if piece.area >= LEAST_AREA_MM2 and len(inside):
            result += _parts(piece, inside)
    return result


def _height(inside: Points) -> float:
    return float(np.ptp(inside[:, 2])) if len(inside) else 0.0


def _between(edges: npt.NDArray[np.float64], along: Points, first: float, last: float) -> Points:
    """Give the ends of what of each edge (n x 2 x 3) lies between two vertical planes.

    The highest and lowest points of a body between them are among these.
    """
    touch = (along.max(axis=1) >= first) & (along.min(axis=1) <= last)
    edges, along = edges[touch], along[touch]
    start, step = along[:, 0], along[:, 1] - along[:, 0]
    flat = np.abs(step) < 1e-9
    safe = np.where(flat, 1.0, step)
    one, two = (first - start) / safe, (last - start) / safe
    low = np.where(flat, 0.0, np.clip(np.minimum(one, two), 0.0, 1.0))
    high = np.where(flat, 1.0, np.clip(np.maximum(one, two), 0.0, 1.0))
    way = edges[:, 1] - edges[:, 0]
    shares = np.stack([low, high], axis=1)[:, :, None]
    return np.asarray((edges[:, :1] + shares * way[:, None]).reshape(-1, 3))


def _main_way(flat: Points) -> tuple[Points, Points, float]:
    """Give start, unit direction and length along the longer side of the least rectangle around."""
    box = MultiPoint(flat).minimum_rotated_rectangle
    if not isinstance(box, Polygon):
        raise Unusable("a body without plan area")
    corners = np.array(box.exterior.coords)
    sides = np.diff(corners, axis=0)
    k = int(np.argmax(np.linalg.norm(sides[:2], axis=1)))
    way = sides[k] / float(np.linalg.norm(sides[k]))
    # the same way whatever corner comes first
    if way[0] < -1e-9 or (abs(way[0]) <= 1e-9 and way[1] < 0):
        way = -way
    along = flat @ way
    origin = way * float(along.min())
    return origin, way, float(np.ptp(along))


def _bounds(length: float, count: int) -> list[tuple[float, float]]:
    steps = [length * k / count for k in range(count + 1)]
    steps[0], steps[-1] = -1.0, length + 1.0
    return list(itertools.pairwise(steps))


def _parts(plan: BaseGeometry, inside: Points) -> list[Part]:
    """Give each polygon of a plan view with the elevations of the points in it, holes cut open."""
    polygons = [each for each in getattr(plan, "geoms", [plan]) if isinstance(each, Polygon)]
    polygons = [each for each in polygons if each.area >= LEAST_AREA_MM2]
    if not polygons:
        raise Unusable("a body without plan area")
    polygons.sort(key=lambda each: each.bounds)
    result: list[Part] = []
    for polygon in polygons:
        if len(polygons) == 1:
            levels = inside[:, 2]
        else:
            around = polygon.buffer(TOUCH_MM)
            levels = inside[shapely.contains_xy(around, inside[:, 0], inside[:, 1]), 2]
        low, high = float(levels.min()), float(levels.max())
        if high - low < 0.1:
            high = low + 0.1
        result += [
            (corners(each), round(low, 4) + 0.0, round(high, 4) + 0.0) for each in without_holes(polygon)
        ]
    return result


def without_holes(polygon: Polygon) -> list[Polygon]:
    """Cut a polygon through its holes; holes too small for any pipe, or beyond the first 40, are filled."""
    holes = sorted((Polygon(ring) for ring in polygon.interiors), key=lambda hole: -hole.area)
    holes = [hole for hole in holes if hole.area >= LEAST_HOLE_MM2][:MOST_HOLES]
    polygon = Polygon(polygon.exterior, [hole.exterior.coords for hole in holes])
    work, done = [polygon], []
    while work:
        here = work.pop()
        if not here.interiors:
            done.append(here)
            continue
        middle = Polygon(here.interiors[0]).centroid
        _, bottom, _, top = here.bounds
        line = LineString([(middle.x, bottom - 1.0), (middle.x, top + 1.0)])
        pieces = shapely.ops.split(here, line)
        work += [each for each in pieces.geoms if isinstance(each, Polygon) and each.area > 1e-3]
    return sorted(done, key=lambda each: each.bounds)


def corners(polygon: Polygon) -> list[tuple[float, float]]:
    """Give the corners of a polygon anticlockwise, without those that lie on a straight edge.

    Returns
    -------
    list of (float, float)
        Not closed, beginning with the least.
    """
    if len(polygon.exterior.coords) > MOST_CORNERS:
        wider = polygon.buffer(COARSE_MM, join_style="mitre").simplify(COARSE_MM)
        if isinstance(wider, Polygon) and wider.is_valid:
            polygon = Polygon(wider.exterior)
    points = list(shapely.geometry.polygon.orient(polygon).exterior.coords)[:-1]
    k = 0
    while k < len(points) and len(points) > 3:
        before, after = points[k - 1], points[(k + 1) % len(points)]
        if LineString([before, after]).distance(shapely.Point(points[k])) < NEAR_MM:
            del points[k]
            k = max(0, k - 1)
        else:
            k += 1
    first = min(range(len(points)), key=lambda k: points[k])
    return [
        (round(float(x), 4) + 0.0, round(float(y), 4) + 0.0) for x, y in (*points[first:], *points[:first])
    ]
