"""The compiled passes against the numpy ones: the same numbers, not only the same optimum."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from made import PRICES, graph_at_random, graph_of, graph_of_short_lives, line

from router.bounds.compiled import kernels
from router.bounds.dynamic import DynamicProgramme
from router.bounds.many import tables
from router.profiles.graph import NEVER, Prices, RunGraph

pytestmark = pytest.mark.skipif(kernels(1 << 62) is None, reason="numba is not installed")


def same(graph: RunGraph, prices: Prices) -> int:
    """Compare every state, path and through-cost; returns how many levels have a path."""
    extra = np.zeros(len(graph.arcs), dtype=np.int64)
    extra[::7] = NEVER
    fast, slow = (DynamicProgramme(graph, prices, extra, compiled=c) for c in (True, False))
    assert fast.compiled is not None
    assert slow.compiled is None
    assert np.array_equal(fast.value, slow.value)
    assert np.array_equal(fast.table(), slow.table())
    start = fast.moved()
    assert np.array_equal(fast.through(start), slow.through(start))
    open_at = np.flatnonzero(fast.value[0, :, 0, 0] < NEVER)
    for level in open_at.tolist():
        assert fast.path(level) == slow.path(level)
    dearer = replace(prices, pipe=7 * prices.pipe, fitting=0.0)
    again = DynamicProgramme(graph, dearer, extra, like=fast, compiled=True)
    fresh = DynamicProgramme(graph, dearer, extra, compiled=False)
    assert again.structure is fast.structure
    assert np.array_equal(again.value, fresh.value)
    several = [dearer, prices, replace(prices, drain=7.0, level_change=0.0)]
    each = np.stack([extra, extra // 2, np.minimum(extra, 5)], axis=1)
    each[extra >= NEVER] = NEVER
    one_by_one = [DynamicProgramme(graph, p, each[:, n], compiled=False) for n, p in enumerate(several)]
    assert np.array_equal(tables(fast, several, each), np.stack([d.table() for d in one_by_one], axis=1))
    assert np.array_equal(tables(slow, several, each), tables(fast, several, each))
    return len(open_at)


@pytest.mark.parametrize("hundred", range(0, 300, 100))
def test_random_graphs(hundred: int) -> None:
    assert sum(same(graph_at_random(seed), PRICES) for seed in range(hundred, hundred + 100))
    assert sum(same(graph_of_short_lives(seed), PRICES) for seed in range(hundred, hundred + 100))


@pytest.mark.parametrize("twenty", range(0, 60, 20))
def test_lines(twenty: int) -> None:
    assert sum(same(*graph_of(line(seed))) for seed in range(twenty, twenty + 20))
