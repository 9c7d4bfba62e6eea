"""Changes of a scenario as a person writes them: the field's place and its new value."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Any

from router.scenario.model import HeadPin, RunPin

if TYPE_CHECKING:
    from collections.abc import Mapping

    from router.explain.records import Value
    from router.scenario.model import Scenario

_ZONE = re.compile(r"^keep_out\[(.+)\]$")
_ITEM = re.compile(r"^(pins\.heads|pins\.runs|heads|runs|obstructions)\[(.+)\]\.(\w+)$")


def changed(scenario: Scenario, change: Mapping[str, Value]) -> Scenario:
    """Give a scenario with some fields set, in mm.

    Places are ``rules.allow_cross``, ``heads[H12].shift``, ``runs[B2].band``,
    ``obstructions[D2].clearance``, ``pins.heads[H12].style`` and so on; ids stand in brackets.
    ``keep_out[Z1]`` is the zone itself: its only value is ``None``, which leaves it out.

    Raises
    ------
    ValueError
        Names a place that the scenario has not.
    """
    for place, value in change.items():
        scenario = _set(scenario, place, value)
    return scenario


def _set(scenario: Scenario, place: str, value: Any) -> Scenario:
    if place.startswith("rules."):
        return scenario.model_copy(update={"rules": _put(scenario.rules, place[len("rules.") :], value)})
    zone = _ZONE.match(place)
    if zone is not None:
        return _without_zone(scenario, place, zone[1], value)
    found = _ITEM.match(place)
    if found is None:
        raise ValueError(f"{place}: no such place in a scenario")
    part, ident, name = found.groups()
    if part.startswith("pins."):
        kind = part[len("pins.") :]
        pins: dict[str, Any] = dict(getattr(scenario.pins, kind))
        empty = HeadPin() if kind == "heads" else RunPin()
        pins[ident] = _put(pins.get(ident, empty), name, value)
        return scenario.model_copy(update={"pins": scenario.pins.model_copy(update={kind: pins})})
    items = getattr(scenario, part)
    if all(item.id != ident for item in items):
        raise ValueError(f"{place}: no {part[:-1]} {ident!r}")
    update = {part: [_put(item, name, value) if item.id == ident else item for item in items]}
    return scenario.model_copy(update=update)


def _without_zone(scenario: Scenario, place: str, ident: str, value: Any) -> Scenario:
    left = [z for z in scenario.keep_out if z.id != ident]
    if len(left) == len(scenario.keep_out):
        raise ValueError(f"{place}: no keep-out zone {ident!r}")
    if value is not None:
        raise ValueError(f"{place}: a zone can only be left out")
    return scenario.model_copy(update={"keep_out": left})


def _put(record: Any, name: str, value: Any) -> Any:
    if name not in type(record).model_fields:
        raise ValueError(f"{name}: {type(record).__name__.lower()} has no such field")
    old = getattr(record, name)
    if isinstance(value, list) and (isinstance(old, tuple) or name in ("band", "elevations", "stations")):
        value = tuple(value)
    if name == "no_offset" and isinstance(value, list):
        value = [(low, high) for low, high in value]
    return record.model_copy(update={name: value})
