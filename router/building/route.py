"""A scenario in, a judged route out: what stays unserved is looked at twice."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from router.building.collector import collector_paused
from router.building.progress import Progress, Tell, quiet
from router.building.second_look import ByHand, with_changes
from router.building.solution import Solution, make_route, solve
from router.building.stop import NothingDecidedError, Stop
from router.building.worth import with_worth
from router.check import check_route
from router.model.doubt import DoubtError
from router.route.model import Route, SecondLook, Term

if TYPE_CHECKING:
    from router.scenario.model import Scenario

TRIALS = 5
"""Choices made by hand that are laid out and judged."""
BETTER = 0.01
"""Points. A route made by hand that costs less than what is proven by more shows that it is not."""
ANEW_HEADS = 500
"""Scenarios with fewer heads are solved again without those that stay unserved."""


def route_scenario(
    scenario: Scenario,
    seconds: float | None = None,
    tell: Tell = quiet,
    processes: int = 1,
    stop: Stop | None = None,
    keep: Route | None = None,
) -> tuple[Route, Solution]:
    """Solve and lay out; the referee has not looked at it yet. Parameters as for :func:`solve`.

    Heads that are left unserved are looked at a second time.

    Raises
    ------
    DoubtError
        If two ways to the same answer disagree: the answer cannot be trusted then.
    NothingDecidedError
        If it is stopped before a head is served.
    """
    stop = Stop() if stop is None else stop

    def again(other: Scenario) -> Route | None:
        trial = solve(other, None, quiet, processes, stop, keep)
        return None if trial.stopped is not None else make_route(trial, other)

    with collector_paused():
        solution = solve(scenario, seconds, tell, processes, stop, keep, look=True)
        route = make_route(solution, scenario)
        if _unserved(route) and solution.stopped is None:
            tell(Progress("second look"))
            route = _looked_at(solution, scenario, route, keep)
            route = _without_the_unserved(scenario, route, stop, keep)
            route = with_worth(scenario, route, solution.trees, again)
        return route, solution


def _without_the_unserved(scenario: Scenario, route: Route, stop: Stop | None, keep: Route | None) -> Route:
    """Route once more without the heads that stay unserved: they shall leave no trace.

    A size that steps down for one of them, or a level that is tried for its sake, may be in the
    way. Of the cheaper route nothing is proven but what its unserved heads cost.
    """
    missing = {h for h, head in enumerate(route.heads) if not head.served}
    if not route.counts.served or len(scenario.heads) >= ANEW_HEADS:
        return route
    try:
        solution = solve(scenario, stop=stop, keep=keep, without=missing)
    except NothingDecidedError:
        return _lowered(scenario, route)
    if solution.stopped is not None:
        return _lowered(scenario, route)
    other = make_route(solution, scenario, {head.id: head for head in route.heads if not head.served})
    if other.objective.value >= route.objective.value - BETTER:
        return route
    if not all(finding.rule == "hangers" for finding in check_route(scenario, other, keep).breaks):
        return route
    proof = other.proof.model_copy(update={"second_look": route.proof.second_look})
    return _lowered(scenario, other.model_copy(update={"proof": proof}))


def _lowered(scenario: Scenario, route: Route) -> Route:
    """Claim no more of a route than what its unserved heads cost."""
    value = route.objective.value
    cost = next(term.cost for term in route.objective.terms if term.name == "unserved")
    bound = 0.0 if scenario.weights.unserved is not None else min(cost, value)
    objective = route.objective.model_copy(update={"bound": bound, "gap": round(value - bound, 3)})
    return route.model_copy(update={"objective": objective, "status": "feasible"})


def _unserved(route: Route) -> int:
    return route.counts.heads - route.counts.served


def _looked_at(solution: Solution, scenario: Scenario, route: Route, keep: Route | None) -> Route:
    """Let the greedy try what is unserved, and write down what was looked at a second time."""
    index = {head.id: h for h, head in enumerate(scenario.heads)}
    missing = [index[head.id] for head in route.heads if not head.served]
    by_hand = ByHand(solution.prepared, solution.trees, solution.plans)
    for trial, found in enumerate(by_hand.find(missing)):
        if trial >= TRIALS:
            break
        changed = replace(
            solution,
            trees=with_changes(solution.trees, found.graphs),
            plans={**solution.plans, **found.plans},
            status="feasible",
            stopped="tried by hand",
        )
        other = make_route(changed, scenario)
        if other.objective.value >= route.objective.value - BETTER:
            continue  # the scenario's own weight of a head: to serve it costs more
        verdict = check_route(scenario, other, keep)
        if not all(finding.rule == "hangers" for finding in verdict.breaks):
            continue
        if other.objective.value >= route.objective.bound - BETTER:
            # nothing was proven of the first one, so the better one takes its place
            solution.trees, solution.plans, solution.status = changed.trees, changed.plans, "feasible"
            better = make_route(solution, scenario)
            return _looked_at(solution, scenario, better, keep) if _unserved(better) else better
        head = scenario.heads[found.head].id
        raise DoubtError(
            f"{head}: left unserved with {route.objective.bound:,.3f} points proven to be the least, but "
            f"a route made by hand serves it, at {other.objective.value:,.3f} points"
        )
    look = SecondLook(
        lines=solution.looked.lines,
        lines_agree=solution.looked.agree,
        heads=len(missing),
        heads_agree=by_hand.looked,
    )
    return route.model_copy(update={"proof": route.proof.model_copy(update={"second_look": look})})


__all__ = ["Solution", "Term", "make_route", "route_scenario", "solve"]
