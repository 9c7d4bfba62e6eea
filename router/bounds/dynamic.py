"""The dynamic programme over one run: position x level x trapped or not x what is served.

It solves the run's relaxation exactly: everything but clashes between arms
and terms that span the run (the number of styles). Backwards it gives the
least cost to finish from any state, so also the run's cost by supply level;
forwards the least cost to reach one; together the least cost of any profile
through an arc.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from router.bounds.compiled import kernels
from router.bounds.stepwise import Stepwise
from router.bounds.structure import MOST_OPEN, BoolArray, Structure
from router.profiles.graph import NEVER

if TYPE_CHECKING:
    from router.profiles.graph import IntArray, Prices, RunGraph

__all__ = ["MOST_OPEN", "DynamicProgramme", "Path"]


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
    allowed
        Arcs that may be used, shape (arcs,); default: all.
    like
        A programme over the same graph, whose structure is taken if the same
        arcs can be used: only costs differ then.
    compiled
        Whether to use the compiled passes; default: where they are there and pay.
    """

    def __init__(
        self,
        graph: RunGraph,
        prices: Prices,
        extra: IntArray,
        allowed: BoolArray | None = None,
        like: DynamicProgramme | None = None,
        compiled: bool | None = None,
    ) -> None:
        self.graph, self.prices, self.extra = graph, prices, extra
        self.costs: IntArray = prices.costs(graph.columns.amounts) + extra
        self.steps: IntArray = np.diff(graph.pipe_costs(prices))
        self.due: IntArray = graph.flag_moves[1] * np.int64(prices.due(graph.wet))
        usable = self.costs < NEVER // 2
        if allowed is not None:
            usable &= allowed
        known = None if like is None else like.structure
        same = known is not None and np.array_equal(usable, known.usable)
        self.structure: Structure = known if known is not None and same else Structure.of(graph, usable)
        self.unserved: IntArray = np.array(
            [prices.whole(prices.unserved * item.weight) for item in graph.items], dtype=np.int64
        )
        self.value: IntArray = np.full(
            (len(graph.positions), graph.levels, 2 if graph.traps else 1, 1 << self.slots),
            NEVER,
            dtype=np.int64,
        )
        size = len(graph.columns) if compiled is None else 1 << 62
        self.compiled = None if compiled is False else kernels(size)
        if self.compiled is None:
            self.slow = Stepwise(self.structure, self.costs, self.due, self.steps, self.unserved)
            self.slow.backward(self.value)
        else:
            self.compiled.backward(*self._arrays(), self.value)

    @property
    def slots(self) -> int:
        """How many items are open at once, at the most."""
        return self.structure.slots

    def _arrays(self, *, path: bool = False) -> list[Any]:
        """Arguments that the compiled passes share, in their order."""
        s, c = self.structure, self.graph.columns
        closing = [s.close_ptr, np.int64(1) << s.slot[s.closing], self.unserved[s.closing]]
        moves = [self.graph.flag_moves[0], self.due]
        lanes = [s.closing] if path else []
        steps = [] if path else [self.graph.level_ok, self.steps]
        return [
            *(s.ptr, s.order, self.graph.goes, c.la, c.lb, s.bits, self.costs),
            *(*moves, *steps, *closing, *lanes),
            *(s.tail(self.unserved), s.open_cost(self.unserved)),
        ]

    @property
    def base(self) -> int:
        """Cost of items that nothing on the run can serve."""
        return int(self.unserved[self.structure.hopeless].sum())

    def moved(self) -> IntArray:
        """Cost of starting at each level other than the nominal one, ``NEVER`` where it may not."""
        return moved_costs(self.graph, self.prices)

    def backward_many(self, costs: IntArray, steps: IntArray, drain: IntArray, value: IntArray) -> None:
        """Fill ``value`` (as this programme's, and one more axis) for several prices; see ``bounds.many``."""
        assert self.compiled is not None
        arrays = self._arrays()
        arrays[6], arrays[8], arrays[10] = costs, self.graph.flag_moves[1], steps
        self.compiled.backward_many(*arrays, drain, value)

    def table(self) -> IntArray:
        """Least cost by supply level, ``NEVER`` where the run cannot start; shape (levels,)."""
        total: IntArray = np.minimum(self.value[0, :, 0, 0] + self.base + self.moved(), NEVER)
        return total

    def path(self, level: int) -> Path:
        """Give the best path from supply level ``level``; ties go to the first arc in order."""
        total = int(self.value[0, level, 0, 0])
        if total >= NEVER:
            raise ValueError("no path from this level")
        if self.compiled is None:
            arcs, missed, i, mask = self.slow.path(self.value, level)
        else:
            arcs_out = np.zeros(len(self.graph.positions), dtype=np.int64)
            missed_out = np.zeros(len(self.graph.items) + 1, dtype=np.int64)
            shared = self._arrays(path=True)
            taken, passed, i, mask = self.compiled.path(*shared, self.value, level, arcs_out, missed_out)
            arcs, missed = arcs_out[:taken].tolist(), missed_out[:passed].tolist()
        unserved = [*self.structure.hopeless, *missed, *self._left(i, mask)]
        return Path(tuple(arcs), tuple(sorted(unserved)), total + self.base)

    def _left(self, i: int, mask: int) -> list[int]:
        s = self.structure
        return [
            item
            for item, (first, last, slot) in enumerate(
                zip(s.first.tolist(), s.last.tolist(), s.slot.tolist(), strict=True)
            )
            if last > i and (first > i or not mask >> slot & 1)
        ]

    def through(self, start: IntArray) -> IntArray:
        """Least cost of any path through each arc; shape (arcs,).

        ``start``: cost of starting at each level (``NEVER``: not at all).
        """
        return np.asarray(self._pass_through(start)[0].min(axis=1))

    def through_lanes(self, start: IntArray) -> tuple[IntArray, IntArray]:
        """Least cost of any path through each arc in each flag, and through each node.

        Returns
        -------
        tuple
            Shapes (arcs, flags) and (positions, levels, flags).
        """
        lanes, reach = self._pass_through(start)
        return lanes, np.minimum((reach + self.value).min(axis=3), NEVER)

    def _pass_through(self, start: IntArray) -> tuple[IntArray, IntArray]:
        """Least cost of any path through each arc in each flag, and to come to each state."""
        if self.compiled is None:
            return self.slow.through(self.value, start)
        reach = np.full(self.value.shape, NEVER, dtype=np.int64)
        reach[0, :, 0, 0] = start
        out = np.full((len(self.graph.columns), self.value.shape[2]), NEVER, dtype=np.int64)
        self.compiled.through(*self._arrays(), self.value, reach, out)
        return np.minimum(out, NEVER), reach


def moved_costs(graph: RunGraph, prices: Prices) -> IntArray:
    """Cost of starting at each level other than the nominal one, ``NEVER`` where it may not."""
    cost = [prices.whole(graph.start_points(prices, level)) for level in range(graph.levels)]
    return np.where(graph.source < 0, NEVER, np.array(cost, dtype=np.int64))
