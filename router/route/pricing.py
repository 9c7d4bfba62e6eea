"""What a route costs by the user's own price table."""

from __future__ import annotations

from typing import TYPE_CHECKING

from router.trade.prices import PriceBook

if TYPE_CHECKING:
    from collections.abc import Iterable

    from router.route.model import Fitting, LowSection, Piece, Takeoff
    from router.scenario.model import Scenario


def price_of_parts(
    scenario: Scenario,
    pieces: Iterable[Piece],
    fittings: Iterable[Fitting],
    takeoffs: Iterable[Takeoff],
    low_sections: Iterable[LowSection],
) -> float:
    """Return the price of all parts in the table's currency, labour included; 0 without a table.

    Pipe by its centre-to-centre length, fittings by kind and largest size,
    hangers of arms, drains and hoses each. Barrels are ordered with their heads
    and are not in it, nor are the run's hangers: neither depends on the route.
    """
    if scenario.prices is None:
        return 0.0
    book = PriceBook.of(scenario.prices)
    total = 0.0
    hoses = set()
    for piece in pieces:
        if piece.kind == "hose":
            hoses.add(piece.owner)
        elif piece.kind != "barrel":
            total += piece.length / 1000.0 * book.pipe(piece.dn)
    total += len(hoses) * book.hose
    total += sum(book.fitting(f.kind, max(f.sizes)) for f in fittings)
    total += sum(t.hangers for t in takeoffs) * book.hanger
    for section in low_sections:
        if section.counts_as == "wet_drain":
            total += book.wet_drain
        elif section.counts_as is not None:
            total += book.drain + (book.large_drain if section.counts_as == "large_drain" else 0.0)
    return total
