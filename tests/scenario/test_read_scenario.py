from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any

import pytest
import yaml

from router.scenario import (
    ScenarioError,
    dump_scenario,
    notes,
    parse_scenario,
    read_scenario,
    validate,
)

if TYPE_CHECKING:
    from pathlib import Path

MINIMAL = """{
  "name": "first try",
  "units": "m",
  "runs": [
    {"id": "B1", "plan": [[0, 0], [12.1, 0]], "elevation": 3.1}
  ],
  "heads": [
    {"id": "H1", "at": [1, 1, 2.7]},
    {"id": "H2", "at": [4, 1, 2.7]},
    {"id": "H3", "at": [7, -1, 2.7]},
    {"id": "H4", "at": [10, 1, 2.7]}
  ],
  "obstructions": [
    {"id": "beam 1", "polygon": [[2, -3], [2.2, -3], [2.2, 3], [2, 3]], "elevations": [2.9, 3.4]},
    {"id": "beam 2", "polygon": [[6, -3], [6.2, -3], [6.2, 3], [6, 3]], "elevations": [2.9, 3.4]}
  ],
  "rules": {
    "clearance": 0.05
  }
}
"""


def test_minimal_scenario_of_twenty_lines(tmp_path: Path) -> None:
    assert len(MINIMAL.splitlines()) <= 20
    file = tmp_path / "first.json"
    file.write_text(MINIMAL)
    scenario = read_scenario(file)
    assert scenario.units == "mm"
    # exact: neither 12100.000000000002 nor 3099.9999999999995
    assert scenario.runs[0].plan == [(0.0, 0.0), (12100.0, 0.0)]
    assert scenario.runs[0].elevation == 3100.0
    assert scenario.obstructions[0].elevations == (2900.0, 3400.0)
    assert scenario.rules.clearance == 50.0
    assert scenario.rules.reach == 4500.0, "defaults are mm already"
    assert scenario.runs[0].size == "schedule"
    assert notes(scenario) == []


@pytest.mark.parametrize(
    ("unit", "mm"),
    # The inch is 25.4 mm exactly, the foot 12 of them (international yard and pound agreement, 1959).
    [("mm", 1.0), ("m", 1000.0), ("in", 25.4), ("ft", 304.8)],
)
def test_every_length_is_converted_and_nothing_else(small: dict[str, Any], unit: str, mm: float) -> None:
    in_mm = parse_scenario(
        small
        | {
            "rules": {"clearance": 50.8, "hose_lengths": [609.6, 914.4], "square_tolerance_deg": 3},
            "system": {"pitch_branch": 4},
            "pins": {
                "heads": {"H1": {"stations": [304.8, 609.6]}},
                "runs": {"B": {"level": 3048}},
            },
        }
    )

    def scaled(value: Any) -> Any:
        return [scaled(v) for v in value] if isinstance(value, list) else value / mm

    data = json.loads(json.dumps(small))
    data["units"] = unit
    for run in data["runs"]:
        run["plan"], run["elevation"] = scaled(run["plan"]), scaled(run["elevation"])
    for head in data["heads"]:
        head["at"] = scaled(head["at"])
    for item in data["obstructions"]:
        item["polygon"], item["elevations"] = scaled(item["polygon"]), scaled(item["elevations"])
    for item in data["ceilings"]:
        item["polygon"], item["elevation"] = scaled(item["polygon"]), scaled(item["elevation"])
    data["rules"] = {
        "clearance": scaled(50.8),
        "hose_lengths": scaled([609.6, 914.4]),
        "square_tolerance_deg": 3,
    }
    data["system"] = {"pitch_branch": 4}
    data["pins"] = {
        "heads": {"H1": {"stations": scaled([304.8, 609.6])}},
        "runs": {"B": {"level": scaled(3048)}},
    }
    assert parse_scenario(data) == in_mm
    assert in_mm.system.pitch_branch == 4
    assert in_mm.pins.runs["B"].level == 3048


def test_yaml_says_the_same_as_json(small: dict[str, Any], tmp_path: Path) -> None:
    file = tmp_path / "small.yaml"
    file.write_text(yaml.safe_dump(small))
    assert read_scenario(file) == parse_scenario(small)
    no_suffix = tmp_path / "small"
    no_suffix.write_text(yaml.safe_dump(small))
    assert read_scenario(no_suffix) == parse_scenario(small)
    no_suffix.write_text(json.dumps(small))
    assert read_scenario(no_suffix) == parse_scenario(small)


def test_yaml_core_schema(tmp_path: Path) -> None:
    file = tmp_path / "a.yaml"
    file.write_text(
        "name: no\nruns: [{id: B, plan: [[0, 0], [1e4, 0]], elevation: 3e3}]\n"
        "heads: [{id: on, at: [1.0e+3, 0, 2_700]}]\n"
    )
    _, faults, _ = validate(file)
    assert [(f.place, f.item, f.value) for f in faults] == [("heads[0].at[2]", "head on", '"2_700"')]
    file.write_text(file.read_text().replace("2_700", "2700"))
    assert read_scenario(file).name == "no"


@pytest.mark.parametrize("suffix", [".json", ".yaml"])
def test_written_file_reads_back_and_is_repeatable(
    small: dict[str, Any], tmp_path: Path, suffix: str
) -> None:
    scenario = parse_scenario(small | {"weights": {"pipe": 12.5}, "story": "zwölf Köpfe"})
    first, second = tmp_path / f"1{suffix}", tmp_path / f"2{suffix}"
    dump_scenario(scenario, first)
    dump_scenario(read_scenario(first), second)
    assert read_scenario(first) == scenario
    assert first.read_bytes() == second.read_bytes()
    assert sorted(p.name for p in tmp_path.iterdir()) == [first.name, second.name]


