"""What a route costs by the user's price table, added up by the referee from pieces and fittings."""

from __future__ import annotations

from collections import Counter, defaultdict
from math import dist
from typing import TYPE_CHECKING

from router.trade.prices import PriceBook

if TYPE_CHECKING:
    from router.check.drains import Low
    from router.check.survey import Survey


def price_of(survey: Survey, lows: list[Low], hangers: int) -> float:
    """Return the price in the table's currency, labour included; 0 without a table."""
    table = survey.scenario.prices
    if table is None:
        return 0.0
    book = PriceBook.of(table)
    metres: dict[int, float] = defaultdict(float)
    for piece in survey.pieces.values():
        if piece.kind not in ("hose", "barrel"):
            metres[piece.dn] += dist(piece.start, piece.end) / 1000.0
    kinds = Counter((fitting.kind, max(fitting.sizes, default=0)) for fitting in survey.fittings.values())
    hoses = len({piece.owner for piece in survey.pieces.values() if piece.kind == "hose"})
    drains = Counter(low.counts_as for low in lows)
    return (
        sum(length * book.pipe(dn) for dn, length in metres.items())
        + sum(number * book.fitting(kind, dn) for (kind, dn), number in kinds.items())
        + hoses * book.hose
        + hangers * book.hanger
        + (drains["drain"] + drains["large_drain"]) * book.drain
        + drains["large_drain"] * book.large_drain
        + drains["wet_drain"] * book.wet_drain
    )
