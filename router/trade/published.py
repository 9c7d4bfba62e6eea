"""The published values: loading them, laying a scenario's own values over them.

One JSON file in ``router/trade/data/`` per family. Every table has

``source``  the published standard that its values stand in;
``sure``    A a published sheet was seen that says so; B from memory, checked
            in part; C from memory; D from memory or assumed, doubtful;
``unit``    of its values;
``keys``    ``size`` (a DN), ``run x outlet`` (two DNs), ``length`` or ``name``;
``sure_rows``  rows that are less (or more) sure than the table.
"""

from __future__ import annotations

import json
from dataclasses import dataclass, field, replace
from functools import cache
from importlib.resources import files
from math import isfinite
from typing import TYPE_CHECKING, Any, Literal

from router.trade.sizes import parse_size

if TYPE_CHECKING:
    from collections.abc import Mapping

Grade = Literal["A", "B", "C", "D"]
Key = int | tuple[int, int] | str
Value = float | list[float]

MM_PER_INCH = 25.4
_TO_MM = {"mm": 1.0, "in": MM_PER_INCH, "ft": 12 * MM_PER_INCH}


@dataclass(frozen=True)
class Table:
    """One table: values in ``unit`` by key, the source, and how sure each row is."""

    name: str
    source: str
    sure: Grade
    unit: str
    keys: str
    values: Mapping[Key, Value]
    sure_rows: Mapping[Key, Grade] = field(default_factory=dict)
    note: str = ""
    overridden: frozenset[Key] = frozenset()

    def number(self, key: Key) -> float | None:
        """Return the value in the table's own unit; ``None`` where it has no row."""
        value = self.values.get(key)
        return None if value is None or isinstance(value, list) else value

    def mm(self, key: Key) -> float | None:
        """Return a length in mm; ``None`` where the table has no row."""
        value = self.number(key)
        return None if value is None else value * _TO_MM[self.unit]

    def grade(self, key: Key | None = None) -> Grade:
        """Return how sure the row is (the table as a whole without a key)."""
        return self.sure if key is None else self.sure_rows.get(key, self.sure)


def load() -> dict[str, Table]:
    """Return every table by name, as published."""
    return dict(_published())


@cache
def _published() -> dict[str, Table]:
    tables: dict[str, Table] = {}
    folder = files("router.trade") / "data"
    for path in sorted(folder.iterdir(), key=lambda entry: entry.name):
        if not path.name.endswith(".json"):
            continue
        for name, raw in json.loads(path.read_text(encoding="utf-8"))["tables"].items():
            tables[name] = Table(
                name=name,
                source=raw["source"],
                sure=raw["sure"],
                unit=raw["unit"],
                keys=raw["keys"],
                values={read_key(raw["keys"], key): v for key, v in raw["values"].items()},
                sure_rows={read_key(raw["keys"], k): g for k, g in raw.get("sure_rows", {}).items()},
                note=raw.get("note", ""),
            )
    return tables


def read_key(kind: str, key: str) -> Key:
    """Read a row's key: ``"1-1/4"`` or ``"32"`` (size), ``"2x1"`` or ``"50x25"`` (run x outlet).

    Raises
    ------
    ValueError
        Names the size that is not one.
    """
    if kind == "size":
        return parse_size(key)
    if kind == "run x outlet":
        run, _, outlet = key.lower().partition("x")
        return parse_size(run), parse_size(outlet)
    if kind == "length":
        return f"{float(key):g}"
    return key


def overlay(tables: dict[str, Table], overrides: Mapping[str, Any]) -> dict[str, Table]:
    """Lay a scenario's own values over the tables.

    Parameters
    ----------
    tables : dict of Table
        As from :func:`load`.
    overrides : mapping
        ``{table: {row: value}}``, each value in that table's own unit. A size
        table also takes a size that it has no row for.

    Raises
    ------
    ValueError
        Names the unknown table or row, or the value, its unit and what is accepted.
    """
    laid = dict(tables)
    for name, rows in overrides.items():
        if name not in tables:
            raise ValueError(f"rules.tables: no table {name!r}; tables: {', '.join(sorted(tables))}")
        if not isinstance(rows, dict):
            raise ValueError(f"rules.tables.{name}: {rows!r} is not a set of rows {{row: value}}")
        laid[name] = _with_rows(tables[name], rows)
    return laid


def _with_rows(table: Table, rows: Mapping[Any, Any]) -> Table:
    values = dict(table.values)
    touched = set(table.overridden)
    for written, value in rows.items():
        place = f"rules.tables.{table.name}"
        try:
            key = read_key(table.keys, str(written))
        except ValueError as fault:
            raise ValueError(f"{place}: row {written!r} is not a {table.keys}: {fault}") from None
        if table.keys == "name" and key not in values:
            accepted = ", ".join(repr(name) for name in values)
            raise ValueError(f"{place}: no row {written!r}; rows: {accepted}")
        values[key] = _checked(f"{place}.{written}", value, table.unit, values.get(key))
        touched.add(key)
    return replace(table, values=values, overridden=frozenset(touched))


def _checked(place: str, value: object, unit: str, stands: Value | None) -> Value:
    """Return the value if it has the shape of the one it replaces and is not negative."""
    if isinstance(stands, list):
        if isinstance(value, list) and value and all(_is_number(item) for item in value):
            return [float(item) for item in value]
        raise ValueError(f"{place}: {value!r} is not a list of numbers of 0 or more (unit: {unit})")
    if isinstance(value, int | float) and _is_number(value):
        return float(value)
    raise ValueError(f"{place}: {value!r} is not a number of 0 or more (unit: {unit})")


def _is_number(value: object) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool) and isfinite(value) and value >= 0
