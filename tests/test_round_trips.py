"""What goes out as IFC or DXF comes in again as it was, by the commands that people use.

ISO 16739 (IFC4) and DXF are open formats; IfcOpenShell and ezdxf read and write them.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING, Any

import ifcopenshell
import pytest
from same_scenario import differences
from typer.testing import CliRunner

from router.building.route import route_scenario
from router.cli import app
from router.deliver.route_json import read_route, write_route
from router.scenario import read_scenario
from router.scenario.write import scenario_data

if TYPE_CHECKING:
    from router.route.model import Route

ROOT = Path(__file__).parents[1]
FILES = sorted((ROOT / "scenarios").rglob("*.json"))
FORMATS = ("ifc", "dxf")


def run(*args: object) -> str:
    result = CliRunner(env={"COLUMNS": "200"}).invoke(app, [str(arg) for arg in args])
    assert result.exit_code == 0, result.output
    return result.output


@pytest.fixture(scope="module", params=FILES, ids=lambda path: path.stem)
def file(request: pytest.FixtureRequest) -> Path:
    return Path(request.param)


@pytest.fixture(scope="module")
def route(file: Path) -> Route:
    return route_scenario(read_scenario(file))[0]


@pytest.mark.parametrize("ending", FORMATS)
def test_a_scenario_comes_in_as_it_went_out(file: Path, ending: str, tmp_path: Path) -> None:
    out, back = tmp_path / f"out.{ending}", tmp_path / "back.json"
    run("export", file, "-o", out)
    run("import", ending, out, "-o", back)
    assert not differences(read_scenario(file), read_scenario(back))
    assert not (tmp_path / "back_drawn.csv").exists(), "there is no route in a scenario"


@pytest.mark.parametrize("ending", FORMATS)
def test_what_came_from_a_model_is_still_known(ending: str, tmp_path: Path) -> None:
    """GlobalIds (ISO 16739) of heads and obstructions go through every format, parts of one element too."""
    data = scenario_data(read_scenario(ROOT / "scenarios" / "minimal.json"))
    for k, head in enumerate(data["heads"]):
        head["guid"] = f"0OneOfTheHeads0000000{k % 10}"
    for item in data["obstructions"]:
        item["guid"] = "0OneBodyOfSeveralParts"
    assert data["obstructions"]
    given, out, back = tmp_path / "given.json", tmp_path / f"out.{ending}", tmp_path / "back.json"
    given.write_text(json.dumps(data), encoding="utf-8")
    run("export", given, "-o", out)
    run("import", ending, out, "-o", back)
    assert not differences(read_scenario(given), read_scenario(back))
    assert [item.guid for item in read_scenario(back).obstructions] == [
        i["guid"] for i in data["obstructions"]
    ]


@pytest.mark.parametrize("ending", FORMATS)
def test_a_route_comes_in_with_the_same_counts(file: Path, route: Route, ending: str, tmp_path: Path) -> None:
    """The route as a model, read as a drawing of straight pipes whose fittings are inferred."""
    ours, out, back, drawn = (tmp_path / name for name in ("r.json", f"out.{ending}", "b.json", "d.json"))
    write_route(route, ours)
    run("export", file, ours, "-o", out)
    run("import", ending, out, "-o", back)
    run("infer", file, tmp_path / "b_drawn.csv", "-o", drawn)
    found = read_route(drawn).counts
    assert found.fittings == route.counts.fittings
    assert found.pipe_m == pytest.approx(route.counts.pipe_m, abs=0.01)
    same = ("served", "fittings_counted", "takeoff_fittings", "reducers", "level_changes", "styles", "hoses")
    assert {key: getattr(found, key) for key in same} == {key: getattr(route.counts, key) for key in same}


def test_a_model_of_another_program_gives_the_same_counts(file: Path, route: Route, tmp_path: Path) -> None:
    """Without our property sets and axes: bodies and ports alone tell lines, arms and sizes."""
    names = ("r.json", "o.ifc", "bare.ifc", "b.json", "d.json")
    ours, out, bare, back, drawn = (tmp_path / name for name in names)
    write_route(route, ours)
    run("export", file, ours, "-o", out)
    model: Any = ifcopenshell.open(str(out))
    for each in model.by_type("IfcPropertySet"):
        if each.Name.startswith("BranchRouter_"):
            model.remove(each)
    for each in model.by_type("IfcRelDefinesByProperties"):
        if each.RelatingPropertyDefinition is None:
            model.remove(each)
    for each in model.by_type("IfcShapeRepresentation"):
        if each.RepresentationIdentifier == "Axis":
            model.remove(each)
    model.write(str(bare))
    run("import", "ifc", bare, "-o", back)
    run("infer", file, tmp_path / "b_drawn.csv", "-o", drawn)
    found = read_route(drawn).counts
    same = ("served", "fittings", "takeoff_fittings", "level_changes", "styles", "hoses")
    assert {key: getattr(found, key) for key in same} == {key: getattr(route.counts, key) for key in same}
