"""Rules made weaker, one at a time: by each, whatever was a route before is one still."""

from __future__ import annotations

import copy
from typing import TYPE_CHECKING, Any

import numpy as np

from router.scenario.model import HeadPin, Rules, RunPin, Weights

if TYPE_CHECKING:
    from collections.abc import Callable

Data = dict[str, Any]
DEFAULTS = Rules()
BAND = 300.0
"""mm either way, where a run gives none."""


def _rule(data: Data, **values: Any) -> Data:
    return {**data, "rules": {**data.get("rules", {}), **values}}


def _now(data: Data, name: str) -> Any:
    return data.get("rules", {}).get(name, getattr(DEFAULTS, name))


def _times(name: str, low: float, high: float) -> Callable[[Data, np.random.Generator], Data | None]:
    def relax(data: Data, rng: np.random.Generator) -> Data | None:
        value = _now(data, name)
        return _rule(data, **{name: round(value * float(rng.uniform(low, high)), 1)}) if value else None

    return relax


def _more_slide(data: Data, rng: np.random.Generator) -> Data:
    return _rule(data, slide=_now(data, "slide") + round(float(rng.uniform(30, 400)), 1))


def _half_step(data: Data, _: np.random.Generator) -> Data:
    return _rule(data, station_step=_now(data, "station_step") / 2)


def _more(name: str, low: float, high: float) -> Callable[[Data, np.random.Generator], Data]:
    return lambda data, rng: _rule(data, **{name: round(_now(data, name) + float(rng.uniform(low, high)), 1)})


def _allowed(name: str) -> Callable[[Data, np.random.Generator], Data | None]:
    return lambda data, _: None if _now(data, name) else _rule(data, **{name: True})


def _more_styles(data: Data, rng: np.random.Generator) -> Data | None:
    return None if _now(data, "styles") is None else _rule(data, styles=None)


def _hose(name: str, change: Callable[[Any], Any]) -> Callable[[Data, np.random.Generator], Data | None]:
    def relax(data: Data, _: np.random.Generator) -> Data | None:
        value = _now(data, name)
        return None if value is None else _rule(data, **{name: change(value)})

    return relax


RULES: dict[str, Any] = {
    "clearance": _times("clearance", 0.0, 0.9),
    "piece_clearance": _times("piece_clearance", 0.0, 0.9),
    "ceiling_clearance": _times("ceiling_clearance", 0.0, 0.9),
    "working_allowance": _times("working_allowance", 0.0, 0.9),
    "alignment": _more("alignment", 1, 40),
    "reach": _more("reach", 100, 2000),
    "slide": _more_slide,
    "station_step": _half_step,
    "rise": _more("rise", 50, 1500),
    "arm_unsupported": _hose("arm_unsupported", lambda v: v * 1.5),
    "hanger_spacing": _hose("hanger_spacing", lambda v: v * 1.5),
    "hanger_to_end": _hose("hanger_to_end", lambda v: v * 1.5),
    "stock_lengths": _hose("stock_lengths", lambda v: [*v, 9000.0]),
    "saw_cut": _times("saw_cut", 0.0, 0.9),
    "outlet_spacing": _hose("outlet_spacing", lambda v: v * 0.7),
    "square_tolerance_deg": _more("square_tolerance_deg", 1, 10),
    "allow_cross": _allowed("allow_cross"),
    "allow_shared_nipple": _allowed("allow_shared_nipple"),
    "allow_flexible": _allowed("allow_flexible"),
    "hose_lengths": _hose("hose_lengths", lambda v: [*v, max(v) + 600.0]),
    "hose_bend_radius": _hose("hose_bend_radius", lambda v: v * 0.7),
    "hose_max_bends": _hose("hose_max_bends", lambda v: v + 1),
    "styles": _more_styles,
}
"""By field of :class:`Rules`."""


def _each(data: Data, key: str, change: Callable[[Data], Data | None]) -> Data | None:
    out = copy.deepcopy(data)
    hit = False
    for k, item in enumerate(out.get(key, [])):
        new = change(item)
        if new is not None:
            out[key][k], hit = new, True
    return out if hit else None


def _wider_band(data: Data, rng: np.random.Generator) -> Data | None:
    down, up = (round(float(v), 1) for v in rng.uniform(0, 200, 2))

    def widen(run: Data) -> Data:
        low, high = run.get("band") or (run["elevation"] - BAND, run["elevation"] + BAND)
        return {**run, "band": [low - down, high + up]}

    return _each(data, "runs", widen)


def _without(key: str) -> Callable[[Data, np.random.Generator], Data | None]:
    def relax(data: Data, rng: np.random.Generator) -> Data | None:
        if not data.get(key):
            return None
        gone = int(rng.integers(len(data[key])))
        return {**data, key: [item for k, item in enumerate(data[key]) if k != gone]}

    return relax


def _free_start(data: Data, _: np.random.Generator) -> Data | None:
    def free(run: Data) -> Data | None:
        if run.get("supply_elevation") is None:
            return None
        return {k: v for k, v in run.items() if k != "supply_elevation"}

    return _each(data, "runs", free)


def _head(name: str, change: Callable[[Any], Any]) -> Callable[[Data, np.random.Generator], Data | None]:
    return lambda data, _: _each(
        data, "heads", lambda head: {**head, name: change(head[name])} if head.get(name) else None
    )


def _own_clearance(data: Data, _: np.random.Generator) -> Data | None:
    return _each(
        data,
        "obstructions",
        lambda o: {**o, "clearance": o["clearance"] / 2} if o.get("clearance") else None,
    )


