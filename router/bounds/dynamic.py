"""The dynamic programme over one run: position x level x what is served.

It solves the run's relaxation exactly: everything but clashes between arms
and terms that span the run (the number of styles). Backwards it gives the
least cost to finish from any state, so also the run's cost by supply level;
forwards the least cost to reach one; together the least cost of any profile
through an arc.

A state holds which of the *open* items are served: an item is open between
the first and the last position where something serves it. Open items take
slots, so the states stay few.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from router.profiles.graph import NEVER, Arc, IntArray, Prices, RunGraph

MOST_OPEN = 16
"""More items open at one position would need too many states; the graph builder avoids it."""


@dataclass(frozen=True)
class Path:
    """A run's profile with its takeoffs: arcs in order, and the items left unserved."""

    arcs: tuple[int, ...]
    unserved: tuple[int, ...]
    cost: int


class DynamicProgramme:
    """Both passes over one run's graph.

    Parameters
    ----------
    graph
        The run's graph, arcs indexed.
    prices
        Weights.
    extra
        Cost added per arc (child tables), thousandths of a point.
    banned
        Arcs that may not be used.
    """

    def __init__(
        self,
        graph: RunGraph,
        prices: Prices,
        extra: IntArray,
        banned: frozenset[int] | set[int] = frozenset(),
    ) -> None:
        self.graph, self.prices = graph, prices
        vector = prices.vector() * 1000.0
        amounts = np.array([arc.amounts for arc in graph.arcs]).reshape(len(graph.arcs), len(vector))
        self.costs: IntArray = np.rint(amounts @ vector).astype(np.int64) + extra
        self.steps: IntArray = np.diff(graph.pipe_costs(prices))
        self.drain = prices.due(graph.wet)
        self.usable = [k for k in range(len(graph.arcs)) if k not in banned and self.costs[k] < NEVER // 2]
        self.unserved = [prices.whole(prices.unserved * item.weight) for item in graph.items]
        self._open_items()
        n_states = (len(graph.positions), graph.levels, 2 if graph.traps else 1, 1 << self.slots)
        self.value = np.full(n_states, NEVER, dtype=np.int64)
        self.by_start: list[list[int]] = [[] for _ in graph.positions]
        for k in self.usable:
            self.by_start[graph.starts[k]].append(k)
        self._masks = np.arange(1 << self.slots)
        self._free: dict[int, IntArray] = {}
        self._backward()

    def _open_items(self) -> None:
        graph = self.graph
        count = len(graph.items)
        first = [len(graph.positions) + 1] * count
        last = [-1] * count
        for k in self.usable:
            arc = graph.arcs[k]
            for item in arc.items:
                first[item] = min(first[item], graph.starts[k])
                last[item] = max(last[item], graph.goes[k], graph.starts[k] + 1)
        self.first, self.last = first, last
        self.hopeless = [i for i in range(count) if last[i] < 0]
        self.slot = [-1] * count
        busy: list[int] = []
        for item in sorted((i for i in range(count) if last[i] >= 0), key=lambda i: (first[i], last[i], i)):
            for s, until in enumerate(busy):
                if until <= first[item]:
                    self.slot[item], busy[s] = s, last[item]
                    break
            else:
                self.slot[item] = len(busy)
                busy.append(last[item])
        self.slots = len(busy)
        if self.slots > MOST_OPEN:
            raise ValueError(
                f"{self.slots} heads can be served from one station; at most {MOST_OPEN} "
                "can be solved together: lower rules.slide or rules.reach"
            )
        self.closing: list[list[int]] = [[] for _ in range(len(graph.positions) + 1)]
        for item in range(count):
            if last[item] >= 0:
                self.closing[min(last[item], len(graph.positions))].append(item)

    def bits(self, arc: Arc) -> int:
        """Slots that the arc's items hold, as a mask."""
        return sum(1 << self.slot[i] for i in arc.items)

    def _free_masks(self, bits: int) -> IntArray:
        if bits not in self._free:
            self._free[bits] = self._masks[(self._masks & bits) == 0]
        return self._free[bits]

    def _settle_back(self, block: IntArray, i: int, j: int) -> IntArray:
        """Value on arrival at ``j`` from ``i``: items that close on the way are paid if unserved."""
        # latest first: a slot may have passed from one item to the next on the way
        for k in range(j, i, -1):
            for item in self.closing[k]:
                bit = 1 << self.slot[item]
                block = block[..., self._masks & ~bit] + np.where(self._masks & bit, 0, self.unserved[item])
        return block

    def _end_cost(self, i: int, bits: int) -> IntArray:
        """Cost of stopping after position ``i``, by mask, for items then still unserved."""
        total = np.zeros(1 << self.slots, dtype=np.int64)
        for item, first in enumerate(self.first):
            if self.last[item] < 0 or self.last[item] <= i:
                continue
            if first > i:
                total += self.unserved[item]
            else:
                bit = 1 << self.slot[item]
                total += np.where((self._masks | bits) & bit, 0, self.unserved[item])
        return total

    def _backward(self) -> None:
        graph, value = self.graph, self.value
        flags = value.shape[2]
        for i in range(len(graph.positions) - 1, -1, -1):
            here = value[i]
            if i + 1 < len(graph.positions):
                after = self._settle_back(value[i + 1], i, i + 1) + self.steps[i]
                here[graph.level_ok[i]] = after[graph.level_ok[i]]
            arrivals: dict[int, IntArray] = {}
            for k in self.by_start[i]:
                arc, cost = graph.arcs[k], self.costs[k]
                bits = self.bits(arc)
                free = self._free_masks(bits)
                if arc.ends:
                    ended = (self._end_cost(i, bits) + cost)[free]
                    due = np.array([self._flag(arc, f)[1] for f in range(flags)])
                    here[arc.la][:, free] = np.minimum(here[arc.la][:, free], ended + due[:, None])
                    continue
                j = graph.goes[k]
                if j not in arrivals:
                    arrivals[j] = self._settle_back(value[j], i, j)
                target = arrivals[j][arc.lb]
                if arc.kind == "takeoff":
                    # free holds distinct masks, so plain assignment is safe
                    target = target[[self._flag(arc, f)[0] for f in range(flags)]]
                    here[arc.la][:, free] = np.minimum(here[arc.la][:, free], target[:, free | bits] + cost)
                elif arc.la == arc.lb:
                    np.minimum(here[arc.la], target + cost, out=here[arc.la])
                else:
                    for f in range(flags):
                        to, more = self._flag(arc, f)
                        np.minimum(here[arc.la, f], target[to] + cost + more, out=here[arc.la, f])
            np.minimum(here, NEVER, out=here)

    def _flag(self, arc: Arc, flag: int) -> tuple[int, int]:
        """(trapped flag after an arc, cost of the drain that falls due with it)."""
        to, due = self.graph.flag_move(arc, flag)
        return to, self.drain if due else 0

    @property
    def base(self) -> int:
        """Cost of items that nothing on the run can serve."""
        return sum(self.unserved[i] for i in self.hopeless)

    def table(self) -> IntArray:
        """Least cost by supply level, ``NEVER`` where the run cannot start; shape (levels,)."""
        out = self.value[0, :, 0, 0] + self.base
        moved = np.array([self.prices.whole(self.prices.moved * max(m, 0.0)) for m in self.graph.source])
        out = np.where(self.graph.source < 0, NEVER, out + moved)
        return np.minimum(out, NEVER)

    def path(self, level: int) -> Path:
        """Give the best path from supply level ``level``; ties go to the first arc in order."""
        graph = self.graph
        i, flag, mask = 0, 0, 0
        arcs: list[int] = []
        unserved = list(self.hopeless)
        total = int(self.value[0, level, 0, 0])
        if total >= NEVER:
            raise ValueError("no path from this level")
        while True:
            best = int(self.value[i, level, flag, mask])
            step = self._step(i, level, flag, mask, best)
            if step is None:
                j, bits = i + 1, 0
            else:
                arcs.append(step)
                arc = graph.arcs[step]
                bits = self.bits(arc)
                if arc.ends:
                    unserved += self._left(i, mask | bits)
                    break
                j = graph.goes[step]
                flag = self._flag(arc, flag)[0]
                level = arc.lb
            mask |= bits
            for k in range(i + 1, j + 1):
                for item in self.closing[k]:
                    bit = 1 << self.slot[item]
                    if not mask & bit:
                        unserved.append(item)
                    mask &= ~bit
            i = j
        return Path(tuple(arcs), tuple(sorted(unserved)), total + self.base)

    def _left(self, i: int, mask: int) -> list[int]:
        return [
            item
            for item, first in enumerate(self.first)
            if self.last[item] > i and (first > i or not mask >> self.slot[item] & 1)
        ]

    def _step(self, i: int, level: int, flag: int, mask: int, best: int) -> int | None:
        graph = self.graph
        for k in self.by_start[i]:
            arc = graph.arcs[k]
            if arc.la != level:
                continue
            bits = self.bits(arc)
            if mask & bits:
                continue
            if arc.ends:
                if int(self._end_cost(i, bits)[mask]) + int(self.costs[k]) + self._flag(arc, flag)[1] == best:
                    return k
                continue
            to, more = self._flag(arc, flag)
            j = graph.goes[k]
            after = self._settle_back(self.value[j, arc.lb, to][None], i, j)[0]
            if int(after[mask | bits]) + int(self.costs[k]) + more == best:
                return k
        return None

    def through(self, start: IntArray) -> IntArray:
        """Least cost of any path through each arc; shape (arcs,).

        ``start``: cost of starting at each level (``NEVER``: not at all).
        """
        graph, value = self.graph, self.value
        reach = np.full(value.shape, NEVER, dtype=np.int64)
        reach[0, :, 0, 0] = start
        out = np.full(len(graph.arcs), NEVER, dtype=np.int64)
        flags = value.shape[2]
        for i in range(len(graph.positions)):
            here = reach[i]
            if not (here < NEVER).any():
                continue
            if i + 1 < len(graph.positions):
                self._arrive(
                    reach, i, i + 1, np.where(graph.level_ok[i][:, None, None], here + self.steps[i], NEVER)
                )
            arrivals: dict[int, IntArray] = {}
            for k in self.by_start[i]:
                arc, cost = graph.arcs[k], self.costs[k]
                bits = self.bits(arc)
                free = self._free_masks(bits)
                if arc.ends:
                    due = np.array([self._flag(arc, f)[1] for f in range(flags)])
                    ended = (self._end_cost(i, bits) + cost)[free]
                    out[k] = (here[arc.la][:, free] + ended + due[:, None]).min()
                    continue
                j = graph.goes[k]
                if j not in arrivals:
                    arrivals[j] = self._settle_back(value[j], i, j)
                target = arrivals[j][arc.lb]
                pushed = np.full(value.shape[1:], NEVER, dtype=np.int64)
                if arc.la == arc.lb:
                    for f in range(flags):
                        to = self._flag(arc, f)[0]
                        began = here[arc.la, f, free] + cost
                        out[k] = min(out[k], int((began + target[to, free | bits]).min()))
                        pushed[arc.lb, to, free | bits] = np.minimum(pushed[arc.lb, to, free | bits], began)
                else:
                    for f in range(flags):
                        to, more = self._flag(arc, f)
                        out[k] = min(out[k], int((here[arc.la, f] + cost + more + target[to]).min()))
                        pushed[arc.lb, to] = np.minimum(pushed[arc.lb, to], here[arc.la, f] + cost + more)
                self._arrive(reach, i, j, pushed)
        return np.minimum(out, NEVER)

    def _arrive(self, reach: IntArray, i: int, j: int, block: IntArray) -> None:
        for k in range(i + 1, j + 1):
            for item in self.closing[k]:
                bit = 1 << self.slot[item]
                without = self._masks[(self._masks & bit) == 0]
                settled = np.full(block.shape, NEVER, dtype=np.int64)
                settled[..., without] = np.minimum(
                    block[..., without | bit], block[..., without] + self.unserved[item]
                )
                block = settled
        np.minimum(reach[j], np.minimum(block, NEVER), out=reach[j])
