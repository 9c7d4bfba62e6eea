"""One tree of runs: cost tables from the leaves up, the choice from the root down."""

from __future__ import annotations

from dataclasses import dataclass, field
from time import monotonic
from typing import TYPE_CHECKING

import numpy as np

from router.bounds.dynamic import DynamicProgramme
from router.building.assemble import RunPlan
from router.building.graphs import BuiltGraph, build_graph
from router.building.thin import WHOLE_ARCS, Thinned, can_be_thinned, counted, thin
from router.profiles.graph import NEVER, IntArray, Prices, RunGraph

if TYPE_CHECKING:
    from collections.abc import Callable, Collection

    from router.building.prepare import Prepared
    from router.building.stop import Stop


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
    none_served: int = 0
    """Cost of serving no head of the tree at all: always possible."""
    size: tuple[int, int, int] | None = None
    """Takeoff arcs, levels and stations, where the graphs are no longer whole."""
    least: dict[str, tuple[int, int]] | None = None
    """By term: see ``term_bounds.tree_least``; where the graphs are no longer whole."""
    left_out: list[int] = field(default_factory=list)
    """Runs that a stop left out: nothing is known of them, nothing feeds them."""
    thinned: dict[int, Thinned] = field(default_factory=dict)
    """What is noted of runs whose graphs were thinned once their tables were known."""
    proven: int = 0
    """Where runs are left out: the least cost of the tree if what they serve cost nothing."""

    def counted(self) -> tuple[int, int, int]:
        """Return how many takeoff arcs, levels and stations the graphs have."""
        if self.size is not None:
            return self.size
        every = [
            self.thinned[r].counted if r in self.thinned else counted(built.graph)
            for r, built in self.graphs.items()
        ]
        takeoffs, levels, stations = (sum(n) for n in zip(*every, strict=True))
        return takeoffs, levels, stations

    @property
    def bound(self) -> int:
        """Least cost of the tree, a proven lower bound, thousandths of a point."""
        if self.left_out:
            return self.proven
        return min(int(self.tables[self.root].min()), self.none_served)


def leaves_first(prepared: Prepared, root: int) -> list[int]:
    """Return all runs of a tree; children stand before parents."""
    order: list[int] = []

    def visit(run: int) -> None:
        for child in prepared.frames[run].children:
            visit(child)
        order.append(run)

    visit(root)
    return order


def build_tree(prepared: Prepared, root: int) -> Tree:
    """Graphs of all runs of a tree; children stand before parents."""
    order = leaves_first(prepared, root)
    return Tree(root, order, {r: build_graph(prepared, prepared.frames[r]) for r in order})


def solve_tables(prepared: Prepared, tree: Tree, prices: Prices) -> None:
    """Run the dynamic programme on every run, leaves first."""
    tree.none_served = prices.whole(prices.unserved) * prepared.heads_below(tree.root)
    for r in tree.order:
        _solve(prepared, tree, prices, r)


def _solve(prepared: Prepared, tree: Tree, prices: Prices, run: int) -> None:
    graph = tree.graphs[run].graph
    try:
        programme = DynamicProgramme(graph, prices, fed_costs(tree, graph))
    except ValueError as fault:
        raise ValueError(f"run {prepared.scenario.runs[run].id}: {fault}") from fault
    tree.programmes[run] = programme
    tree.tables[run] = programme.table()


def work_out(
    prepared: Prepared,
    root: int,
    prices: Prices,
    stop: Stop,
    done: Callable[[int], None] | None = None,
    times: dict[str, float] | None = None,
) -> Tree | None:
    """Build a tree and solve its tables, run by run from the leaves.

    Of a tree too large for memory the lines are kept thin (:mod:`router.building.thin`).
    Once a stop asks for it, only runs that feed a known one are still worked
    out. The others are left out; ``None`` if none is known.

    Parameters
    ----------
    done
        Called with each run that is known.
    times
        Seconds are added to ``candidates`` and ``bounds``.
    """
    tree = Tree(root, [], {}, none_served=prices.whole(prices.unserved) * prepared.heads_below(root))
    arcs, given = 0, prepared.scenario.weights.unserved is not None
    for r in leaves_first(prepared, root):
        frame = prepared.frames[r]
        if stop.asked() and not any(child in tree.graphs for child in frame.children):
            tree.left_out.append(r)
            tree.tables[r] = np.full(len(frame.levels), NEVER, dtype=np.int64)
            continue
        marks = [monotonic()]
        tree.graphs[r] = build_graph(prepared, frame)
        tree.order.append(r)
        marks.append(monotonic())
        _solve(prepared, tree, prices, r)
        arcs += len(tree.graphs[r].graph.columns)
        if arcs > WHOLE_ARCS and can_be_thinned(tree.graphs[r], tree.programmes[r]):
            tree.graphs[r], tree.programmes[r], tree.thinned[r] = thin(
                tree.graphs[r], tree.programmes[r], prices, given
            )
        marks.append(monotonic())
        if times is not None:
            for n, name in enumerate(("candidates", "bounds")):
                times[name] = times.get(name, 0.0) + marks[n + 1] - marks[n]
        if done is not None:
            done(r)
    if not tree.order:
        return None
    if tree.left_out:
        tree.proven = _least_without(tree, prices)
    return tree


