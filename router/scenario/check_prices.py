"""Cross checks on the price table and on the weight of its term."""

from __future__ import annotations

from typing import TYPE_CHECKING

from router.scenario.errors import Fault, Path, number_text, value_text
from router.trade.prices import EACH, FITTING_KINDS, LISTED_KINDS, OTHER
from router.trade.sizes import parse_size
from router.trade.tables import Tables

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from router.scenario.model import Cost, PriceTable
    from router.scenario.view import View


def price_sizes(view: View) -> Iterator[Fault]:
    """Check that pipe and fittings are priced by sizes that are made, each size once."""
    prices = view.scenario.prices
    if prices is None:
        return
    yield from _sizes(view, ("prices", "pipe"), prices.pipe, None)
    for kind, rows in prices.fittings.items():
        yield from _sizes(view, ("prices", "fittings", kind), rows, OTHER)


def _sizes(view: View, place: Path, rows: Mapping[str, Cost], other: str | None) -> Iterator[Fault]:
    standard = view.scenario.system.standard
    made = Tables(standard=standard).sizes
    seen: dict[int, str] = {}
    for key in rows:
        if key == other:
            continue
        where, value = (*place, key), value_text(key)
        try:
            dn = parse_size(key)
        except ValueError as error:
            more = f', or "{other}"' if other else ""
            yield view.fault(where, "prices", value, "", f"{error}{more}")
            continue
        if dn not in made:
            message = f"no {standard} pipe is made in it; DN {', '.join(map(str, made))}"
            yield view.fault(where, "prices", value, "", message)
        elif dn in seen:
            message = f'the same size as "{seen[dn]}", which is priced already; each size once'
            yield view.fault(where, "prices", value, "", message)
        seen.setdefault(dn, key)


def price_kinds(view: View) -> Iterator[Fault]:
    """Check that fittings are priced by kinds that there are."""
    prices = view.scenario.prices
    for kind in prices.fittings if prices is not None else ():
        if kind not in (*FITTING_KINDS, *LISTED_KINDS):
            message = f"no such kind of fitting; kinds are {', '.join((*FITTING_KINDS, *LISTED_KINDS))}"
            yield view.fault(("prices", "fittings", kind), "prices", value_text(kind), "", message)


def price_values(view: View) -> Iterator[Fault]:
    """Check that no price and no minutes are negative."""
    prices = view.scenario.prices
    if prices is None:
        return
    money = prices.currency
    if prices.minute < 0:
        place: Path = ("prices", "minute")
        yield view.fault(place, "prices", number_text(prices.minute), money, "0 or more expected")
    for where, cost in _costs(prices):
        for name, unit in (("price", money), ("minutes", "min")):
            value = getattr(cost, name)
            if value < 0:
                yield view.fault((*where, name), "prices", number_text(value), unit, "0 or more expected")


def _costs(prices: PriceTable) -> Iterator[tuple[Path, Cost]]:
    for key, cost in prices.pipe.items():
        yield ("prices", "pipe", key), cost
    for kind, rows in prices.fittings.items():
        for key, cost in rows.items():
            yield ("prices", "fittings", kind, key), cost
    for name in EACH:
        yield ("prices", name), getattr(prices, name)


def price_objective(view: View) -> Iterator[Fault]:
    """Check that there is a price to make least, where the price is to be made least."""
    prices, weight = view.scenario.prices, view.scenario.weights.price
    if prices is None:
        if weight > 0:
            message = "a price has a weight, but there is no price table (prices)"
            yield view.fault(("weights", "price"), "weights", number_text(weight), "points", message)
    elif prices.as_objective and not any(
        cost.price > 0 or cost.minutes * prices.minute > 0 for _, cost in _costs(prices)
    ):
        message = "the least price is wanted, but nothing has one; at least one price above 0 expected"
        yield view.fault(("prices", "as_objective"), "prices", "true", "", message)


CHECKS = (price_sizes, price_kinds, price_values, price_objective)
