"""One tree of runs: cost tables from the leaves up, the choice from the root down."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from router.bounds.dynamic import DynamicProgramme
from router.building.assemble import RunPlan
from router.building.graphs import BuiltGraph, build_graph
from router.profiles.graph import NEVER, IntArray, Prices

if TYPE_CHECKING:
    from router.building.prepare import Prepared


@dataclass
class Tree:
    """The runs that hang on one root, solved without clashes and style counts.

    ``order``: children before parents. ``tables``: least cost by supply level,
    all runs below included.
    """

    root: int
    order: list[int]
    graphs: dict[int, BuiltGraph]
    programmes: dict[int, DynamicProgramme] = field(default_factory=dict)
    tables: dict[int, IntArray] = field(default_factory=dict)
    dominated: dict[int, dict[int, int]] = field(default_factory=dict)
    none_served: int = 0
    """Cost of serving no head of the tree at all: always possible."""

    @property
    def bound(self) -> int:
        """Least cost of the tree, a proven lower bound, thousandths of a point."""
        return min(int(self.tables[self.root].min()), self.none_served)


def build_tree(prepared: Prepared, root: int) -> Tree:
    """Graphs of all runs of a tree; children stand before parents."""
    order: list[int] = []

    def visit(run: int) -> None:
        for child in prepared.frames[run].children:
            visit(child)
        order.append(run)

    visit(root)
    return Tree(root, order, {r: build_graph(prepared, prepared.frames[r]) for r in order})


def solve_tables(prepared: Prepared, tree: Tree, prices: Prices) -> None:
    """Run the dynamic programme on every run, leaves first."""
    tree.none_served = prices.whole(prices.unserved) * prepared.heads_below(tree.root)
    for r in tree.order:
        graph = tree.graphs[r].graph
        extra = np.zeros(len(graph.arcs), dtype=np.int64)
        for k, arc in enumerate(graph.arcs):
            for child, level in arc.feeds:
                extra[k] = min(extra[k] + tree.tables[child][level], NEVER)
        tree.dominated[r] = _dominated(tree, r, prices, extra)
        try:
            programme = DynamicProgramme(graph, prices, extra, set(tree.dominated[r]))
        except ValueError as fault:
            raise ValueError(f"run {prepared.scenario.runs[r].id}: {fault}") from fault
        tree.programmes[r] = programme
        tree.tables[r] = programme.table()


def _dominated(tree: Tree, run: int, prices: Prices, extra: IntArray) -> dict[int, int]:
    """Takeoff arcs that another one equals in all the programme sees, at no more cost; and that one."""
    graph = tree.graphs[run].graph
    cost = [prices.cost(arc.amounts) + int(extra[k]) for k, arc in enumerate(graph.arcs)]
    groups: dict[tuple[object, ...], list[int]] = {}
    for k, arc in enumerate(graph.arcs):
        if arc.kind == "takeoff":
            groups.setdefault((arc.items, arc.a, arc.b, arc.la, arc.ends), []).append(k)
    out: dict[int, int] = {}
    for group in groups.values():
        best = min(group, key=lambda k: (cost[k], k))
        out |= {k: best for k in group if k != best}
    return out


def best_plans(prepared: Prepared, tree: Tree) -> dict[int, RunPlan]:
    """Give the relaxation's best choice for every run that it builds."""
    plans: dict[int, RunPlan] = {}
    table = tree.tables[tree.root]
    level = int(np.argmin(table))
    if table[level] >= NEVER:
        return plans
    waiting = [(tree.root, level)]
    while waiting:
        run, at = waiting.pop()
        path = tree.programmes[run].path(at)
        if not path.arcs:
            continue
        plans[run] = RunPlan(at, path.arcs)
        for k in path.arcs:
            waiting += list(tree.graphs[run].graph.arcs[k].feeds)
    return plans


def through_costs(tree: Tree) -> dict[int, IntArray]:
    """Least cost of the whole tree with each arc in it, by run; root downwards."""
    out: dict[int, IntArray] = {}
    base: dict[int, IntArray] = {}
    root_table = tree.tables[tree.root]
    base[tree.root] = np.where(root_table < NEVER, 0, NEVER)
    for run in reversed(tree.order):
        programme = tree.programmes[run]
        graph = programme.graph
        moved = np.array([programme.prices.whole(programme.prices.moved * max(m, 0.0)) for m in graph.source])
        if run not in base:
            out[run] = np.full(len(graph.arcs), NEVER, dtype=np.int64)
            continue
        open_at = (base[run] < NEVER) & (graph.source >= 0)
        begin = np.where(open_at, base[run] + moved, NEVER)
        through = np.minimum(programme.through(begin) + programme.base, NEVER)
        for k, best in tree.dominated[run].items():
            dearer = programme.costs[k] - programme.costs[best]
            through[k] = min(through[best] + dearer, NEVER)
        out[run] = through
        feeds: dict[int, IntArray] = {}
        for k, arc in enumerate(graph.arcs):
            for child, level in arc.feeds:
                table = feeds.setdefault(child, np.full(len(tree.tables[child]), NEVER, dtype=np.int64))
                if through[k] < NEVER and tree.tables[child][level] < NEVER:
                    table[level] = min(table[level], through[k] - tree.tables[child][level])
        base.update(feeds)
    return out
