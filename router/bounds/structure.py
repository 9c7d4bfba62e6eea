"""What the dynamic programme needs to know of a graph, whatever things cost.

A state holds which of the *open* items are served: an item is open between the
first and the last position where something serves it. Open items take slots,
so the states stay few. All of this hangs on the graph and on which arcs can be
used at all, not on prices, so that one structure serves many price vectors.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

if TYPE_CHECKING:
    from router.profiles.graph import RunGraph

MOST_OPEN = 16
"""More items open at one position would need too many states; the graph builder avoids it."""

IntArray = NDArray[np.int64]
BoolArray = NDArray[np.bool_]


@dataclass
class Structure:
    """Positions, slots and arcs in order of their start.

    ``usable``: which arcs may be used, shape (arcs,). ``first``/``last``: by
    item, the positions between which it is open; ``last`` -1 for one that
    nothing serves. ``slot``: by item. ``order``: usable arcs by start, then by
    index; those of position i are ``order[ptr[i]:ptr[i + 1]]``. ``bits``: slots
    that each arc serves, as a mask. ``closing``: items in the order of the
    position at which they close; those of k are ``closing[close_ptr[k]:close_ptr[k + 1]]``.
    """

    graph: RunGraph
    usable: BoolArray
    first: IntArray
    last: IntArray
    slot: IntArray
    slots: int
    order: IntArray
    ptr: IntArray
    bits: IntArray
    closing: IntArray
    close_ptr: IntArray

    @classmethod
    def of(cls, graph: RunGraph, usable: BoolArray) -> Structure:
        """Work out slots and orders."""
        columns, n = graph.columns, len(graph.positions)
        first, last = _lives(graph, usable)
        slot, slots = _slots(first, last)
        order = np.flatnonzero(usable)
        begins = graph.starts[order]
        if n <= 1 << 16:  # numpy sorts so small a range in one sweep
            begins = begins.astype(np.uint16)
        order = order[np.argsort(begins, kind="stable")]
        ptr = np.searchsorted(graph.starts[order], np.arange(n + 1))
        held = (columns.items >= 0) & usable[:, None]
        # an arc's items are all open where it begins, so their slots differ
        bits = np.where(held, np.int64(1) << np.maximum(slot, 0)[columns.items], 0)
        total = bits.sum(axis=1) if bits.shape[1] else np.zeros(len(columns), dtype=np.int64)
        closes = np.minimum(last, n)
        closing = np.flatnonzero(last >= 0)
        closing = closing[np.argsort(closes[closing], kind="stable")]
        close_ptr = np.searchsorted(closes[closing], np.arange(n + 2))
        return cls(graph, usable, first, last, slot, slots, order, ptr, total, closing, close_ptr)

    @cached_property
    def hopeless(self) -> list[int]:
        """Items that nothing can serve."""
        return [int(i) for i in np.flatnonzero(self.last < 0)]

    def tail(self, unserved: IntArray) -> IntArray:
        """Price, by position, of all items that open after it; shape (positions,)."""
        n = len(self.graph.positions)
        opens = np.zeros(n + 1, dtype=np.int64)
        live = self.last >= 0
        np.add.at(opens, self.first[live], unserved[live])
        total: IntArray = unserved[live].sum() - np.cumsum(opens[:n])
        return total

    def open_cost(self, unserved: IntArray) -> IntArray:
        """Price of the item that is open in each slot; shape (positions, slots), 0 where none is."""
        out = np.zeros((len(self.graph.positions), self.slots), dtype=np.int64)
        for item in np.flatnonzero(self.last >= 0):
            out[self.first[item] : self.last[item], self.slot[item]] = unserved[item]
        return out


def _lives(graph: RunGraph, usable: BoolArray) -> tuple[IntArray, IntArray]:
    """Give by item the first position where something serves it, and the position where it closes."""
    count, n = len(graph.items), len(graph.positions)
    first = np.full(count, n + 1, dtype=np.int64)
    last = np.full(count, -1, dtype=np.int64)
    begins, until = graph.starts, np.maximum(graph.goes, graph.starts + 1)
    for column in graph.columns.items.T:
        held = usable & (column >= 0)
        np.minimum.at(first, column[held], begins[held])
        np.maximum.at(last, column[held], until[held])
    return first, last


def _slots(first: IntArray, last: IntArray) -> tuple[IntArray, int]:
    """Give each item a slot that nobody else holds while it is open, and how many slots there are."""
    slot = np.full(len(first), -1, dtype=np.int64)
    busy: list[int] = []
    live = [int(i) for i in np.flatnonzero(last >= 0)]
    for item in sorted(live, key=lambda i: (first[i], last[i], i)):
        for s, until in enumerate(busy):
            if until <= first[item]:
                slot[item], busy[s] = s, int(last[item])
                break
        else:
            slot[item] = len(busy)
            busy.append(int(last[item]))
    if len(busy) > MOST_OPEN:
        raise ValueError(
            f"{len(busy)} heads can be served from one station; at most {MOST_OPEN} "
            "can be solved together: lower rules.slide or rules.reach"
        )
    return slot, len(busy)
