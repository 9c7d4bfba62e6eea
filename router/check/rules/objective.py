"""The objective's terms are those of the pieces; bound, gap and status agree."""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING

from router.check.figures import recount, terms
from router.check.rule import Judge

if TYPE_CHECKING:
    from collections.abc import Iterator

    from router.check.findings import Finding, RuleInForce
    from router.check.network import Network
    from router.check.survey import Survey
    from router.route.model import Term

_J = Judge("objective")
POINTS = 0.01
"""Slack on costs, in points."""
RELATIVE = 1e-6
AMOUNT = 0.001
"""Slack on amounts, in their own unit."""


def in_force(survey: Survey) -> RuleInForce:
    """Say what the rule asks in this scenario."""
    return _J.in_force(
        "each term is recomputed from the pieces with the scenario's weights; the bound is "
        "no more than the value, the gap is their difference; only a route without gap is called optimal, "
        "and only one that serves no head infeasible",
        f"{POINTS:g} points or {RELATIVE:g} of the value",
    )


def check(survey: Survey, net: Network) -> Iterator[Finding]:
    """Yield terms and totals that are not what they should be."""
    objective = survey.route.objective
    own = terms(survey, recount(survey, net))
    names = Counter(term.name for term in objective.terms)
    wanted = {term.name for term in own}
    for name in sorted(set(names) | wanted):
        if names[name] != 1 or name not in wanted:
            text = f"objective: {names[name]} terms named {name}, {int(name in wanted)} expected"
            yield _J.breaks("objective", text, measured=names[name], limit=int(name in wanted), unit="terms")
    written = {term.name: term for term in objective.terms}
    for term in own:
        said = written.get(term.name)
        if said is None:
            continue
        yield from _same(f"{term.name} amount", said.amount, term.amount, AMOUNT, term.unit)
        yield from _same(f"{term.name} weight", said.weight, term.weight, 0.0, "points")
        yield from _same(f"{term.name} cost", said.cost, term.cost, POINTS + _rounded(term), "points")
        if said.unit != term.unit:
            yield _J.breaks(term.name, f"{term.name}: unit {said.unit}, {term.unit} expected")
        if said.least is not None and said.least > said.amount + 0.001:
            text = f"{term.name}: at least {said.least:g} said to be needed, the route has {said.amount:g}"
            yield _J.breaks(term.name, text, measured=said.amount, limit=said.least, unit=term.unit)
    value = sum(term.cost for term in own)
    within = POINTS + sum(_rounded(term) for term in own)
    yield from _same("value", objective.value, value, within, "points")
    yield from _same("gap", objective.gap, objective.value - objective.bound, POINTS, "points")
    slack = _slack(objective.value)
    if objective.bound > objective.value + slack:
        text = f"objective: bound {objective.bound:.2f} above the value {objective.value:.2f}"
        yield _J.breaks("bound", text, measured=objective.bound, limit=objective.value, unit="points")
    if survey.route.status == "optimal" and objective.value - objective.bound > slack:
        text = f"objective: called optimal with a gap of {objective.value - objective.bound:.2f} points"
        yield _J.breaks("status", text, measured=objective.value - objective.bound, limit=0.0, unit="points")
    served = survey.route.counts.served
    if survey.route.status == "infeasible" and served:
        text = f"objective: called infeasible with {served} heads served"
        yield _J.breaks("status", text, measured=served, limit=0, unit="heads")
    open_weight = survey.scenario.weights.unserved is None and "unserved" in written
    rest = value - next(term.cost for term in own if term.name == "unserved")
    if open_weight and written["unserved"].weight < rest:
        text = f"unserved: a head is worth {written['unserved'].weight:.0f} points, all else costs {rest:.0f}"
        yield _J.note("unserved", text, measured=written["unserved"].weight, limit=rest, unit="points")


def _rounded(term: Term) -> float:
    """Return what rounding an amount to a thousandth may come to in points; counts are not rounded."""
    return 0.0 if float(term.amount).is_integer() else AMOUNT * term.weight


def _slack(value: float) -> float:
    return max(POINTS, RELATIVE * abs(value))


def _same(element: str, written: float, have: float, slack: float, unit: str) -> Iterator[Finding]:
    if abs(written - have) > slack + (RELATIVE if slack else 1e-12) * abs(have):
        text = f"objective: {element} written {written:g}, recomputed {have:g} {unit}"
        yield _J.breaks(element, text, measured=written, limit=have, unit=unit)
