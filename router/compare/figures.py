"""One route's figures, from the referee's own counts."""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING

from router.compare.quantities import totals
from router.compare.records import RouteFigures
from router.route.totals import prices_of

if TYPE_CHECKING:
    from router.check import Verdict
    from router.route.model import Term
    from router.scenario.model import Scenario
    from router.trade.tables import Tables


def figures(scenario: Scenario, tables: Tables, name: str, verdict: Verdict) -> RouteFigures:
    """Return a route's figures.

    An unserved head costs the same in every route: the scenario's weight, or the
    one that follows from it.
    """
    counts = verdict.counts
    weight = prices_of(scenario).unserved
    # what a route changed of another one says nothing of how good it is
    shared = [term for term in verdict.terms if term.name != "changed"]
    terms = [_at_weight(term, weight) if term.name == "unserved" else term for term in shared]
    kg, litres = totals(tables, counts.pipe_m)
    severities = Counter(finding.severity for finding in verdict.findings)
    return RouteFigures(
        name=name,
        clean=verdict.clean,
        breaks=dict(sorted(Counter(finding.rule for finding in verdict.breaks).items())),
        near=severities["near"],
        notes=severities["note"],
        heads=counts.heads,
        served=counts.served,
        unserved=[],
        fittings={kind: n for kind, n in counts.fittings.items() if kind != "reducer"},
        fittings_counted=counts.fittings_counted,
        fittings_per_head=round(counts.fittings_per_head, 4),
        reducers=counts.reducers,
        level_changes=counts.level_changes,
        drains=counts.drains,
        arm_hangers=counts.arm_hangers,
        hoses=counts.hoses,
        styles=counts.styles,
        pipe_m={dn: round(metres, 4) for dn, metres in counts.pipe_m.items()},
        pipe_total_m=round(counts.pipe_total_m, 4),
        steel_kg=round(kg, 3),
        water_l=round(litres, 3),
        terms=terms,
        value=round(sum(term.cost for term in terms), 4),
    )


def _at_weight(term: Term, weight: float) -> Term:
    return term.model_copy(update={"weight": weight, "cost": term.amount * weight})
