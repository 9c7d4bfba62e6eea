"""The referee's distances against dense sampling, trimesh and shapely on random solids."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pytest
import shapely
import trimesh
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from router.check.distances import Prisms, between_segments, close_pairs

if TYPE_CHECKING:
    from collections.abc import Callable

Floats = NDArray[np.float64]
COORDINATE = st.floats(-2000, 2000, allow_nan=False)
POINT = st.tuples(COORDINATE, COORDINATE, COORDINATE)
SEGMENT = st.tuples(POINT, POINT)


def star(rng: np.random.Generator, corners: int) -> list[tuple[float, float]]:
    """A random polygon, star-shaped about the origin and mostly not convex."""
    turn = 2 * np.pi * (np.arange(corners) + rng.uniform(0, 0.9, corners)) / corners
    out = rng.uniform(150, 900, corners)
    return [(float(r * np.cos(a)), float(r * np.sin(a))) for a, r in zip(turn, out, strict=True)]


@pytest.mark.parametrize("seed", range(6))
def test_prism_distance_is_that_of_the_exact_mesh(seed: int) -> None:
    # trimesh: nearest point on the triangles of the same solid, exact for a point. Along the axis it
    # is sampled, and every dip of the samples is sampled again, ever finer.
    rng = np.random.default_rng(seed)
    outline = star(rng, 9)
    low, high = sorted(rng.uniform(-500, 500, 2))
    polygon = shapely.Polygon(outline)
    mesh = trimesh.creation.extrude_triangulation(*_fan(outline), height=high - low)
    assert mesh.is_watertight
    assert mesh.volume == pytest.approx(polygon.area * (high - low))
    mesh.apply_translation([0, 0, low])
    segments = rng.uniform(-1500, 1500, (12, 2, 3))
    have, place = Prisms([outline], [(low, high)]).distance(segments, np.zeros(12, dtype=np.int64))
    assert (have > 1).any()
    for segment, distance, at in zip(segments, have, place, strict=True):

        def away(t: Floats, segment: Floats = segment) -> Floats:
            points = segment[0] + t[:, None] * (segment[1] - segment[0])
            inside = shapely.contains_xy(polygon, points[:, 0], points[:, 1])
            inside &= (points[:, 2] >= low) & (points[:, 2] <= high)
            return np.where(inside, 0.0, _to_mesh(mesh, points))

        assert distance == pytest.approx(_refined(away), abs=1e-6)
        assert float(np.linalg.norm(np.cross(at - segment[0], segment[1] - segment[0]))) < 1e-3


def _to_mesh(mesh: trimesh.Trimesh, points: Floats) -> Floats:
    best = np.full(len(points), np.inf)
    for triangle in mesh.triangles:
        same = np.repeat(triangle[None], len(points), axis=0)
        nearest = trimesh.triangles.closest_point(same, points)  # type: ignore[no-untyped-call]
        best = np.minimum(best, np.linalg.norm(points - nearest, axis=1))
    return best


def _refined(away: Callable[[Floats], Floats]) -> float:
    """Least of a function on [0, 1]: each dip of the samples is sampled again, ever finer."""
    t = np.linspace(0, 1, 801)
    values = away(t)
    padded = np.concatenate([[np.inf], values, [np.inf]])
    dips = np.flatnonzero((values <= padded[:-2]) & (values <= padded[2:]) & (values < values.min() + 5.0))
    best = float(values.min())
    for dip in dips[:20]:
        left, right = t[max(dip - 1, 0)], t[min(dip + 1, 800)]
        for _ in range(6):
            finer = np.linspace(left, right, 41)
            values = away(finer)
            k = int(values.argmin())
            best = min(best, float(values[k]))
            left, right = finer[max(k - 1, 0)], finer[min(k + 1, 40)]
    return best


def _fan(outline: list[tuple[float, float]]) -> tuple[Floats, NDArray[np.int64]]:
    """Exact triangles of a star-shaped polygon: from its middle, the origin."""
    count = len(outline)
    corners = np.array([(0.0, 0.0), *outline])
    return corners, np.array([(0, k + 1, (k + 1) % count + 1) for k in range(count)])


@pytest.mark.parametrize("seed", range(4))
def test_level_axes_have_shapelys_plan_distance(seed: int) -> None:
    # Within the prism's elevations the distance is the plan distance, which shapely gives exactly.
    rng = np.random.default_rng(100 + seed)
    outline = star(rng, 12)
    polygon = shapely.Polygon(outline)
    segments = rng.uniform(-2000, 2000, (200, 2, 3))
    segments[:, :, 2] = 7.0
    have, _ = Prisms([outline], [(0.0, 10.0)]).distance(segments, np.zeros(200, dtype=np.int64))
    want = [polygon.distance(shapely.LineString(segment[:, :2])) for segment in segments]
    assert np.abs(have - want).max() < 1e-6


@pytest.mark.parametrize("seed", range(4))
def test_axes_over_the_middle_are_as_far_as_they_are_high(seed: int) -> None:
    rng = np.random.default_rng(200 + seed)
    rectangle = [(0.0, 0.0), (1000.0, 0.0), (1000.0, 600.0), (0.0, 600.0)]
    segments = rng.uniform([50, 50, 300], [950, 550, 900], (100, 2, 3))
    have, place = Prisms([rectangle], [(0.0, 250.0)]).distance(segments, np.zeros(100, dtype=np.int64))
    assert np.abs(have - (segments[:, :, 2].min(axis=1) - 250.0)).max() < 1e-9
    assert np.abs(place[:, 2] - 250.0 - have).max() < 1e-9


def test_an_axis_through_a_prism_meets_it() -> None:
    notch = [(0.0, 0.0), (900.0, 0.0), (900.0, 900.0), (450.0, 100.0), (0.0, 900.0)]
    axes = np.array(
        [
            [[450.0, 50.0, -500.0], [450.0, 50.0, 500.0]],  # upright, through the waist
            [[450.0, 500.0, -500.0], [450.0, 500.0, 500.0]],  # upright, in the notch: outside
            [[-100.0, 20.0, 5.0], [1000.0, 20.0, 5.0]],
        ]
    )
    have, _ = Prisms([notch], [(0.0, 10.0)]).distance(axes, np.zeros(3, dtype=np.int64))
    # In the notch the nearest edge is the line from (900, 900) to (450, 100) or its mirror image.
    assert have[0] == 0.0
    assert have[2] < 1e-9
    assert have[1] == pytest.approx(shapely.Polygon(notch).distance(shapely.Point(450, 500)), abs=1e-6)


@settings(max_examples=150, deadline=None)
@given(SEGMENT, SEGMENT)
def test_segments_against_a_quadratic_programme(a: tuple[object, object], b: tuple[object, object]) -> None:
    # scipy's bounded least squares solves the same convex problem another way.
    from scipy.optimize import lsq_linear

    one, other = np.array(a, dtype=float), np.array(b, dtype=float)
    have, place = between_segments(one[None], other[None])
    matrix = np.stack([one[1] - one[0], -(other[1] - other[0])], axis=1)
    found = lsq_linear(matrix, other[0] - one[0], bounds=(0, 1), tol=1e-14)
    sampled = np.linalg.norm(matrix @ found.x - (other[0] - one[0]))
    corners = [np.linalg.norm(p - q) for p in one for q in other]
    assert have[0] <= min([float(sampled), *map(float, corners)]) + 1e-6
    # Never too small: the place that is named is that far from the other segment.
    line = other[1] - other[0]
    square = float(line @ line)
    t = 0.0 if square == 0 else float(np.clip((place[0] - other[0]) @ line / square, 0, 1))
    assert have[0] == pytest.approx(float(np.linalg.norm(place[0] - other[0] - t * line)), abs=1e-6)


def test_crossing_and_parallel_segments() -> None:
    a = np.array([[[0.0, 0, 0], [1000, 0, 0]]] * 4)
    b = np.array(
        [
            [[500.0, -300, 40], [500, 300, 40]],  # crosses 40 above
            [[-400.0, 30, 40], [2000, 30, 40]],  # parallel, 3-4-5
            [[1030.0, 0, 40], [1500, 0, 40]],  # ends apart, 3-4-5
            [[500.0, 0, 0], [500, 0, 0]],  # a point on it
        ]
    )
    have, _ = between_segments(a, b)
    assert have == pytest.approx([40.0, 50.0, 50.0, 0.0], abs=1e-9)


def test_the_boxes_leave_out_no_pair_that_is_close() -> None:
    rng = np.random.default_rng(5)
    start = rng.uniform(-3000, 3000, (300, 3))
    segments = np.stack([start, start + rng.uniform(-500, 500, (300, 3))], axis=1)
    within = rng.uniform(10, 60, 300)
    i, j = close_pairs(segments, within)
    found = set(zip(i.tolist(), j.tolist(), strict=True))
    a, b = np.triu_indices(300, 1)
    away, _ = between_segments(segments[a], segments[b])
    close = {
        (int(p), int(q))
        for p, q in zip(a[away < within[a] + within[b]], b[away < within[a] + within[b]], strict=True)
    }
    assert close
    assert close <= found
    assert len(found) < len(a) / 5


def test_prisms_near_leave_out_none_that_is_close() -> None:
    rng = np.random.default_rng(6)
    outlines = []
    for _ in range(40):
        x, y = rng.uniform(-3000, 3000, 2)
        outlines.append([(px / 3 + x, py / 3 + y) for px, py in star(rng, 7)])
    elevations = [tuple(sorted(rng.uniform(-500, 500, 2))) for _ in outlines]
    prisms = Prisms(outlines, elevations)
    start = rng.uniform([-3000, -3000, -500], [3000, 3000, 500], (60, 3))
    segments = np.stack([start, start + rng.uniform(-400, 400, (60, 3))], axis=1)
    which, prism = prisms.near(segments, np.full(60, 80.0))
    found = set(zip(which.tolist(), prism.tolist(), strict=True))
    every = np.repeat(np.arange(60), 40)
    each = np.tile(np.arange(40), 60)
    away, _ = prisms.distance(segments[every], each)
    close = {(int(a), int(b)) for a, b in zip(every[away < 80], each[away < 80], strict=True)}
    assert close
    assert close <= found
