"""The independent judge: every rule, in a fixed order, over a scenario and a route.

Nothing here knows how the route was found. A reference that leads nowhere is a
finding, not an error.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Protocol

from router.check.figures import recount, terms
from router.check.findings import Finding, RuleInForce, Verdict
from router.check.network import Network
from router.check.rules import (
    allowed_styles,
    band,
    branch_heads,
    ceiling,
    clearance,
    connected,
    counts,
    exposed_barrel,
    hangers,
    keep_out,
    kept,
    make_up,
    objective,
    outlet_spacing,
    piece_clearance,
    pins,
    reach,
    served,
    sizes,
    square,
    style_shape,
    trapped,
    unsupported_arm,
)
from router.check.survey import Survey
from router.route.model import Counts, Objective, Proof, Route

if TYPE_CHECKING:
    from collections.abc import Iterator

    from router.scenario.model import Scenario


class RuleModule(Protocol):
    """What a module of :mod:`router.check.rules` offers."""

    def in_force(self, survey: Survey) -> RuleInForce:
        """Say what the rule asks in this scenario."""

    def check(self, survey: Survey, net: Network) -> Iterator[Finding]:
        """Yield what it finds."""


RULES: dict[str, RuleModule] = {
    "served": served,
    "connected": connected,
    "allowed_styles": allowed_styles,
    "style_shape": style_shape,
    "square": square,
    "sizes": sizes,
    "branch_heads": branch_heads,
    "make_up": make_up,
    "outlet_spacing": outlet_spacing,
    "clearance": clearance,
    "piece_clearance": piece_clearance,
    "ceiling": ceiling,
    "exposed_barrel": exposed_barrel,
    "band": band,
    "trapped": trapped,
    "reach": reach,
    "unsupported_arm": unsupported_arm,
    "hangers": hangers,
    "pins": pins,
    "keep_out": keep_out,
    "kept": kept,
    "counts": counts,
    "objective": objective,
}
"""All rules by id, in the order in which they are run."""


def check_route(scenario: Scenario, route: Route, older: Route | None = None) -> Verdict:
    """Judge a route.

    Parameters
    ----------
    scenario : Scenario
        As the reader gives it, in mm.
    route : Route
        Any well-formed record: solved, or drawn by a person. It is not changed.
    older : Route, optional
        The route that it was to keep where it could; what changed is then recomputed.

    Returns
    -------
    Verdict
        All findings in a fixed order, with the counts and the objective
        recomputed; ``verdict.clean`` says whether nothing breaks a rule.

    Raises
    ------
    ValueError
        If ``scenario.rules.tables`` names a table or row that there is not (the
        reader refuses such a scenario).
    """
    survey = Survey(scenario, route, older)
    net = Network(survey)
    findings = [finding for rule in RULES.values() for finding in rule.check(survey, net)]
    own = recount(survey, net)
    costs = terms(survey, own)
    return Verdict(findings=findings, counts=own, terms=costs, value=sum(term.cost for term in costs))


def rules_in_force(scenario: Scenario) -> list[RuleInForce]:
    """Return every rule as it applies to a scenario: id, what it says, limit, source and grade."""
    survey = Survey(scenario, _empty(scenario))
    return [rule.in_force(survey) for rule in RULES.values()]


def _empty(scenario: Scenario) -> Route:
    """Return a route without anything in it."""
    return Route(
        scenario=scenario.name,
        scenario_sha256="",
        status="feasible",
        objective=Objective(value=0.0, bound=0.0, gap=0.0, terms=[]),
        proof=Proof(scope="", closed_by="", candidates=0, levels=0, stations=0),
        counts=Counts(
            heads=len(scenario.heads),
            served=0,
            fittings={},
            fittings_counted=0,
            takeoff_fittings=0,
            reducers=0,
            level_changes=0,
            drains=0,
            arm_hangers=0,
            hoses=0,
            styles={},
            pipe_m={},
            pipe_total_m=0.0,
            fittings_per_head=0.0,
        ),
        heads=[],
        takeoffs=[],
        runs=[],
        pieces=[],
        fittings=[],
    )
