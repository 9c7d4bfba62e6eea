"""Many trees: each solved by itself, in processes, and kept only by what was chosen.

Trees touch each other only where their pieces clash. So each is built, solved
and closed alone, and what is not chosen is dropped: memory holds one tree's
graphs at a time. Those that turn out to clash with another tree are built
again and closed together. What a process dies over, or has no memory for, is
done in this one.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import partial
from typing import TYPE_CHECKING, Literal, cast

import numpy as np

from router.building.assemble import RunPlan
from router.building.clashes import plan_clashes, without_clashes
from router.building.close import Closed, Looked, close
from router.building.prepare import Prepared, prepare, prepare_trees
from router.building.processes import Shared, in_processes
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
    prepared: Prepared, prices: Prices, stop: Stop, tally: Tally, processes: int
) -> tuple[list[Tree], Closed]:
    """Solve every tree by itself, then together those that clash; the same for any number of processes.

    ``prepared``: no tree is worked out yet.
    Trees that a stop leaves no time for are not returned.
    """
    chunks = _chunks(prepared)
    tally.begin("candidates")
    most = min(processes, len(chunks), len(prepared.scenario.heads) // PROCESS_HEADS)
    if most < 2:
        found = _here(prepared, prices, stop, tally)
    else:
        found = _in_processes(prepared, prices, chunks, stop, tally, most)
    return _together(prepared, found, prices, stop, tally)


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


def _here(prepared: Prepared, prices: Prices, stop: Stop, tally: Tally) -> list[SolvedTree]:
    """Solve all trees in this process."""

    def done(runs: int, heads: int, gap: int) -> None:
        if gap:
            tally.worst(gap / POINT)
        tally.add(runs, heads)

    return _chunk_here(prepared, prices, prepared.roots, stop, done)


def _in_processes(
    prepared: Prepared, prices: Prices, chunks: list[list[int]], stop: Stop, tally: Tally, processes: int
) -> list[SolvedTree]:
    """Solve the trees in processes, which hear of a stop from this one; here, what they die over."""
    try:
        shared = Shared(len(chunks))
    except OSError:  # nowhere to put memory that processes share
        return _here(prepared, prices, stop, tally)

    def look() -> None:
        if stop.asked():
            shared.set()
        runs, heads, gap = shared.counts()
        if gap:
            tally.worst(gap / POINT)
        tally.put(runs, heads)

    def meanwhile() -> Iterator[None]:
        for root in prepared.roots:
            if stop.asked():
                break
            prepare_trees(prepared, [root])
            yield

    given = (prepared.scenario, prepared.keep, prepared.look, chunks)
    found = in_processes(_solve_chunk, _begin, given, shared, len(chunks), processes, meanwhile(), look)
    missing = [k for k in range(len(chunks)) if k not in found]
    if missing and not stop.asked():
        # one tree at a time needs the least memory, and the answer is the same wherever it is found
        tally.begin("again")
        for k in missing:
            shared.clear(k)
        for k in missing:
            found[k] = _chunk_here(prepared, prices, chunks[k], stop, partial(_tell, shared, k, look))
    solved = [tree for k in sorted(found) for tree in found[k]]
    for tree in solved:
        _prepare(prepared, tree.tree.root)
    return solved


def _tell(shared: Shared, k: int, look: Callable[[], None], runs: int, heads: int, gap: int) -> None:
    shared.add(k, runs, heads, gap)
    look()


def _chunk_here(
    prepared: Prepared, prices: Prices, roots: list[int], stop: Stop, done: Callable[[int, int, int], None]
) -> list[SolvedTree]:
    """Solve some trees in this process."""
    out = []
    for root in roots:
        if stop.asked():
            break
        _prepare(prepared, root)
        out.append(_alone(prepared, root, prices, stop, done))
    return [solved for solved in out if solved is not None]


def _prepare(prepared: Prepared, root: int) -> None:
    """Prepare a tree unless it is."""
    if not prepared.frames[root].stretches:
        prepare_trees(prepared, [root])


_given: dict[str, object] = {}
"""In a worker process: the scenario with no tree worked out yet, the chunks, the stop and what is counted."""


def _begin(
    scenario: Scenario, keep: Keep | None, look: bool, chunks: list[list[int]], shared: Shared
) -> None:
    prepared = prepare(scenario, (), keep)
    prepared.look = look
    _given["prepared"] = prepared
    _given["chunks"], _given["shared"] = chunks, shared
    _given["stop"] = Stop(signal=shared)


def _solve_chunk(k: int) -> list[SolvedTree]:
    prepared, stop = cast("Prepared", _given["prepared"]), cast("Stop", _given["stop"])
    shared, chunks = cast("Shared", _given["shared"]), cast("list[list[int]]", _given["chunks"])
    done = partial(shared.add, k)
    return _chunk_here(prepared, prices_of(prepared.scenario), chunks[k], stop, done)


def _alone(
    prepared: Prepared,
    root: int,
    prices: Prices,
    stop: Stop,
    done: Callable[[int, int, int], None],
) -> SolvedTree | None:
    """Solve one tree; ``done`` is told how many runs and heads more are known, and the tree's gap."""
    tree = work_out(prepared, root, prices, stop, lambda r: done(1, len(prepared.frames[r].heads), 0))
    if tree is None:
        return None
    closed = close(prepared, [tree], prices, stop)
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
    prepared: Prepared, solved: list[SolvedTree], prices: Prices, stop: Stop, tally: Tally
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
        closed = close(prepared, [loose[t] for t in sorted(loose)], prices, stop, tally.tell)
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
