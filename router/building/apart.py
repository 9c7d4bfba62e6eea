"""Many trees: each solved by itself, in processes, and kept only by what was chosen.

Trees touch each other only where their pieces clash. So each is built, solved
and closed alone, and what is not chosen is dropped: memory holds one tree's
graphs at a time. Those that turn out to clash with another tree are built
again and closed together.
"""

from __future__ import annotations

import gc
import multiprocessing
import os
import signal
from concurrent.futures import ProcessPoolExecutor, wait
from contextlib import contextmanager
from dataclasses import dataclass, replace
from multiprocessing.connection import wait as wait_for_any
from threading import Thread
from typing import TYPE_CHECKING, Any, Literal, cast

import numpy as np

from router.building.assemble import RunPlan
from router.building.clashes import plan_clashes, without_clashes
from router.building.close import Closed, Looked, close
from router.building.prepare import Prepared, prepare, prepare_trees
from router.building.stop import Stop
from router.building.term_bounds import chosen_least
from router.building.tree import Tree, work_out
from router.profiles.columns import TAKEOFF
from router.profiles.graph import POINT
from router.route.totals import prices_of
from router.takeoffs.candidates import Candidates

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence

    from router.building.graphs import BuiltGraph
    from router.building.keep import Keep
    from router.building.progress import Tally
    from router.profiles.graph import Arc, Prices
    from router.scenario.model import Scenario
    from router.takeoffs.candidate import Candidate

WORTH_HEADS = 500
"""Fewer heads are solved with all trees at hand: nothing to gain by building clashing ones twice."""
PROCESS_HEADS = 1500
"""A process more needs so many: to start one takes as long as a few hundred heads."""
CHUNK_HEADS = 600
"""About so many heads go to a process at a time."""
LOOK_S = 0.1
"""So often the processes are looked at, and told to stop."""


@dataclass
class SolvedTree:
    """What is left of a tree: its chosen arcs (as a graph of little else) and what is proven."""

    tree: Tree
    plans: dict[int, RunPlan]
    bound: int
    status: Literal["optimal", "feasible"]
    closed_by: set[str]
    decided: dict[int, str]
    looked: Looked


def worth_apart(prepared: Prepared) -> bool:
    """Whether a scenario is large, and of several trees."""
    return len(prepared.roots) > 1 and len(prepared.scenario.heads) >= WORTH_HEADS


def solve_apart(
    prepared: Prepared, prices: Prices, stop: Stop, tally: Tally, processes: int, *, look: bool = False
) -> tuple[list[Tree], Closed]:
    """Solve every tree by itself, then together those that clash; the same for any number of processes.

    ``prepared``: no tree is worked out yet.
    Trees that a stop leaves no time for are not returned.
    """
    chunks = _chunks(prepared)
    tally.begin("candidates")
    most = min(processes, len(chunks), len(prepared.scenario.heads) // PROCESS_HEADS)
    if most < 2:
        found = _here(prepared, prices, stop, tally, look)
    else:
        found = _in_processes(prepared, chunks, stop, tally, most, look)
    return _together(prepared, found, prices, stop, tally, look)


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


def _here(prepared: Prepared, prices: Prices, stop: Stop, tally: Tally, twice: bool) -> list[SolvedTree]:
    """Solve all trees in this process."""

    def done(runs: int, heads: int, gap: int) -> None:
        if gap:
            tally.worst(gap / POINT)
        tally.add(runs, heads)

    out = []
    for root in prepared.roots:
        if stop.asked():
            break
        prepare_trees(prepared, [root])
        out.append(_alone(prepared, root, prices, stop, done, twice))
    return [solved for solved in out if solved is not None]


def _in_processes(
    prepared: Prepared, chunks: list[list[int]], stop: Stop, tally: Tally, processes: int, twice: bool
) -> list[SolvedTree]:
    """Solve the trees in processes, which hear of a stop from this one."""
    # spawned, not forked: the libraries beneath hold threads and locks
    context = multiprocessing.get_context("spawn")
    ended = context.Event()
    done = context.Array("q", 3)  # runs, heads, worst gap
    given = (prepared.scenario, ended, done, prepared.keep, twice)
    pool = ProcessPoolExecutor(processes, context, initializer=_begin, initargs=given)

    def look() -> None:
        if stop.asked():
            ended.set()
        runs, heads, gap = done[:]
        if gap:
            tally.worst(gap / POINT)
        tally.put(runs, heads)

    try:
        with _deaf_to_ctrl_c():
            parts = [pool.submit(_solve_chunk, chunk) for chunk in chunks]
        waiting = set(parts)
        for root in prepared.roots:  # meanwhile
            if stop.asked():
                break
            prepare_trees(prepared, [root])
            look()
        while waiting:
            look()
            finished, waiting = wait(waiting, LOOK_S)
            if any(part.exception() is not None for part in finished):
                ended.set()
                break
        solved = [tree for part in parts for tree in part.result()]
    finally:
        ended.set()
        pool.shutdown(cancel_futures=True)
    look()
    for tree in solved:
        if not prepared.frames[tree.tree.root].stretches:
            prepare_trees(prepared, [tree.tree.root])
    return solved


@contextmanager
def _deaf_to_ctrl_c() -> Iterator[None]:
    """Keep Ctrl-C from processes that are started here: it comes to all, and the first one tells the others.

    They do not hear it from their first moment on, when no handler of theirs is there yet.
    """
    if not hasattr(signal, "pthread_sigmask"):
        yield
        return
    before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)


_given: dict[str, object] = {}
"""In a worker process: the scenario with no tree worked out yet, the stop and what is counted."""