def test_a_write_that_fails_leaves_the_old_file(
    small: dict[str, Any], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    file = tmp_path / "s.json"
    file.write_text("old")

    def refuse(*_: object) -> None:
        raise OSError("disk full")

    monkeypatch.setattr("os.replace", refuse)
    with pytest.raises(OSError, match="disk full"):
        dump_scenario(parse_scenario(small), file)
    assert file.read_text() == "old"
    assert [p.name for p in tmp_path.iterdir()] == ["s.json"]


def test_validate_gives_scenario_or_faults(small_file: Path) -> None:
    scenario, faults, remarks = validate(small_file)
    assert scenario is not None
    assert (faults, remarks) == ([], [])
    small_file.write_text(small_file.read_text().replace('"H2"', '"H1"'))
    scenario, faults, remarks = validate(small_file)
    assert scenario is None
    assert len(faults) == 1


@pytest.mark.parametrize(
    ("text", "line", "message"),
    [
        ('{"name": "a",\n "runs": [1,]\n}', 2, "not valid JSON"),
        ('{"name": "a"\n "runs": []}', 2, "not valid JSON"),
        ("", None, "empty"),
        ("[1, 2]", 1, "one object"),
        ('{"a":' + "[" * 100_000, 1, "nested too deep; at most 40"),
        ("name: a\nruns: [\n", 3, "not valid YAML"),
        ("a: &a [1,1]\nb: &b [*a,*a,*a,*a,*a,*a,*a,*a]\n" + "".join(
            f"{chr(c + 1)}: &{chr(c + 1)} [{','.join(['*' + chr(c)] * 8)}]\n" for c in range(98, 108)
        ), None, "too many values"),
    ],
    ids=["comma", "no comma", "empty", "list", "deep", "yaml", "aliases"],
)  # fmt: skip
def test_files_that_are_no_scenario(tmp_path: Path, text: str, line: int | None, message: str) -> None:
    file = tmp_path / "scenario"
    file.write_text(text)
    with pytest.raises(ScenarioError, match=message) as caught:
        read_scenario(file)
    assert len(caught.value.faults) == 1
    if line is not None:
        assert caught.value.faults[0].line == line


def test_files_that_cannot_be_read(tmp_path: Path) -> None:
    with pytest.raises(ScenarioError, match=r"none\.json.*\n.*cannot be read: No such file"):
        read_scenario(tmp_path / "none.json")
    with pytest.raises(ScenarioError, match="cannot be read"):
        read_scenario(tmp_path)
    binary = tmp_path / "binary.json"
    binary.write_bytes(b'{"name": "\xff"}')
    with pytest.raises(ScenarioError, match=r"0xff: is not UTF-8 text \(byte 10\)"):
        read_scenario(binary)


def test_yaml_tags_are_refused(tmp_path: Path) -> None:
    file = tmp_path / "a.yaml"
    file.write_text("name: !!python/object/apply:os.getcwd []\nruns: []\nheads: []\n")
    _, faults, _ = validate(file)
    assert any(fault.place == "name" for fault in faults)
    file.write_text("name: !secret x\nruns: []\nheads: []\n")
    _, faults, _ = validate(file)
    assert any("tags are not accepted" in fault.message and fault.value == "!secret" for fault in faults)


def test_duplicate_keys_and_numbers_that_are_none(tmp_path: Path) -> None:
    file = tmp_path / "a.json"
    file.write_text(
        '{"name": "a", "runs": [{"id": "B", "plan": [[0,0],[9000,0]],\n'
        '  "elevation": 3000,\n  "elevation": 3100}],\n'
        ' "heads": [{"id": "H", "at": [1, NaN, 2700]},\n  {"id": "I", "at": [1, 2, 1e999]}]}'
    )
    _, faults, _ = validate(file)
    assert [(f.line, f.place, f.item, f.value) for f in faults] == [
        (3, "runs[0].elevation", "run B", '"elevation"'),
        (4, "heads[0].at[1]", "head H", "nan"),
        (5, "heads[1].at[2]", "head I", "inf"),
    ]
    as_yaml = tmp_path / "a.yaml"
    as_yaml.write_text(
        "name: a\nruns: [{id: B, plan: [[0,0],[9000,0]], elevation: 3000, elevation: 3100}]\n"
        "heads: [{id: H, at: [1, .nan, 2700]}]\n"
    )
    _, faults, _ = validate(as_yaml)
    assert [(f.line, f.place) for f in faults] == [(2, "runs[0].elevation"), (3, "heads[0].at[1]")]


def test_a_fault_that_shows_late_still_has_its_line(tmp_path: Path) -> None:
    file = tmp_path / "late.json"
    file.write_text(MINIMAL.replace('"at": [7, -1, 2.7]', '"at": [7, -1, 2.7], "run": "B9"'))
    with pytest.raises(ScenarioError) as error:
        read_scenario(file)
    assert [fault.line for fault in error.value.faults] == [10]


@pytest.mark.parametrize("number", ["NaN", "1e999", "-Infinity", "1" + "0" * 400])
def test_a_number_that_is_none_has_its_line(tmp_path: Path, number: str) -> None:
    file = tmp_path / "odd.json"
    file.write_text(MINIMAL.replace("[7, -1, 2.7]", f"[7, {number}, 2.7]"))
    with pytest.raises(ScenarioError) as error:
        read_scenario(file)
    assert any(fault.line == 10 and "finite" in str(fault.message) for fault in error.value.faults)
