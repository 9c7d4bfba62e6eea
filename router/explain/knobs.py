"""What a designer can change so that a head gets water: by how many mm, or by yes and no."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import shapely

from router.explain.around import NEAREST, NEAREST_ZONES, NEIGHBOURS, name_of
from router.explain.words import a, mm, style_words
from router.trade.styles import STYLES, allowed_styles

if TYPE_CHECKING:
    from collections.abc import Collection

    from router.explain.around import Around
    from router.explain.records import Value
    from router.scenario.model import Obstruction, RunPin

FIXED_KINDS = ("beam", "column", "wall", "slab", "joist", "truss", "girder", "floor", "roof")
"""Kinds of obstruction that nobody moves for a sprinkler line."""


@dataclass(frozen=True)
class Knob:
    """A change that a designer can make.

    ``place``: the field. Yes or no (``most`` is ``None``): ``start`` is its new
    value. A length: ``start`` its value now (or both ends of a range), and ``way``
    what one mm of the amount adds to it; ``most``: the largest amount tried.
    ``says``: with ``<value>`` for the new value and ``<by>`` for the amount.
    ``steady``: whether more of it never serves less.
    """

    key: str
    says: str
    place: str
    start: Value | tuple[float, ...]
    way: tuple[float, ...] = ()
    most: float | None = None
    steady: bool = True

    def change(self, amount: float) -> dict[str, Value]:
        """Give the field with its new value."""
        if isinstance(self.start, tuple):
            return {self.place: [v + w * amount for v, w in zip(self.start, self.way, strict=True)]}
        if self.most is None or not isinstance(self.start, float):
            return {self.place: self.start}
        return {self.place: self.start + self.way[0] * amount}

    def text(self, amount: float) -> str:
        """Say it."""
        new = ""
        if isinstance(self.start, tuple):
            new = next(mm(v + w * amount) for v, w in zip(self.start, self.way, strict=True) if w)
        elif isinstance(self.start, float):
            new = mm(self.start + self.way[0] * amount)
        return self.says.replace("<value>", new).replace("<by>", mm(amount))


def knobs_around(around: Around, met: Collection[str]) -> list[Knob]:
    """Give the changes worth trying. ``met``: keys of things that have a part in it."""
    return [
        *_shifts(around, met),
        *_clearances(around, met),
        *_limits(around),
        *_allowances(around),
        *_wider(around, met),
        *_unpinned(around),
        *_zones(around, met),
        *_moved(around, met),
        *_other_runs(around),
    ]


def _shifts(around: Around, met: Collection[str]) -> list[Knob]:
    heads = [h.id for h in around.targets][:1]
    heads += [h for h in around.neighbours()[:NEIGHBOURS] if f"head.{h}" in met][:2]
    shift = {h.id: float(h.shift) for h in around.scenario.heads}
    return [
        Knob(f"shift.{h}", f"allow a <value> mm shift of {h}", f"heads[{h}].shift", shift[h], (1,), 600.0,
             steady=False)
        for h in heads
    ]  # fmt: skip


def _met(around: Around, met: Collection[str]) -> list[Obstruction]:
    return [o for o in around.obstructions[:NEAREST] if f"obstruction.{o.id}" in met]


def _clearances(around: Around, met: Collection[str]) -> list[Knob]:
    out = []
    for o in _met(around, met)[:4]:
        gap = float(around.scenario.rules.clearance if o.clearance is None else o.clearance)
        if gap > 0:
            says = f"drop clearance to {name_of(o)} from {mm(gap)} to <value> mm"
            place = f"obstructions[{o.id}].clearance"
            out.append(Knob(f"clearance.{o.id}", says, place, gap, (-1,), gap))
    return out


def _limits(around: Around) -> list[Knob]:
    rules, out = around.scenario.rules, []
    above = rules.ceiling_clearance if around.scenario.ceilings else 0.0
    for name, way, most, words in (
        ("working_allowance", -1, rules.working_allowance, "lower the working allowance"),
        ("piece_clearance", -1, rules.piece_clearance, "lower the clearance between pieces"),
        ("ceiling_clearance", -1, above, "lower the clearance above ceilings"),
        ("outlet_spacing", -1, rules.outlet_spacing or 0.0, "lower the outlet spacing"),
        ("alignment", 1, 50.0, "count a head as under the line farther off it: raise alignment"),
        ("reach", 1, 3000.0, "raise the reach of arms"),
        ("rise", 1, 1000.0, "raise how far an arm may rise"),
        ("slide", 1, 600.0, "raise how far an outlet may slide"),
    ):
        if most > 0:
            old = float(getattr(rules, name))
            says = f"{words} from {mm(old)} to <value> mm"
            out.append(Knob(f"rules.{name}", says, f"rules.{name}", old, (way,), most))
    return out


def _allowances(around: Around) -> list[Knob]:
    rules, out = around.scenario.rules, []
    for name, words in (
        ("allow_cross", "allow a cross here"),
        ("allow_shared_nipple", "allow a shared nipple here"),
        ("allow_flexible", "allow a flexible drop here"),
    ):
        if not getattr(rules, name):
            out.append(Knob(f"rules.{name}", words, f"rules.{name}", True))
    if rules.styles is not None:
        freed = rules.model_copy(update={"styles": None})
        for style in STYLES:
            found = [allowed_styles(around.scenario.system, h, freed)[style] for h in around.targets]
            if style not in rules.styles and all(why.allowed for why in found):
                says = f"allow {a(style_words(style))}"
                out.append(Knob(f"styles.{style}", says, "rules.styles", [*rules.styles, style]))
    return out


def _wider(around: Around, met: Collection[str]) -> list[Knob]:
    out = []
    for r in ([r for r in around.chain if f"band.{r}" in met] or around.chain[:1])[:3]:
        band, place = around.band(r), f"runs[{r}].band"
        out.append(Knob(f"low.{r}", f"widen the band of {r} down to <value>", place, band, (-1, 0), 600.0))
        out.append(Knob(f"high.{r}", f"widen the band of {r} up to <value>", place, band, (0, 1), 600.0))
    return out


def _unpinned(around: Around) -> list[Knob]:
    out = []
    pins = around.scenario.pins
    for h in around.heads:
        pin = pins.heads.get(h)
        for name in ("style", "styles", "side", "stations", "run") if pin is not None else ():
            if getattr(pin, name) is not None:
                says = f"take the pin of {h} to its {name} away"
                out.append(Knob(f"unpin.{h}.{name}", says, f"pins.heads[{h}].{name}", None))
    for r in around.chain:
        run_pin = pins.runs.get(r)
        if run_pin is not None and run_pin.level is not None:
            says = f"take the pin of {r} to level {mm(run_pin.level)} away"
            out.append(Knob(f"unpin.{r}.level", says, f"pins.runs[{r}].level", None))
        if run_pin is not None and run_pin.no_offset is True:
            place = f"pins.runs[{r}].no_offset"
            out.append(Knob(f"unpin.{r}.no_offset", f"allow level changes on {r}", place, False))
        if run_pin is not None:
            out += [*_unpinned_ranges(r, run_pin), *_unpinned_levels(r, run_pin)]
    return out


def _unpinned_ranges(run: str, pin: RunPin) -> list[Knob]:
    """Give each range without level changes to be dropped; the others stay."""
    ranges = [] if isinstance(pin.no_offset, bool) else pin.no_offset
    out = []
    for n, (low, high) in enumerate(ranges):
        left: list[list[float]] | bool = [[*other] for k, other in enumerate(ranges) if k != n] or False
        says = f"drop the no-offset pin of {run} between stations {mm(low)} and {mm(high)}"
        out.append(Knob(f"unpin.{run}.no_offset.{n}", says, f"pins.runs[{run}].no_offset", left))
    return out


def _unpinned_levels(run: str, pin: RunPin) -> list[Knob]:
    """Give the levels between stations to be dropped, all of a run at once."""
    if not pin.levels:
        return []
    says = f"drop the pins of {run} to levels between stations"
    if len(pin.levels) == 1:
        (low, high), level = pin.levels[0].stations, pin.levels[0].level
        says = f"drop the pin of {run} to level {mm(level)} between stations {mm(low)} and {mm(high)}"
    return [Knob(f"unpin.{run}.levels", says, f"pins.runs[{run}].levels", [])]


def _zones(around: Around, met: Collection[str]) -> list[Knob]:
    return [
        Knob(f"keep_out.{z.id}", f"leave out keep-out zone {z.id}", f"keep_out[{z.id}]", None)
        for z in around.zones[:NEAREST_ZONES]
        if f"keep_out.{z.id}" in met
    ]


def _moved(around: Around, met: Collection[str]) -> list[Knob]:
    out = []
    for o in _met(around, met)[:3]:
        if any(word in f"{o.kind} {o.id}".lower() for word in FIXED_KINDS):
            continue
        for way, word in ((1, "higher"), (-1, "lower")):
            says, place = f"let {name_of(o)} run <by> mm {word}", f"obstructions[{o.id}].elevations"
            out.append(
                Knob(f"move.{o.id}.{word}", says, place, o.elevations, (way, way), 300.0, steady=False)
            )
    return out


def _other_runs(around: Around) -> list[Knob]:
    """Give other runs of the same trees in reach of the head."""
    out = []
    for h in around.targets[:1]:
        here = shapely.Point(h.at[:2])
        away = sorted(
            (shapely.LineString(r.plan).distance(here), r.id)
            for r in around.every
            if r.id != around.run and r.kind == "branch"
        )
        for distance, r in away[:2]:
            if distance <= around.scenario.rules.reach:
                out.append(Knob(f"run.{h.id}.{r}", f"serve {h.id} from {r}", f"heads[{h.id}].run", r))
    return out
