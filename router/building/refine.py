"""A tree's tables raised to what is true where it matters, until its best choice holds.

The tables of the dynamic programme bound from below: they see neither the
styles' term nor clashes within a run. Where the best choice puts a run at a
level, what the run really costs there is worked out and entered; the choice is
made again, until it stands on true entries only. Then it is the tree's optimum,
but for clashes between runs.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from router.bounds.dynamic import DynamicProgramme
from router.building.assemble import RunPlan
from router.building.graphs import build_graph
from router.building.settle import FIRST_GAP, Group
from router.building.stop import Stop
from router.building.styles import best_with_styles
from router.building.tree import fed_costs
from router.profiles.graph import NEVER

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable

    from router.building.prepare import Prepared
    from router.building.tree import Tree
    from router.profiles.graph import IntArray, Prices


@dataclass(frozen=True)
class Known:
    """What a run truly costs from one level, all below included, while ``stamp`` is its tables'."""

    value: int
    plan: RunPlan
    stamp: int
    apart: bool
    """Whether clashes within the run were looked at by the model."""
    proven: bool = True


class Refined:
    """One tree with tables that grow; ``tree`` is a copy, the given one stays as it was.

    ``gap``: thousandths of a point between value and bound of the worst that the
    model decided for one run alone. ``raised``: runs for which the exact styles'
    programme raised a table. ``steady_on``: whether the choice stands on true
    entries only; a stop may come before.
    """

    def __init__(self, prepared: Prepared, tree: Tree, prices: Prices, stop: Stop | None = None) -> None:
        self.prepared, self.prices = prepared, prices
        self.stop = Stop() if stop is None else stop
        self.each = prices.whole(prices.style)
        self.tree = replace(tree, programmes=dict(tree.programmes), tables=dict(tree.tables))
        self.known: dict[tuple[int, int], Known] = {}
        self.stamps = dict.fromkeys(tree.order, 0)
        self.rises = 0
        self.by_model = False
        self.raised: set[int] = set()
        self.gap = 0
        self.steady_on = not self.each
        self._renew(r for r in tree.order)

    @property
    def stamp(self) -> int:
        """Grows whenever some table does, and only then: what is learned without a rise changes no choice."""
        return sum(self.stamps.values()) + self.rises

    def plans(self, run: int | None = None, level: int | None = None) -> dict[int, RunPlan]:
        """Return the best choice by the tables for a run (default: the root) and all below it."""
        out: dict[int, RunPlan] = {}
        top = self.tree.root if run is None else run
        table = self.tree.tables[top]
        at = int(np.argmin(table)) if level is None else level
        worth = NEVER if run is not None else min(NEVER, self.tree.none_served + 1)
        waiting = [(top, at)] if table[at] < worth else []
        while waiting:
            r, at = waiting.pop()
            plan = self.plan(r, at)
            if plan.arcs:
                out[r] = plan
            feeds = self.tree.graphs[r].graph.columns.feeds[list(plan.arcs)]
            waiting += [(c, lvl) for c, lvl in feeds.reshape(-1, 2).tolist() if c >= 0]
        return out

    def plan(self, run: int, level: int) -> RunPlan:
        """Return the best choice for a run from a level."""
        known = self.known.get((run, level))
        if known is not None and known.stamp == self.stamps[run]:
            return known.plan
        return RunPlan(level, self.tree.programmes[run].path(level).arcs)

    def steady(self) -> None:
        """Enter what the chosen runs' styles truly cost, until the choice stands on it."""
        while self.enter(self.plans()):
            pass

    def known_for(self, run: int, plan: RunPlan) -> Known | None:
        """Return what is known of a run from a plan's level, by its tables as they are now."""
        known = self.known.get((run, plan.level))
        return known if known is not None and known.stamp == self.stamps[run] else None

    def enter(self, plans: dict[int, RunPlan]) -> bool:
        """Work out the styles of all runs of ``plans`` that are not known; whether a table rose."""
        if not self.each:
            return False
        rose, self.steady_on = [], False
        for r, plan in plans.items():
            if self.known_for(r, plan) is not None:
                continue
            if self.stop.asked():
                return False
            programme = self.tree.programmes[r]
            own, path = best_with_styles(programme, plan.level, self.each)
            value = own + int(programme.moved()[plan.level])
            if self._learn(r, plan.level, value, RunPlan(plan.level, path.arcs), apart=False):
                rose.append(r)
                self.raised.add(r)
        self._renew(self._above(rose))
        self.steady_on = not rose
        return bool(rose)

    def enter_every(self, runs: Iterable[int]) -> None:
        """Work out the styles of runs from every level that they may start at."""
        for level in range(max((len(self.tree.tables[r]) for r in runs), default=0)):
            at = {
                r: RunPlan(level, ())
                for r in runs
                if level < len(self.tree.tables[r]) and self.tree.programmes[r].value[0, level, 0, 0] < NEVER
            }
            self.enter(at)

    def part(self, runs: Iterable[int], plans: dict[int, RunPlan], tell: Callable[[int], None]) -> bool:
        """Work out by the model what runs cost without clashes in themselves; whether one is new.

        ``tell``: called with each run before the model gets it.
        """
        rose, new = [], False
        for r in sorted(runs):
            level = plans[r].level
            known = self.known_for(r, plans[r])
            if known is not None and known.apart:
                continue
            if self.stop.asked():
                break
            tell(r)
            self.make_whole(r)
            group = Group(self.prepared, [self.tree], self.prices, start=(r, level))
            settled = group.settle(FIRST_GAP, self.stop, lambda text: None)
            self.by_model = new = True
            proven = settled.status == "optimal"
            self.gap = max(self.gap, settled.value - settled.bound if settled.clear else 0)
            # not decided in time: the choice stays, and what clashes is left out
            plan = settled.plans.get(r, RunPlan(level, ()) if proven else self.plan(r, level))
            if self._learn(r, level, settled.bound, plan, apart=True, proven=proven):
                rose.append(r)
        self._renew(self._above(rose))
        return new

    def with_whole(self, run: int) -> Tree:
        """Give a tree with everything that is possible on a run; choices in this one stay as they are."""
        if self.tree.graphs[run].whole:
            return self.tree
        built = build_graph(self.prepared, self.prepared.frames[run])
        extra = np.zeros(len(built.graph.columns), dtype=np.int64)
        programme = DynamicProgramme(built.graph, self.prices, extra)
        return replace(
            self.tree,
            graphs={**self.tree.graphs, run: built},
            programmes={**self.tree.programmes, run: programme},
        )

    def make_whole(self, run: int) -> None:
        """Build a thinned run again, with everything that is possible; what is known of it stays."""
        if self.tree.graphs[run].whole:
            return
        graphs, origin = self.tree.graphs, self.tree.thinned[run].origin
        graphs[run] = build_graph(self.prepared, self.prepared.frames[run])
        extra = np.zeros(len(graphs[run].graph.columns), dtype=np.int64)
        self.tree.programmes[run] = DynamicProgramme(graphs[run].graph, self.prices, extra)
        for (r, level), known in self.known.items():
            if r == run:
                arcs = tuple(origin[list(known.plan.arcs)].tolist())
                self.known[r, level] = replace(known, plan=RunPlan(level, arcs))

    def _learn(
        self, run: int, level: int, value: int, plan: RunPlan, *, apart: bool, proven: bool = True
    ) -> bool:
        self.known[run, level] = Known(value, plan, self.stamps[run], apart, proven)
        if value <= self.tree.tables[run][level]:
            return False
        self.tree.tables[run][level] = value
        self.rises += 1
        return True

    def _above(self, runs: Iterable[int]) -> list[int]:
        """Return the runs that feed some of ``runs``, directly or not; children before parents."""
        found: set[int] = set()
        for r in runs:
            parent = self.prepared.frames[r].parent
            while parent is not None and parent not in found:
                found.add(parent)
                parent = self.prepared.frames[parent].parent
        return [r for r in self.tree.order if r in found]

    def _renew(self, runs: Iterable[int]) -> None:
        """Solve runs again over the tables of the runs that they feed."""
        for r in runs:
            graph, old = self.tree.graphs[r].graph, self.tree.programmes[r]
            extra = fed_costs(self.tree, graph)
            if not np.array_equal(extra, old.extra):
                self.tree.programmes[r] = DynamicProgramme(graph, self.prices, extra, like=old)
                self.stamps[r] += 1
            table = self._floor(r, self.tree.programmes[r].table())
            for (run, level), known in self.known.items():
                if run == r:
                    table[level] = max(int(table[level]), known.value)
            self.tree.tables[r] = table

    def _floor(self, run: int, table: IntArray) -> IntArray:
        """Add one style to what is sure to use one: serving none of the run's own heads costs more."""
        none = self.prices.whole(self.prices.unserved) * len(self.prepared.frames[run].heads)
        return np.maximum(table, np.minimum(table + self.each, none))
