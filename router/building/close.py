"""From relaxed answers to a proven one: what goes to the model, until nothing clashes."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Literal

import networkx as nx

from router.building.clashes import plan_clashes, without_clashes
from router.building.progress import Tally, Tell, quiet
from router.building.refine import Refined
from router.building.settle import EFFORT, FIRST_GAP, Group, Settled
from router.building.stop import Stop
from router.model.doubt import DoubtError
from router.profiles.graph import NEVER, POINT

if TYPE_CHECKING:
    from collections.abc import Collection

    from router.building.assemble import RunPlan
    from router.building.graphs import BuiltGraph
    from router.building.prepare import Prepared
    from router.building.tree import Tree
    from router.model.choice import Element
    from router.profiles.graph import Prices


MOST_LOOKS = 40
"""Lines that are decided a second time because they leave heads unserved."""
LARGE = 500
"""Arcs. What the model then decides takes a second and more."""


@dataclass
class Closed:
    """The choice for all trees. ``bound``: thousandths of a point.

    ``decided``: by run, which step decided it (:data:`router.route.model.STEPS`).
    ``gap``: value less bound of the worst that the model decided, thousandths of a point.
    """

    plans: dict[int, RunPlan]
    bound: int
    status: Literal["optimal", "feasible"]
    closed_by: set[str] = field(default_factory=set)
    decided: dict[int, str] = field(default_factory=dict)
    gap: int = 0
    looked: Looked = field(default_factory=lambda: Looked())


@dataclass
class Looked:
    """Lines that leave heads unserved, and on how many of them a second search says the same."""

    lines: int = 0
    agree: int = 0

    def __add__(self, other: Looked) -> Looked:
        """Add up what was looked at."""
        return Looked(self.lines + other.lines, self.agree + other.agree)


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
    stop: Stop | None = None,
    tell: Tell = quiet,
) -> Closed:
    """Settle styles run by run and clashes where they are, until the choice holds.

    A run that clashes in itself is settled alone, level by level as it is
    wanted. Runs that clash with each other are decided together with the runs
    that feed them; all others take part in that by their tables. If a stop comes
    first, the choice is the best known, less the takeoffs that clash. Where
    ``prepared.look`` says so, lines that leave heads unserved are decided a second time.

    Raises
    ------
    DoubtError
        If two ways to decide something disagree.
    """
    return _Closing(prepared, trees, prices, Stop() if stop is None else stop, tell).close()


class _Closing:
    """What is known so far of all trees."""

    def __init__(self, prepared: Prepared, trees: list[Tree], prices: Prices, stop: Stop, tell: Tell) -> None:
        self.prepared, self.trees, self.prices, self.stop = prepared, trees, prices, stop
        self.tally = Tally(len(prepared.frames), len(prepared.scenario.heads), tell)
        self.refined = [Refined(prepared, tree, prices, stop) for tree in trees]
        self.tree_of = {r: t for t, tree in enumerate(trees) for r in tree.order}
        self.opened: list[set[int]] = [set() for _ in trees]
        self.joined: nx.Graph[int] = nx.Graph()
        self.settled: dict[tuple[object, ...], Settled] = {}
        self.large = [False for _ in trees]
        self.met: dict[tuple[Element, Element], None] = {}
        self.before: dict[int, int] = {}
        """What a group of trees (the first of it) cost when it was last decided, thousandths of a point."""

    def close(self) -> Closed:
        """Do it all."""
        while True:
            for t, refined in enumerate(self.refined):
                if not self.opened[t]:
                    refined.steady()
            plans = self._plans()
            if self.stop.asked() or not self._improve(plans):
                break
        closed = self._closed(plans)
        if self.prepared.look and closed.status == "optimal":
            closed.looked = self._look_again(plans)
        return closed

    def _look_again(self, plans: dict[int, RunPlan]) -> Looked:
        """Ask the model, presolve flipped, about every line that leaves heads unserved, whoever decided it.

        Raises
        ------
        DoubtError
            If it finds another cost than what was proven.
        """
        looked = Looked()
        for t, refined in enumerate(self.refined):
            if self.opened[t]:
                continue
            for r in refined.tree.order:
                if r not in plans or not self._unserved(r, plans[r]):
                    continue
                looked.lines += 1
                if looked.lines > MOST_LOOKS or self.stop.asked():
                    continue
                start = (r, plans[r].level)
                group = Group(self.prepared, [refined.with_whole(r)], self.prices, start=start, effort=EFFORT)
                looked.agree += self._agrees(group, int(refined.tree.tables[r][plans[r].level]))
        for members in self._groups():
            opened = set().union(*(self.opened[t] for t in members))
            lines = sum(self._unserved(r, plans.get(r)) for r in opened)
            looked.lines += lines
            if not lines or looked.lines > MOST_LOOKS or self.stop.asked():
                continue
            trees = [self.refined[t].tree for t in members]
            group = Group(self.prepared, trees, self.prices, opened, met=self.met, effort=EFFORT)
            looked.agree += lines * self._agrees(group, self.settled[self._key(members)].value)
        return looked

    def _unserved(self, run: int, plan: RunPlan | None) -> bool:
        """Whether a line leaves one of its own heads unserved."""
        arcs = [] if plan is None else [self._built(run).graph.arcs[k] for k in plan.arcs]
        count = len(self._built(run).item_heads)
        return len({i for arc in arcs for i in arc.items if i < count}) < count

    def _agrees(self, group: Group, value: int) -> bool:
        """Whether a second search proves the same cost; false if it proves nothing in its time."""
        first = max(FIRST_GAP, math.ceil((value - group.bound) / POINT))
        again = group.settle(first, self.stop, lambda text: None)
        if again.status != "optimal" or not (again.clear or value >= NEVER):
            return False
        if again.value != value:
            raise DoubtError(
                f"{group.names}: proven to cost {value / POINT:,.3f} points, but with presolve flipped "
                f"the model finds {again.value / POINT:,.3f}"
            )
        return True

    def _tell(self, waiting: Collection[int]) -> None:
        """Tell how far the work is while these runs wait for the model."""
        tally = self.tally
        if tally.now.phase != "model":
            tally.begin("model")
        heads = sum(len(self.prepared.frames[r].heads) for r in waiting)
        tally.put(tally.now.all_runs - len(waiting), tally.now.all_heads - heads)

    def _improve(self, plans: dict[int, RunPlan]) -> bool:
        """Learn something of what is wrong with the plans; false if nothing is."""
        for t, refined in enumerate(self.refined):
            if self.opened[t]:
                beside = {r: plans[r] for r in self.trees[t].order if r in plans and r not in self.opened[t]}
                if refined.enter(beside):
                    if self.large[t]:  # what is learned now saves solving it again and again
                        refined.enter_every(beside)
                    return True
        clashes = [(a.run, b.run) for a, b in plan_clashes(self.prepared, self.trees, plans)]
        alone = {a for a, b in clashes if a == b} | self._long(plans)
        alone = {r for r in alone if r not in self.opened[self.tree_of[r]]}
        new = False
        order = sorted(alone, key=lambda r: (self.tree_of[r], r))

        def tell(run: int) -> None:
            self._tell(order[order.index(run) :])

        for t in sorted({self.tree_of[r] for r in alone}):
            new |= self.refined[t].part(alone & set(self.trees[t].order), plans, tell)
            self.tally.worst(self.refined[t].gap / POINT)
        if new or self.stop.asked():
            return new
        for a, b in clashes:
            if a != b:
                new |= self._open(a) | self._open(b) | self._join(a, b)
        return new

    def _long(self, plans: dict[int, RunPlan]) -> set[int]:
        """Return the runs with a low section whose drain the tables do not see."""
        if self.prices.due_large() <= 0:
            return set()
        return {r for r, plan in plans.items() if long_sections(self._built(r), plan)}

    def _built(self, run: int) -> BuiltGraph:
        return self.trees[self.tree_of[run]].graphs[run]

    def _open(self, run: int) -> bool:
        """Let the model decide a run, and all that feed it; whether it did not before."""
        opened = self.opened[self.tree_of[run]]
        up: int | None = run
        new = run not in opened
        while up is not None:
            opened.add(up)
            self.refined[self.tree_of[run]].make_whole(up)
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
            if self.stop.asked():  # not worth laying anything out any more
                bound = sum(self.refined[t].tree.bound for t in members)
                self.settled[key] = Settled({}, 0, bound, "feasible")
                return self.settled[key]
            self._tell(set().union(*(self.opened[t] for group in self._groups()[n:] for t in group)))
            trees = [self.refined[t].tree for t in members]
            opened = set().union(*(self.opened[t] for t in members))
            group = Group(self.prepared, trees, self.prices, opened, met=self.met)
            # tables only rise, so it costs no less than it did with fewer of them known
            over = (self.before.get(members[0], 0) - group.bound) / POINT
            first = max(FIRST_GAP, math.ceil(1.1 * over))
            found = self.settled[key] = group.settle(first, self.stop, lambda text: None)
            self.met |= group.met
            if found.status == "optimal" and found.clear:
                self.before[members[0]] = found.value
            for t in members:
                self.large[t] |= found.kept > LARGE
            if found.clear:
                self.tally.worst((found.value - found.bound) / POINT)
        return self.settled[key]

    def _closed(self, plans: dict[int, RunPlan]) -> Closed:
        """Add up what is proven."""
        shaky = self._shaky(plans) if self.stop.hit else set()
        closed = Closed(plans, 0, "feasible" if shaky else "optimal", {"dynamic programme"})
        for t, refined in enumerate(self.refined):
            if not self.opened[t]:
                closed.bound += refined.tree.bound
            if refined.by_model:
                closed.closed_by.add("model")
            closed.gap = max(closed.gap, refined.gap)
            stale = [(r, plan.level) for r, plan in plans.items() if self.tree_of[r] == t]
            known = [refined.known[k] for k in stale if k in refined.known]
            if any(not k.proven for k in known):
                closed.status = "feasible"
        for members in self._groups():
            settled = self.settled[self._key(members)]
            closed.closed_by.add("model")
            closed.bound += settled.bound
            closed.gap = max(closed.gap, settled.value - settled.bound if settled.clear else 0)
            if settled.status != "optimal":
                closed.status = "feasible"
                shaky |= set(members)
        if closed.status == "feasible":
            closed.plans = without_clashes(self.prepared, self.trees, plans)
        closed.decided = {
            r: "unproven" if t in shaky else self._step(r, plans.get(r)) for r, t in self.tree_of.items()
        }
        for tree in self.trees:
            closed.decided |= dict.fromkeys(tree.left_out, "unproven")
        return closed

    def _shaky(self, plans: dict[int, RunPlan]) -> set[int]:
        """Return the trees whose choice may not be the best, now that a stop came."""
        bad = {self.tree_of[p.run] for pair in plan_clashes(self.prepared, self.trees, plans) for p in pair}
        for r in self._long(plans):
            known = self.refined[self.tree_of[r]].known_for(r, plans[r])
            if known is None or not known.apart:
                bad.add(self.tree_of[r])
        return bad | {
            t
            for t, tree in enumerate(self.trees)
            if tree.left_out or self.opened[t] or not self.refined[t].steady_on
        }

    def _step(self, run: int, plan: RunPlan | None) -> str:
        """Say which step decided a run."""
        t = self.tree_of[run]
        if run in self.opened[t]:
            return "model_several_runs"
        known = None if plan is None else self.refined[t].known.get((run, plan.level))
        if known is not None and known.apart:
            return "model_one_run" if known.proven else "unproven"
        return "styles" if run in self.refined[t].raised else "relaxation"
