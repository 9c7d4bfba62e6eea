"""The part of a scenario that one head or run belongs to, solved by itself.

Trees of runs meet only where pieces clash. A tree is cut out with its heads and
what is near it; where what is found would come too near to the rest of the
route, the other tree is taken in as well.
"""

from __future__ import annotations

import hashlib
from dataclasses import dataclass, field
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np
import shapely

from router.building.collector import collector_paused
from router.building.prepare import prepare
from router.building.route import make_route, solve
from router.building.stop import NothingDecidedError, Stop
from router.explain.beside import heights, near_pieces, ways_in_plan
from router.explain.words import Parts
from router.route.model import HeadResult
from router.route.pricing import price_of_parts
from router.route.totals import count, prices_of, terms_of
from router.scenario.model import Pins
from router.scenario.write import scenario_text
from router.takeoffs.propose import PLACE
from router.trade.styles import allowed_styles

if TYPE_CHECKING:
    from collections.abc import Callable, Collection

    from router.building.prepare import Prepared
    from router.building.route import Solution
    from router.route.model import Route, Takeoff
    from router.scenario.model import Head, Scenario
    from router.trade.styles import Reason

MARGIN = 3000.0
"""mm. Obstructions farther than this from all runs and heads of a part are left out of it."""
BESIDE = 500.0
"""mm. Trees that come so near to each other in plan, outlets slid towards each other, may meet."""
SAME_COST = 0.05
"""Points."""
MOST_HEADS = 150
"""Trees are joined to a part while it has no more heads than this."""


KEPT = (
    "this route keeps an older one: what other ways cost is told without what changes from that cost, "
    "all else chosen anew"
)


