"""What has a part in a head's going without water: each can be thought away."""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial
from typing import TYPE_CHECKING

from router.explain.around import NEAREST, NEAREST_ZONES, NEIGHBOURS, name_of
from router.explain.changes import changed
from router.explain.part import cut
from router.explain.words import listed, mm, style_words

if TYPE_CHECKING:
    from collections.abc import Callable, Collection

    from router.explain.around import Around
    from router.explain.records import Value
    from router.scenario.model import Scenario

WIDE = 2000.0
"""mm. A band that is thought away goes so far beyond its ends."""


@dataclass(frozen=True)
class Thing:
    """Something that can be thought away. ``says``: what it is, for a list of what cannot all hold."""

    key: str
    says: str
    away: Callable[[Scenario], Scenario]


def things_around(around: Around) -> list[Thing]:
    """Give all that can be thought away, first what a list should rather do without."""
    return [
        *_rules(around),
        *_pins(around),
        *_neighbours(around),
        *_ceilings(around),
        *_obstructions(around),
        *_zones(around),
        *_bands(around),
        *_places(around),
    ]


def _field(key: str, says: str, place: str, value: Value) -> Thing:
    return Thing(key, says, partial(_set, place=place, value=value))


def _rules(around: Around) -> list[Thing]:
    rules, out = around.scenario.rules, []

    def rule(name: str, value: Value, says: str) -> None:
        if value != getattr(rules, name):
            out.append(_field(f"rules.{name}", f"{says} (rules.{name})", f"rules.{name}", value))

    if rules.styles is not None:
        names = listed([style_words(s) for s in rules.styles], "or")
        rule("styles", None, f"only these styles are allowed: {names}")
    rule("allow_flexible", True, "no flexible drop is allowed")
    rule("allow_cross", True, "no cross is allowed")
    rule("allow_shared_nipple", True, "no shared nipple is allowed")
    rule("rise", rules.rise + WIDE, f"an arm may rise {mm(rules.rise)} mm at the most")
    rule("reach", rules.reach + 5000, f"an arm may reach {mm(rules.reach)} mm at the most")
    rule("slide", rules.slide + 600, f"an outlet may slide {mm(rules.slide)} mm at the most")
    says = f"a head counts as under the line within {mm(rules.alignment)} mm"
    rule("alignment", rules.alignment + 100, says)
    rule("working_allowance", 0.0, f"the working allowance is {mm(rules.working_allowance)} mm")
    rule("piece_clearance", 0.0, f"pieces keep {mm(rules.piece_clearance)} mm from each other")
    if rules.outlet_spacing is not None:
        rule("outlet_spacing", None, f"outlets stand {mm(rules.outlet_spacing)} mm apart")
    return out


def _pins(around: Around) -> list[Thing]:
    pins = around.scenario.pins
    out = [
        Thing(f"pins.heads.{h}", f"the pin of {h}", partial(_unpinned, kind="heads", ident=h))
        for h in around.heads
        if h in pins.heads
    ]
    return out + [
        Thing(f"pins.runs.{r}", f"the pin of {r}", partial(_unpinned, kind="runs", ident=r))
        for r in around.chain
        if r in pins.runs
    ]


def _neighbours(around: Around) -> list[Thing]:
    out = []
    near = around.neighbours()
    rest = near[NEIGHBOURS:]
    if rest:
        says = f"the {len(rest)} other heads of {around.run}"
        out.append(Thing("heads", says, partial(_without_heads, heads=rest)))
    for run in around.siblings():
        says = f"{run} leaves {around.runs[run].supply}"
        out.append(Thing(f"run.{run}", says, partial(_without_run, around=around, run=run)))
    for h in near[:NEIGHBOURS]:
        says = f"{h} is served from {around.run} too"
        out.append(Thing(f"head.{h}", says, partial(_without_heads, heads=[h])))
    return out


def _ceilings(around: Around) -> list[Thing]:
    ids = [c.id for c in around.scenario.ceilings]
    if not ids:
        return []
    names = listed(ids) if len(ids) < 4 else f"{len(ids)} ceilings"
    return [Thing("ceilings", f"all pipe but the last piece to a head stays above {names}", _no_ceilings)]


