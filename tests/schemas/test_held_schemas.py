"""The files that others keep and read do not change by accident."""

from __future__ import annotations

import copy
import json
from typing import TYPE_CHECKING, Any

import jsonschema
import pytest

from router.alternatives import find_front, two_terms
from router.building.route import route_scenario
from router.building.stop import Stop
from router.check import check_route, rules_in_force
from router.compare import compare
from router.deliver.alternatives import alternatives_text
from router.deliver.compare_json import comparison_text
from router.deliver.keep import changes_text
from router.deliver.route_json import route_text
from router.deliver.schemas import SCHEMAS, version_of
from router.deliver.told_json import reasons_text, times_text
from router.deliver.verdict_json import verdict_text
from router.explain import explain_head, explain_route, explain_run
from router.scenario import parse_scenario
from router.scenario.write import scenario_text
from schemas.held import HERE, bare, now

if TYPE_CHECKING:
    from collections.abc import Iterator

WHAT_TO_DO = (
    "If an older file is now read otherwise or refused, or an older reader refuses what is now written: "
    "raise `version` of this format, and see to it that the older version is read, or refused in one clear "
    "line (router/scenario/formats.py). Then, in any case: `python tests/schemas/renew.py`, and a line in "
    "CHANGELOG.md."
)
HEAD = {"at": [1000, 300, 2700], "id": "H1"}
GIVEN: dict[str, Any] = {
    "name": "held",
    "runs": [{"id": "B", "plan": [[0, 0], [6000, 0]], "elevation": 3200, "size": 25}],
    "heads": [HEAD, {"at": [5000, -400, 2700], "id": "H2"}],
    "obstructions": [
        {
            "id": "D",
            "polygon": [[2000, -900], [2300, -900], [2300, 900], [2000, 900]],
            "elevations": [3150, 3400],
        }
    ],
}


@pytest.fixture(scope="module")
def held() -> dict[str, Any]:
    return now()


@pytest.mark.parametrize("name", [*SCHEMAS, "tables"])
def test_nothing_changed_unnoticed(held: dict[str, Any], name: str) -> None:
    file = next(one for one in held if one.startswith(f"{name}."))
    path = HERE / file
    assert path.exists(), f"{file} is not held yet. {WHAT_TO_DO}"
    kept = json.loads(path.read_text(encoding="utf-8"))
    differing = sorted(_differences(kept, json.loads(json.dumps(held[file])), ""))
    assert not differing, f"{file} differs from what is written now at {differing[:8]}. {WHAT_TO_DO}"


def _differences(old: Any, new: Any, at: str) -> Iterator[str]:
    if isinstance(old, dict) and isinstance(new, dict):
        for key in {*old, *new}:
            if key not in old or key not in new:
                yield f"{at}/{key}"
            else:
                yield from _differences(old[key], new[key], f"{at}/{key}")
    elif old != new:
        yield at or "/"


def test_a_change_is_seen_and_named() -> None:
    old = bare(SCHEMAS["route"]())
    new = copy.deepcopy(old)
    new["$defs"]["Piece"]["properties"]["dn"] = {"type": "string"}
    del new["properties"]["seed"]
    seen = set(_differences(old, new, ""))
    assert {"/properties/seed", "/$defs/Piece/properties/dn/type"} <= seen
    texts = copy.deepcopy(SCHEMAS["route"]())
    texts["description"] = "Said better."
    assert not list(_differences(old, bare(texts), ""))


def test_every_schema_names_its_format_and_version() -> None:
    for name, make in SCHEMAS.items():
        schema = make()
        jsonschema.Draft202012Validator.check_schema(schema)
        for part in schema.get("anyOf", [schema]):
            assert part["properties"]["format"]["const"] == f"branch-drop-router/{name}"
            assert part["properties"]["version"]["const"] == version_of(schema)
            assert part["additionalProperties"] is False


@pytest.fixture(scope="module")
def written() -> dict[str, list[str]]:
    """Give real files of every kind."""
    scenario = parse_scenario(GIVEN)
    route, solution = route_scenario(scenario)
    beam = {
        **GIVEN["obstructions"][0],
        "id": "E",
        "polygon": [[3500, -900], [3800, -900], [3800, 900], [3500, 900]],
        "elevations": [2600, 3350],
    }
    later = parse_scenario({**GIVEN, "obstructions": [*GIVEN["obstructions"], beam]})
    kept, _ = route_scenario(later, keep=route)
    assert kept.kept is not None
    assert kept.kept.changes
    verdict = check_route(scenario, route)
    unhappy = check_route(later, route)
    assert unhappy.breaks
    some = explain_head(scenario, route, "H1", Stop()), explain_run(scenario, route, "B", Stop())
    front = find_front(scenario, two_terms("fittings,level_changes"), 2, Stop(), lambda _: None)
    return {
        "scenario": [scenario_text(scenario)],
        "route": [route_text(route), route_text(kept)],
        "verdict": [verdict_text(verdict), verdict_text(unhappy, rules_in_force(later))],
        "changes": [changes_text(kept.kept, ".json")],
        "comparison": [comparison_text(compare(scenario, [("a", route), ("b", route)]))],
        "alternatives": [alternatives_text(front.record)],
        "reasons": [
            reasons_text(explain_route(scenario, route, Stop())),
            reasons_text(some[:1]),
            reasons_text(some[1:]),
            reasons_text(some),
        ],
        "times": [times_text(solution.seconds)],
    }


@pytest.mark.parametrize(
    "name", ["scenario", "route", "verdict", "changes", "comparison", "alternatives", "reasons", "times"]
)
def test_what_is_written_is_what_the_schema_says(written: dict[str, list[str]], name: str) -> None:
    """By jsonschema, the reference implementation of the standard in Python."""
    validator = jsonschema.Draft202012Validator(SCHEMAS[name]())
    for text in written[name]:
        data = json.loads(text)
        validator.validate(data)
        assert list(data)[:2] == ["format", "version"]
        for field in data:
            if field != "kept":  # of a route that keeps none
                less = {key: value for key, value in data.items() if key != field}
                optional = field not in _needed(name)
                assert validator.is_valid(less) is optional, field
        assert not validator.is_valid({**data, "version": 2})
        assert not validator.is_valid({**data, "unheard_of": 1})


def _needed(name: str) -> set[str]:
    schema = SCHEMAS[name]()
    return {field for part in schema.get("anyOf", [schema]) for field in part["required"]}