@dataclass
class Setting:
    """A scenario and a route of it, with who serves which head."""

    scenario: Scenario
    route: Route
    stop: Stop
    missing: set[str] = field(init=False)
    """Heads that the route does not know: they were added since."""
    prepared: Prepared = field(init=False)
    run_of: dict[str, str] = field(init=False)
    tree_of: dict[str, str] = field(init=False)
    """Root of each run, by ids."""
    bases: dict[frozenset[str], Route | None] = field(default_factory=dict)
    chosen: dict[tuple[str, ...], Route | None] = field(default_factory=dict)
    """By head and roots: the best route of these trees with the head's style as it is."""
    gave: dict[str, dict[str, float]] = field(default_factory=dict)
    results: dict[str, HeadResult] = field(init=False)
    takeoffs: dict[str, Takeoff] = field(init=False)
    """Of each head that is served."""

    def __post_init__(self) -> None:
        """Look up the tree of every run and the run of every head."""
        self.missing = missing_heads(self.scenario, self.route)
        self.route = with_heads(self.scenario, self.route)
        self.prepared = prepare(self.scenario, ())
        heads, runs = self.scenario.heads, self.scenario.runs
        self.run_of = {heads[h].id: f.run.id for f in self.prepared.frames for h in f.heads}
        supply = {run.id: run.supply for run in runs}

        def root(run: str) -> str:
            up = supply[run]
            while up is not None:
                run, up = up, supply[up]
            return run

        self.tree_of = {run.id: root(run.id) for run in runs}
        self.results = {result.id: result for result in self.route.heads}
        self.takeoffs = {h: t for t in self.route.takeoffs for h in t.heads}

    @cached_property
    def parts(self) -> Parts:
        """The given route's parts by id."""
        return Parts(self.route)

    @cached_property
    def styles(self) -> Callable[[Head], dict[str, Reason]]:
        """Whether system and rules allow each style, worked out once for heads that differ in place only."""
        known: dict[tuple[object, ...], dict[str, Reason]] = {}

        def of(head: Head) -> dict[str, Reason]:
            key = tuple(value for name, value in head if name not in PLACE)
            if key not in known:
                known[key] = allowed_styles(self.scenario.system, head, self.scenario.rules)
            return known[key]

        return of

    @cached_property
    def proven(self) -> bool:
        """Whether no route of the scenario costs less than the given one.

        A route of another state of the scenario proves nothing of this one, nor
        does one that keeps an older route: what changes from that costs it too.
        """
        if self.missing or self.route.kept is not None:
            return False
        text = scenario_text(self.scenario)
        mine = self.route.scenario_sha256 == hashlib.sha256(text.encode()).hexdigest()
        return mine and self.route.status == "optimal" and self.route.objective.gap <= 1e-6

    def runs_of(self, roots: Collection[str]) -> frozenset[str]:
        """Ids of all runs of some trees."""
        return frozenset(run for run, root in self.tree_of.items() if root in roots)

    def heads_of(self, roots: Collection[str]) -> list[str]:
        """Ids of all heads of some trees, in the scenario's order."""
        runs = self.runs_of(roots)
        return [h.id for h in self.scenario.heads if self.run_of[h.id] in runs]

    def cut(self, roots: Collection[str]) -> Scenario:
        """Give the scenario with only these trees."""
        return cut(self.scenario, self.runs_of(roots), set(self.heads_of(roots)))

    def share(self, roots: Collection[str]) -> Route:
        """Give the route's share of these trees, its counts and cost added up anew."""
        return share(self.cut(roots), self.route, self.runs_of(roots), set(self.heads_of(roots)))

    def best(self, roots: Collection[str]) -> Route | None:
        """Give the best route of these trees alone; the given one where it is proven the best of all."""
        key = frozenset(roots)
        if key not in self.bases:
            mine = self.share(key)
            self.bases[key] = mine if self.proven else solved(self.cut(key), self.stop)
        return self.bases[key]

    def gave_way(self, root: str) -> dict[str, float]:
        """Roots of trees beside a tree that cost more in the given route than alone: by how many points.

        What another way of this tree costs can be told only with these chosen anew too.
        """
        if root not in self.gave:
            beside = [other for other in self.beside(root) if self.proven and self.may_join([root, other])]
            paid = {other: self.paid(other) for other in beside}
            self.gave[root] = {other: points for other, points in paid.items() if points > SAME_COST}
        return self.gave[root]

    def beside(self, root: str) -> list[str]:
        """Roots of other trees whose pieces could come too near to a tree's."""
        near = 2 * self.scenario.rules.slide + BESIDE
        ways, (low, high) = self._ways_in_plan, self._heights[root]
        return [
            other
            for other, (least, most) in self._heights.items()
            if other != root and least <= high + BESIDE and low <= most + BESIDE
            if shapely.distance(ways[other], ways[root]) <= near
        ]

    def paid(self, root: str) -> float:
        """Points that a tree costs more in the given route than it would alone; 0 with nothing near."""
        if not self.beside(root):
            return 0.0
        alone = solved(self.cut([root]), self.stop)
        return 0.0 if alone is None else self.share([root]).objective.value - alone.objective.value

    @cached_property
    def _ways_in_plan(self) -> dict[str, shapely.Geometry]:
        return ways_in_plan(self.scenario, self.tree_of, self.run_of)

    @cached_property
    def _heights(self) -> dict[str, tuple[float, float]]:
        return heights(self.scenario, self.tree_of, self.run_of)

    def may_join(self, roots: Collection[str]) -> bool:
        """Whether these trees are few enough heads to be solved together."""
        return len(self.heads_of(roots)) <= MOST_HEADS

    def too_near(self, route: Route, roots: Collection[str]) -> list[str]:
        """Roots of other trees whose pieces in the given route a route of these trees comes too near."""
        others = [p for p in self.route.pieces if self.tree_of.get(p.run) not in roots]
        return sorted({self.tree_of[p.run] for p in near_pieces(self.scenario, route.pieces, others)})


def missing_heads(scenario: Scenario, route: Route) -> set[str]:
    """Ids of the scenario's heads that a route says nothing of."""
    return {h.id for h in scenario.heads} - {h.id for h in route.heads}


def with_heads(scenario: Scenario, route: Route) -> Route:
    """Give a route that has a result for each head of the scenario; those it lacks are not served."""
    lacking = missing_heads(scenario, route)
    if not lacking:
        return route
    more = [HeadResult(id=h.id, served=False, inlet=h.at) for h in scenario.heads if h.id in lacking]
    return route.model_copy(update={"heads": [*route.heads, *more]})


