"""Files of other versions: read, or refused in one line that says which version, which are read, what to do.

The files in ``older`` were written by the commits in their names: 27d7b78 and 09b5d57 are the first
that read and routed, 468461e came with the first records of hangers and drains, 2ae6152 with their terms,
5586c9d with routes that keep an older one. None of them says another version than 1.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest
import yaml
from typer.testing import CliRunner

import router
from router.cli import app
from router.deliver.any_route import read_any_route
from router.deliver.dxf import scenario_dxf
from router.deliver.ifc import scenario_ifc
from router.deliver.route_json import RouteError, read_route
from router.readers.dxf.mapping import read_dxf_mapping
from router.readers.ifc.mapping import read_mapping
from router.readers.tables.columns import read_columns
from router.scenario import ScenarioError, parse_scenario, read_scenario
from router.scenario.carried import settings_of, settings_text
from router.scenario.formats import COLUMNS, DRAWING_MAPPING, MODEL_MAPPING, ROUTE, SCENARIO, Format

if TYPE_CHECKING:
    from collections.abc import Callable

OLDER = Path(__file__).parent / "older"
MINIMAL = Path(__file__).parents[2] / "scenarios" / "minimal.json"
BEFORE_TERMS = {"09b5d57", "468461e"}

READERS: list[tuple[Format, Callable[[Path], Any], dict[str, Any]]] = [
    (SCENARIO, read_scenario, json.loads(MINIMAL.read_text(encoding="utf-8"))),
    (ROUTE, read_route, json.loads((OLDER / "route.5586c9d.json").read_text(encoding="utf-8"))),
    (MODEL_MAPPING, read_mapping, {"ceilings": True}),
    (DRAWING_MAPPING, read_dxf_mapping, {"layers": {"S": {"holds": "heads"}}}),
    (COLUMNS, read_columns, {"units": "m"}),
]
ALL = pytest.mark.parametrize(("what", "read", "data"), READERS, ids=[each[0].kind for each in READERS])


@pytest.mark.parametrize("file", sorted(OLDER.glob("scenario.*.json")), ids=lambda file: file.name)
def test_older_scenarios_are_read(file: Path) -> None:
    given, found = json.loads(file.read_text(encoding="utf-8")), read_scenario(file)
    assert [head.id for head in found.heads] == [head["id"] for head in given["heads"]]
    assert len(found.obstructions) == len(given.get("obstructions", []))
    assert found.version == 1


@pytest.mark.parametrize("file", sorted(OLDER.glob("route.*.json")), ids=lambda file: file.name)
def test_older_routes_are_read_whole_and_what_they_lack_is_said(file: Path) -> None:
    scenario = read_scenario(MINIMAL)
    found = read_any_route(scenario, file)
    again = json.loads(found.route.model_dump_json())
    for key, value in json.loads(file.read_text(encoding="utf-8")).items():
        if key in ("heads", "takeoffs", "pieces", "fittings"):
            assert again[key] == value
    if file.name.split(".")[1] in BEFORE_TERMS:
        assert "written by an older branch-router (0.1.0)" in found.warning
        assert "large_drain, wet_drain, price" in found.warning
        assert "Route again: branch-router route" in found.warning
    else:
        assert found.warning == ""


def test_the_command_says_what_an_older_route_lacks() -> None:
    result = CliRunner().invoke(app, ["check", str(MINIMAL), str(OLDER / "route.09b5d57.json")])
    assert "warning: " in result.output
    assert "older branch-router (0.1.0)" in result.output
    assert result.exit_code == 1  # never called clean: the referee misses terms


@ALL
def test_the_version_that_is_written_is_read(
    what: Format, read: Callable[[Path], Any], data: dict[str, Any], tmp_path: Path
) -> None:
    for more in ({}, {"format": what.name, "version": what.version}):
        given = {key: part for key, part in data.items() if key not in ("format", "version")}
        file = tmp_path / "given.json"
        file.write_text(json.dumps({**given, **more}), encoding="utf-8")
        found = read(file)
        assert (found.format, found.version) == (what.name, what.version)


@ALL
@pytest.mark.parametrize("version", [2, 99, 0, -1])
def test_another_version_is_refused_in_one_line(
    what: Format, read: Callable[[Path], Any], data: dict[str, Any], version: int, tmp_path: Path
) -> None:
    """Whatever else is new in it: nothing but its version is spoken of."""
    newer = {**data, "format": what.name, "version": version, "of_later": {"a": [1]}}
    for name, text in (("f.json", json.dumps(newer)), ("f.yaml", yaml.safe_dump(newer))):
        file = tmp_path / name
        file.write_text(text, encoding="utf-8")
        with pytest.raises(ScenarioError) as caught:
            read(file)
        (fault,) = caught.value.faults
        assert (fault.place, fault.value) == ("version", str(version))
        assert fault.line is not None
        assert f"branch-router {router.__version__} reads version 1" in fault.message
        assert what.noun in fault.message
        assert ("newer branch-router wrote" in fault.message) is (version > 1)
        assert len(str(caught.value).splitlines()) == 2


@ALL
@pytest.mark.parametrize("version", ["1", 1.5, True, None, [1]])
def test_a_version_is_a_whole_number(
    what: Format, read: Callable[[Path], Any], data: dict[str, Any], version: Any, tmp_path: Path
) -> None:
    file = tmp_path / "f.json"
    file.write_text(json.dumps({**data, "version": version}), encoding="utf-8")
    with pytest.raises(ScenarioError, match=r"version: .*a whole number expected; version 1"):
        read(file)


@ALL
def test_another_file_of_ours_is_named(
    what: Format, read: Callable[[Path], Any], data: dict[str, Any], tmp_path: Path
) -> None:
    file = tmp_path / "f.json"
    for kind in ("branch-drop-router/verdict", "somebody/else", 7):
        file.write_text(json.dumps({**data, "format": kind}), encoding="utf-8")
        with pytest.raises(ScenarioError, match=f'format: .*not a {what.noun}; "{what.name}" expected'):
            read(file)


@ALL
def test_an_unknown_field_of_a_known_version_is_named(
    what: Format, read: Callable[[Path], Any], data: dict[str, Any], tmp_path: Path
) -> None:
    file = tmp_path / "f.json"
    file.write_text(json.dumps({**data, "of_later": 1}), encoding="utf-8")
    with pytest.raises(ScenarioError, match=r"of_later: .*unknown field"):
        read(file)


def test_the_command_refuses_a_newer_route_and_tells_the_way_out(tmp_path: Path) -> None:
    data = json.loads((OLDER / "route.5586c9d.json").read_text(encoding="utf-8"))
    file = tmp_path / "r.json"
    file.write_text(json.dumps({**data, "version": 2}), encoding="utf-8")
    result = CliRunner().invoke(app, ["check", str(MINIMAL), str(file)])
    assert result.exit_code == 2
    assert "a newer branch-router wrote this route file" in result.output
    assert "route again: branch-router route SCENARIO -o ROUTE" in result.output
    with pytest.raises(RouteError):
        read_route(file)


def test_an_older_version_than_is_read_is_refused() -> None:
    """No format has gone beyond version 1 yet: one that has."""
    later = Format("route", 4, "route file", "route again", oldest=3)
    assert [later.reads(version) for version in (2, 3, 4, 5)] == [False, True, True, False]
    assert later.refusal(3) == ""
    assert later.refusal(2).startswith("too old a route file; branch-router ")
    assert later.refusal(2).endswith("reads version 3 to 4: route again")


def test_models_and_drawings_carry_the_version() -> None:
    scenario = parse_scenario(json.loads(MINIMAL.read_text(encoding="utf-8")))
    text = settings_text(scenario)
    assert settings_of(text)["version"] == 1
    assert r"\"version\":1" in scenario_ifc(scenario) or '"version":1' in scenario_ifc(scenario)
    assert '"version":1' in scenario_dxf(scenario)
    assert settings_of('{"name":"as 0.1.0 wrote it"}') == {"name": "as 0.1.0 wrote it"}
    with pytest.raises(ValueError, match="newer branch-router wrote this scenario file"):
        settings_of(text.replace('"version":1', '"version":2'))
