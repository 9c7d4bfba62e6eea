"""What can give way where a head is not served: obstructions, rules, bands, pins, neighbours.

A :class:`Thing` can be thought away, to see whether it has a part in it. A
:class:`Knob` is a change that a designer can make, by an amount or by yes and no.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import shapely

from router.explain.changes import changed
from router.explain.part import cut
from router.explain.words import a, listed, mm, style_words
from router.trade.styles import STYLES, allowed_styles

if TYPE_CHECKING:
    from collections.abc import Callable

    from router.explain.part import Setting
    from router.explain.records import Value
    from router.scenario.model import Head, Obstruction, Run, Scenario

NEAREST = 10
"""So many obstructions are told apart; all others stand together as one thing."""
NEIGHBOURS = 6
WIDE = 2000.0
"""mm. A band that is thought away goes so far beyond its ends."""
FIXED_KINDS = ("beam", "column", "wall", "slab", "joist", "truss", "girder", "floor", "roof")
"""Kinds of obstruction that nobody moves for a sprinkler line."""


@dataclass(frozen=True)
class Thing:
    """Something that can be thought away. ``says``: what it is, for a list of what cannot all hold."""

    key: str
    says: str
    away: Callable[[Scenario], Scenario]


@dataclass(frozen=True)
class Knob:
    """A change that a designer can make. ``most``: the largest amount that is tried, mm; ``None``: yes or no.

    ``steady``: whether more of it never serves less.
    """

    key: str
    most: float | None
    change: Callable[[float], dict[str, Value]]
    text: Callable[[float], str]
    steady: bool = True


def name_of(o: Obstruction) -> str:
    """Give an obstruction's id with what it is."""
    return o.id if o.kind.lower() in o.id.lower() else f"{o.kind} {o.id}"


