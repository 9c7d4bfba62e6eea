"""Counts and objective terms, from pieces and fittings alone."""

from __future__ import annotations

from collections import Counter
from math import dist
from typing import TYPE_CHECKING

from router.check.arms import hangers_needed
from router.check.drains import drains_needed
from router.route.model import Counts, Term

if TYPE_CHECKING:
    from router.check.network import Network
    from router.check.survey import Survey

UNITS: dict[str, str] = {
    "unserved": "heads",
    "fitting": "fittings",
    "level_change": "changes",
    "drain": "drains",
    "hanger": "hangers",
    "pipe": "m",
    "moved": "mm",
    "style": "styles",
    "reducer": "reducers",
    "hose": "hoses",
}
"""Every term of the objective, in order, and its unit."""

NOT_PIPE = ("hose", "barrel")


def served_heads(survey: Survey) -> list[str]:
    """Scenario heads that exactly one or more takeoffs list."""
    listed = {name for takeoff in survey.takeoffs.values() for name in takeoff.heads}
    return [name for name in survey.heads if name in listed]


def hose_count(survey: Survey) -> int:
    """Hoses: takeoffs that have hose pieces (one hose may be several straight pieces)."""
    return len({piece.owner for piece in survey.pieces.values() if piece.kind == "hose"})


def recount(survey: Survey, net: Network) -> Counts:
    """Totals of the route."""
    kinds = Counter(fitting.kind for fitting in survey.fittings.values())
    reducers = kinds.get("reducer", 0)
    for_heads = {takeoff.id for takeoff in survey.takeoffs.values() if takeoff.heads}
    at_heads = sum(
        1 for fitting in survey.fittings.values() if fitting.owner in for_heads and fitting.kind != "reducer"
    )
    pipe: dict[int, float] = {}
    for piece in survey.pieces.values():
        if piece.kind not in NOT_PIPE:
            pipe[piece.dn] = pipe.get(piece.dn, 0.0) + dist(piece.start, piece.end) / 1000.0
    served = len(served_heads(survey))
    return Counts(
        heads=len(survey.heads),
        served=served,
        fittings=dict(sorted(kinds.items())),
        fittings_counted=sum(kinds.values()) - reducers,
        takeoff_fittings=at_heads,
        reducers=reducers,
        level_changes=sum(len(built.level_changes) for built in survey.built.values()),
        drains=drains_needed(survey),
        arm_hangers=sum(hangers_needed(survey, net, takeoff) for takeoff in survey.takeoffs.values()),
        hoses=hose_count(survey),
        styles=dict(
            sorted(Counter(takeoff.style for takeoff in survey.takeoffs.values() if takeoff.heads).items())
        ),
        pipe_m={str(dn): pipe[dn] for dn in sorted(pipe)},
        pipe_total_m=sum(pipe.values()),
        fittings_per_head=at_heads / served if served else 0.0,
    )


def amounts(survey: Survey, counts: Counts) -> dict[str, float]:
    """Amount of each term of the objective, in the units of :data:`UNITS`."""
    styles: dict[str, set[str]] = {}
    for takeoff in survey.takeoffs.values():
        if takeoff.heads:
            styles.setdefault(takeoff.run, set()).add(takeoff.style)
    moved = sum(
        abs(built.supply_level - survey.runs[key].elevation)
        for key, built in survey.built.items()
        if key in survey.runs
    )
    return {
        "unserved": counts.heads - counts.served,
        "fitting": counts.fittings_counted,
        "level_change": counts.level_changes,
        "drain": counts.drains,
        "hanger": counts.arm_hangers,
        "pipe": counts.pipe_total_m,
        "moved": moved,
        "style": sum(len(found) for found in styles.values()),
        "reducer": counts.reducers,
        "hose": counts.hoses,
    }


def terms(survey: Survey, counts: Counts) -> list[Term]:
    """Return the objective's terms with the scenario's weights.

    Where the scenario leaves the weight of an unserved head open, the route's
    own is taken: the rule ``objective`` judges it.
    """
    weights = survey.scenario.weights
    written = {term.name: term.weight for term in survey.route.objective.terms}
    found: list[Term] = []
    for name, amount in amounts(survey, counts).items():
        weight = getattr(weights, name)
        if weight is None:
            weight = written.get(name, 0.0)
        found.append(Term(name=name, unit=UNITS[name], amount=amount, weight=weight, cost=weight * amount))
    return found
