"""An oracle for one run's graph: plain enumeration from the graph's definition.

It knows the records (`RunGraph`, `Arc`, `Prices`) and nothing of how they are
solved. Costs are whole thousandths of a point, rounded arc by arc and step by
step, as the graph says.
"""

from __future__ import annotations

import itertools
import math
import sys
from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Iterator

    from router.profiles.graph import Arc, Prices, RunGraph

NONE = math.inf
sys.setrecursionlimit(5000)  # one call per position of a line


@dataclass(frozen=True)
class Whole:
    """One complete way to build a run. ``unserved``: items left over."""

    start: int
    arcs: tuple[int, ...]
    unserved: tuple[int, ...]
    cost: float


def arc_cost(arc: Arc, prices: Prices) -> int:
    fitting, level_change, drain, hanger, pipe_mm, reducer, hose, large, wet, money, changed = arc.amounts
    points = (
        fitting * prices.fitting
        + level_change * prices.level_change
        + drain * prices.drain
        + hanger * prices.hanger
        + pipe_mm * prices.pipe / 1000
        + reducer * prices.reducer
        + hose * prices.hose
        + large * prices.large_drain
        + wet * prices.wet_drain
        + money * prices.price
        + changed * prices.changed
    )
    return round(points * 1000)


class Enumeration:
    """All ways to build one run. ``extra``: cost added per arc, by its index."""

    def __init__(self, graph: RunGraph, prices: Prices, extra: dict[int, float] | None = None) -> None:
        self.graph, self.prices = graph, prices
        more = extra or {}
        self.cost = [arc_cost(arc, prices) + more.get(k, 0) for k, arc in enumerate(graph.arcs)]
        where = {int(p): i for i, p in enumerate(graph.positions)}
        self.leaving: dict[tuple[int, int], list[int]] = {}
        for k, arc in enumerate(graph.arcs):
            if self.cost[k] < NONE:
                self.leaving.setdefault((where[arc.a], arc.la), []).append(k)
        self.goes = [None if arc.ends else where[arc.b] for arc in graph.arcs]
        money = np.zeros(len(graph.positions)) if graph.pipe_price is None else graph.pipe_price
        to = [
            round(float(p) * prices.pipe / 1000 + float(m) * prices.price * 1000)
            for p, m in zip(graph.positions, money, strict=True)
        ]
        self.step = [b - a for a, b in itertools.pairwise(to)]
        for i, (a, b) in enumerate(itertools.pairwise(graph.positions.tolist())):
            self.step[i] += sum(
                round(cost * prices.changed * 1000) for at, cost in graph.crossed if a <= at < b
            )
        self.missed = [round(prices.unserved * item.weight * 1000) for item in graph.items]

    def left_over(self, served: int) -> tuple[int, ...]:
        return tuple(i for i in range(len(self.missed)) if not served >> i & 1)

    def unserved_cost(self, served: int) -> int:
        return sum(self.missed[i] for i in self.left_over(served))

    def moved(self, level: int) -> float:
        """Cost of starting at a level; infinite where the run may not."""
        amount = float(self.graph.source[level])
        begins = 0.0 if self.graph.begins is None else float(self.graph.begins[level])
        return (
            NONE if amount < 0 else round((self.prices.moved * amount + self.prices.changed * begins) * 1000)
        )

    def trap(self, arc: Arc, trapped: bool) -> tuple[bool, int]:
        """Trapped or not behind an arc, and what a low section costs there.

        Dry: a fall costs a drain, once until the next rise. Wet: who falls must
        pass a pendent head before rising or ending, else a drain is due.
        """
        if not self.graph.traps:
            return trapped, 0
        if self.graph.wet:
            price = round((self.prices.wet_drain + self.prices.price * self.prices.wet_drain_price) * 1000)
            if arc.empties:
                return False, 0
            if arc.ends or arc.lb > arc.la:
                return False, price if trapped else 0
            return trapped or arc.lb < arc.la, 0
        if arc.la == arc.lb:
            return trapped, 0
        if arc.lb > arc.la:
            return False, 0
        price = round((self.prices.drain + self.prices.price * self.prices.drain_price) * 1000)
        return True, 0 if trapped else price

    def least(self, level: int, *, styles: bool = False) -> float:
        """Least cost of the run from a supply level; with ``styles`` their term too."""
        graph, style_cost = self.graph, round(self.prices.style * 1000)

        @cache
        def onward(i: int, at: int, trapped: bool, served: int, used: frozenset[str]) -> float:
            best = NONE
            if i + 1 < len(graph.positions) and graph.level_ok[i, at]:
                best = self.step[i] + onward(i + 1, at, trapped, served, used)
            for k in self.leaving.get((i, at), []):
                arc = graph.arcs[k]
                mask = sum(1 << item for item in arc.items)
                if mask & served:
                    continue
                now, drain = self.trap(arc, trapped)
                price = self.cost[k] + drain
                seen = used
                if styles and arc.style and arc.style not in used:
                    seen, price = used | {arc.style}, price + style_cost
                onto = self.goes[k]
                if onto is None:
                    rest: float = self.unserved_cost(served | mask)
                else:
                    rest = onward(onto, arc.lb, now, served | mask, seen)
                best = min(best, price + rest)
            return best

        begin = self.moved(level)
        return begin if begin == NONE else begin + onward(0, level, False, 0, frozenset())

    def every(self, level: int) -> Iterator[Whole]:
        """Every complete way from a supply level, one by one: no memory, no bounds."""
        graph = self.graph
        begin = self.moved(level)
        if begin == NONE:
            return
        stack: list[tuple[int, int, bool, int, tuple[int, ...], float]] = [(0, level, False, 0, (), begin)]
        while stack:
            i, at, trapped, served, arcs, cost = stack.pop()
            if i + 1 < len(graph.positions) and graph.level_ok[i, at]:
                stack.append((i + 1, at, trapped, served, arcs, cost + self.step[i]))
            for k in self.leaving.get((i, at), []):
                arc = graph.arcs[k]
                mask = sum(1 << item for item in arc.items)
                if mask & served:
                    continue
                now, drain = self.trap(arc, trapped)
                price = cost + self.cost[k] + drain
                onto = self.goes[k]
                if onto is None:
                    rest = self.unserved_cost(served | mask)
                    yield Whole(level, (*arcs, k), self.left_over(served | mask), price + rest)
                else:
                    stack.append((onto, arc.lb, now, served | mask, (*arcs, k), price))
