"""Pairs of boxes found storey by storey are those found by comparing each with each."""

from __future__ import annotations

import numpy as np
import pytest

from router.check.distances import close_pairs
from router.check.storeys import Storeys


@pytest.mark.parametrize("tall", [0.0, 3_000.0, 60_000.0, 3e9])
@pytest.mark.parametrize("seed", range(5))
def test_boxes_meet_as_by_comparing_each_with_each(seed: int, tall: float) -> None:
    rng = np.random.default_rng(seed)

    def boxes(n: int) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        low = rng.uniform(0, 5000, (n, 2))
        plan = np.concatenate([low, low + rng.uniform(0, 900, (n, 2))], axis=1)
        bottom = rng.uniform(-tall, tall, n)
        # some stand through many storeys, as columns do
        return plan, bottom, bottom + rng.choice([50.0, 300.0, 3 * tall], n)

    (ours, low, high), (asked, bottom, top) = boxes(60), boxes(80)
    ours[7] = np.nan  # a box that is nowhere
    i, j = Storeys(ours, low, high).meet(asked, bottom, top)
    found = {(a, b) for a, b in zip(i.tolist(), j.tolist(), strict=True) if bottom[a] <= high[b]}
    found = {(a, b) for a, b in found if low[b] <= top[a]}
    expected = {
        (a, b)
        for a in range(80)
        for b in range(60)
        if (asked[a, :2] <= ours[b, 2:]).all()
        and (ours[b, :2] <= asked[a, 2:]).all()
        and bottom[a] <= high[b]
        and low[b] <= top[a]
    }
    assert found == expected
    assert expected
    assert list(zip(i.tolist(), j.tolist(), strict=True)) == sorted(zip(i.tolist(), j.tolist(), strict=True))


def test_pipes_on_many_floors_are_paired_on_their_own_only() -> None:
    floors = np.arange(50)
    axes = np.array([[[0.0, y, 3000.0 * f], [4000.0, y, 3000.0 * f]] for f in floors for y in (0.0, 90.0)])
    i, j = close_pairs(axes, np.full(len(axes), 50.0))
    assert i.tolist() == (2 * floors).tolist()
    assert j.tolist() == (2 * floors + 1).tolist()


def test_nothing_meets_nothing() -> None:
    none = np.zeros((0, 4))
    i, j = Storeys(none, np.zeros(0), np.zeros(0)).meet(none, np.zeros(0), np.zeros(0))
    assert not len(i)
    assert not len(j)