def _pin(key: str, field: str) -> Callable[[Data, np.random.Generator], Data | None]:
    """Take one field of every pin away."""

    def relax(data: Data, _: np.random.Generator) -> Data | None:
        pins = data.get("pins", {}).get(key, {})
        if not any(pin.get(field) for pin in pins.values()):
            return None
        less = {name: {k: v for k, v in pin.items() if k != field} for name, pin in pins.items()}
        return {**data, "pins": {**data["pins"], key: less}}

    return relax


def _weight(name: str) -> Callable[[Data, np.random.Generator], Data | None]:
    def relax(data: Data, rng: np.random.Generator) -> Data | None:
        weights = data.get("weights", {})
        value = weights.get(name, getattr(Weights(), name))
        if not value:
            return None
        return {**data, "weights": {**weights, name: round(value * float(rng.uniform(0, 0.9)), 3)}}

    return relax


def _cheaper(data: Data, rng: np.random.Generator) -> Data | None:
    if not data.get("prices"):
        return None
    out = copy.deepcopy(data)

    def lower(value: Any) -> Any:
        if isinstance(value, dict):
            return {k: lower(v) for k, v in value.items()}
        if isinstance(value, float | int) and not isinstance(value, bool):
            return round(value * float(rng.uniform(0.5, 1.0)), 2)
        return value

    out["prices"] = lower(out["prices"])
    return out


OTHERS: dict[str, Any] = {
    "band": _wider_band,
    "obstruction gone": _without("obstructions"),
    "ceiling gone": _without("ceilings"),
    "keep-out zone gone": _without("keep_out"),
    "supply_elevation": _free_start,
    "shift": _head("shift", lambda v: 2 * v),
    "exposed": _head("exposed", lambda v: v / 2),
    "obstruction clearance": _own_clearance,
    **{f"pins.heads.{f}": _pin("heads", f) for f in HeadPin.model_fields},
    **{f"pins.runs.{f}": _pin("runs", f) for f in RunPin.model_fields},
    **{f"weights.{f}": _weight(f) for f in Weights.model_fields if f not in ("unserved",)},
    "prices": _cheaper,
}


MOVED = "places that are tried follow from it: those of the stricter rule need not be among them"
COSTS = "changes no place that is tried, only what it costs"
MORE = "only adds to what is tried"
ELSEWHERE = "no part of the objective: hangers and the cut list are worked out on the finished route"

CLAIMS: dict[str, tuple[str, str]] = {
    "clearance": ("kept", MOVED),
    "piece_clearance": ("kept", MOVED),
    "ceiling_clearance": ("kept", MOVED),
    "working_allowance": ("kept", MOVED),
    "alignment": ("kept", "a head that counts as under the line is not tried from beside it"),
    "reach": ("more", f"{MORE}, where heads name their run (else they may go to another)"),
    "slide": ("more", MORE),
    "station_step": ("more", f"halved it {MORE}; by other parts it is another grid, which nothing compares"),
    "rise": ("more", MORE),
    "arm_unsupported": ("more", COSTS),
    "hanger_spacing": ("same", ELSEWHERE),
    "hanger_to_end": ("same", ELSEWHERE),
    "stock_lengths": ("same", ELSEWHERE),
    "saw_cut": ("same", ELSEWHERE),
    "outlet_spacing": ("kept", MOVED),
    "square_tolerance_deg": ("more", MORE),
    "arm_size": ("none", "neither larger nor smaller arms are weaker: they need more room, or carry less"),
    "allow_cross": ("more", MORE),
    "allow_shared_nipple": ("more", MORE),
    "allow_flexible": ("more", MORE),
    "hose_lengths": ("more", MORE),
    "hose_bend_radius": ("more", MORE),
    "hose_max_bends": ("more", MORE),
    "styles": ("more", MORE),
    "tables": ("none", "a table's value can be stricter in one place and weaker in another"),
    "band": ("kept", "its ends are levels that are tried"),
    "obstruction gone": ("kept", "levels just under and over it, and places beside it, are tried"),
    "ceiling gone": ("kept", "levels over it are tried"),
    "keep-out zone gone": ("kept", "levels and places beside it are tried"),
    "supply_elevation": ("kept", "it is a level that is tried"),
    "shift": ("kept", "half and full shift are tried, and halves of another are other places"),
    "exposed": ("kept", MOVED),
    "obstruction clearance": ("kept", MOVED),
    "pins.heads.style": ("more", MORE),
    "pins.heads.styles": ("more", MORE),
    "pins.heads.side": ("more", MORE),
    "pins.heads.run": ("kept", "it then goes to the nearest run"),
    "pins.heads.stations": ("kept", "their ends are tried"),
    "pins.runs.level": ("kept", "it is a level that is tried"),
    "pins.runs.levels": ("kept", "they are levels that are tried, and their ends are touched by offsets"),
    "pins.runs.no_offset": ("kept", "offsets that touch its ends are tried"),
    **{f"weights.{f}": ("more", COSTS) for f in Weights.model_fields if f != "unserved"},
    **{
        f"weights.{f}": ("same", "no older route is kept")
        for f in Weights.model_fields
        if f.startswith("changed")
    },
    "prices": ("more", COSTS),
}
"""For each rule, what the search must give for the weaker one, and why.

``more``: never a dearer route. ``kept``: never a dearer one if the stricter rule's
route is given as the older one (``route --keep``), which has its places tried
besides; without it the claim holds over the places that are tried, and those
differ: a documented limit (scope of the proof). ``same``: the same objective.
``none``: has no weaker side.
"""


def relaxed(data: Data, name: str, seed: int) -> Data | None:
    """Give a scenario with one rule weaker; ``None`` where it has nothing of the kind."""
    rng = np.random.default_rng(seed)
    if name == "reach" and any("run" not in head for head in data["heads"]):
        return None
    found: Data | None = (RULES.get(name) or OTHERS[name])(copy.deepcopy(data), rng)
    return found