def _begin(scenario: Scenario, ended: Any, done: Any, keep: Keep | None, twice: bool) -> None:
    gc.disable()  # for the reasons that building.collector gives: this process does nothing else
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    Thread(target=_end_with_parent, daemon=True).start()
    _given["prepared"] = prepare(scenario, (), keep)
    _given["stop"] = Stop(signal=ended)
    _given["done"] = done
    _given["twice"] = twice


def _end_with_parent() -> None:
    """End this process when the one that started it is gone, however that came."""
    parent = multiprocessing.parent_process()
    assert parent is not None
    wait_for_any([parent.sentinel])
    os._exit(1)


def _solve_chunk(roots: list[int]) -> list[SolvedTree]:
    prepared, stop = cast("Prepared", _given["prepared"]), cast("Stop", _given["stop"])
    prices = prices_of(prepared.scenario)
    counts = cast("Any", _given["done"])

    def done(runs: int, heads: int, gap: int) -> None:
        with counts.get_lock():
            counts[0] += runs
            counts[1] += heads
            counts[2] = max(counts[2], gap)

    out = []
    for root in roots:
        if stop.asked():
            break
        prepare_trees(prepared, [root])
        out.append(_alone(prepared, root, prices, stop, done, bool(_given["twice"])))
    return [solved for solved in out if solved is not None]


def _alone(
    prepared: Prepared,
    root: int,
    prices: Prices,
    stop: Stop,
    done: Callable[[int, int, int], None],
    twice: bool,
) -> SolvedTree | None:
    """Solve one tree; ``done`` is told how many runs and heads more are known, and the tree's gap."""
    tree = work_out(prepared, root, prices, stop, lambda r: done(1, len(prepared.frames[r].heads), 0))
    if tree is None:
        return None
    closed = close(prepared, [tree], prices, stop, look=twice)
    if closed.gap:
        done(0, 0, closed.gap)
    # what each term alone comes to says nothing of a route that is not whole
    least = {} if stop.hit else chosen_least(tree, prices, closed.plans)
    plans: dict[int, RunPlan] = {}
    graphs: dict[int, BuiltGraph] = {}
    for r in tree.order:
        graphs[r], arcs = _kept(tree.graphs[r], closed.plans[r].arcs if r in closed.plans else ())
        if r in closed.plans:
            plans[r] = RunPlan(closed.plans[r].level, arcs)
    left = Tree(root, tree.order, graphs, none_served=tree.none_served, size=tree.counted(), least=least)
    left.left_out = tree.left_out
    return SolvedTree(
        left, plans, closed.bound, closed.status, closed.closed_by, closed.decided, closed.looked
    )


def _kept(built: BuiltGraph, chosen: Sequence[int]) -> tuple[BuiltGraph, tuple[int, ...]]:
    """Return a graph of the chosen arcs alone, with their candidates, and the arcs' indices in it."""
    arcs: list[Arc] = []
    candidates: list[Candidate] = []
    columns = built.graph.columns
    ending = []
    for k in chosen:
        arc = built.graph.arcs[k]
        if arc.kind == "takeoff":
            candidates.append(built.candidates[cast("int", arc.ref)])
            # as the run's last too: so it will be if what comes after it must go
            for e in np.flatnonzero(columns.ref == arc.ref).tolist():
                if columns.kind[e] == TAKEOFF and columns.ends[e] and columns.la[e] == arc.la:
                    ending.append(replace(built.graph.arcs[e], ref=len(candidates) - 1))
            arc = replace(arc, ref=len(candidates) - 1)
        arcs.append(arc)
    count = len(arcs)
    arcs += [arc for arc in ending if arc not in arcs]
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
    return kept, tuple(range(count))


def _together(
    prepared: Prepared, solved: list[SolvedTree], prices: Prices, stop: Stop, tally: Tally, twice: bool
) -> tuple[list[Tree], Closed]:
    """Close together the trees that clash with each other, until none does."""
    trees = [s.tree for s in solved]
    loose: dict[int, Tree] = {}
    closed = Closed({}, 0, "optimal")
    while True:
        plans = {r: plan for t, s in enumerate(solved) if t not in loose for r, plan in s.plans.items()}
        plans |= closed.plans
        clashing = {p.tree for pair in plan_clashes(prepared, trees, plans) for p in pair} - set(loose)
        again = {} if stop.asked() else _again(prepared, trees, sorted(clashing), prices, stop)
        if not again:
            break
        for t, tree in again.items():
            trees[t] = loose[t] = tree
        closed = close(prepared, [loose[t] for t in sorted(loose)], prices, stop, tally.tell, look=twice)
    every = [s for t, s in enumerate(solved) if t not in loose]
    bound = closed.bound + sum(s.bound for s in every)
    statuses = {closed.status, *(s.status for s in every)}
    done = not clashing and statuses == {"optimal"} and len(solved) == len(prepared.roots)
    if not done:
        plans = without_clashes(prepared, trees, plans)
    closed_by = closed.closed_by.union(*(s.closed_by for s in every))
    decided = {r: step for s in every for r, step in s.decided.items()} | closed.decided
    for t in clashing:
        decided |= dict.fromkeys(trees[t].order, "unproven")
    looked = sum((s.looked for s in every), closed.looked)
    return trees, Closed(plans, bound, "optimal" if done else "feasible", closed_by, decided, looked=looked)


def _again(
    prepared: Prepared, trees: list[Tree], which: list[int], prices: Prices, stop: Stop
) -> dict[int, Tree]:
    """Build trees again with everything that is possible; none of them if a stop comes first."""
    out: dict[int, Tree] = {}
    for t in which:
        if stop.asked():
            return {}
        whole = work_out(prepared, trees[t].root, prices, Stop())
        assert whole is not None
        out[t] = whole
    return out
