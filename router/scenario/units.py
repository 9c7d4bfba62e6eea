"""Lengths become millimetres, once, by walking the marked fields."""

from __future__ import annotations

import inspect
import typing
from functools import cache
from typing import Any

from pydantic import BaseModel

from router.scenario.model import Length, Pitch

if typing.TYPE_CHECKING:
    from collections.abc import Iterator

    from pydantic.fields import FieldInfo

    from router.scenario.errors import Path

TO_MM = {"mm": 1.0, "m": 1000.0, "in": 25.4, "ft": 304.8}
"""Millimetres in one unit; inch and foot are exact by definition (international yard, 1959)."""

_DIGITS = 6


def to_mm(value: float, unit: str) -> float:
    """Convert a length.

    Parameters
    ----------
    value
        In ``unit``.
    unit
        ``mm``, ``m``, ``in`` or ``ft``.

    Returns
    -------
    float
        Millimetres, rounded to 1e-6 mm so that 1.1 m is 1100 mm and not 1100.0000000000002.
    """
    return round(float(value) * TO_MM[unit], _DIGITS)


def convert(record: type[BaseModel], data: Any, unit: str) -> Any:
    """Convert every marked length in plain data that describes ``record``.

    Parameters
    ----------
    record
        The record class whose fields carry the markers.
    data
        Plain data as read; anything that does not fit is left as it is.
    unit
        Unit of the lengths in ``data``.

    Returns
    -------
    Any
        A copy with lengths in mm.
    """
    if not isinstance(data, dict):
        return data
    result = dict(data)
    for name, (length, inner, mapping) in _fields(record).items():
        if name not in data:
            continue
        part = data[name]
        if length:
            result[name] = _scaled(part, unit)
        elif inner is None:
            continue
        elif isinstance(part, list):
            result[name] = [convert(inner, each, unit) for each in part]
        elif isinstance(part, dict) and mapping:
            result[name] = {key: convert(inner, each, unit) for key, each in part.items()}
        else:
            result[name] = convert(inner, part, unit)
    return result


@cache
def _fields(record: type[BaseModel]) -> dict[str, tuple[bool, type[BaseModel] | None, bool]]:
    """By name: whether a field holds lengths, the record in it, and whether that stands by keys."""
    return {
        name: (is_length(info), None if is_length(info) else _inner(info), _is_mapping(info))
        for name, info in record.model_fields.items()
    }


def _scaled(value: Any, unit: str) -> Any:
    if isinstance(value, list):
        return [_scaled(part, unit) for part in value]
    if isinstance(value, (int, float)) and not isinstance(value, bool):
        return to_mm(value, unit)
    return value


def is_length(info: FieldInfo) -> bool:
    """Tell whether a field holds lengths.

    Returns
    -------
    bool
    """
    return any(isinstance(mark, Length) or mark is Length for mark in info.metadata)


def unit_of(info: FieldInfo, name: str, unit: str) -> str:
    """Name the unit of a field's numbers.

    Returns
    -------
    str
        ``unit`` for lengths, ``mm/m`` for pitches, ``deg`` for angles, else empty.
    """
    if is_length(info):
        return unit
    if any(isinstance(mark, Pitch) for mark in info.metadata):
        return "mm/m"
    return "deg" if name == "facing" or name.endswith("_deg") else ""


def field_at(record: type[BaseModel], path: Path) -> tuple[type[BaseModel], str, FieldInfo] | None:
    """Find the field that a path in the file leads to.

    Returns
    -------
    tuple or None
        The record class, the field's name and its description; ``None`` if the
        path leaves the known fields.
    """
    found: tuple[type[BaseModel], str, FieldInfo] | None = None
    current: type[BaseModel] | None = record
    skip_keys = 0
    for part in path:
        if isinstance(part, int):
            continue
        if skip_keys:
            skip_keys -= 1
            continue
        if current is None:
            break
        if part not in current.model_fields:
            return None
        info = current.model_fields[part]
        found = (current, part, info)
        current = _inner(info)
        skip_keys = 0 if current is None else _mappings(info)
    return found


def record_at(record: type[BaseModel], path: Path) -> type[BaseModel] | None:
    """Find the record class of the object at a path.

    Returns
    -------
    type or None
    """
    if not path:
        return record
    found = field_at(record, path)
    return None if found is None else _inner(found[2])


def _parts(annotation: Any) -> Iterator[Any]:
    yield annotation
    for part in typing.get_args(annotation):
        yield from _parts(part)


def _inner(info: FieldInfo) -> type[BaseModel] | None:
    """Find the record class inside a field, through lists, mappings and options."""
    for part in _parts(info.annotation):
        if inspect.isclass(part) and issubclass(part, BaseModel):
            return part
    return None


def _mappings(info: FieldInfo) -> int:
    """Count the mappings within each other that a field is, 0 for none."""
    annotation, depth = info.annotation, 0
    while typing.get_origin(annotation) is dict:
        annotation = typing.get_args(annotation)[1]
        depth += 1
    return depth


def _is_mapping(info: FieldInfo) -> bool:
    return typing.get_origin(info.annotation) is dict