def _least_without(tree: Tree, prices: Prices) -> int:
    """Return what the tree costs at the least, whatever its left out runs cost."""
    free = Tree(tree.root, tree.order, tree.graphs, tables=dict(tree.tables))
    free.tables |= {r: np.zeros_like(tree.tables[r]) for r in tree.left_out}
    for r in tree.order:
        extra = fed_costs(free, tree.graphs[r].graph)
        if not np.array_equal(extra, tree.programmes[r].extra):
            free.tables[r] = DynamicProgramme(tree.graphs[r].graph, prices, extra).table()
    return min(int(free.tables[tree.root].min()), tree.none_served)


def fed_costs(tree: Tree, graph: RunGraph, without: Collection[int] = ()) -> IntArray:
    """Return what the runs that each arc feeds (but for ``without``) cost at the least, shape (arcs,)."""
    extra = np.zeros(len(graph.columns), dtype=np.int64)
    for child, level in graph.columns.feeds.transpose(1, 2, 0):
        for run in np.unique(child[child >= 0]):
            if int(run) in without:
                continue
            here = child == run
            extra[here] = np.minimum(extra[here] + tree.tables[run][level[here]], NEVER)
    return extra


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


def through_costs(
    tree: Tree, opened: Collection[int] | None = None, start: tuple[int, int] | None = None
) -> dict[int, IntArray]:
    """Least cost of the whole tree with each arc in it, by run, shape (arcs,); see :func:`through_all`."""
    every = through_all(tree, opened, start)
    return {run: np.asarray(lanes.min(axis=1)) for run, (lanes, _) in every.items()}


def through_all(
    tree: Tree, opened: Collection[int] | None = None, start: tuple[int, int] | None = None
) -> dict[int, tuple[IntArray, IntArray]]:
    """Least cost of the whole tree with each arc in each flag, and with each node in it; root downwards.

    By run, shapes (arcs, flags) and (positions, levels, flags).

    ``opened``: the runs that are wanted, with each one its parent (default:
    all). ``start``: instead of the tree one run of it, from one level.
    """
    top = tree.root if start is None else start[0]
    base = {top: np.where(tree.tables[top] < NEVER, 0, NEVER)}
    if start is not None:
        base[top] = np.where(np.arange(len(base[top])) == start[1], 0, NEVER)
    out: dict[int, tuple[IntArray, IntArray]] = {}
    for run in reversed(tree.order):
        if (opened is not None and run not in opened) or (start is not None and run != top):
            continue
        programme = tree.programmes[run]
        graph = programme.graph
        if run not in base:
            flags = programme.value.shape[2]
            nothing = np.full((len(graph.positions), graph.levels, flags), NEVER, dtype=np.int64)
            out[run] = np.full((len(graph.columns), flags), NEVER, dtype=np.int64), nothing
            continue
        open_at = (base[run] < NEVER) & (graph.source >= 0)
        begin = np.where(open_at, base[run] + programme.moved(), NEVER)
        lanes, nodes = programme.through_lanes(begin)
        lanes = np.minimum(lanes + programme.base, NEVER)
        out[run] = lanes, np.minimum(nodes + programme.base, NEVER)
        through = lanes.min(axis=1)
        for child, level in graph.columns.feeds.transpose(1, 2, 0):
            for fed in np.unique(child[child >= 0]):
                below = tree.tables[fed]
                table = base.setdefault(int(fed), np.full(len(below), NEVER, dtype=np.int64))
                here = (child == fed) & (through < NEVER)
                at = level[here]
                fine = below[at] < NEVER
                np.minimum.at(table, at[fine], (through[here] - below[at])[fine])
    return out
