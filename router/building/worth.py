"""Heads that could be served, but not for what the scenario says that a head is worth.

Verified by a trial: with the weight by which a head is worth more than all
fittings, the scenario is solved again, and the referee judges what comes out.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from router.building.stop import NothingDecidedError
from router.building.tree import through_costs
from router.check import check_route
from router.profiles.graph import NEVER, POINT
from router.route.model import Attempt
from router.route.totals import prices_of

if TYPE_CHECKING:
    from collections.abc import Callable

    from router.building.tree import Tree
    from router.route.model import HeadResult, Route, Takeoff
    from router.scenario.model import Scenario

MEANS_NOTHING = {"served", "hangers"}
"""Rules of the referee that the trial may break: it leaves heads out too, hangers need someone on site."""


def with_worth(
    scenario: Scenario, route: Route, trees: list[Tree], again: Callable[[Scenario], Route | None]
) -> Route:
    """Say of unserved heads whether it is what they are worth that leaves them out.

    A route that serves nobody because all are too dear is not infeasible.

    Parameters
    ----------
    trees
        Of the route's solution.
    again
        Solves a scenario; ``None`` where that was stopped.
    """
    missing = [head.id for head in route.heads if not head.served]
    worth = scenario.weights.unserved
    dear = scenario.model_copy(update={"weights": scenario.weights.model_copy(update={"unserved": None})})
    if not missing or worth is None or worth >= prices_of(dear).unserved:
        return route
    try:
        trial = again(dear)
    except NothingDecidedError:
        trial = None
    if trial is None:
        text = f"stopped before it was known whether its worth of {worth:,.0f} points (weights.unserved) "
        text += "is what leaves it out"
        unknown = Attempt(
            style="", run="", station=None, rule="worth", against=None, has=None, needs=None, short=None,
            text=text,
        )  # fmt: skip
        heads = [
            h if h.served else h.model_copy(update={"stopped_by": [unknown, *h.stopped_by]})
            for h in route.heads
        ]
        return route.model_copy(update={"heads": heads})
    if any(finding.rule not in MEANS_NOTHING for finding in check_route(dear, trial).breaks):
        return route
    ways = {name: takeoff for takeoff in trial.takeoffs for name in takeoff.heads}
    dearer = _rest(trial) - _rest(route)
    more = len([name for name in missing if name in ways])
    least = _least_more(scenario, route, trees, worth)
    heads = []
    for head, other in zip(route.heads, trial.heads, strict=True):
        if head.served:
            heads.append(head)
        elif other.served:
            text = _words(worth, least.get(head.id), more, dearer)
            heads.append(_with_words(head, ways[head.id], text))
        else:  # not for its worth: what stops it with every head worth more
            heads.append(head.model_copy(update={"stopped_by": other.stopped_by}))
    status = route.status
    if status == "infeasible" and more:
        status = "optimal" if route.objective.gap <= 0 else "feasible"
    return route.model_copy(update={"heads": heads, "status": status})


def _words(worth: float, least: float | None, more: int, dearer: float) -> str:
    if least is not None and least > worth:
        cost = f"for at least {least:,.0f} points more"
    elif more > 1:
        cost = f"the {more:,} heads like it together for {dearer:,.0f} points more"
    else:
        cost = f"for {dearer:,.0f} points more"
    return f"could be served, {cost}: each head is worth {worth:,.0f} points (weights.unserved)"


def _with_words(head: HeadResult, takeoff: Takeoff, text: str) -> HeadResult:
    attempt = Attempt(
        style=takeoff.style, run=takeoff.run, station=takeoff.station, rule="worth", against=None, has=None,
        needs=None, short=None, text=text,
    )  # fmt: skip
    return head.model_copy(update={"stopped_by": [attempt]})


def _rest(route: Route) -> float:
    """Add up what a route costs but for its unserved heads, points."""
    return sum(term.cost for term in route.objective.terms if term.name != "unserved")


def _least_more(scenario: Scenario, route: Route, trees: list[Tree], worth: float) -> dict[str, float]:
    """Give what serving each head must add to the route, at the least, its worth not taken off, points.

    By the programme's through-costs: the least that the whole tree costs with one of the head's takeoffs.
    """
    out: dict[str, float] = {}
    if any(tree.root not in tree.tables for tree in trees):
        return out  # of many trees only what was chosen is kept
    relaxed = sum(tree.bound for tree in trees)
    for tree in trees:
        if (
            tree.left_out
            or tree.thinned
            or any(r not in tree.programmes or r not in tree.tables for r in tree.order)
        ):
            continue
        through = through_costs(tree)
        for run in tree.order:
            built = tree.graphs[run]
            items = built.graph.columns.items
            for n, h in enumerate(built.item_heads):
                costs = through[run][(items == n).any(axis=1)]
                if len(costs) and int(costs.min()) < NEVER:
                    whole = (relaxed - tree.bound + int(costs.min())) / POINT
                    out[scenario.heads[h].id] = whole - route.objective.value + worth
    return out
