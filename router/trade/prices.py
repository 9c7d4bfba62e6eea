"""Look-ups in a scenario's own prices and labour minutes; the trade itself has no prices.

A price here is always in the table's currency and includes the labour: price
plus minutes times the price of a minute.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from router.trade.sizes import parse_size

if TYPE_CHECKING:
    from collections.abc import Mapping

    from router.trade.given import CostFacts, PriceFacts

FITTING_KINDS: tuple[str, ...] = (
    "tee",
    "cross",
    "elbow_90",
    "elbow_45",
    "elbow_odd",
    "outlet",
    "cap",
    "plug",
    "reducer",
    "reducing_coupling",
)
"""Every kind of fitting that a route may hold."""

LISTED_KINDS: tuple[str, ...] = ("bushing", "coupling")
"""Kinds that only a cut list has: where no one-piece fitting is made, and between stock lengths."""

OTHER = "other"
"""The key that stands for every size of a fitting that is not listed."""

EACH: tuple[str, ...] = ("hanger", "drain", "large_drain", "wet_drain", "hose")
"""What is priced by the piece, whatever its size."""

LONGEST_PIPE_M = 50.0
"""More pipe than one head can ask for, m: for :meth:`PriceBook.dearest`."""


@dataclass(frozen=True)
class Cost:
    """``price`` in the currency without labour, ``minutes`` of labour."""

    price: float = 0.0
    minutes: float = 0.0


_NOTHING = Cost()


@dataclass(frozen=True)
class PriceBook:
    """A price table with its sizes read.

    ``pipes``: per metre by DN. ``fittings``: by kind, then by DN or ``"other"``.
    ``each``: by name (:data:`EACH`). What is not listed costs nothing;
    :meth:`knows_pipe` and :meth:`knows_fitting` tell.
    """

    currency: str
    minute: float
    pipes: Mapping[int, Cost] = field(default_factory=dict)
    fittings: Mapping[str, Mapping[int | str, Cost]] = field(default_factory=dict)
    each: Mapping[str, Cost] = field(default_factory=dict)

    @classmethod
    def of(cls, prices: PriceFacts) -> PriceBook:
        """Read a price table; of two keys for one size the last counts (the reader refuses such).

        Raises
        ------
        ValueError
            Names the key that is no size.
        """
        return cls(
            currency=prices.currency,
            minute=prices.minute,
            pipes={parse_size(key): _cost(cost) for key, cost in prices.pipe.items()},
            fittings={
                kind: {OTHER if key == OTHER else parse_size(key): _cost(cost) for key, cost in sizes.items()}
                for kind, sizes in prices.fittings.items()
            },
            each={name: _cost(getattr(prices, name)) for name in EACH},
        )

    def price_of(self, cost: CostFacts) -> float:
        """Return a price with its labour."""
        return cost.price + cost.minutes * self.minute

    # -- prices, labour included ------------------------------------------------------------

    def pipe(self, dn: int) -> float:
        """Return the price of a metre of pipe."""
        return self.price_of(self.pipe_cost(dn))

    def fitting(self, kind: str, dn: int) -> float:
        """Return the price of a fitting by its kind and its largest size."""
        return self.price_of(self.fitting_cost(kind, dn))

    @property
    def hanger(self) -> float:
        """Price of a hanger."""
        return self.price_of(self.each_cost("hanger"))

    @property
    def drain(self) -> float:
        """Price of a drain of a dry or preaction system: its valve and plug."""
        return self.price_of(self.each_cost("drain"))

    @property
    def large_drain(self) -> float:
        """Price on top of a drain's where two valves are asked for."""
        return self.price_of(self.each_cost("large_drain"))

    @property
    def wet_drain(self) -> float:
        """Price of a drain of a wet system."""
        return self.price_of(self.each_cost("wet_drain"))

    @property
    def hose(self) -> float:
        """Price of a hose."""
        return self.price_of(self.each_cost("hose"))

    def dearest(self) -> float:
        """Return the most that one thing costs: a part, or 50 m of the dearest pipe."""
        prices = [self.price_of(cost) for sizes in self.fittings.values() for cost in sizes.values()]
        prices += [LONGEST_PIPE_M * self.price_of(cost) for cost in self.pipes.values()]
        prices += [self.hanger, self.drain + self.large_drain, self.wet_drain, self.hose]
        return max(prices)

    # -- what it consists of ----------------------------------------------------------------

    def pipe_cost(self, dn: int) -> Cost:
        """Return price and minutes of a metre of pipe."""
        return self.pipes.get(dn, _NOTHING)

    def fitting_cost(self, kind: str, dn: int) -> Cost:
        """Return price and minutes of a fitting: its size's, else ``"other"``, else nothing."""
        sizes = self.fittings.get(kind, {})
        return sizes.get(dn, sizes.get(OTHER, _NOTHING))

    def each_cost(self, name: str) -> Cost:
        """Return price and minutes of a thing of :data:`EACH`."""
        return self.each.get(name, _NOTHING)

    def minutes_of_pipe(self, dn: int) -> float:
        """Return the minutes of labour of a metre of pipe."""
        return self.pipe_cost(dn).minutes

    def minutes_of_fitting(self, kind: str, dn: int) -> float:
        """Return the minutes of labour of a fitting by its kind and its largest size."""
        return self.fitting_cost(kind, dn).minutes

    def minutes_of(self, name: str) -> float:
        """Return the minutes of labour of a thing of :data:`EACH`."""
        return self.each_cost(name).minutes

    def knows_pipe(self, dn: int) -> bool:
        """Whether pipe of that size is listed."""
        return dn in self.pipes

    def knows_fitting(self, kind: str, dn: int) -> bool:
        """Whether a fitting of that kind and largest size is listed, by size or as ``"other"``."""
        sizes = self.fittings.get(kind, {})
        return dn in sizes or OTHER in sizes


def _cost(given: CostFacts) -> Cost:
    return Cost(given.price, given.minutes)