def _obstructions(around: Around) -> list[Thing]:
    out = []
    rest = [o.id for o in around.obstructions[NEAREST:]]
    if rest:
        says = f"the {len(rest)} obstructions farther away"
        out.append(Thing("obstructions", says, partial(_without, obstructions=rest)))
    for o in reversed(around.obstructions[:NEAREST]):
        gap = around.scenario.rules.clearance if o.clearance is None else o.clearance
        says = f"{name_of(o)}, with {mm(gap)} mm clearance"
        out.append(Thing(f"obstruction.{o.id}", says, partial(_without, obstructions=[o.id])))
    return out


def _zones(around: Around) -> list[Thing]:
    out = []
    rest = [z.id for z in around.zones[NEAREST_ZONES:]]
    if rest:
        says = f"the {len(rest)} keep-out zones farther away"
        out.append(Thing("keep_out", says, partial(_without_zones, zones=rest)))
    for z in reversed(around.zones[:NEAREST_ZONES]):
        what = {"all": "", "outlets": ", no outlets in it", "level_changes": ", no level changes in it"}[z.of]
        says = f"keep-out zone {z.id}{what}"
        out.append(Thing(f"keep_out.{z.id}", says, partial(_without_zones, zones=[z.id])))
    return out


def _bands(around: Around) -> list[Thing]:
    out = []
    for r in reversed(around.chain):
        low, high = around.band(r)
        says = f"{r} stays between levels {mm(low)} and {mm(high)}"
        if low == high:
            says = f"{r} stays at level {mm(low)}"
        out.append(_field(f"band.{r}", says, f"runs[{r}].band", [low - WIDE, high + WIDE]))
        supply = around.runs[r].supply_elevation
        if supply is not None:
            says = f"the supply of {r} comes at level {mm(supply)}"
            out.append(_field(f"supply.{r}", says, f"runs[{r}].supply_elevation", None))
    return out


def _places(around: Around) -> list[Thing]:
    out = []
    for h in around.targets:
        says = f"{h.id} stays where it is"
        if h.shift:
            says = f"{h.id} may shift {mm(h.shift)} mm at the most"
        out.append(_field(f"shift.{h.id}", says, f"heads[{h.id}].shift", h.shift + 500.0))
    return out


def _set(scenario: Scenario, place: str, value: Value) -> Scenario:
    """Set a field, unless what has it was thought away already."""
    ids = {h.id for h in scenario.heads} | {r.id for r in scenario.runs}
    ident = place.partition("[")[2].rpartition("]")[0]
    return changed(scenario, {place: value}) if not ident or ident in ids else scenario


def _unpinned(scenario: Scenario, kind: str, ident: str) -> Scenario:
    pins = {k: v for k, v in getattr(scenario.pins, kind).items() if k != ident}
    return scenario.model_copy(update={"pins": scenario.pins.model_copy(update={kind: pins})})


def _no_ceilings(scenario: Scenario) -> Scenario:
    return scenario.model_copy(update={"ceilings": []})


def _without(scenario: Scenario, obstructions: Collection[str]) -> Scenario:
    kept = [o for o in scenario.obstructions if o.id not in obstructions]
    return scenario.model_copy(update={"obstructions": kept})


def _without_zones(scenario: Scenario, zones: Collection[str]) -> Scenario:
    return scenario.model_copy(update={"keep_out": [z for z in scenario.keep_out if z.id not in zones]})


def _without_heads(scenario: Scenario, heads: Collection[str]) -> Scenario:
    kept = [h for h in scenario.heads if h.id not in heads]
    pins = {k: v for k, v in scenario.pins.heads.items() if k not in heads}
    update = {"heads": kept, "pins": scenario.pins.model_copy(update={"heads": pins})}
    return scenario.model_copy(update=update)


def _without_run(scenario: Scenario, around: Around, run: str) -> Scenario:
    gone = around.below(run)
    heads = {h.id for h in scenario.heads if around.setting.run_of[h.id] not in gone}
    return cut(scenario, {r.id for r in scenario.runs} - gone, heads)
