"""Many trees: each solved by itself, in processes, and kept only by what was chosen.

Trees touch each other only where their pieces clash. So each is built, solved
and closed alone, and what is not chosen is dropped: memory holds one tree's
graphs at a time. Those that turn out to clash with another tree are built
again and closed together.
"""

from __future__ import annotations

import multiprocessing
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, replace
from time import monotonic
from typing import TYPE_CHECKING, Literal, cast

import numpy as np

from router.building.assemble import RunPlan
from router.building.clashes import plan_clashes, without_clashes
from router.building.close import Closed, close
from router.building.prepare import Prepared, prepare, prepare_trees
from router.building.term_bounds import PRICED, tree_least
from router.building.tree import Tree, build_tree, solve_tables
from router.route.totals import prices_of
from router.takeoffs.candidates import Candidates

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Sequence

    from router.building.graphs import BuiltGraph
    from router.profiles.graph import Prices
    from router.scenario.model import Scenario

WORTH_HEADS = 500
"""Fewer heads are solved with all trees at hand: nothing to gain by building clashing ones twice."""
PROCESS_HEADS = 1500
"""A process more needs so many: to start one takes as long as a few hundred heads."""
CHUNK_HEADS = 600
"""About so many heads go to a process at a time."""


@dataclass
class SolvedTree:
    """What is left of a tree: its chosen arcs (as a graph of nothing else) and what is proven."""

    tree: Tree
    plans: dict[int, RunPlan]
    bound: int
    status: Literal["optimal", "feasible"]
    closed_by: set[str]


def worth_apart(prepared: Prepared) -> bool:
    """Whether a scenario is large, and of several trees."""
    return len(prepared.roots) > 1 and len(prepared.scenario.heads) >= WORTH_HEADS


