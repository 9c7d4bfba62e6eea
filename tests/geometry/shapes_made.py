"""Random plan polygons and their prisms, for tests of distances."""

from __future__ import annotations

import numpy as np
import shapely
import trimesh
from numpy.typing import NDArray

Points = NDArray[np.float64]


def star(rng: np.random.Generator, corners: int, at: tuple[float, float], size: float) -> Points:
    """A simple polygon round ``at``, mostly not convex, shape (corners, 2), mm."""
    angles = np.sort(rng.uniform(0, 2 * np.pi, corners))
    while np.diff(np.append(angles, angles[0] + 2 * np.pi)).max() > 0.9 * np.pi:
        angles = np.sort(rng.uniform(0, 2 * np.pi, corners))
    radii = rng.uniform(0.2 * size, size, corners)
    return np.asarray(np.column_stack([at[0] + radii * np.cos(angles), at[1] + radii * np.sin(angles)]))


def pairs_of(ring: Points) -> list[tuple[float, float]]:
    return [(float(x), float(y)) for x, y in ring]


def prism_distance(points: Points, ring: Points, low: float, high: float) -> Points:
    """Distance of points to a prism: a prism is a product, so plan and height add as squares."""
    plan = shapely.distance(shapely.points(points[:, :2]), shapely.Polygon(ring))
    height = np.maximum(np.maximum(low - points[:, 2], points[:, 2] - high), 0.0)
    return np.asarray(np.hypot(plan, height))


def prism_mesh(ring: Points, low: float, high: float) -> trimesh.Trimesh:
    """The prism's surface in triangles: both faces and the sides."""
    flat = shapely.constrained_delaunay_triangles(shapely.Polygon(ring))
    triangles: list[list[list[float]]] = []
    for piece in flat.geoms:
        assert isinstance(piece, shapely.Polygon)
        corners = [list(c) for c in piece.exterior.coords[:3]]
        triangles += [[[x, y, z] for x, y in corners] for z in (low, high)]
    for (ax, ay), (bx, by) in zip(ring, np.roll(ring, -1, axis=0), strict=True):
        triangles.append([[ax, ay, low], [bx, by, low], [bx, by, high]])
        triangles.append([[ax, ay, low], [bx, by, high], [ax, ay, high]])
    faces = np.arange(3 * len(triangles)).reshape(-1, 3)
    return trimesh.Trimesh(np.array(triangles, float).reshape(-1, 3), faces, process=False)
