"""Counts and objective terms of a finished route, from its pieces and fittings."""

from __future__ import annotations

from collections import Counter, defaultdict
from dataclasses import dataclass
from typing import TYPE_CHECKING

from router.profiles.graph import Prices
from router.route.between_runs import between_runs
from router.route.model import Counts, Fitting, HeadResult, LowSection, Piece, RunResult, Takeoff, Term
from router.trade.prices import PriceBook

if TYPE_CHECKING:
    from router.scenario.model import PriceTable, Scenario, Weights

UNITS = {
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
"""Objective terms in their order, with the unit of the amount."""


def prices_of(scenario: Scenario) -> Prices:
    """Give the weights in force.

    An unserved head costs more than all other heads' pipes and fittings can:
    20,000 points for every head and run, which is above twenty fittings each.
    """
    w = scenario.weights
    if scenario.prices is not None and scenario.prices.as_objective:
        w = _by_price(w, scenario.prices)
    dearest = max(w.fitting, w.level_change, w.drain + w.large_drain, w.hanger, w.hose, 50 * w.pipe, 1.0)
    book = PriceBook.of(scenario.prices) if scenario.prices is not None else None
    if book is not None:
        dearest += w.price * book.dearest()
    # given by the user: the others follow from the fitting, and are far below
    dearest = max(dearest, w.changed_head or 0.0, w.changed_run or 0.0, w.changed_offset or 0.0)
    unserved = w.unserved
    if unserved is None:
        unserved = 20.0 * dearest * (len(scenario.heads) + len(scenario.runs) + 5)
    return Prices(
        unserved=unserved,
        fitting=w.fitting,
        level_change=w.level_change,
        drain=w.drain,
        hanger=w.hanger,
        pipe=w.pipe,
        reducer=w.reducer,
        hose=w.hose,
        moved=w.moved,
        style=w.style,
        large_drain=w.large_drain,
        wet_drain=w.wet_drain,
        price=w.price,
        drain_price=book.drain if book else 0.0,
        large_drain_price=book.large_drain if book else 0.0,
        wet_drain_price=book.wet_drain if book else 0.0,
    )


def _by_price(w: Weights, prices: PriceTable) -> Weights:
    """Return weights by which the least price wins; what has no price only breaks ties.

    A point is a hundredth of the currency's unit, so that whole thousandths of
    a point are fine enough.
    """
    none = {
        name: 0.0
        for name in (
            "fitting",
            "level_change",
            "drain",
            "large_drain",
            "wet_drain",
            "hanger",
            "pipe",
            "reducer",
            "hose",
        )
    }
    return w.model_copy(update={**none, "price": w.price or 100.0})


@dataclass(frozen=True)
class ChangeWeights:
    """What it costs to be other than in the older route, points: a head, a run's begin, a change of level."""

    head: float
    run: float
    offset: float


def change_weights(scenario: Scenario) -> ChangeWeights:
    """Give the weights in force: where the scenario says nothing, ten fittings."""
    w = scenario.weights
    prices = prices_of(scenario)
    ten = 10.0 * (prices.fitting or 1.0)
    if prices.price > 0 and scenario.prices is not None:
        ten = max(ten, 10.0 * prices.price * PriceBook.of(scenario.prices).dearest())
    return ChangeWeights(
        *(ten if value is None else value for value in (w.changed_head, w.changed_run, w.changed_offset))
    )


def count(
    heads: list[HeadResult],
    takeoffs: list[Takeoff],
    runs: list[RunResult],
    pieces: list[Piece],
    fittings: list[Fitting],
    low_sections: list[LowSection],
    price: float = 0.0,
) -> Counts:
    """Totals of a route. ``price``: by the scenario's price table, in its currency."""
    kinds_of_drain = Counter(s.counts_as for s in low_sections)
    served = sum(h.served for h in heads)
    kinds = Counter(f.kind for f in fittings)
    of_heads = {t.id for t in takeoffs if t.heads}
    own = sum(f.counts_as == "fitting" and f.owner in of_heads for f in fittings)
    metres: dict[int, float] = defaultdict(float)
    for piece in pieces:
        if piece.kind not in ("barrel", "hose"):
            metres[piece.dn] += piece.length / 1000.0
    counted = sum(f.counts_as == "fitting" for f in fittings)
    return Counts(
        heads=len(heads),
        served=served,
        fittings=dict(sorted(kinds.items())),
        fittings_counted=counted,
        takeoff_fittings=own,
        reducers=kinds["reducer"],
        level_changes=sum(len(r.level_changes) for r in runs) + between_runs(takeoffs, pieces),
        drains=kinds_of_drain["drain"] + kinds_of_drain["large_drain"],
        large_drains=kinds_of_drain["large_drain"],
        wet_drains=kinds_of_drain["wet_drain"],
        price=round(price, 4),
        arm_hangers=sum(t.hangers for t in takeoffs),
        hoses=sum(t.style == "flexible_drop" for t in takeoffs),
        styles=dict(sorted(Counter(t.style for t in takeoffs if t.heads).items())),
        pipe_m={str(dn): round(metres[dn], 4) for dn in sorted(metres)},
        pipe_total_m=round(sum(metres.values()), 4),
        fittings_per_head=round(own / served, 4) if served else 0.0,
    )


def terms_of(
    counts: Counts,
    takeoffs: list[Takeoff],
    runs: list[RunResult],
    scenario: Scenario,
    prices: Prices,
    changed: float | None = None,
) -> list[Term]:
    """Objective terms by amount, weight and cost; ``changed``: points, where an older route is kept."""
    nominal = {run.id: run.elevation for run in scenario.runs}
    styles = {(t.run, t.style) for t in takeoffs if t.heads}
    amounts: dict[str, float] = {
        "unserved": counts.heads - counts.served,
        "fitting": counts.fittings_counted,
        "level_change": counts.level_changes,
        "drain": counts.drains,
        "large_drain": counts.large_drains,
        "wet_drain": counts.wet_drains,
        "hanger": counts.arm_hangers,
        "pipe": counts.pipe_total_m,
        "moved": round(sum(abs(r.supply_level - nominal[r.id]) for r in runs), 3),
        "style": len(styles),
        "reducer": counts.reducers,
        "hose": counts.hoses,
        "price": counts.price,
    }
    units = dict(UNITS)
    if changed is not None:
        amounts["changed"], units["changed"] = changed, "points"
    return [
        Term(
            name=name,
            unit=unit,
            amount=amounts[name],
            weight=getattr(prices, name),
            cost=round(amounts[name] * getattr(prices, name), 4),
        )
        for name, unit in units.items()
    ]
