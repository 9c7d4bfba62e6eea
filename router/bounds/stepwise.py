"""The dynamic programme's passes with numpy, position by position: where numba is not installed.

Same values, paths and through-costs as :mod:`router.bounds.kernels`, in the
same words; all arcs that begin at one position are taken at once.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from router.profiles.graph import NEVER

if TYPE_CHECKING:
    from router.bounds.structure import BoolArray, IntArray, Structure


class Stepwise:
    """Both passes over one structure; ``due``: cost of the drain that falls due, (arcs, flags)."""

    def __init__(
        self, structure: Structure, costs: IntArray, due: IntArray, steps: IntArray, unserved: IntArray
    ) -> None:
        self.structure, self.costs, self.due, self.steps = structure, costs, due, steps
        self.graph = structure.graph
        self.to = structure.graph.flag_moves[0]
        self.masks = np.arange(1 << structure.slots)
        self.tail, self.open_cost = structure.tail(unserved), structure.open_cost(unserved)
        closing = structure.closing
        self.close_at = np.repeat(np.arange(len(structure.close_ptr) - 1), np.diff(structure.close_ptr))
        self.close_bits = (np.int64(1) << structure.slot[closing]).tolist()
        self.close_cost = unserved[closing].tolist()
        self.close_ptr = structure.close_ptr.tolist()

    def _passed(self, masks: IntArray, i: int, until: IntArray) -> tuple[IntArray, IntArray]:
        """Masks, and what they pay, after going from position ``i`` to ``until``; shapes (n, m), (n,)."""
        more = np.zeros(masks.shape, dtype=np.int64)
        for c in range(self.close_ptr[i + 1], self.close_ptr[int(until.max()) + 1]):
            on_way = (until >= self.close_at[c])[:, None]
            held = (masks & self.close_bits[c]) != 0
            more += np.where(on_way & ~held, self.close_cost[c], 0)
            masks = np.where(on_way & held, masks ^ self.close_bits[c], masks)
        return masks, more

    def _left(self, i: int, masks: IntArray) -> IntArray:
        """Price of what is unserved if the run stops after position ``i`` with each of ``masks``."""
        total = np.full(masks.shape, self.tail[i], dtype=np.int64)
        for s, cost in enumerate(self.open_cost[i].tolist()):
            if cost:
                total += np.where(masks >> s & 1, 0, cost)
        return total

    def _arcs(self, i: int) -> tuple[IntArray, IntArray]:
        """Arcs that begin at position ``i``: those that go on, those that end the run."""
        s = self.structure
        here = s.order[s.ptr[i] : s.ptr[i + 1]]
        goes = self.graph.goes[here]
        return here[goes >= 0], here[goes < 0]

    def _onward(self, i: int, arcs: IntArray, shape: tuple[int, ...]) -> tuple[BoolArray, IntArray, IntArray]:
        """For arcs and masks: which may be, the cost, and where they land in the flat states of ``shape``.

        Shapes (arcs, 1, masks), (arcs, flags, masks) twice.
        """
        _, levels, flags, masks = shape
        bits, goes = self.structure.bits[arcs][:, None], self.graph.goes[arcs]
        free = (self.masks & bits) == 0
        after, more = self._passed(self.masks | bits, i, goes)
        cost = (more + self.costs[arcs][:, None])[:, None, :] + self.due[arcs][:, :, None]
        node = (goes * levels + self.graph.columns.lb[arcs])[:, None] * flags + self.to[arcs]
        return free[:, None, :], cost, node[:, :, None] * masks + after[:, None, :]

    def _ending(self, i: int, arcs: IntArray) -> tuple[BoolArray, IntArray]:
        """Give the first two of the same for arcs that end the run."""
        bits = self.structure.bits[arcs][:, None]
        free = (self.masks & bits) == 0
        cost = self._left(i, self.masks | bits) + self.costs[arcs][:, None]
        return free[:, None, :], cost[:, None, :] + self.due[arcs][:, :, None]

    def _from(self, arcs: IntArray, shape: tuple[int, ...]) -> IntArray:
        """Where arcs begin among the flat states of their position; shape (arcs, flags, masks)."""
        _, _, flags, masks = shape
        node = self.graph.columns.la[arcs][:, None] * flags + np.arange(flags)
        return np.asarray(node[:, :, None] * masks + self.masks)

    def backward(self, value: IntArray) -> None:
        """Fill ``value`` (positions, levels, flags, masks)."""
        n, flat = len(self.graph.positions), value.reshape(-1)
        for i in range(n - 1, -1, -1):
            here = value[i]
            if i + 1 < n:
                after, more = self._passed(self.masks[None, :], i, np.array([i + 1]))
                stay = value[i + 1][..., after[0]] + more[0] + self.steps[i]
                ok = self.graph.level_ok[i]
                here[ok] = np.minimum(stay[ok], NEVER)
            onward, ending = self._arcs(i)
            if len(onward):
                free, cost, land = self._onward(i, onward, value.shape)
                way = np.where(free, flat[land] + cost, NEVER)
                np.minimum.at(here.reshape(-1), self._from(onward, value.shape).ravel(), way.ravel())
            if len(ending):
                free, cost = self._ending(i, ending)
                way = np.where(free, cost, NEVER)
                np.minimum.at(here.reshape(-1), self._from(ending, value.shape).ravel(), way.ravel())

    def through(self, value: IntArray, start: IntArray) -> tuple[IntArray, IntArray]:
        """Least cost of any path through each arc, (arcs, flags), and least cost to come to each state."""
        n, flat = len(self.graph.positions), value.reshape(-1)
        reach = np.full(value.shape, NEVER, dtype=np.int64)
        reach[0, :, 0, 0] = start
        out = np.full((len(self.graph.columns), value.shape[2]), NEVER, dtype=np.int64)
        for i in range(n):
            here = reach[i]
            if not (here < NEVER).any():
                continue
            if i + 1 < n:
                after, more = self._passed(self.masks[None, :], i, np.array([i + 1]))
                ok = self.graph.level_ok[i][:, None, None]
                stay = np.where(ok, np.minimum(here + more[0] + self.steps[i], NEVER), NEVER)
                for m, to in enumerate(after[0].tolist()):  # several masks may become one
                    np.minimum(reach[i + 1, :, :, to], stay[:, :, m], out=reach[i + 1, :, :, to])
            onward, ending = self._arcs(i)
            if len(onward):
                free, cost, land = self._onward(i, onward, value.shape)
                came = here.reshape(-1)[self._from(onward, value.shape)] + cost
                came = np.where(free, np.minimum(came, NEVER), NEVER)
                out[onward] = (came + flat[land]).min(axis=2)
                np.minimum.at(reach.reshape(-1), land.ravel(), came.ravel())
            if len(ending):
                free, cost = self._ending(i, ending)
                came = here.reshape(-1)[self._from(ending, value.shape)] + cost
                out[ending] = np.where(free, came, NEVER).min(axis=2)
        return np.minimum(out, NEVER), reach

    def path(self, value: IntArray, level: int) -> tuple[list[int], list[int], int, int]:
        """Follow the best path: its arcs, the items passed unserved, its last position and mask."""
        columns, s = self.graph.columns, self.structure
        i, flag, mask = 0, 0, 0
        arcs: list[int] = []
        missed: list[int] = []
        while True:
            step = self._step(value, i, level, flag, mask)
            j = i + 1
            if step is not None:
                arcs.append(step)
                mask |= int(s.bits[step])
                if columns.ends[step]:
                    return arcs, missed, i, mask
                j, level, flag = int(self.graph.goes[step]), int(columns.lb[step]), int(self.to[step, flag])
            for c in range(self.close_ptr[i + 1], self.close_ptr[j + 1]):
                if not mask & self.close_bits[c]:
                    missed.append(int(s.closing[c]))
                mask &= ~self.close_bits[c]
            i = j

    def _step(self, value: IntArray, i: int, level: int, flag: int, mask: int) -> int | None:
        """Give the first arc in order that keeps the best value, ``None`` to stay."""
        best = value[i, level, flag, mask]
        found: list[int] = []
        onward, ending = self._arcs(i)
        onward = onward[self.graph.columns.la[onward] == level]
        if len(onward):
            free, cost, land = self._onward(i, onward, value.shape)
            way = value.reshape(-1)[land[:, flag, mask]] + cost[:, flag, mask]
            found += onward[free[:, 0, mask] & (way == best)].tolist()
        ending = ending[self.graph.columns.la[ending] == level]
        if len(ending):
            free, cost = self._ending(i, ending)
            found += ending[free[:, 0, mask] & (cost[:, flag, mask] == best)].tolist()
        return min(found) if found else None
