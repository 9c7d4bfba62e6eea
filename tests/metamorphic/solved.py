"""What a scenario comes to, and how two of them compare."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from router.building.route import route_scenario
from router.check.referee import check_route
from router.scenario import ScenarioError, parse_scenario

if TYPE_CHECKING:
    from router.route.model import Route
    from router.scenario.model import Scenario

Data = dict[str, Any]
TOLERANCE = 0.02
"""Points. Positions are whole micrometres, so on coordinates that are not round a piece may differ by
two of them: 0.04 thousandths of a point at 20 points a metre; levels are rounded to a micrometre,
0.5 thousandths each at 0.5 points a mm. A count differs by a whole weight: 10 points at the least."""

WITHOUT_PLACE = {"hangers"}
"""A hanger without a place is told and left to someone on site: the one thing that a route may come with."""


@dataclass(frozen=True)
class Outcome:
    """What was found. ``terms``: amounts by name; ``broken``: rules that the referee finds broken."""

    scenario: Scenario
    route: Route
    status: str
    value: float
    bound: float
    served: int
    terms: dict[str, float]
    broken: tuple[str, ...]


def solved(data: Data) -> Outcome | None:
    """Route and judge; ``None`` where the reader refuses the scenario."""
    try:
        scenario = parse_scenario(data, "made")
    except ScenarioError:
        return None
    return outcome(scenario)


def outcome(scenario: Scenario, keep: Route | None = None, seconds: float | None = None) -> Outcome:
    """Route and judge; ``keep``: an older route; ``seconds``: for campaigns only, tests have no limit."""
    route, _ = route_scenario(scenario, seconds, keep=keep)
    verdict = check_route(scenario, route, keep)
    return Outcome(
        scenario,
        route,
        route.status,
        route.objective.value,
        route.objective.bound,
        route.counts.served,
        {t.name: t.amount for t in route.objective.terms},
        tuple(sorted({f.rule for f in verdict.breaks if f.rule != "served"})),
    )


def unlike(one: Outcome, two: Outcome, tolerance: float = TOLERANCE) -> str:
    """Say how two differ in what was proven; empty where they agree.

    Where both are proven to the end, the objective and the heads served must
    agree; other terms may split differently among routes of equal cost. Else
    neither bound may lie above the other's value.
    """
    if one.broken != two.broken or not WITHOUT_PLACE.issuperset(one.broken):
        return f"the referee: {one.broken} and {two.broken}"
    if one.bound > two.value + tolerance or two.bound > one.value + tolerance:
        return f"objective {one.value} ({one.served} served) and {two.value} ({two.served} served)"
    proven = all(o.status != "feasible" for o in (one, two))
    if proven and abs(one.value - two.value) > tolerance:
        return f"objective {one.value} and {two.value}, both proven"
    if proven and one.served != two.served:
        return f"served {one.served} and {two.served}"
    return ""


def split_otherwise(one: Outcome, two: Outcome) -> bool:
    """Whether two of equal cost are made up of other terms."""
    return any(abs(one.terms[k] - two.terms[k]) > 0.01 for k in one.terms)


def worse(strict: Outcome, weak: Outcome, tolerance: float = TOLERANCE) -> str:
    """Say by how much the weaker scenario came out worse; empty where not, and the referee is content."""
    if not WITHOUT_PLACE.issuperset((*strict.broken, *weak.broken)):
        return f"the referee: {strict.broken} and {weak.broken}"
    if weak.bound > strict.value + tolerance:
        return (
            f"objective {strict.value} ({strict.served} served), weaker {weak.value} ({weak.served} served)"
        )
    return ""


def still_a_route(strict: Outcome, weak: Outcome) -> bool:
    """Whether the referee takes the stricter scenario's route in the weaker one: then it should be found."""
    verdict = check_route(weak.scenario, strict.route)
    return not [f for f in verdict.breaks if f.rule not in ("served", "record", "objective")]


def keeping(weak: Outcome, strict: Outcome, seconds: float | None = None) -> Outcome:
    """Route the weaker scenario with the stricter one's route as the older one, its changes for nothing."""
    weights = weak.scenario.weights.model_copy(
        update={"changed_head": 0.0, "changed_run": 0.0, "changed_offset": 0.0}
    )
    return outcome(weak.scenario.model_copy(update={"weights": weights}), strict.route, seconds)
