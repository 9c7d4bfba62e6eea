from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any

import jsonschema
import pytest

from router.route.schema import route_schema
from router.scenario import parse_scenario, scenario_schema, schema_text
from router.scenario.write import scenario_data

if TYPE_CHECKING:
    from pathlib import Path

SCENARIOS = "scenarios"


@pytest.fixture(scope="module")
def validator() -> jsonschema.Draft202012Validator:
    """Check the schema against its own meta-schema (JSON Schema draft 2020-12) first."""
    schema = scenario_schema()
    jsonschema.Draft202012Validator.check_schema(schema)
    return jsonschema.Draft202012Validator(schema)


def test_schema_accepts_what_the_reader_accepts(
    validator: jsonschema.Draft202012Validator, small: dict[str, Any]
) -> None:
    validator.validate(small)
    validator.validate(scenario_data(parse_scenario(small)))


def test_schema_accepts_the_projects_scenarios(
    validator: jsonschema.Draft202012Validator, request: pytest.FixtureRequest
) -> None:
    folder: Path = request.config.rootpath / SCENARIOS
    files = sorted(folder.glob("**/*.json"))
    if not files:
        pytest.skip("no scenarios yet")
    for file in files:
        data = json.loads(file.read_text())
        if str(data.get("format", "")).endswith("/scenario") or "runs" in data:
            validator.validate(data)


@pytest.mark.parametrize(
    ("part", "value"),
    [
        ("units", "cm"),
        ("heads", []),
        ("surprise", 1),
        ("runs", [{"id": "B", "plan": [[0]], "elevation": 3}]),
        ("heads", [{"id": "H", "at": ["1", 2, 3]}]),
    ],
)
def test_schema_refuses_what_the_reader_refuses(
    validator: jsonschema.Draft202012Validator, small: dict[str, Any], part: str, value: Any
) -> None:
    assert not validator.is_valid(small | {part: value})


def test_schema_text_is_the_same_every_time_and_tells_units() -> None:
    assert schema_text(scenario_schema()) == schema_text(scenario_schema())
    records = scenario_schema()["$defs"]
    assert "file's units" in records["Run"]["properties"]["elevation"]["description"]
    assert records["Rules"]["properties"]["clearance"]["description"].endswith("The default is in mm.")
    assert records["System"]["properties"]["pitch_branch"]["description"] == "In mm/m."
    assert records["Head"]["properties"]["facing"]["description"] == "In deg."


def test_route_schema_is_a_schema() -> None:
    schema = route_schema()
    jsonschema.Draft202012Validator.check_schema(schema)
    assert schema_text(schema) == schema_text(route_schema())
    assert {"scenario", "status", "objective", "pieces", "fittings"} <= set(schema["required"])