def cut(scenario: Scenario, runs: Collection[str], heads: Collection[str]) -> Scenario:
    """Give a scenario with only some runs and heads, and the obstructions and ceilings near them."""
    kept_runs = [r for r in scenario.runs if r.id in runs]
    kept_heads = [h for h in scenario.heads if h.id in heads]
    xy = np.array([p for r in kept_runs for p in r.plan] + [h.at[:2] for h in kept_heads])
    low, high = xy.min(axis=0) - MARGIN, xy.max(axis=0) + MARGIN

    def near(polygon: list[tuple[float, float]]) -> bool:
        ring = np.array(polygon)
        return bool((ring.min(axis=0) <= high).all() and (ring.max(axis=0) >= low).all())

    pins = Pins(
        heads={k: v for k, v in scenario.pins.heads.items() if k in heads},
        runs={k: v for k, v in scenario.pins.runs.items() if k in runs},
    )
    update = {
        "runs": kept_runs,
        "heads": kept_heads,
        "obstructions": [o for o in scenario.obstructions if near(o.polygon)],
        "ceilings": [c for c in scenario.ceilings if near(c.polygon)],
        "pins": scenario.pins.model_copy(update={"heads": pins.heads, "runs": pins.runs}),
    }
    return scenario.model_copy(update=update)


def share(scenario: Scenario, route: Route, runs: Collection[str], heads: Collection[str]) -> Route:
    """Give what a route has of some runs, as a route of the scenario that is cut to them."""
    kept = {
        "heads": [h for h in route.heads if h.id in heads],
        "takeoffs": [t for t in route.takeoffs if t.run in runs],
        "runs": [r for r in route.runs if r.id in runs],
        "pieces": [p for p in route.pieces if p.run in runs],
        "fittings": [f for f in route.fittings if f.run in runs],
        "low_sections": [s for s in route.low_sections if s.run in runs],
        "hangers": [],
    }
    part = route.model_copy(update=kept)
    price = price_of_parts(scenario, part.pieces, part.fittings, part.takeoffs, part.low_sections)
    counts = count(part.heads, part.takeoffs, part.runs, part.pieces, part.fittings, part.low_sections, price)
    terms = terms_of(counts, part.takeoffs, part.runs, scenario, prices_of(scenario))
    value = round(sum(t.cost for t in terms), 3)
    objective = route.objective.model_copy(
        update={"terms": terms, "value": value, "bound": value, "gap": 0.0}
    )
    return part.model_copy(update={"counts": counts, "objective": objective})


def decided(scenario: Scenario, stop: Stop) -> Solution | None:
    """Solve a scenario without laying it out; ``None`` if a stop came first."""
    if stop.asked():
        return None
    try:
        with collector_paused():
            return solve(scenario, stop=stop)
    except NothingDecidedError:
        return None


def solved(scenario: Scenario, stop: Stop) -> Route | None:
    """Route a scenario; ``None`` if a stop came first."""
    solution = decided(scenario, stop)
    return None if solution is None else make_route(solution, scenario)


def served_by(solution: Solution) -> set[str]:
    """Ids of the heads that a solution serves."""
    heads = solution.prepared.scenario.heads
    out: set[str] = set()
    for tree in solution.trees:
        for r in tree.order:
            plan = solution.plans.get(r)
            if plan is None:
                continue
            built = tree.graphs[r]
            for k in plan.arcs:
                arc = built.graph.arcs[k]
                out |= {heads[built.item_heads[i]].id for i in arc.items if i < len(built.item_heads)}
    return out


def cost_of(route: Route) -> float:
    """Points of a route less those of its unserved heads."""
    return round(sum(t.cost for t in route.objective.terms if t.name != "unserved"), 3)


def amounts_of(route: Route) -> dict[str, float]:
    """Amount of each term that has a weight, but for unserved heads."""
    return {t.name: t.amount for t in route.objective.terms if t.weight and t.name != "unserved"}


def unserved_of(route: Route) -> set[str]:
    """Ids of the heads that a route leaves unserved."""
    return {h.id for h in route.heads if not h.served}
