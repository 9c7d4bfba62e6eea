"""Counts and objective terms, from pieces and fittings alone."""

from __future__ import annotations

from collections import Counter
from math import dist
from typing import TYPE_CHECKING

from router.check.arms import hangers_needed
from router.check.changes import changes, said_points
from router.check.drains import low_sections
from router.check.money import price_of
from router.check.vectors import angle
from router.route.model import Counts, Term

if TYPE_CHECKING:
    from router.check.network import Network
    from router.check.survey import Survey
    from router.route.model import Takeoff
    from router.scenario.model import Weights

UNITS: dict[str, str] = {
    "unserved": "heads",
    "fitting": "fittings",
    "level_change": "changes",
    "drain": "drains",
    "large_drain": "drains",
    "wet_drain": "drains",
    "hanger": "hangers",
    "pipe": "m",
    "moved": "mm",
    "style": "styles",
    "reducer": "reducers",
    "hose": "hoses",
    "price": "currency",
}
"""Every term of the objective, in order, and its unit."""

CHANGED = "changed"
"""One more term, where an older route is kept."""

NOT_PIPE = ("hose", "barrel")

STRAIGHT_ON_DEG = 3.0
"""A run within this of another's direction goes straight on from its end (common practice, no source)."""


def served_heads(survey: Survey) -> list[str]:
    """Scenario heads that exactly one or more takeoffs list."""
    listed = {name for takeoff in survey.takeoffs.values() for name in takeoff.heads}
    return [name for name in survey.heads if name in listed]


def hose_count(survey: Survey) -> int:
    """Hoses: takeoffs that have hose pieces (one hose may be several straight pieces)."""
    return len({piece.owner for piece in survey.pieces.values() if piece.kind == "hose"})


def _goes_on_at_another_level(survey: Survey, takeoff: Takeoff) -> bool:
    """Whether a run's line ends in an elbow and the run that it feeds goes straight on from a second one."""
    elbows = [fitting.kind.startswith("elbow") for fitting in survey.takeoff_fittings.get(takeoff.id, [])]
    if len(takeoff.child_runs) != 1 or elbows != [True, True]:
        return False
    before, after = survey.lines.get(takeoff.run), survey.lines.get(takeoff.child_runs[0])
    if before is None or after is None:
        return False
    ways = after.directions(0.0)[:1]
    return any(angle(a, b) <= STRAIGHT_ON_DEG for a in before.directions(takeoff.station)[:1] for b in ways)


def recount(survey: Survey, net: Network) -> Counts:
    """Totals of the route, worked out once."""
    if survey.own_counts is None:
        survey.own_counts = _recount(survey, net)
    return survey.own_counts


def _recount(survey: Survey, net: Network) -> Counts:
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
    lows = low_sections(survey)
    hangers = sum(hangers_needed(survey, net, takeoff) for takeoff in survey.takeoffs.values())
    return Counts(
        heads=len(survey.heads),
        served=served,
        fittings=dict(sorted(kinds.items())),
        fittings_counted=sum(kinds.values()) - reducers,
        takeoff_fittings=at_heads,
        reducers=reducers,
        level_changes=sum(len(built.level_changes) for built in survey.built.values())
        + sum(_goes_on_at_another_level(survey, takeoff) for takeoff in survey.takeoffs.values()),
        drains=sum(low.counts_as in ("drain", "large_drain") for low in lows),
        large_drains=sum(low.counts_as == "large_drain" for low in lows),
        wet_drains=sum(low.counts_as == "wet_drain" for low in lows),
        price=price_of(survey, lows, hangers),
        arm_hangers=hangers,
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
        "large_drain": counts.large_drains,
        "wet_drain": counts.wet_drains,
        "hanger": counts.arm_hangers,
        "pipe": counts.pipe_total_m,
        "moved": moved,
        "style": sum(len(found) for found in styles.values()),
        "reducer": counts.reducers,
        "hose": counts.hoses,
        "price": counts.price,
    }


def changed_points(survey: Survey) -> float | None:
    """Cost of what changed of an older route, points; ``None`` where the route keeps none.

    Recomputed where the older route is at hand, else as the route says.
    """
    kept = survey.route.kept
    if kept is None:
        return None
    if survey.older is None:
        return said_points(survey)
    w = kept.weights
    return changes(survey, survey.older).points(w.head, w.run, w.offset)


def weights_in_force(survey: Survey) -> Weights:
    """Return the scenario's weights, or those by which only the price counts if its table says so."""
    weights, prices = survey.scenario.weights, survey.scenario.prices
    if prices is None or not prices.as_objective:
        return weights
    kept = ("unserved", "moved", "style")
    update = {name: 0.0 for name in UNITS if name not in kept}
    return weights.model_copy(update=update | {"price": weights.price or 100.0})


def terms(survey: Survey, counts: Counts) -> list[Term]:
    """Return the objective's terms with the scenario's weights.

    Where the scenario leaves the weight of an unserved head open, the route's
    own is taken: the rule ``objective`` judges it.
    """
    weights = weights_in_force(survey)
    written = {term.name: term.weight for term in survey.route.objective.terms}
    found: list[Term] = []
    for name, amount in amounts(survey, counts).items():
        weight = getattr(weights, name)
        if weight is None:
            weight = written.get(name, 0.0)
        found.append(Term(name=name, unit=UNITS[name], amount=amount, weight=weight, cost=weight * amount))
    points = changed_points(survey)
    if points is not None:
        found.append(Term(name=CHANGED, unit="points", amount=points, weight=1.0, cost=points))
    return found
