"""Every command and every exit code, in this process."""

from __future__ import annotations

import json
import re
import xml.etree.ElementTree as ET
from pathlib import Path
from typing import TYPE_CHECKING, Any

import jsonschema
import pytest

from router.check import Finding, Verdict, check_route
from router.cli import finding
from router.deliver.route_json import read_route, route_text

if TYPE_CHECKING:
    from collections.abc import Callable

    from typer.testing import Result

    from router.route.model import Route
    from router.scenario.model import Scenario

    Run = Callable[..., Result]


def write(folder: Path, data: Any, name: str = "scenario.json") -> Path:
    file = folder / name
    file.write_text(json.dumps(data, indent=1), encoding="utf-8")
    return file


def test_validate_says_what_is_in_it(run: Run, minimal: Path) -> None:
    result = run("validate", minimal)
    assert result.exit_code == 0
    assert "no fault" in result.output
    assert "3 pendent" in result.output
    assert "1 beam" in result.output


def test_validate_prints_notes(run: Run, tmp_path: Path, minimal_data: dict[str, Any]) -> None:
    minimal_data["system"] = {"heated": False}
    result = run("validate", write(tmp_path, minimal_data))
    assert result.exit_code == 0
    assert "note: a wet system that is not heated may freeze" in result.output


def test_validate_names_all_faults_at_once(run: Run, tmp_path: Path, minimal_data: dict[str, Any]) -> None:
    minimal_data["units"] = "m"
    minimal_data["runs"][0]["elevation"] = "3.2"
    minimal_data["runs"].append({"id": "B2", "plan": [[0, 3], [9, 3]], "elevation": 3.2})
    minimal_data["heads"][1]["run"] = "Q9"
    minimal_data["heads"][2]["thred"] = 15
    result = run("validate", write(tmp_path, minimal_data))
    assert result.exit_code == 2
    lines = result.output.splitlines()
    place = next(line for line in lines if "runs[0].elevation" in line)
    assert "run B1" in place
    assert '"3.2" m' in place
    assert "line " in place
    assert any("head H2" in line and "Q9" in line for line in lines)
    assert any("heads[2].thred" in line and "did you mean thread" in line for line in lines)


@pytest.mark.parametrize("of", ["scenario", "route"])
def test_schema_accepts_our_own_files(run: Run, of: str, tmp_path: Path, minimal: Path, routed: Path) -> None:
    printed = run("schema", of)
    assert printed.exit_code == 0
    assert run("schema", of, "-o", tmp_path / "schema.json").exit_code == 0
    text = (tmp_path / "schema.json").read_text(encoding="utf-8")
    assert text == printed.output
    schema = json.loads(text)
    jsonschema.Draft202012Validator.check_schema(schema)
    data = json.loads({"scenario": minimal, "route": routed}[of].read_text(encoding="utf-8"))
    jsonschema.validate(data, schema)
    del data["heads"]
    with pytest.raises(jsonschema.ValidationError):
        jsonschema.validate(data, schema)


def test_schema_without_a_name_is_the_scenarios(run: Run) -> None:
    assert run("schema").output == run("schema", "scenario").output


def test_route_sums_up_what_it_wrote(run: Run, minimal: Path, tmp_path: Path) -> None:
    result = run("route", minimal, "-o", tmp_path / "r.json", "--times", tmp_path / "t.json")
    assert result.exit_code == 0, result.output
    route = read_route(tmp_path / "r.json")
    for part in (
        "3 of 3 served",
        f"fittings             {route.counts.fittings_counted}: ",
        f"reducers             {route.counts.reducers}",
        f"{route.counts.fittings_per_head:.2f}",
        f"{route.counts.pipe_total_m:.1f} m: ",
        f"{route.objective.value:,.0f} points, bound {route.objective.bound:,.0f}, gap 0",
        "no rule broken",
        "not an approval",
        "the referee ...",
    ):
        assert part in result.output, part
    for name in ("level changes", "drains", "hangers", "status", "time"):
        assert name in result.output
    assert all(seconds >= 0 for seconds in json.loads((tmp_path / "t.json").read_text())["seconds"].values())


def test_quiet_says_nothing(run: Run, minimal: Path, tmp_path: Path) -> None:
    result = run("route", minimal, "-o", tmp_path / "r.json", "--quiet")
    assert result.exit_code == 0
    assert result.output == ""


def test_the_fittings_of_the_table_have_reducers_apart(run: Run, minimal: Path, tmp_path: Path) -> None:
    output = run("route", minimal, "-o", tmp_path / "r.json").output
    row = next(line for line in output.splitlines() if line.strip().startswith("fittings  "))
    assert "tee" in row
    assert "reducer" not in row