class Around:
    """What stands around some heads and their run."""

    def __init__(self, setting: Setting, scenario: Scenario, run: str, heads: list[str]) -> None:
        self.setting, self.scenario, self.run, self.heads = setting, scenario, run, heads
        self.runs: dict[str, Run] = {r.id: r for r in scenario.runs}
        self.targets: list[Head] = [h for h in scenario.heads if h.id in heads]
        self.chain = [run]
        while self.runs[self.chain[-1]].supply is not None:
            self.chain.append(str(self.runs[self.chain[-1]].supply))
        self.obstructions = self._nearest()

    def _nearest(self) -> list[Obstruction]:
        """Obstructions by how near they are to the way from the heads to their run, in plan."""
        line = shapely.LineString(self.runs[self.run].plan)
        ways = [
            shapely.LineString([h.at[:2], line.interpolate(line.project(shapely.Point(h.at[:2]))).coords[0]])
            for h in self.targets
        ]
        start = shapely.Point(self.runs[self.run].plan[0])
        shape = shapely.union_all([*ways, start])
        away = [(shapely.Polygon(o.polygon).distance(shape), n) for n, o in enumerate(self.scenario.obstructions)]
        return [self.scenario.obstructions[n] for _, n in sorted(away)]

    def neighbours(self) -> list[str]:
        """Other heads of the same run, nearest first."""
        mine = np.array([h.at[:2] for h in self.targets])
        others = [
            (float(np.hypot(*(np.array(h.at[:2]) - mine).T).min()), h.id)
            for h in self.scenario.heads
            if h.id not in self.heads and self.setting.run_of[h.id] == self.run
        ]
        return [h for _, h in sorted(others)]

    def siblings(self) -> list[str]:
        """Runs that leave the run or one that feeds it, apart from these."""
        return [r.id for r in self.scenario.runs if r.supply in self.chain and r.id not in self.chain]

    def below(self, run: str) -> set[str]:
        """Return a run and all runs that it feeds."""
        out = {run}
        while True:
            more = {r.id for r in self.scenario.runs if r.supply in out} - out
            if not more:
                return out
            out |= more

    # what can be thought away

    def things(self) -> list[Thing]:
        """Give all that can be thought away, first what a list should rather do without."""
        return [
            *self._rules(),
            *self._pins(),
            *self._neighbours(),
            *self._ceilings(),
            *self._obstructions(),
            *self._bands(),
            *self._places(),
        ]

    def _rule(self, name: str, value: Value, says: str) -> Thing:
        return Thing(f"rules.{name}", says, lambda s: changed(s, {f"rules.{name}": value}))

    def _rules(self) -> list[Thing]:
        rules = self.scenario.rules
        out = []
        if rules.styles is not None:
            names = listed([style_words(s) for s in rules.styles], "or")
            out.append(self._rule("styles", None, f"only these styles are allowed: {names} (rules.styles)"))
        if not rules.allow_flexible:
            out.append(self._rule("allow_flexible", True, "no flexible drop is allowed (rules.allow_flexible)"))
        if not rules.allow_cross:
            out.append(self._rule("allow_cross", True, "no cross is allowed (rules.allow_cross)"))
        if not rules.allow_shared_nipple:
            says = "no shared nipple is allowed (rules.allow_shared_nipple)"
            out.append(self._rule("allow_shared_nipple", True, says))
        for name, value, says in (
            ("rise", rules.rise + WIDE, f"an arm may rise {mm(rules.rise)} mm at the most (rules.rise)"),
            ("reach", rules.reach + 5000, f"an arm may reach {mm(rules.reach)} mm at the most (rules.reach)"),
            ("slide", rules.slide + 600, f"an outlet may slide {mm(rules.slide)} mm at the most (rules.slide)"),
            ("alignment", rules.alignment + 100,
             f"a head counts as under the line within {mm(rules.alignment)} mm (rules.alignment)"),
            ("working_allowance", 0.0,
             f"the working allowance of {mm(rules.working_allowance)} mm (rules.working_allowance)"),
            ("piece_clearance", 0.0,
             f"pieces keep {mm(rules.piece_clearance)} mm from each other (rules.piece_clearance)"),
        ):  # fmt: skip
            if value != getattr(rules, name):
                out.append(self._rule(name, value, says))
        if rules.outlet_spacing is not None:
            says = f"outlets stand {mm(rules.outlet_spacing)} mm apart (rules.outlet_spacing)"
            out.append(self._rule("outlet_spacing", None, says))
        return out

    def _pins(self) -> list[Thing]:
        out = []
        for h in self.heads:
            pin = self.scenario.pins.heads.get(h)
            if pin is not None:
                out.append(Thing(f"pins.heads.{h}", f"the pin of {h}", lambda s, h=h: _unpinned(s, "heads", h)))  # type: ignore[misc]
        for r in self.chain:
            pin_r = self.scenario.pins.runs.get(r)
            if pin_r is not None:
                out.append(Thing(f"pins.runs.{r}", f"the pin of {r}", lambda s, r=r: _unpinned(s, "runs", r)))  # type: ignore[misc]
        return out

    def _neighbours(self) -> list[Thing]:
        out = []
        near = self.neighbours()
        rest = near[NEIGHBOURS:]
        if rest:
            says = f"the {len(rest)} other heads of {self.run}"
            out.append(Thing("heads", says, lambda s: _without_heads(s, set(rest))))
        for run in self.siblings():
            parent = self.runs[run].supply
            says = f"{run} leaves {parent}"
            out.append(Thing(f"run.{run}", says, lambda s, run=run: self._without_run(s, run)))  # type: ignore[misc]
        for h in near[:NEIGHBOURS]:
            says = f"{h} is served from {self.run} too"
            out.append(Thing(f"head.{h}", says, lambda s, h=h: _without_heads(s, {h})))  # type: ignore[misc]
        return out

    def _without_run(self, scenario: Scenario, run: str) -> Scenario:
        gone = self.below(run)
        heads = {h.id for h in scenario.heads if self.setting.run_of[h.id] not in gone}
        return cut(scenario, {r.id for r in scenario.runs} - gone, heads)

    def _ceilings(self) -> list[Thing]:
        ids = [c.id for c in self.scenario.ceilings]
        if not ids:
            return []
        names = listed(ids) if len(ids) < 4 else f"{len(ids)} ceilings"
        return [Thing("ceilings", f"all pipe but the last piece to a head stays above {names}",
                      lambda s: s.model_copy(update={"ceilings": []}))]  # fmt: skip

    def _obstructions(self) -> list[Thing]:
        out = []
        rest = {o.id for o in self.obstructions[NEAREST:]}
        if rest:
            says = f"the {len(rest)} obstructions farther away"
            out.append(Thing("obstructions", says, lambda s: _without(s, rest)))
        for o in reversed(self.obstructions[:NEAREST]):
            gap = self.scenario.rules.clearance if o.clearance is None else o.clearance
            says = f"{name_of(o)}, with {mm(gap)} mm clearance"
            out.append(Thing(f"obstruction.{o.id}", says, lambda s, o=o: _without(s, {o.id})))  # type: ignore[misc]
        return out

    def _bands(self) -> list[Thing]:
        out = []
        for r in reversed(self.chain):
            low, high = self.band(r)
            says = f"{r} stays between levels {mm(low)} and {mm(high)}"
            if low == high:
                says = f"{r} stays at level {mm(low)}"
            wide: list[float] = [low - WIDE, high + WIDE]
            out.append(Thing(f"band.{r}", says, lambda s, r=r, wide=wide: changed(s, {f"runs[{r}].band": wide})))  # type: ignore[misc]
            supply = self.runs[r].supply_elevation
            if supply is not None:
                says = f"the supply of {r} comes at level {mm(supply)}"
                out.append(Thing(f"supply.{r}", says,
                                 lambda s, r=r: changed(s, {f"runs[{r}].supply_elevation": None})))  # type: ignore[misc]  # fmt: skip
        return out

    def _places(self) -> list[Thing]:
        out = []
        for h in self.targets:
            says = f"{h.id} stays where it is" if not h.shift else f"{h.id} may shift {mm(h.shift)} mm at the most"
            out.append(Thing(f"shift.{h.id}", says,
                             lambda s, h=h: changed(s, {f"heads[{h.id}].shift": h.shift + 500.0})))  # type: ignore[misc]  # fmt: skip
        return out

    def band(self, run: str) -> tuple[float, float]:
        """Return the lowest and the highest level of a run."""
        r = self.runs[run]
        return r.band if r.band is not None else (r.elevation - 300.0, r.elevation + 300.0)

    # what a designer can change

    def knobs(self, met: set[str]) -> list[Knob]:
        """Give the changes worth trying. ``met``: keys of things that have a part in it."""
        return [
            *self._shifts(met),
            *self._clearances(met),
            *self._limits(),
            *self._allowances(),
            *self._wider(met),
            *self._unpin(),
            *self._moves(met),
            *self._other_runs(),
        ]

    def _shifts(self, met: set[str]) -> list[Knob]:
        heads = [h.id for h in self.targets][:1]
        heads += [h for h in self.neighbours()[:NEIGHBOURS] if f"head.{h}" in met][:2]
        by_id = {h.id: h for h in self.scenario.heads}
        return [
            Knob(f"shift.{h}", 600.0,
                 lambda x, h=h: {f"heads[{h}].shift": by_id[h].shift + x},  # type: ignore[misc]
                 lambda x, h=h: f"allow a {mm(by_id[h].shift + x)} mm shift of {h}", steady=False)  # type: ignore[misc]
            for h in heads
        ]  # fmt: skip

    def _clearances(self, met: set[str]) -> list[Knob]:
        rules, out = self.scenario.rules, []
        for o in self._met(met)[:4]:
            gap = rules.clearance if o.clearance is None else o.clearance
            if gap > 0:
                out.append(Knob(
                    f"clearance.{o.id}", gap,
                    lambda x, o=o, gap=gap: {f"obstructions[{o.id}].clearance": gap - x},  # type: ignore[misc]
                    lambda x, o=o, gap=gap: f"drop clearance to {name_of(o)} from {mm(gap)} to {mm(gap - x)} mm",  # type: ignore[misc]
                ))  # fmt: skip
        return out

    def _met(self, met: set[str]) -> list[Obstruction]:
        return [o for o in self.obstructions[:NEAREST] if f"obstruction.{o.id}" in met]

    def _limits(self) -> list[Knob]:
        rules, out = self.scenario.rules, []
        for name, way, most, words in (
            ("working_allowance", -1, rules.working_allowance, "lower the working allowance"),
            ("piece_clearance", -1, rules.piece_clearance, "lower the clearance between pieces"),
            ("ceiling_clearance", -1, rules.ceiling_clearance if self.scenario.ceilings else 0.0,
             "lower the clearance above ceilings"),
            ("outlet_spacing", -1, rules.outlet_spacing or 0.0, "lower the outlet spacing"),
            ("alignment", 1, 50.0, "let a head count as under the line farther off it: raise it"),
            ("reach", 1, 3000.0, "raise the reach of arms"),
            ("rise", 1, 1000.0, "raise how far an arm may rise"),
            ("slide", 1, 600.0, "raise how far an outlet may slide"),
        ):  # fmt: skip
            if most <= 0:
                continue
            old = float(getattr(rules, name))
            out.append(Knob(
                f"rules.{name}", most,
                lambda x, name=name, old=old, way=way: {f"rules.{name}": old + way * x},  # type: ignore[misc]
                lambda x, words=words, old=old, way=way: f"{words} from {mm(old)} to {mm(old + way * x)} mm",  # type: ignore[misc]
            ))  # fmt: skip
        return out

    def _allowances(self) -> list[Knob]:
        rules, out = self.scenario.rules, []
        for name, words in (
            ("allow_cross", "allow a cross here"),
            ("allow_shared_nipple", "allow a shared nipple here"),
            ("allow_flexible", "allow a flexible drop here"),
        ):
            if not getattr(rules, name):
                out.append(_yes(f"rules.{name}", {f"rules.{name}": True}, words))
        if rules.styles is not None:
            freed = rules.model_copy(update={"styles": None})
            for style in STYLES:
                found = [allowed_styles(self.scenario.system, h, freed)[style] for h in self.targets]
                if style not in rules.styles and all(why.allowed for why in found):
                    value = [*rules.styles, style]
                    words = f"allow {a(style_words(style))}"
                    out.append(_yes(f"styles.{style}", {"rules.styles": value}, words))
        return out

    def _wider(self, met: set[str]) -> list[Knob]:
        out = []
        runs = [r for r in self.chain if f"band.{r}" in met] or self.chain[:1]
        for r in runs[:3]:
            low, high = self.band(r)
            out.append(Knob(
                f"low.{r}", 600.0, lambda x, r=r, low=low, high=high: {f"runs[{r}].band": [low - x, high]},  # type: ignore[misc]
                lambda x, r=r, low=low: f"widen the band of {r} down to {mm(low - x)}"))  # type: ignore[misc]  # fmt: skip
            out.append(Knob(
                f"high.{r}", 600.0, lambda x, r=r, low=low, high=high: {f"runs[{r}].band": [low, high + x]},  # type: ignore[misc]
                lambda x, r=r, high=high: f"widen the band of {r} up to {mm(high + x)}"))  # type: ignore[misc]  # fmt: skip
        return out

    def _unpin(self) -> list[Knob]:
        out = []
        for h in self.heads:
            pin = self.scenario.pins.heads.get(h)
            for name in ("style", "styles", "side", "stations", "run") if pin is not None else ():
                if getattr(pin, name) is not None:
                    out.append(_yes(f"unpin.{h}.{name}", {f"pins.heads[{h}].{name}": None},
                                    f"take the pin of {h} to its {name} away"))  # fmt: skip
        for r in self.chain:
            run_pin = self.scenario.pins.runs.get(r)
            if run_pin is not None and run_pin.level is not None:
                out.append(_yes(f"unpin.{r}.level", {f"pins.runs[{r}].level": None},
                                f"take the pin of {r} to level {mm(run_pin.level)} away"))  # fmt: skip
            if run_pin is not None and run_pin.no_offset is True:
                out.append(_yes(f"unpin.{r}.no_offset", {f"pins.runs[{r}].no_offset": False},
                                f"allow level changes on {r}"))  # fmt: skip
        return out

    def _moves(self, met: set[str]) -> list[Knob]:
        out = []
        for o in self._met(met)[:3]:
            if any(word in o.kind.lower() for word in FIXED_KINDS):
                continue
            low, high = o.elevations
            for way, word in ((1, "higher"), (-1, "lower")):
                out.append(Knob(
                    f"move.{o.id}.{word}", 300.0,
                    lambda x, o=o, low=low, high=high, way=way: {  # type: ignore[misc]
                        f"obstructions[{o.id}].elevations": [low + way * x, high + way * x]},
                    lambda x, o=o, word=word: f"let {name_of(o)} run {mm(x)} mm {word}",  # type: ignore[misc]
                    steady=False,
                ))  # fmt: skip
        return out

    def _other_runs(self) -> list[Knob]:
        """Give other runs of the same trees in reach of the head."""
        out = []
        for h in self.targets[:1]:
            here = shapely.Point(h.at[:2])
            away = sorted(
                (shapely.LineString(r.plan).distance(here), r.id)
                for r in self.scenario.runs
                if r.id != self.run and r.kind == "branch"
            )
            for distance, r in away[:2]:
                if distance <= self.scenario.rules.reach:
                    out.append(_yes(f"run.{h.id}.{r}", {f"heads[{h.id}].run": r}, f"serve {h.id} from {r}"))
        return out


def _yes(key: str, change: dict[str, Value], text: str) -> Knob:
    return Knob(key, None, lambda _: change, lambda _: text)


def _unpinned(scenario: Scenario, kind: str, ident: str) -> Scenario:
    pins = {k: v for k, v in getattr(scenario.pins, kind).items() if k != ident}
    return scenario.model_copy(update={"pins": scenario.pins.model_copy(update={kind: pins})})


def _without(scenario: Scenario, obstructions: set[str]) -> Scenario:
    kept = [o for o in scenario.obstructions if o.id not in obstructions]
    return scenario.model_copy(update={"obstructions": kept})


def _without_heads(scenario: Scenario, heads: set[str]) -> Scenario:
    kept = [h for h in scenario.heads if h.id not in heads]
    pins = {k: v for k, v in scenario.pins.heads.items() if k not in heads}
    update = {"heads": kept, "pins": scenario.pins.model_copy(update={"heads": pins})}
    return scenario.model_copy(update=update)
