"""What a route could be without ours: by hand, greedy, constant levels, the whole model, a bound.

All choose among the same candidates as ours, their routes are laid out and
counted like ours, and the referee judges them.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass
from time import perf_counter
from typing import TYPE_CHECKING, Any, Literal

import numpy as np
from by_hand import Placed, RunView
from by_pairs import best_at, clear, explore

from router.building.apart import _kept
from router.building.assemble import RunPlan
from router.building.clashes import plan_clashes, without_clashes
from router.building.prepare import Prepared, prepare
from router.building.route import Solution, make_route, solve
from router.building.settle import Group
from router.building.shapes import Shapes
from router.building.stop import Stop
from router.building.tree import Tree, build_tree, solve_tables
from router.check import check_route
from router.profiles.graph import NEVER, Prices
from router.route.totals import prices_of
from router.scenario.model import RunPin

if TYPE_CHECKING:
    from router.model.choice import Answer
    from router.route.model import Route
    from router.scenario.model import Scenario

Plans = dict[int, RunPlan]


@dataclass
class Judged:
    """A route by the referee's count. ``breaks``: rules broken, but for heads unserved.

    ``fittings_per_head``: those of heads' takeoffs; ``all_fittings_per_head``:
    with those of the runs, over served heads.
    """

    value: float
    unserved: int
    fittings_per_head: float
    all_fittings_per_head: float
    level_changes: int
    status: str
    breaks: dict[str, int]
    seconds: float

    def record(self) -> dict[str, Any]:
        """Give it for the results."""
        return dict(vars(self))


def judge(scenario: Scenario, route: Route, seconds: float) -> Judged:
    """Let the referee count a route."""
    verdict = check_route(scenario, route)
    counts = verdict.counts
    breaks = Counter(f.rule for f in verdict.breaks if f.rule != "served")
    return Judged(
        value=round(verdict.value, 3),
        unserved=counts.heads - counts.served,
        fittings_per_head=round(counts.fittings_per_head, 4),
        all_fittings_per_head=round(counts.fittings_counted / max(counts.served, 1), 4),
        level_changes=counts.level_changes,
        status=route.status,
        breaks=dict(breaks),
        seconds=round(seconds, 4),
    )


Chooser = Callable[[Prepared, Tree, Prices, Placed], Plans]


class Bare:
    """Routes by whoever chooses without our search, tree by tree, so that memory holds one at a time.

    ``alone``: sum of what each head, and each run to feed, costs at the least by
    itself, a lower bound in thousandths of a point; an arc that serves two
    counts half for each. ``arcs``: of all graphs. ``seconds``: by chooser, for
    choosing and laying out, and ``"candidates"``, which all of them need.
    """

    def __init__(self, scenario: Scenario, choosers: dict[str, Chooser]) -> None:
        self.scenario = scenario
        self.prices = prices_of(scenario)
        self.alone = self.arcs = 0
        self.seconds = dict.fromkeys(("candidates", *choosers), 0.0)
        began = perf_counter()
        prepared = self.prepared = prepare(scenario)
        placed = {name: Placed(prepared) for name in choosers}
        trees: dict[str, list[Tree]] = {name: [] for name in choosers}
        plans: dict[str, Plans] = {name: {} for name in choosers}
        for root in prepared.roots:
            tree = build_tree(prepared, root)
            tree.none_served = self.prices.whole(self.prices.unserved) * prepared.heads_below(root)
            below: dict[int, int] = {}
            for r in tree.order:
                below[r] = self._alone(tree, r, below)
                self.arcs += len(tree.graphs[r].graph.columns)
            self.alone += below[root]
            self.seconds["candidates"] += perf_counter() - began
            for name, chooser in choosers.items():
                began = perf_counter()
                chosen = without_clashes(prepared, [tree], chooser(prepared, tree, self.prices, placed[name]))
                trees[name].append(self._small(tree, chosen, plans[name]))
                self.seconds[name] += perf_counter() - began
            began = perf_counter()
        self.routes = {name: self._route(name, trees[name], plans[name]) for name in choosers}

    @staticmethod
    def _small(tree: Tree, chosen: Plans, plans: Plans) -> Tree:
        """Keep of a tree what was chosen, and enter it into ``plans``."""
        graphs = {}
        for r in tree.order:
            graphs[r], arcs = _kept(tree.graphs[r], chosen[r].arcs if r in chosen else ())
            if r in chosen:
                plans[r] = RunPlan(chosen[r].level, arcs)
        return Tree(tree.root, tree.order, graphs, size=tree.counted(), least={})

    def _route(self, name: str, trees: list[Tree], plans: Plans) -> Route:
        """Lay a route out; what clashes between trees is left out."""
        began = perf_counter()
        plans = without_clashes(self.prepared, trees, plans)
        solution = Solution(self.prepared, self.prices, trees, plans, self.alone, "feasible")
        route = make_route(solution, self.scenario)
        self.seconds[name] += perf_counter() - began
        return route

    def _alone(self, tree: Tree, run: int, below: dict[int, int]) -> int:
        graph = tree.graphs[run].graph
        c = graph.columns
        served = (c.items >= 0).sum(axis=1)
        share = self.prices.costs(c.amounts) // np.maximum(served, 1)
        heads = len(tree.graphs[run].item_heads)
        total = 0
        for i, item in enumerate(graph.items):
            missed = self.prices.whole(self.prices.unserved * item.weight)
            mine = (c.items == i).any(axis=1)
            least = int(share[mine].min()) if mine.any() else NEVER
            if i >= heads:
                least += below[self.prepared.frames[run].children[i - heads]]
            total += min(least, missed)
        return total


def by_hand(prepared: Prepared, tree: Tree, prices: Prices, placed: Placed) -> Plans:
    """Lay every line at its nominal level, offset by offset, then the heads in order."""
    shapes = Shapes(prepared, tree.graphs)
    levels = {tree.root: _first_level(RunView(prepared, tree.graphs[tree.root], prices, shapes))}
    laid = []
    for r in reversed(tree.order):  # parents first
        view = RunView(prepared, tree.graphs[r], prices, shapes)
        profile = view.profile(levels[r], levels[r]) if r in levels else None
        if profile is None:
            continue
        view.lay_pipe(profile, placed)
        chosen = view.fill_by_hand(profile, placed, {}, feeds=True)
        for k in set(chosen.values()):
            levels |= {c: lvl for c, lvl in view.columns.feeds[k].tolist() if c >= 0}
        laid.append((view, profile, chosen))
    plans: Plans = {}
    for view, profile, chosen in laid:
        view.fill_by_hand(profile, placed, chosen, feeds=False)
    for view, profile, chosen in reversed(laid):  # children first: one without heads is not fed
        for k in set(chosen.values()):
            fed = [c for c, _ in view.columns.feeds[k].tolist() if c >= 0]
            if fed and not any(c in plans for c in fed):
                placed.remove(view.run, k)
                for i in [i for i, arc in chosen.items() if arc == k]:
                    del chosen[i]
        plan = view.finish(profile, chosen, placed)
        if plan is not None:
            plans[view.run] = plan
    return plans


def _first_level(view: RunView) -> int:
    """Give the nominal level, or the nearest one from which the run gets farther."""
    levels = [lvl for lvl in range(view.graph.levels) if view.graph.source[lvl] >= 0]
    levels.sort(key=lambda lvl: (float(view.graph.source[lvl]), lvl))
    ends = {}
    for level in levels:
        profile = view.profile(level, level)
        if profile is not None and profile.stretches:
            ends[level] = profile.stretches[-1][1]
            if ends[level] >= max(view.at) * 1000:
                return level
    return max(ends, key=lambda lvl: (ends[lvl], -levels.index(lvl))) if ends else view.nominal


def by_pairs(prepared: Prepared, tree: Tree, prices: Prices, placed: Placed) -> Plans:
    """Greedy over pairs with local search, children first; then what clashes with others once more."""
    shapes = Shapes(prepared, tree.graphs)
    below: dict[tuple[int, int], int] = {}
    views: dict[int, RunView] = {}
    found: dict[int, dict[int, tuple[int, RunPlan | None]]] = {}
    for r in tree.order:
        views[r] = RunView(prepared, tree.graphs[r], prices, shapes, below)
        found[r] = explore(views[r], Placed(prepared))
        for level in range(views[r].graph.levels):
            cost, plan = found[r].get(level, (NEVER, None))
            below[r, level] = NEVER if plan is None else cost
    plans: Plans = {}
    waiting = [(tree.root, min(found[tree.root], key=lambda lvl: (found[tree.root][lvl][0], lvl)))] if (
        found[tree.root]
    ) else []  # fmt: skip
    while waiting:
        r, level = waiting.pop()
        plan = found[r].get(level, (0, None))[1]
        if plan is None:
            continue
        plans[r] = plan
        feeds = tree.graphs[r].graph.columns.feeds[list(plan.arcs)]
        waiting += [(c, lvl) for c, lvl in feeds.reshape(-1, 2).tolist() if c >= 0]
    return _mended(prepared, tree, views, plans, placed)


def _mended(prepared: Prepared, tree: Tree, views: dict[int, RunView], plans: Plans, placed: Placed) -> Plans:
    """Choose runs that clash with others anew, one after the other, beside all that stands."""
    clashing = {p.run for pair in plan_clashes(prepared, [tree], plans) for p in pair}
    for r, plan in plans.items():
        _stand(views[r], plan, placed)
    for r in sorted(clashing):
        view, plan = views[r], plans[r]
        if view.frame.children:
            continue  # what it feeds stands already
        clear(view, dict(enumerate(plan.arcs)), placed)
        _, again = best_at(view, plan.level, placed)
        plans[r] = again if again is not None else plan
        _stand(view, plans[r], placed)
    return plans


def _stand(view: RunView, plan: RunPlan, placed: Placed) -> None:
    """Let a plan's pieces stand."""
    c, at, level = view.columns, 0, plan.level
    for k in plan.arcs:
        if c.a[k] > at:
            placed.add(view.run, "pipe", view.shapes.stay(view.run, at, int(c.a[k]), level))
        placed.add(view.run, k, view.shapes.arc(view.run, k))
        at, level = int(c.b[k]), int(c.lb[k])


