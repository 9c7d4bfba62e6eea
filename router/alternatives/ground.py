"""What all alternatives of a scenario share: its trees, built once, and their best choice at any weights."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from router.building.close import Closed, close
from router.building.prepare import prepare
from router.building.progress import Tally
from router.building.route import Solution, make_route
from router.building.stop import NothingDecidedError
from router.building.tree import Tree, build_tree, solve_tables
from router.route.totals import prices_of

if TYPE_CHECKING:
    from collections.abc import Iterable

    from router.building.assemble import RunPlan
    from router.building.prepare import Prepared
    from router.building.progress import Tell
    from router.building.stop import Stop
    from router.profiles.graph import Prices
    from router.route.model import Route
    from router.scenario.model import Scenario

SHAPING = ("wet_drain", "large_drain", "price")
"""Weights that shape a run's graph by being above zero: what they are for is looked for only then."""


@dataclass
class Ground:
    """A scenario with its trees, solved at its own weights.

    ``best``: the best choice at these. ``stop``: says when the work must end.
    """

    scenario: Scenario
    prepared: Prepared
    trees: list[Tree]
    prices: Prices
    best: Closed
    stop: Stop

    def late(self) -> bool:
        """Whether time is up."""
        return self.stop.asked()

    def route(self, plans: dict[int, RunPlan]) -> Route:
        """Lay out a choice as a route of the scenario, with the scenario's own weights.

        Its bound is what the best choice costs: how much dearer than that it is, it says itself.
        """
        best = plans == self.best.plans
        status = self.best.status if best else "feasible"
        closed_by = self.best.closed_by
        solution = Solution(self.prepared, self.prices, self.trees, plans, self.best.bound, status, closed_by)
        return make_route(solution, self.scenario)


def lay_ground(
    scenario: Scenario,
    stop: Stop,
    tell: Tell,
    wanted: Iterable[str] = (),
) -> Ground:
    """Build all trees of a scenario and find its best choice.

    Parameters
    ----------
    scenario
        Valid, in mm.
    stop
        Says when the work must end.
    tell
        Called as work goes on.
    wanted
        Objective terms that must be looked for whatever their weights.

    Raises
    ------
    NothingDecidedError
        If it must end before anything is known.
    """
    prices = prices_of(scenario)
    shaped = {name: 1.0 for name in SHAPING if name in wanted and not getattr(scenario.weights, name)}
    weights = scenario.weights.model_copy(update=shaped)
    prepared = prepare(scenario.model_copy(update={"weights": weights}))
    trees = []
    tally = Tally(len(prepared.frames), len(scenario.heads), tell)
    tally.begin("candidates")
    for root in prepared.roots:
        if stop.asked():
            raise NothingDecidedError(stop.why)
        trees.append(build_tree(prepared, root))
        solve_tables(prepared, trees[-1], prices)
        tally.add(len(trees[-1].order), prepared.heads_below(root))
    best = close(prepared, trees, prices, stop, tell)
    return Ground(scenario, prepared, trees, prices, best, stop)


def best_at(ground: Ground, prices: Prices) -> Closed:
    """Find the best choice at other prices, on the same trees."""
    trees = [replace(tree, programmes={}, tables={}) for tree in ground.trees]
    for tree in trees:
        solve_tables(ground.prepared, tree, prices)
    return close(ground.prepared, trees, prices, ground.stop)
