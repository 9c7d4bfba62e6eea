"""What every field of a scenario is, so that a transform can reach all of them.

``test_fields.py`` asks that each field of each record stands here, once, and
that what is a length here is what the reader converts. A new field must be
classified before anything passes again.
"""

from __future__ import annotations

import inspect
import typing
from typing import TYPE_CHECKING, Any

from pydantic import BaseModel

from router.scenario.model import Scenario

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from pydantic.fields import FieldInfo

PLACE, ELEVATION, LENGTH = "place", "elevation", "length"
ANGLE, SIDE, RUN, HEAD, OTHER_ID, PLAIN = "angle", "side", "run id", "head id", "other id", "plain"
LENGTHS = (PLACE, ELEVATION, LENGTH)

KINDS: dict[str, dict[str, str]] = {
    PLACE: {
        "Run": "plan",
        "Head": "at",
        "Obstruction": "polygon",
        "Ceiling": "polygon",
        "KeepOut": "polygon",
    },
    ELEVATION: {
        "Run": "elevation band supply_elevation",
        "Obstruction": "elevations",
        "Ceiling": "elevation",
        "KeepOut": "elevations",
        "LevelPin": "level",
        "RunPin": "level",
    },
    LENGTH: {
        "Head": "shift exposed",
        "Obstruction": "clearance",
        "Rules": "clearance piece_clearance ceiling_clearance working_allowance alignment reach slide"
        " station_step rise arm_unsupported hanger_spacing hanger_to_end stock_lengths saw_cut"
        " outlet_spacing hose_lengths hose_bend_radius",
        "HeadPin": "stations",
        "LevelPin": "stations",
        "RunPin": "no_offset",
    },
    ANGLE: {"Head": "facing"},
    SIDE: {"HeadPin": "side"},
    RUN: {"Run": "id supply", "Head": "run", "HeadPin": "run"},
    HEAD: {"Head": "id"},
    OTHER_ID: {"Obstruction": "id", "Ceiling": "id", "KeepOut": "id"},
    # the same whichever way the building lies, whatever the unit: numbers, words, table values
    PLAIN: {
        "Scenario": "format version name story units",
        "System": "kind water heated refrigerated hazard schedule joining pressure standard pitch_branch"
        " pitch_main",
        "JoiningUpTo": "up_to joining",
        "Run": "kind size least_size schedule joining",
        "Head": "kind thread k_factor dry guid",
        "Obstruction": "kind guid",
        "KeepOut": "of why",
        "Rules": "square_tolerance_deg arm_size allow_cross allow_shared_nipple allow_flexible hose_max_bends"
        " styles tables",
        "Weights": "unserved fitting level_change drain large_drain wet_drain hanger pipe moved style reducer"
        " hose price changed_head changed_run changed_offset",
        "Cost": "price minutes",
        "PriceTable": "currency minute as_objective",
        "HeadPin": "style styles",
    },
}
"""By kind, then by record: names of fields. ``LENGTH`` is a length that no move changes."""


def kind_of(record: str, field: str) -> str | None:
    """Give what a field is; ``None`` where the table does not say."""
    found = [kind for kind, records in KINDS.items() if field in records.get(record, "").split()]
    assert len(found) < 2, f"{record}.{field} stands twice: {found}"
    return found[0] if found else None


def inner(info: FieldInfo) -> tuple[type[BaseModel] | None, int]:
    """Give the record inside a field, through lists, mappings and options; and the mappings around it."""

    def look(annotation: Any) -> Iterator[type[BaseModel]]:
        if inspect.isclass(annotation) and issubclass(annotation, BaseModel):
            yield annotation
        for part in typing.get_args(annotation):
            yield from look(part)

    depth, outer = 0, info.annotation
    while typing.get_origin(outer) is dict:
        outer, depth = typing.get_args(outer)[1], depth + 1
    return next(look(info.annotation), None), depth


def records(record: type[BaseModel] = Scenario) -> list[type[BaseModel]]:
    """Give a record and all records in it, each once."""
    found = [record]
    for info in record.model_fields.values():
        within, _ = inner(info)
        if within is not None:
            found += [r for r in records(within) if r not in found]
    return found


Change = typing.Callable[[str, Any], Any]
"""What a field's kind and value become."""


def changed(data: Any, change: Callable[[str, Any], Any], record: type[BaseModel] = Scenario) -> Any:
    """Give a copy of a scenario (as plain data) with every field passed through ``change(kind, value)``.

    Keys of ``pins.heads`` and ``pins.runs`` are ids of heads and runs.
    """
    if not isinstance(data, dict):
        return data
    out = {}
    for name, value in data.items():
        info = record.model_fields[name]
        within, mappings = inner(info)
        kind = kind_of(record.__name__, name)
        if kind is not None and value is not None and not isinstance(value, bool):
            value = change(kind, value)
        elif kind is None and within is not None:
            keys = {"heads": HEAD, "runs": RUN}.get(name, PLAIN) if record.__name__ == "Pins" else PLAIN
            value = _within(value, change, within, mappings, keys)
        out[name] = value
    return out


def _within(value: Any, change: Change, record: type[BaseModel], mappings: int, keys: str) -> Any:
    if isinstance(value, list):
        return [changed(each, change, record) for each in value]
    if mappings and isinstance(value, dict):
        return {
            change(keys, key): _within(each, change, record, mappings - 1, PLAIN)
            for key, each in value.items()
        }
    return changed(value, change, record)
