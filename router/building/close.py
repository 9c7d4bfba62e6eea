"""From relaxed answers to a proven one: what goes to the model, until nothing clashes."""

from __future__ import annotations

from dataclasses import dataclass, field
from time import monotonic
from typing import TYPE_CHECKING, Literal

import networkx as nx

from router.building.clashes import plan_clashes, without_clashes
from router.building.refine import Refined
from router.building.settle import FIRST_GAP, Group, Settled

if TYPE_CHECKING:
    from collections.abc import Callable

    from router.building.assemble import RunPlan
    from router.building.graphs import BuiltGraph
    from router.building.prepare import Prepared
    from router.building.tree import Tree
    from router.profiles.graph import Prices


@dataclass
class Closed:
    """The choice for all trees. ``bound``: thousandths of a point."""

    plans: dict[int, RunPlan]
    bound: int
    status: Literal["optimal", "feasible"]
    closed_by: set[str] = field(default_factory=set)


def long_sections(built: BuiltGraph, plan: RunPlan) -> int:
    """Return how many low sections of a plan ask for the large drain, as the model sees it."""
    graph, total = built.graph, 0
    for low in built.long_lows:
        if low.arc not in plan.arcs or any(low.left_by(graph, k) for k in plan.arcs):
            continue
        before = [graph.arcs[k] for k in plan.arcs if graph.arcs[k].b <= graph.arcs[low.arc].a]
        turns = [arc for arc in before if arc.la != arc.lb]
        shared = graph.traps and bool(turns) and turns[-1].lb < turns[-1].la
        total += not shared
    return total


def close(
    prepared: Prepared,
    trees: list[Tree],
    prices: Prices,
    deadline: float | None,
    tell: Callable[[str, int, int], None],
) -> Closed:
    """Settle styles run by run and clashes where they are, until the choice holds.

    A run that clashes in itself is settled alone, level by level as it is
    wanted. Runs that clash with each other are decided together with the runs
    that feed them; all others take part in that by their tables.
    """
    return _Closing(prepared, trees, prices, deadline, tell).close()


class _Closing:
    """What is known so far of all trees."""

    def __init__(
        self,
        prepared: Prepared,
        trees: list[Tree],
        prices: Prices,
        deadline: float | None,
        tell: Callable[[str, int, int], None],
    ) -> None:
        self.prepared, self.trees, self.prices = prepared, trees, prices
        self.deadline, self.tell = deadline, tell
        self.refined = [Refined(prepared, tree, prices) for tree in trees]
        self.tree_of = {r: t for t, tree in enumerate(trees) for r in tree.order}
        self.opened: list[set[int]] = [set() for _ in trees]
        self.joined: nx.Graph[int] = nx.Graph()
        self.settled: dict[tuple[object, ...], Settled] = {}
        self.late = False

    def close(self) -> Closed:
        """Do it all."""
        while True:
            for t, refined in enumerate(self.refined):
                if not self.opened[t]:
                    refined.steady()
            plans = self._plans()
            if self._out_of_time() or not self._improve(plans):
                break
        return self._closed(plans)

    def _out_of_time(self) -> bool:
        self.late = self.late or (self.deadline is not None and monotonic() > self.deadline)
        return self.late

    def _improve(self, plans: dict[int, RunPlan]) -> bool:
        """Learn something of what is wrong with the plans; false if nothing is."""
        for t, refined in enumerate(self.refined):
            if self.opened[t]:
                beside = {r: plans[r] for r in self.trees[t].order if r in plans and r not in self.opened[t]}
                if refined.enter(beside):
                    return True
        clashes = [(a.run, b.run) for a, b in plan_clashes(self.prepared, self.trees, plans)]
        alone = {a for a, b in clashes if a == b}
        if self.prices.due_large() > 0:
            alone |= {r for r, plan in plans.items() if long_sections(self._built(r), plan)}
        alone = {r for r in alone if r not in self.opened[self.tree_of[r]]}
        new = False
        for n, t in enumerate(sorted({self.tree_of[r] for r in alone})):
            self.tell("model", n, len(alone))
            new |= self.refined[t].part(alone & set(self.trees[t].order), plans, self.deadline)
        if new:
            return True
        for a, b in clashes:
            if a != b:
                new |= self._open(a) | self._open(b) | self._join(a, b)
        return new

    def _built(self, run: int) -> BuiltGraph:
        return self.trees[self.tree_of[run]].graphs[run]

    def _open(self, run: int) -> bool:
        """Let the model decide a run, and all that feed it; whether it did not before."""
        opened = self.opened[self.tree_of[run]]
        up: int | None = run
        new = run not in opened
        while up is not None:
            opened.add(up)
            up = self.prepared.frames[up].parent
        self.joined.add_node(self.tree_of[run])
        return new

    def _join(self, a: int, b: int) -> bool:
        one, other = self.tree_of[a], self.tree_of[b]
        new = not self.joined.has_edge(one, other)
        self.joined.add_edge(one, other)
        return new and one != other

    def _groups(self) -> list[tuple[int, ...]]:
        return sorted(tuple(sorted(g)) for g in nx.connected_components(self.joined))

    def _plans(self) -> dict[int, RunPlan]:
        """Return the best choice by all that is known."""
        plans: dict[int, RunPlan] = {}
        for t, refined in enumerate(self.refined):
            if not self.opened[t]:
                plans |= refined.plans()
        groups = self._groups()
        for n, members in enumerate(groups):
            settled = self._settle(members, n, len(groups))
            if not settled.plans and settled.status != "optimal":
                for t in members:
                    plans |= self.refined[t].plans()
                continue
            plans |= settled.plans
            for r, plan in settled.plans.items():
                refined = self.refined[self.tree_of[r]]
                feeds = refined.tree.graphs[r].graph.columns.feeds[list(plan.arcs)]
                for child, level in feeds.reshape(-1, 2).tolist():
                    if child >= 0 and child not in self.opened[self.tree_of[r]]:
                        plans |= refined.plans(child, level)
        return plans

    def _key(self, members: tuple[int, ...]) -> tuple[object, ...]:
        return tuple((t, self.refined[t].stamp, *sorted(self.opened[t])) for t in members)

    def _settle(self, members: tuple[int, ...], n: int, count: int) -> Settled:
        key = self._key(members)
        if key not in self.settled:
            self.tell("model", n, count)
            trees = [self.refined[t].tree for t in members]
            opened = set().union(*(self.opened[t] for t in members))
            group = Group(self.prepared, trees, self.prices, opened)
            self.settled[key] = group.settle(FIRST_GAP, self.deadline, lambda text: None)
        return self.settled[key]

    def _closed(self, plans: dict[int, RunPlan]) -> Closed:
        """Add up what is proven."""
        closed = Closed(plans, 0, "feasible" if self.late else "optimal", {"dynamic programme"})
        for t, refined in enumerate(self.refined):
            if not self.opened[t]:
                closed.bound += refined.tree.bound
            if refined.by_model:
                closed.closed_by.add("model")
            stale = [(r, plan.level) for r, plan in plans.items() if self.tree_of[r] == t]
            known = [refined.known[k] for k in stale if k in refined.known]
            if any(not k.proven for k in known):
                closed.status = "feasible"
        for members in self._groups():
            settled = self.settled[self._key(members)]
            closed.closed_by.add("model")
            closed.bound += settled.bound
            if settled.status != "optimal":
                closed.status = "feasible"
        if closed.status == "feasible":
            closed.plans = without_clashes(self.prepared, self.trees, plans)
        return closed
