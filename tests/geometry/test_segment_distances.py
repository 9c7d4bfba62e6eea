"""Pipe axes against each other: scipy's bounded least squares finds the same distance."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from numpy.typing import NDArray
from scipy.optimize import lsq_linear

from router.geometry.segments import segment_distances

Points = NDArray[np.float64]


def by_least_squares(p0: Points, p1: Points, q0: Points, q1: Points) -> float:
    """min |p0 + s (p1 - p0) - q0 - t (q1 - q0)| over 0 <= s, t <= 1, by scipy."""
    matrix = np.column_stack([p1 - p0, q0 - q1])
    return float(np.sqrt(2 * lsq_linear(matrix, q0 - p0, bounds=(0, 1), tol=1e-14).cost))


@pytest.mark.parametrize("seed", range(3))
def test_random_pairs(seed: int) -> None:
    rng = np.random.default_rng(seed)
    ends = rng.uniform(-1000, 1000, (4, 60, 3))
    ends[1, ::5, :2] = ends[0, ::5, :2]  # upright
    ends[3, ::7, 2] = ends[2, ::7, 2]  # level
    got = segment_distances(*ends)
    want = [by_least_squares(*(ends[k, i] for k in range(4))) for i in range(60)]
    assert got == pytest.approx(want, abs=1e-4)


def test_parallel_collinear_and_crossing_pairs() -> None:
    p0 = np.zeros((5, 3))
    p1 = np.tile([100.0, 0, 0], (5, 1))
    q0 = np.array([[20.0, 30, 0], [150, 40, 30], [130, 0, 0], [50, -10, 0], [50, -10, 12]])
    q1 = np.array([[80.0, 30, 0], [250, 40, 30], [900, 0, 0], [50, 10, 0], [50, 10, 12]])
    # by hand: beside; past the end (50, 40, 30); in line with a gap; crossing; crossing above
    want = [30.0, float(np.sqrt(50**2 + 40**2 + 30**2)), 30.0, 0.0, 12.0]
    assert segment_distances(p0, p1, q0, q1) == pytest.approx(want, abs=1e-9)
    assert segment_distances(q0, q1, p0, p1) == pytest.approx(want, abs=1e-9)


def test_nearly_parallel_long_pipes() -> None:
    rng = np.random.default_rng(4)
    for _ in range(40):
        p0 = rng.uniform(-50, 50, 3)
        along = np.array([rng.uniform(3000, 9000), 0.0, 0.0])
        q0 = p0 + rng.uniform(-200, 200, 3)
        tilt = np.array([0.0, *rng.uniform(-1, 1, 2)]) * 10.0 ** rng.uniform(-4, 2)
        got = float(segment_distances(p0[None], (p0 + along)[None], q0[None], (q0 + along + tilt)[None])[0])
        t = np.linspace(0, 1, 4001)[:, None]
        # dense points of one against the other's exact point distance bound it from above
        points = q0 + t * (along + tilt)
        u = np.clip((points - p0) @ along / (along @ along), 0, 1)
        dense = float(np.linalg.norm(points - p0 - u[:, None] * along, axis=1).min())
        assert got <= dense + 1e-6
        assert got == pytest.approx(dense, abs=0.5)


def test_points_are_segments_of_no_length() -> None:
    p = np.array([[3.0, 4.0, 12.0]])
    q = np.zeros((1, 3))
    assert segment_distances(p, p, q, q)[0] == pytest.approx(13.0)
    assert segment_distances(p, p, q, q + np.array([0, 0, 30.0]))[0] == pytest.approx(5.0)


def test_level_pipes_agree_with_shapely() -> None:
    rng = np.random.default_rng(5)
    ends = rng.uniform(-500, 500, (4, 200, 3))
    ends[..., 2] = 0.0
    first, second = (
        np.asarray(shapely.linestrings(np.stack([ends[k], ends[k + 1]], axis=1)[..., :2])) for k in (0, 2)
    )
    assert segment_distances(*ends) == pytest.approx(shapely.distance(first, second), abs=1e-6)