def constant_levels(scenario: Scenario, limit: float | None = None) -> Route:
    """Solve with every run kept at one level: which one, and every takeoff, is chosen for the best."""
    runs = {
        run.id: scenario.pins.runs.get(run.id, RunPin()).model_copy(update={"no_offset": True})
        for run in scenario.runs
    }
    pinned = scenario.model_copy(update={"pins": scenario.pins.model_copy(update={"runs": runs})})
    return make_route(solve(pinned, limit), scenario)


@dataclass(frozen=True)
class Whole:
    """The outcome of the model solved whole. ``value``/``bound``: thousandths of a point."""

    status: Literal["optimal", "feasible", "unknown", "infeasible", "too large"]
    arcs: int
    value: int = 0
    bound: int = 0
    seconds: float = 0.0
    route: Route | None = None


def whole(scenario: Scenario, limit: float, arcs: int, most: int) -> Whole:
    """Solve everything in one model: no bounds, nothing left out, clashes added as they are met.

    ``limit`` in seconds does not cover building the model, so one of more than
    ``most`` arcs is not begun.
    """
    if arcs > most:
        return Whole("too large", arcs)
    began = perf_counter()
    stop = Stop(limit)
    prepared, prices = prepare(scenario), prices_of(scenario)
    trees = [build_tree(prepared, root) for root in prepared.roots]
    for tree in trees:
        solve_tables(prepared, tree, prices)  # what is laid out asks for them; the model does not
    group = Group(prepared, trees, prices)
    every = {r: list(range(len(built.graph.columns))) for r, built in group.graphs.items()}
    # the group's own loop: solve, look for clashes, forbid them, solve again
    answer = group._solve(every, {}, stop)
    route = None
    if answer.status in ("optimal", "feasible"):
        plans = _plans_of(answer)
        done: Literal["optimal", "feasible"] = "optimal" if answer.status == "optimal" else "feasible"
        for tree in trees:
            tree.least = {}  # nobody asks for it
        route = make_route(Solution(prepared, prices, trees, plans, answer.bound, done), scenario)
    return Whole(answer.status, arcs, answer.value, answer.bound, perf_counter() - began, route)


def _plans_of(answer: Answer) -> Plans:
    return {r: RunPlan(c.level, c.arcs) for r, c in answer.runs.items() if c.level is not None and c.arcs}