def test_an_unserved_head_is_exit_code_1_and_the_route_is_written(
    run: Run, tmp_path: Path, minimal_data: dict[str, Any]
) -> None:
    minimal_data["heads"][1]["at"] = [4800, 7000, 2700]  # beyond rules.reach of 4500 mm
    result = run("route", write(tmp_path, minimal_data), "-o", tmp_path / "r.json")
    assert result.exit_code == 1, result.output
    assert "2 of 3 served" in result.output
    assert "H2 at (4,800, 7,000, 2,700) mm: not served" in result.output
    unserved = [head for head in read_route(tmp_path / "r.json").heads if not head.served]
    assert [head.id for head in unserved] == ["H2"]
    for attempt in unserved[0].stopped_by:
        assert attempt.text in result.output


def test_a_route_that_the_referee_refuses_is_not_written(
    run: Run, minimal: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def judge(scenario: Scenario, route: Route, older: Route | None = None) -> Verdict:
        fair = check_route(scenario, route, older)
        text = "P1: clearance to beam G1 is 3.0 mm"
        bad = Finding(
            rule="clearance", severity="breaks", element="P1", text=text, source="test", grade="none"
        )
        return fair.model_copy(update={"findings": [bad]})

    monkeypatch.setattr(finding, "check_route", judge)
    result = run("route", minimal, "-o", tmp_path / "r.json", "--times", tmp_path / "t.json")
    assert result.exit_code == 3
    assert "clearance: P1: clearance to beam G1 is 3.0 mm" in result.output
    assert [file.name for file in tmp_path.iterdir()] == ["r.refused.zip"]


def test_a_value_error_of_a_rule_is_one_line(
    run: Run, minimal: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fail(*_: object, **__: object) -> None:
        raise ValueError("no row for DN 80\nin table tee")

    monkeypatch.setattr(finding, "route_scenario", fail)
    result = run("route", minimal, "-o", tmp_path / "r.json", "--quiet")
    assert (result.exit_code, result.output) == (2, "cannot route: no row for DN 80 in table tee\n")
    assert list(tmp_path.iterdir()) == []


def test_our_own_fault_has_its_own_exit_code(
    run: Run, minimal: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fail(*_: object, **__: object) -> None:
        raise KeyError("T9")

    monkeypatch.setattr(finding, "route_scenario", fail)
    result = run("route", minimal, "-o", tmp_path / "r.json", "--quiet")
    assert result.exit_code == 4
    first, second = result.output.splitlines()
    assert "KeyError: 'T9'" in first
    assert "this is a fault of this program" in second
    assert [file.name for file in tmp_path.iterdir()] == ["r.refused.zip"]


def test_ctrl_c_is_one_line(run: Run, minimal: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def fail(*_: object, **__: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(finding, "interruptible", fail)
    result = run("route", minimal, "-o", tmp_path / "r.json", "--quiet")
    assert (result.exit_code, result.output) == (130, "interrupted; nothing was written\n")
    assert list(tmp_path.iterdir()) == []


def test_check_of_a_clean_route(run: Run, minimal: Path, routed: Path, tmp_path: Path) -> None:
    result = run("check", minimal, routed, "--json", tmp_path / "findings.json")
    assert result.exit_code == 0
    assert "no rule broken" in result.output
    assert "warning" not in result.output
    data = json.loads((tmp_path / "findings.json").read_text(encoding="utf-8"))
    assert data["clean"] is True
    assert data["counts"]["served"] == 3


def test_check_of_a_route_moved_into_the_beam(
    run: Run, minimal_data: dict[str, Any], routed: Path, tmp_path: Path
) -> None:
    minimal_data["obstructions"][0]["elevations"] = [3000, 3500]
    result = run("check", write(tmp_path, minimal_data), routed, "--json", tmp_path / "findings.json")
    assert result.exit_code == 1
    assert "warning" in result.output
    assert "made for another scenario" in result.output
    row = next(line for line in result.output.splitlines() if "breaks" in line)
    assert "clearance" in row
    assert "beam G1" in row
    assert "25.0 mm" in row
    data = json.loads((tmp_path / "findings.json").read_text(encoding="utf-8"))
    assert data["clean"] is False
    assert {f["against"] for f in data["findings"] if f["severity"] == "breaks"} == {"beam G1"}


def test_rules_have_limit_source_and_grade(run: Run, minimal: Path) -> None:
    result = run("rules", minimal)
    assert result.exit_code == 0
    for part in ("clearance", "outlet_spacing", "grade", "source", "common practice"):
        assert part in result.output


def test_draw_writes_a_picture(run: Run, minimal: Path, routed: Path, tmp_path: Path) -> None:
    result = run("draw", minimal, routed, "-o", tmp_path / "plan.svg")
    assert result.exit_code == 0, result.output
    root = ET.fromstring((tmp_path / "plan.svg").read_text(encoding="utf-8"))
    assert root.tag.endswith("svg")


def test_draw_refuses_a_route_of_another_scenario(
    run: Run, minimal_data: dict[str, Any], routed: Path, tmp_path: Path
) -> None:
    minimal_data["heads"][0]["id"] = "X1"
    result = run("draw", write(tmp_path, minimal_data), routed, "-o", tmp_path / "plan.svg")
    assert result.exit_code == 2
    assert "heads[0].id: head H1: H1: there is no such head in the scenario" in result.output
    assert not (tmp_path / "plan.svg").exists()


# A main along x, one line square to it at the same level, two heads beside that line.
TABLES = {
    "heads.csv": "id,x,y,z,orientation,conn_dn,line_id\n"
    "H1,5600,3000,2700,pendent,15,L1\nH2,4700,5500,2700,pendent,15,L1\n",
    "pipes.csv": "id,x1,y1,z1,x2,y2,z2,dn,role,line_id\n"
    "m1,0,0,3000,5000,0,3000,100,main,\nb1,5000,60,3000,5000,6000,3000,50,branch,L1\n",
    "obstructions.csv": "kind,zmin,zmax,x1,y1,x2,y2,x3,y3,x4,y4\n"
    "beam,3300,3600,2000,1000,8000,1000,8000,1200,2000,1200\n",
}


@pytest.fixture
def tables(tmp_path: Path) -> Path:
    folder = tmp_path / "tables"
    folder.mkdir()
    for name, text in TABLES.items():
        (folder / name).write_text(text, encoding="utf-8")
    return folder


@pytest.mark.parametrize("name", ["s.json", "s.yaml"])
def test_import_then_route(run: Run, tables: Path, tmp_path: Path, name: str) -> None:
    result = run("import", "csv", tables, "-o", tmp_path / name)
    assert result.exit_code == 0, result.output
    assert "2 heads, 2 runs" in result.output
    assert run("validate", tmp_path / name).exit_code == 0
    routed = run("route", tmp_path / name, "-o", tmp_path / "r.json")
    assert routed.exit_code == 0, routed.output
    assert "2 of 2 served" in routed.output


def test_a_drawn_route_of_an_earlier_import_is_told(run: Run, tmp_path: Path) -> None:
    """The new model holds no arms: the table beside the scenario is not its route."""
    model, old = tmp_path / "model.ifc", tmp_path / "s_drawn.csv"
    assert run("export", Path(__file__).parents[2] / "scenarios" / "minimal.json", "-o", model).exit_code == 0
    old.write_text("of an earlier import", encoding="utf-8")
    result = run("import", "ifc", model, "-o", tmp_path / "s.json")
    assert result.exit_code == 0, result.output
    assert "s_drawn.csv is of an earlier import" in result.output
    assert old.read_text(encoding="utf-8") == "of an earlier import"


def test_import_names_row_column_and_value(run: Run, tables: Path, tmp_path: Path) -> None:
    (tables / "heads.csv").write_text(TABLES["heads.csv"].replace("3000,2700", "3000,low"), encoding="utf-8")
    result = run("import", "csv", tables, "-o", tmp_path / "s.json")
    assert result.exit_code == 2
    line = next(line for line in result.output.splitlines() if "low" in line)
    assert "heads.csv row" in line
    assert "column z" in line
    assert not (tmp_path / "s.json").exists()


def test_import_of_a_folder_that_is_not_there(run: Run, tmp_path: Path) -> None:
    result = run("import", "csv", tmp_path / "none", "-o", tmp_path / "s.json")
    assert result.exit_code == 2
    assert "none" in result.output
    assert list(tmp_path.iterdir()) == []


def test_a_route_reads_back_as_it_was_written(routed: Path) -> None:
    route = read_route(routed)
    assert route_text(route) == routed.read_text(encoding="utf-8")


def test_heads_that_leave_their_place_are_told(run: Run, tmp_path: Path) -> None:
    """A head 60 mm beside its line and free to move saves an arm; one on the line stays where it is."""
    given = {
        "format": "branch-drop-router/scenario", "version": 1, "name": "Shift",
        "runs": [{"id": "B1", "plan": [[0, 0], [6000, 0]], "elevation": 3200}],
        "heads": [{"id": "H1", "at": [1500, 60, 2700], "shift": 100}, {"id": "H2", "at": [4800, 0, 2700]}],
    }  # fmt: skip
    (tmp_path / "shift.json").write_text(json.dumps(given), encoding="utf-8")
    result = run("route", tmp_path / "shift.json", "-o", tmp_path / "r.json")
    assert result.exit_code == 0
    assert "heads moved          1 as their shift allows: H1 60 mm\n" in re.sub(" +\n", "\n", result.output)
