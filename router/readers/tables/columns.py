"""The file of columns: which column of a person's table is which field of ours, units, words, defaults."""

from __future__ import annotations

import difflib
from pathlib import Path
from typing import Any, Literal

from pydantic import BaseModel, ConfigDict, ValidationError
from pydantic import Field as Described

from router.readers.tables.fields import FIELDS, Kind, field_of
from router.scenario.errors import Fault, ScenarioError, place_text, value_text
from router.scenario.formats import COLUMNS, format_faults
from router.scenario.load import load

Value = bool | int | float | str


class _Given(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True, allow_inf_nan=False)


class TableColumns(_Given):
    """How to read one table.

    ``columns``: our field to the header in the table; fields that are not named
    are looked for by their own and their usual English names; a unit in brackets
    (``{"k_factor": "K [l/min/bar^0.5]"}``) holds where the table's own header has none.
    ``units``: of lengths whose header and cell name none. ``sheet``: of a workbook. ``skip_rows``:
    rows above the header. ``decimal`` and ``delimiter``: where they are not to be found out. ``words``:
    by field, the table's word to ours (``{"kind": {"hängend": "pendent"}}``). ``defaults``: by field, what an
    empty cell or a missing column means, as a cell would say it.
    """

    columns: dict[str, str] = Described(default_factory=dict)
    units: Literal["mm", "cm", "m", "in", "ft"] = "mm"
    sheet: str | None = None
    skip_rows: int = Described(default=0, ge=0)
    decimal: Literal["point", "comma"] | None = None
    delimiter: Literal[",", ";", "\t"] | None = None
    words: dict[str, dict[str, Value]] = Described(default_factory=dict)
    defaults: dict[str, Value] = Described(default_factory=dict)


class Columns(_Given):
    """The whole file. ``units``: for tables that do not give their own."""

    format: Literal["branch-drop-router/columns"] = "branch-drop-router/columns"
    version: Literal[1] = 1
    units: Literal["mm", "cm", "m", "in", "ft"] = "mm"
    heads: TableColumns = Described(default_factory=TableColumns)
    obstructions: TableColumns = Described(default_factory=TableColumns)
    pipes: TableColumns = Described(default_factory=TableColumns)

    def of(self, kind: Kind) -> TableColumns:
        """Give how to read one of the tables."""
        table: TableColumns = getattr(self, kind)
        return table if "units" in table.model_fields_set else table.model_copy(update={"units": self.units})


def read_columns(path: str | Path) -> Columns:
    """Read a file of columns.

    Parameters
    ----------
    path
        JSON or YAML.

    Returns
    -------
    Columns

    Raises
    ------
    ScenarioError
        With every fault by place and line.
    """
    file = Path(path)
    document = load(file)
    faults = [fault for _, fault in document.faults]
    data = document.data
    if not isinstance(data, dict):
        message = "an object with heads, obstructions or pipes expected"
        raise ScenarioError([Fault("(file)", "", value_text(data), "", message, 1)], str(file))
    wrong = format_faults(data, COLUMNS, document.line)
    if wrong:
        raise ScenarioError(wrong, str(file))
    columns = Columns()
    try:
        columns = Columns.model_validate(data, strict=True)
    except ValidationError as error:
        seen = set()
        for one in error.errors(include_url=False):
            found = tuple(part for part in one["loc"] if part not in ("bool", "int", "float", "str"))
            if found in seen:
                continue
            seen.add(found)
            value = "" if one["type"] in ("missing", "extra_forbidden") else value_text(one["input"])
            faults.append(Fault(place_text(found), "", value, "", _message(one, found), document.line(found)))
    else:
        faults += [
            Fault(place_text(found), "", "", "", message, document.line(found))
            for found, message in _unknown(columns)
        ]
    if faults:
        raise ScenarioError(faults, str(file))
    return columns


def _message(error: Any, path: tuple[str | int, ...]) -> str:
    kind = error["type"]
    if kind == "extra_forbidden":
        known = list((Columns if len(path) == 1 else TableColumns).model_fields)
        near = difflib.get_close_matches(str(path[-1])[:40], known, 1)
        return (
            f"unknown field; did you mean {near[0]}?" if near else f"unknown field; known: {', '.join(known)}"
        )
    if kind == "literal_error":
        return f"not accepted; {error['ctx']['expected']} expected"
    words = {
        "string_type": "text expected",
        "bool_type": "text, a number, true or false expected",
        "int_type": "a whole number expected",
        "dict_type": "an object expected",
        "model_type": "an object expected",
        "greater_than_equal": "0 or more expected",
    }
    return words.get(kind, str(error["msg"]).lower())


def _unknown(columns: Columns) -> list[tuple[tuple[str | int, ...], str]]:
    """Find names of fields that are none."""
    faults: list[tuple[tuple[str | int, ...], str]] = []
    for kind in FIELDS:
        table: TableColumns = getattr(columns, kind)
        known = [field.name for field in FIELDS[kind]]
        for part in ("columns", "words", "defaults"):
            for name in getattr(table, part):
                if field_of(kind, name) is None:
                    near = difflib.get_close_matches(name[:40], known, 1)
                    hint = f"did you mean {near[0]}?" if near else f"known: {', '.join(known)}"
                    faults.append(((kind, part, name), f"no field of {kind}; {hint}"))
        for name, header in table.columns.items():
            if not header.strip():
                faults.append(((kind, "columns", name), "the header of a column expected"))
    return faults
