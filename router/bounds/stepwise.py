"""The dynamic programme's passes with numpy, arc by arc: where numba is not installed.

Same values, paths and through-costs as :mod:`router.bounds.kernels`. Takeoffs
that another one equals in all that the programme sees, at no more cost, are
left out here, and get the other's through-cost plus the difference.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from router.profiles.columns import TAKEOFF
from router.profiles.graph import NEVER

if TYPE_CHECKING:
    from router.bounds.structure import IntArray, Structure


def dominated(structure: Structure, costs: IntArray, due: IntArray) -> dict[int, int]:
    """Takeoff arcs that another one equals in all but a higher cost (or index); and that one."""
    c = structure.graph.columns
    to, _ = structure.graph.flag_moves
    groups: dict[tuple[object, ...], list[int]] = {}
    for k in np.flatnonzero(structure.usable & (c.kind == TAKEOFF)):
        moves = (tuple(to[k].tolist()), tuple(due[k].tolist()))
        key = (tuple(c.items[k].tolist()), int(c.a[k]), int(c.b[k]), int(c.la[k]), bool(c.ends[k]), moves)
        groups.setdefault(key, []).append(int(k))
    out: dict[int, int] = {}
    for group in groups.values():
        best = min(group, key=lambda k: (int(costs[k]), k))
        out |= {k: best for k in group if k != best}
    return out


class Stepwise:
    """Both passes over one structure; ``due``: cost of the drain that falls due, (arcs, flags)."""

    def __init__(
        self, structure: Structure, costs: IntArray, due: IntArray, steps: IntArray, unserved: IntArray
    ) -> None:
        self.structure, self.costs, self.due, self.steps = structure, costs, due, steps
        self.unserved = unserved
        self.graph = structure.graph
        self.to = structure.graph.flag_moves[0]
        self.masks = np.arange(1 << structure.slots)
        self.tail, self.open_cost = structure.tail(unserved), structure.open_cost(unserved)
        self.dominated = dominated(structure, costs, due)
        c = self.graph.columns
        self.la, self.lb, self.ends = c.la.tolist(), c.lb.tolist(), c.ends.tolist()
        self.goes = self.graph.goes.tolist()
        self._free: dict[int, IntArray] = {}

    def _arcs(self, i: int) -> list[int]:
        order, ptr = self.structure.order, self.structure.ptr
        return [int(k) for k in order[ptr[i] : ptr[i + 1]] if int(k) not in self.dominated]

    def _closing(self, k: int) -> list[int]:
        s = self.structure
        return [int(item) for item in s.closing[s.close_ptr[k] : s.close_ptr[k + 1]]]

    def _bit(self, item: int) -> int:
        return 1 << int(self.structure.slot[item])

    def _free_masks(self, bits: int) -> IntArray:
        if bits not in self._free:
            self._free[bits] = self.masks[(self.masks & bits) == 0]
        return self._free[bits]

    def _settle_back(self, block: IntArray, i: int, j: int) -> IntArray:
        """Value on arrival at ``j`` from ``i``: items that close on the way are paid if unserved."""
        # latest first: a slot may have passed from one item to the next on the way
        for k in range(j, i, -1):
            for item in self._closing(k):
                bit = self._bit(item)
                block = block[..., self.masks & ~bit] + np.where(self.masks & bit, 0, self.unserved[item])
        return block

    def end_cost(self, i: int, bits: int) -> IntArray:
        """Cost of stopping after position ``i``, by mask, for items then still unserved."""
        total = np.full(len(self.masks), self.tail[i], dtype=np.int64)
        for s, cost in enumerate(self.open_cost[i]):
            total += np.where((self.masks | bits) >> s & 1, 0, cost)
        return total

    def backward(self, value: IntArray) -> None:
        """Fill ``value`` (positions, levels, flags, masks)."""
        graph = self.graph
        for i in range(len(graph.positions) - 1, -1, -1):
            here = value[i]
            if i + 1 < len(graph.positions):
                after = self._settle_back(value[i + 1], i, i + 1) + self.steps[i]
                here[graph.level_ok[i]] = after[graph.level_ok[i]]
            arrivals: dict[int, IntArray] = {}
            for k in self._arcs(i):
                cost, la, bits = self.costs[k], self.la[k], int(self.structure.bits[k])
                free = self._free_masks(bits)
                if self.ends[k]:
                    ended = (self.end_cost(i, bits) + cost)[free] + self.due[k][:, None]
                else:
                    j = self.goes[k]
                    if j not in arrivals:
                        arrivals[j] = self._settle_back(value[j], i, j)
                    target = arrivals[j][self.lb[k]][self.to[k]]
                    ended = target[:, free | bits] + cost + self.due[k][:, None]
                # free holds distinct masks, so plain assignment is safe
                here[la][:, free] = np.minimum(here[la][:, free], ended)
            np.minimum(here, NEVER, out=here)

    def through(self, value: IntArray, start: IntArray) -> IntArray:
        """Least cost of any path through each arc; shape (arcs,)."""
        graph = self.graph
        reach = np.full(value.shape, NEVER, dtype=np.int64)
        reach[0, :, 0, 0] = start
        out = np.full(len(graph.arcs), NEVER, dtype=np.int64)
        for i in range(len(graph.positions)):
            here = reach[i]
            if not (here < NEVER).any():
                continue
            if i + 1 < len(graph.positions):
                stay = np.where(graph.level_ok[i][:, None, None], here + self.steps[i], NEVER)
                self._arrive(reach, i, i + 1, stay)
            arrivals: dict[int, IntArray] = {}
            for k in self._arcs(i):
                cost, bits = self.costs[k], int(self.structure.bits[k])
                free = self._free_masks(bits)
                began = here[self.la[k]][:, free] + cost + self.due[k][:, None]
                if self.ends[k]:
                    out[k] = (began + self.end_cost(i, bits)[free]).min()
                    continue
                j = self.goes[k]
                if j not in arrivals:
                    arrivals[j] = self._settle_back(value[j], i, j)
                target = arrivals[j][self.lb[k]][self.to[k]]
                out[k] = (began + target[:, free | bits]).min()
                pushed = np.full(value.shape[1:], NEVER, dtype=np.int64)
                for f, land in enumerate(self.to[k]):
                    lane = pushed[self.lb[k], land]
                    lane[free | bits] = np.minimum(lane[free | bits], began[f])
                self._arrive(reach, i, j, pushed)
        np.minimum(out, NEVER, out=out)
        for k, best in self.dominated.items():
            out[k] = min(out[best] + self.costs[k] - self.costs[best], NEVER)
        return out

    def _arrive(self, reach: IntArray, i: int, j: int, block: IntArray) -> None:
        for k in range(i + 1, j + 1):
            for item in self._closing(k):
                bit = self._bit(item)
                without = self.masks[(self.masks & bit) == 0]
                settled = np.full(block.shape, NEVER, dtype=np.int64)
                settled[..., without] = np.minimum(
                    block[..., without | bit], block[..., without] + self.unserved[item]
                )
                block = settled
        np.minimum(reach[j], np.minimum(block, NEVER), out=reach[j])

    def path(self, value: IntArray, level: int) -> tuple[list[int], list[int], int, int]:
        """Follow the best path: its arcs, the items passed unserved, its last position and mask."""
        i, flag, mask = 0, 0, 0
        arcs: list[int] = []
        missed: list[int] = []
        while True:
            step = self._step(value, i, level, flag, mask)
            j = i + 1
            if step is not None:
                arcs.append(step)
                mask |= int(self.structure.bits[step])
                if self.ends[step]:
                    return arcs, missed, i, mask
                j, level, flag = self.goes[step], self.lb[step], int(self.to[step, flag])
            for k in range(i + 1, j + 1):
                for item in self._closing(k):
                    if not mask & self._bit(item):
                        missed.append(item)
                    mask &= ~self._bit(item)
            i = j

    def _step(self, value: IntArray, i: int, level: int, flag: int, mask: int) -> int | None:
        best = int(value[i, level, flag, mask])
        for k in self._arcs(i):
            bits = int(self.structure.bits[k])
            if self.la[k] != level or mask & bits:
                continue
            more = int(self.costs[k]) + int(self.due[k, flag])
            if self.ends[k]:
                way = int(self.end_cost(i, bits)[mask]) + more
            else:
                j = self.goes[k]
                after = self._settle_back(value[j, self.lb[k], int(self.to[k, flag])][None], i, j)[0]
                way = int(after[mask | bits]) + more
            if way == best:
                return k
        return None
