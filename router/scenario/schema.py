"""The published JSON Schema of a scenario file, derived from the records."""

from __future__ import annotations

import inspect
import json
from typing import Any

from pydantic import BaseModel

from router.scenario import model
from router.scenario.model import Scenario
from router.scenario.units import is_length, unit_of

DIALECT = "https://json-schema.org/draft/2020-12/schema"

_SIZE: dict[str, Any] = {
    "anyOf": [{"type": "integer"}, {"type": "string"}],
    "description": 'Nominal size: DN as a number, or text such as "DN32", "1-1/4 in.".',
}


def scenario_schema() -> dict[str, Any]:
    """Give the JSON Schema (draft 2020-12) of a scenario file.

    Returns
    -------
    dict
        Every length says so in its description and names the unit of its default.
    """
    schema = Scenario.model_json_schema(mode="validation")
    records = schema.get("$defs", {})
    for name, record in inspect.getmembers(model, _is_record):
        target = schema if record is Scenario else records.get(name)
        if target is not None:
            _describe(record, target)
    return {"$schema": DIALECT, **schema}


def _is_record(value: object) -> bool:
    return inspect.isclass(value) and issubclass(value, BaseModel)


def _describe(record: type[BaseModel], target: dict[str, Any]) -> None:
    if record.__doc__:
        target["description"] = inspect.cleandoc(record.__doc__)
    for name, info in record.model_fields.items():
        entry = target["properties"][name]
        if name in {"thread", "arm_size"}:
            entry.pop("type", None)
            entry.update(_SIZE)
        elif name == "size":
            entry.pop("const", None)
            entry.update(_SIZE)
            entry["description"] += ' Or "schedule".'
        elif is_length(info):
            default = " The default is in mm." if info.default is not None and not info.is_required() else ""
            entry["description"] = f"Length, in the file's units.{default}"
        else:
            unit = unit_of(info, name, "")
            if unit:
                entry["description"] = f"In {unit}."


def schema_text(schema: dict[str, Any]) -> str:
    """Give a schema as text, the same text every time.

    Returns
    -------
    str
    """
    return json.dumps(schema, indent=2, sort_keys=True, ensure_ascii=False) + "\n"
