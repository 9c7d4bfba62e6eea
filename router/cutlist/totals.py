"""Quantities, weight, water, and by the scenario's own price table price and labour."""

from __future__ import annotations

from collections import Counter, defaultdict
from math import pi
from typing import TYPE_CHECKING

from router.cutlist.fittings import sizes_text
from router.cutlist.lengths import to_mm
from router.cutlist.records import Total
from router.trade.prices import Cost, PriceBook
from router.trade.sizes import label

if TYPE_CHECKING:
    from collections.abc import Iterable

    from router.cutlist.ends import Ends
    from router.cutlist.records import Bar, Coupling, Cut, FittingLine, Ordered, StockSize


class Adding:
    """Adds lines up; prices them where the scenario has a price table."""

    def __init__(self, ends: Ends) -> None:
        self.ends = ends
        self.standard = ends.scenario.system.standard
        table = ends.scenario.prices
        self.book = PriceBook.of(table) if table is not None else None
        self.lines: list[Total] = []
        self.unpriced: list[str] = []

    def label(self, dn: int) -> str:
        """Write a size."""
        return label(dn, self.standard)

    def add(self, what: str, size: str, quantity: float, unit: str, cost: Cost | None = None) -> None:
        """Add a line; ``cost`` is that of one unit."""
        price = minutes = None
        if cost == Cost():
            self.unpriced.append(f"{what} {size}".strip())
        elif cost is not None:
            price, minutes = round(cost.price * quantity, 2), round(cost.minutes * quantity, 1)
        self.lines.append(Total(what, size, quantity, unit, price, minutes))

    # -- what is bought ---------------------------------------------------------------------

    def pipe(self, cuts: Iterable[Cut], stock: Iterable[StockSize]) -> None:
        """Add pipe by size as cut, priced; its weight and water; what is bought for it."""
        units: dict[int, int] = defaultdict(int)
        for cut in cuts:
            units[cut.dn] += max(cut.units, 0)
        metres = {dn: to_mm(n, self.standard) / 1000.0 for dn, n in sorted(units.items())}
        for dn, m in metres.items():
            cost = self.book.pipe_cost(dn) if self.book is not None else None
            self.add("pipe as cut", self.label(dn), round(m, 4), "m", cost)
        made = {dn: m for dn, m in metres.items() if dn in self.ends.tables.sizes}
        kg = {dn: self.ends.tables.weight_per_m(dn) * m for dn, m in made.items()}
        litres = {dn: pi / 4 * self.ends.tables.bore(dn) ** 2 / 1000.0 * m for dn, m in made.items()}
        for dn in made:
            self.add("weight of pipe", self.label(dn), round(kg[dn], 2), "kg")
        for dn in made:
            self.add("water in pipe", self.label(dn), round(litres[dn], 2), "l")
        self.add("pipe as cut", "all", round(sum(metres.values()), 4), "m")
        self.add("weight of pipe", "all", round(sum(kg.values()), 2), "kg")
        self.add("water in pipe", "all", round(sum(litres.values()), 2), "l")
        for size in stock:
            bought = to_mm(size.bought_units, self.standard) / 1000.0
            self.add("pipe bought", self.label(size.dn), round(bought, 4), "m")

    def fittings(self, lines: Iterable[FittingLine]) -> None:
        """Add fittings by kind and sizes, priced by their largest size, and bushings."""
        bushings: Counter[tuple[int, int]] = Counter()
        for line in lines:
            largest = max((max(self.ends.fittings[name].sizes, default=0) for name in line.ids), default=0)
            cost = self.book.fitting_cost(line.kind, largest) if self.book is not None else None
            self.add(line.word, line.sizes, line.quantity, "pieces", cost)
            for outer, inner in line.bushings:
                bushings[outer, inner] += line.quantity
        for (outer, inner), n in sorted(bushings.items(), reverse=True):
            cost = self.book.fitting_cost("bushing", outer) if self.book is not None else None
            self.add("bushing", sizes_text((outer, inner), self.standard), n, "pieces", cost)

    def couplings(self, couplings: Iterable[Coupling]) -> None:
        """Add couplings and girth welds, which are no fittings of the route."""
        found = Counter((c.kind, c.dn) for c in couplings)
        for (kind, dn), n in sorted(found.items()):
            cost = self.book.fitting_cost("coupling", dn) if self.book is not None else None
            self.add(kind, self.label(dn), n, "pieces", cost)

    def ordered(self, ordered: Iterable[Ordered]) -> None:
        """Add barrels and hoses."""
        found = Counter((o.kind, o.dn) for o in ordered)
        for (kind, dn), n in sorted(found.items()):
            cost = self.book.each_cost("hose") if self.book is not None and kind == "hose" else None
            self.add("dry head barrel" if kind == "barrel" else "hose", self.label(dn), n, "pieces", cost)

    def hangers_and_drains(self) -> None:
        """Add hangers by kind and drains by what they count as."""
        route, book = self.ends.route, self.book
        words = {"run": "hanger on run", "arm": "hanger on arm", "sprig_restraint": "restraint of sprig"}
        hung = Counter(str(h.kind) for h in route.hangers)
        if not route.hangers:
            hung["arm"] = sum(takeoff.hangers for takeoff in route.takeoffs)
        for kind, n in sorted(hung.items()):
            if not n:
                continue
            self.add(words[kind], "", n, "pieces", book.each_cost("hanger") if book is not None else None)
        names = {
            "drain": "drain",
            "large_drain": "drain with two valves",
            "wet_drain": "drain of a wet system",
        }
        counted = Counter(s.counts_as for s in route.low_sections if s.counts_as is not None)
        for name, n in sorted(counted.items()):
            self.add(names[name], "", n, "pieces", book.each_cost(name) if book is not None else None)
            if name == "large_drain" and book is not None:
                # the table gives what a large drain costs on top of a drain
                self.lines[-1] = _plus(self.lines[-1], book.each_cost("drain"), n)

    # -- work -------------------------------------------------------------------------------

    def work(self, cuts: Iterable[Cut], bars: Iterable[Bar]) -> None:
        """Add saw cuts, ends by preparation and holes."""
        self.add("saw cuts", "", sum(bar.saw_cuts for bar in bars), "cuts")
        prepared: Counter[tuple[str, int]] = Counter()
        holes: Counter[int] = Counter()
        words = {"threaded": "threads to cut", "grooved": "grooves to roll or cut", "bevel": "bevels"}
        for cut in cuts:
            for end in cut.ends:
                prepared[words[end.preparation], cut.dn] += 1
            holes.update(outlet.dn for outlet in cut.outlets)
        for (word, dn), n in sorted(prepared.items()):
            self.add(word, self.label(dn), n, "ends")
        for dn, n in sorted(holes.items()):
            self.add("holes for outlets", self.label(dn), n, "holes")

    def sum_up(self) -> None:
        """Add the whole price and labour, if there is a price table."""
        table = self.ends.scenario.prices
        if table is None:
            return
        price = round(sum(line.price or 0.0 for line in self.lines), 2)
        minutes = round(sum(line.minutes or 0.0 for line in self.lines), 1)
        self.lines.append(Total("all that is priced", "", 1, "route", price, minutes))
        labour = round(minutes * table.minute, 2)
        self.lines.append(Total("labour at the table's minute", "", minutes, "minutes", labour, None))
        self.lines.append(Total("material and labour", "", 1, "route", round(price + labour, 2), minutes))


def _plus(line: Total, cost: Cost, n: int) -> Total:
    price = round((line.price or 0.0) + cost.price * n, 2)
    minutes = round((line.minutes or 0.0) + cost.minutes * n, 1)
    return Total(line.what, line.size, line.quantity, line.unit, price, minutes)
