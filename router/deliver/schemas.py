"""The JSON Schema (draft 2020-12) of every JSON file of ours, by the name in its ``format``."""

from __future__ import annotations

import copy
from typing import TYPE_CHECKING, Any, Final

from router.alternatives.records import Alternatives
from router.check import Verdict
from router.check.findings import RuleInForce
from router.compare import Comparison
from router.deliver import keep, told_json, verdict_json
from router.explain import Explained, HeadReasons, RunReasons
from router.readers.dxf.mapping import DxfMapping
from router.readers.ifc.mapping import Mapping as ModelMapping
from router.readers.tables.columns import Columns
from router.route.kept import Kept
from router.route.schema import route_schema
from router.scenario.schema import DIALECT, scenario_schema

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from pydantic import BaseModel

Json = dict[str, Any]

_TEXT: Final[Json] = {"type": "string"}
_WHOLE: Final[Json] = {"type": "integer"}
_COUNTS: Final[Json] = {"type": "object", "additionalProperties": _WHOLE}


def _marks(name: str, version: int) -> Json:
    return {"format": {"const": name}, "version": {"const": version}}


def _written(record: type[BaseModel]) -> Json:
    return {"$schema": DIALECT, **record.model_json_schema(mode="serialization")}


def _read(record: type[BaseModel]) -> Json:
    return {"$schema": DIALECT, **record.model_json_schema(mode="validation")}


def _with(schema: Json, more: Mapping[str, Json], needed: tuple[str, ...] = ()) -> Json:
    """Add fields, all of them needed, before the others."""
    out = copy.deepcopy(schema)
    out["properties"] = {**copy.deepcopy(dict(more)), **out["properties"]}
    out["required"] = [*more, *(key for key in out.get("required", []) if key not in more), *needed]
    return out


def verdict_schema() -> Json:
    """Of ``check --json``: the findings, how many of each kind, and the rules if they are asked for."""
    schema = _with(
        _written(Verdict),
        {
            **_marks(verdict_json.FORMAT, verdict_json.VERSION),
            "caution": _TEXT,
            "clean": {"type": "boolean"},
            "exit_code": {"enum": [0, 1]},
            "findings_by_severity": _COUNTS,
            "breaks_by_rule": _COUNTS,
        },
    )
    rule = RuleInForce.model_json_schema(mode="serialization")
    schema["$defs"] = {**schema.get("$defs", {}), **rule.pop("$defs", {}), "RuleInForce": rule}
    schema["properties"]["rules_in_force"] = {"type": "array", "items": {"$ref": "#/$defs/RuleInForce"}}
    return schema


def changes_schema() -> Json:
    """Of ``route --keep OLD --changes FILE``."""
    return _with(_written(Kept), _marks(keep.FORMAT, keep.VERSION))


def reasons_schema() -> Json:
    """Of ``explain --json``: of a head, of a run, of both, or of a whole route."""
    marks = _marks(told_json.REASONS, told_json.VERSION)
    of_all = Explained.model_json_schema(mode="serialization")
    records = of_all.pop("$defs")
    both = {
        "type": "object",
        "properties": {
            "head": {"$ref": f"#/$defs/{HeadReasons.__name__}"},
            "run": {"$ref": f"#/$defs/{RunReasons.__name__}"},
        },
        "required": ["head", "run"],
        "additionalProperties": False,
    }
    kinds = [records[HeadReasons.__name__], records[RunReasons.__name__], both, of_all]
    return {"$schema": DIALECT, "$defs": records, "anyOf": [_with(kind, marks) for kind in kinds]}


def times_schema() -> Json:
    """Of ``route --times``: seconds by phase."""
    seconds = {"type": "object", "additionalProperties": {"type": "number", "minimum": 0}}
    empty: Json = {"$schema": DIALECT, "type": "object", "properties": {}, "additionalProperties": False}
    return _with(empty, {**_marks(told_json.TIMES, told_json.VERSION), "seconds": seconds})


SCHEMAS: Final[Mapping[str, Callable[[], Json]]] = {
    "scenario": scenario_schema,
    "route": route_schema,
    "verdict": verdict_schema,
    "changes": changes_schema,
    "comparison": lambda: _written(Comparison),
    "alternatives": lambda: _written(Alternatives),
    "reasons": reasons_schema,
    "times": times_schema,
    "model-mapping": lambda: _read(ModelMapping),
    "drawing-mapping": lambda: _read(DxfMapping),
    "columns": lambda: _read(Columns),
}
"""Name in ``format``, behind ``branch-drop-router/`` -> its schema."""


def version_of(schema: Json) -> int:
    """Give the version that a schema is of."""
    part = schema.get("properties") or schema["anyOf"][0]["properties"]
    return int(part["version"]["const"])