def solve_apart(
    prepared: Prepared,
    prices: Prices,
    seconds: float | None,
    tell: Callable[[str, int, int], None],
    processes: int,
) -> tuple[list[Tree], Closed]:
    """Solve every tree by itself, then together those that clash; the same for any number of processes.

    ``prepared``: no tree is worked out yet.
    """
    began = monotonic()
    deadline = None if seconds is None else began + seconds
    chunks = _chunks(prepared)
    solved: list[SolvedTree] = []
    tell("candidates", 0, len(prepared.roots))
    most = min(processes, len(chunks), len(prepared.scenario.heads) // PROCESS_HEADS)
    for part in _parts(prepared, chunks, prices, seconds, most):
        solved += part
        tell("candidates", len(solved), len(prepared.roots))
    return _together(prepared, solved, prices, deadline, tell)


def _chunks(prepared: Prepared) -> list[list[int]]:
    """Roots in order, cut after about :data:`CHUNK_HEADS` heads."""
    chunks: list[list[int]] = []
    heads = CHUNK_HEADS
    for root in prepared.roots:
        if heads >= CHUNK_HEADS:
            chunks.append([])
            heads = 0
        chunks[-1].append(root)
        heads += prepared.heads_below(root)
    return chunks


def _parts(
    prepared: Prepared, chunks: list[list[int]], prices: Prices, seconds: float | None, processes: int
) -> Iterable[list[SolvedTree]]:
    if processes < 2:
        prepare_trees(prepared, prepared.roots)
        deadline = None if seconds is None else monotonic() + seconds
        for chunk in chunks:
            yield [_alone(prepared, root, prices, deadline) for root in chunk]
        return
    # spawned, not forked: the libraries beneath hold threads and locks
    context = multiprocessing.get_context("spawn")
    with ProcessPoolExecutor(
        processes, context, initializer=_begin, initargs=(prepared.scenario, seconds)
    ) as pool:
        parts = pool.map(_solve_chunk, chunks)
        prepare_trees(prepared, prepared.roots)  # meanwhile
        yield from parts


_given: dict[str, object] = {}
"""In a worker process: the scenario with no tree worked out yet, and when all must be done."""


def _begin(scenario: Scenario, seconds: float | None) -> None:
    _given["prepared"] = prepare(scenario, ())
    _given["deadline"] = None if seconds is None else monotonic() + seconds


def _solve_chunk(roots: list[int]) -> list[SolvedTree]:
    prepared = cast("Prepared", _given["prepared"])
    prices = prices_of(prepared.scenario)
    prepare_trees(prepared, roots)
    return [_alone(prepared, root, prices, cast("float | None", _given["deadline"])) for root in roots]


def _alone(prepared: Prepared, root: int, prices: Prices, deadline: float | None) -> SolvedTree:
    tree = build_tree(prepared, root)
    solve_tables(prepared, tree, prices)
    closed = close(prepared, [tree], prices, deadline, _quiet)
    least = tree_least(tree, prices, PRICED)
    plans: dict[int, RunPlan] = {}
    graphs: dict[int, BuiltGraph] = {}
    for r in tree.order:
        graphs[r], arcs = _kept(tree.graphs[r], closed.plans[r].arcs if r in closed.plans else ())
        if r in closed.plans:
            plans[r] = RunPlan(closed.plans[r].level, arcs)
    left = Tree(root, tree.order, graphs, none_served=tree.none_served, size=tree.counted(), least=least)
    return SolvedTree(left, plans, closed.bound, closed.status, closed.closed_by)


def _kept(built: BuiltGraph, chosen: Sequence[int]) -> tuple[BuiltGraph, tuple[int, ...]]:
    """Return a graph of the chosen arcs alone, with their candidates, and the arcs' indices in it."""
    arcs, candidates = [], []
    for k in chosen:
        arc = built.graph.arcs[k]
        if arc.kind == "takeoff":
            candidates.append(built.candidates[cast("int", arc.ref)])
            arc = replace(arc, ref=len(candidates) - 1)
        arcs.append(arc)
    nothing = np.zeros(0, dtype=np.int64)
    graph = replace(
        built.graph,
        arcs=arcs,
        positions=nothing,
        level_ok=np.zeros((0, built.graph.levels), dtype=bool),
        starts=nothing,
        goes=nothing,
    )
    kept = replace(built, long_lows=[], graph=graph, candidates=Candidates.of(candidates), whole=False)
    return kept, tuple(range(len(arcs)))


def _together(
    prepared: Prepared,
    solved: list[SolvedTree],
    prices: Prices,
    deadline: float | None,
    tell: Callable[[str, int, int], None],
) -> tuple[list[Tree], Closed]:
    """Close together the trees that clash with each other, until none does."""
    trees = [s.tree for s in solved]
    loose: dict[int, Tree] = {}
    closed = Closed({}, 0, "optimal")
    while True:
        plans = {r: plan for t, s in enumerate(solved) if t not in loose for r, plan in s.plans.items()}
        plans |= closed.plans
        clashing = {p.tree for pair in plan_clashes(prepared, trees, plans) for p in pair} - set(loose)
        late = deadline is not None and monotonic() > deadline
        if not clashing or late:
            break
        for t in sorted(clashing):
            trees[t] = loose[t] = build_tree(prepared, prepared.roots[t])
            solve_tables(prepared, trees[t], prices)
        closed = close(prepared, [loose[t] for t in sorted(loose)], prices, deadline, tell)
    every = [s for t, s in enumerate(solved) if t not in loose]
    bound = closed.bound + sum(s.bound for s in every)
    statuses = {closed.status, *(s.status for s in every)}
    done = not clashing and statuses == {"optimal"}
    if not done:
        plans = without_clashes(prepared, trees, plans)
    closed_by = closed.closed_by.union(*(s.closed_by for s in every))
    return trees, Closed(plans, bound, "optimal" if done else "feasible", closed_by)


def _quiet(phase: str, done: int, total: int) -> None:
    """Tell nobody."""
