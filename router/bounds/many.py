"""Tables of one run for several prices at once: what differs between them is only what things cost."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from router.bounds.dynamic import DynamicProgramme, moved_costs
from router.profiles.graph import NEVER

if TYPE_CHECKING:
    from collections.abc import Sequence

    from router.profiles.graph import IntArray, Prices

MOST_BYTES = 1 << 26
"""Larger value tables are made for one price after the other."""


def tables(like: DynamicProgramme, prices: Sequence[Prices], extra: IntArray) -> IntArray:
    """Least cost by supply level for each of ``prices``; shape (levels, prices).

    ``like``: a programme over the same graph; unserved heads cost the same as in
    it. ``extra``: cost added per arc, shape (arcs, prices).
    """
    together = _together(like, prices, extra)
    if together is not None:
        return together
    every = [DynamicProgramme(like.graph, p, extra[:, n], like=like).table() for n, p in enumerate(prices)]
    return np.stack(every, axis=1)


def _together(like: DynamicProgramme, prices: Sequence[Prices], extra: IntArray) -> IntArray | None:
    graph = like.graph
    shape = (*like.value.shape, len(prices))
    if like.compiled is None or 8 * int(np.prod(shape)) > MOST_BYTES:
        return None
    costs = np.stack([p.costs(graph.columns.amounts) for p in prices], axis=1) + extra
    if not np.array_equal((costs < NEVER // 2).all(axis=1), like.structure.usable):
        return None
    steps = np.stack([np.diff(graph.pipe_costs(p)) for p in prices], axis=1)
    drain = np.array([p.due(graph.wet) for p in prices], dtype=np.int64)
    value = np.full(shape, NEVER, dtype=np.int64)
    like.backward_many(costs, steps, drain, value)
    moved = np.stack([moved_costs(graph, p) for p in prices], axis=1)
    return np.minimum(value[0, :, 0, 0, :] + like.base + moved, NEVER)
