"""Our scenarios' heads and obstructions written as spreadsheets do and read again; open data; `into`."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pytest
from tables_made import ROOT, Cells, as_csv, as_xlsx, head_rows, solid_rows

from router.readers.csv_tables import read_tables
from router.readers.into import into
from router.readers.tables import tables_drawn
from router.scenario import ScenarioError, read_scenario
from router.scenario.read import parse_scenario
from router.scenario.write import scenario_data

if TYPE_CHECKING:
    from pathlib import Path

    from router.readers.drawn import Drawn
    from router.scenario.model import Scenario

SCENARIOS = sorted((ROOT / "scenarios").rglob("*.json"))
FORMS = ["comma", "semicolon", "xlsx"]
OPEN_DATA = ROOT.parent / "shared" / "open-data"
CLINIC = ROOT / "scenarios" / "clinic_corridor.json"


def scenario_at(path: Path) -> Scenario:
    try:
        return read_scenario(path)
    except ScenarioError:
        pytest.skip(f"{path.name} is no scenario")


def drawn_again(folder: Path, form: str, heads: Cells, solids: Cells) -> Drawn:
    if form == "xlsx":
        book = as_xlsx(folder / "floor.xlsx", {"Heads": heads, "Obstructions": solids})
        return tables_drawn(book, book if len(solids) > 1 else None, None)
    paths = [folder / "heads.csv", folder / "obstructions.csv"]
    for path, rows in zip(paths, (heads, solids), strict=True):
        path.write_text(as_csv(rows, ";", True) if form == "semicolon" else as_csv(rows), encoding="utf-8")
    return tables_drawn(paths[0], paths[1] if len(solids) > 1 else None, None)


@pytest.mark.parametrize("form", FORMS)
@pytest.mark.parametrize("path", SCENARIOS, ids=lambda path: path.stem)
def test_round_trip_of_every_scenario(tmp_path: Path, path: Path, form: str) -> None:
    scenario = scenario_at(path)
    drawn = drawn_again(tmp_path, form, head_rows(scenario), solid_rows(scenario))
    again = into(scenario, drawn).scenario
    assert len(again.heads) == len(scenario.heads) and len(again.obstructions) == len(scenario.obstructions)
    for new, old in zip(again.heads, scenario.heads, strict=True):
        assert new.at == pytest.approx(old.at, abs=0.001)
        assert new.model_dump(exclude={"at"}) == pytest.approx(old.model_dump(exclude={"at"}), abs=0.001)
    for one, before in zip(again.obstructions, scenario.obstructions, strict=True):
        assert (one.id, one.kind, one.clearance) == (before.id, before.kind, before.clearance)
        assert one.elevations == pytest.approx(before.elevations, abs=0.001)
        assert len(one.polygon) == len(before.polygon)
        for corner, other in zip(one.polygon, before.polygon, strict=True):
            assert corner == pytest.approx(other, abs=0.001)
    assert again.runs == scenario.runs and again.pins == scenario.pins and again.rules == scenario.rules


def changed(scenario: Scenario, **parts: Any) -> Scenario:
    return parse_scenario({**scenario_data(scenario), **parts})


def table(path: Path, text: str) -> Path:
    path.write_text(text, encoding="utf-8")
    return path


def test_known_heads_keep_what_the_table_does_not_say(tmp_path: Path) -> None:
    base = read_scenario(CLINIC)
    first, second = base.heads[0], base.heads[1]
    heads = [head.model_dump(exclude_defaults=True) for head in base.heads]
    heads[0] |= {"k_factor": 8.0, "shift": 40.0, "run": base.runs[-1].id}
    pins = {"heads": {first.id: {"side": "top"}, second.id: {"side": "top"}}}
    base = changed(base, heads=heads, pins=pins)
    x, y, z = first.at
    text = f"id,x,y,z,shift\n{first.id},{x + 30},{y},{z - 20},\nnew 1,{x + 700},{y},{z},25\n"
    drawn = tables_drawn(table(tmp_path / "heads.csv", text), None, None)
    result = into(base, drawn)
    again = result.scenario
    known, new = again.heads
    assert known.at == (x + 30, y, z - 20)
    assert known.model_dump(exclude={"at"}) == base.heads[0].model_dump(exclude={"at"})
    assert (new.id, new.kind, new.thread, new.shift, new.run) == ("new 1", "pendent", 15, 25, None)
    assert again.obstructions == base.obstructions and again.runs == base.runs
    assert list(again.pins.heads) == [first.id]
    gone = len(base.heads) - 1
    assert any(f"heads: 1 known, 1 new (new 1), {gone} gone" in note for note in result.report.notes)
    assert f"pins of heads that are gone were dropped: {second.id}" in result.report.notes


def test_a_head_that_is_no_sidewall_any_more(tmp_path: Path) -> None:
    base = read_scenario(CLINIC)
    head = base.heads[0].model_dump(exclude_defaults=True) | {"kind": "sidewall", "facing": 90.0}
    base = changed(base, heads=[head])
    x, y, z = base.heads[0].at
    name = base.heads[0].id
    path = tmp_path / "heads.csv"
    again = into(
        base, tables_drawn(table(path, f"id,x,y,z,kind\n{name},{x},{y},{z},pendent\n"), None, None)
    ).scenario
    assert (again.heads[0].kind, again.heads[0].facing) == ("pendent", None)
    again = into(
        base, tables_drawn(table(path, f"id,x,y,z,facing\n{name},{x},{y},{z},180\n"), None, None)
    ).scenario
    assert (again.heads[0].kind, again.heads[0].facing) == ("sidewall", 180)
    text = f"id,x,y,z,kind,facing\n{name},{x},{y},{z},upright,180\n"
    again = into(base, tables_drawn(table(path, text), None, None)).scenario
    assert (again.heads[0].kind, again.heads[0].facing) == ("upright", None)


def test_known_obstructions_keep_kind_and_clearance(tmp_path: Path) -> None:
    base = read_scenario(CLINIC)
    old = base.obstructions[0]
    base = changed(
        base,
        obstructions=[one.model_dump(exclude_none=True) | {"clearance": 77.0} for one in base.obstructions],
    )
    low = old.elevations[0]
    text = f"id;xmin;xmax;ymin;ymax;zmin;zmax\n{old.id};90000;91000;90000;90500;{low:g};{low + 99:g}\n"
    drawn = tables_drawn(None, table(tmp_path / "ducts.csv", text), None)
    result = into(base, drawn)
    again = result.scenario
    (one,) = (item for item in again.obstructions if item.kind == old.kind)
    others = [item for item in base.obstructions if item.kind != old.kind]
    assert others and [item for item in again.obstructions if item.kind != old.kind] == others
    assert (one.id, one.kind, one.clearance, one.elevations) == (old.id, old.kind, 77, (low, low + 99))
    assert again.heads == base.heads
    assert any("obstructions: 1 known, 0 new, " in note for note in result.report.notes)


def test_lines_and_runs_of_the_table(tmp_path: Path) -> None:
    base = read_scenario(CLINIC)
    run = base.runs[-1].id
    x, y, z = base.heads[0].at
    rows = [f"A,{x},{y},{z},{run},", f"B,{x + 50},{y},{z},no such line,", f"C,{x + 99},{y},{z},,{run}"]
    text = "id,x,y,z,line,run\n" + "\n".join(rows) + "\n"
    drawn = tables_drawn(table(tmp_path / "heads.csv", text), None, None)
    result = into(base, drawn)
    assert [head.run for head in result.scenario.heads] == [run, None, run]
    assert any("head B: its line no such line is no run" in note for note in result.report.notes)
    bad = tables_drawn(table(tmp_path / "heads.csv", text.replace(f",,{run}", ",,X9")), None, None)
    with pytest.raises(ScenarioError, match=r'head C: "?X9"?: no such run'):
        into(base, bad)


def test_what_contradicts_the_scenario_is_said(tmp_path: Path) -> None:
    base = read_scenario(CLINIC)
    x, y, z = base.heads[0].at
    text = f"id,xmin,xmax,ymin,ymax,zmin,zmax\nbox,{x - 99},{x + 99},{y - 99},{y + 99},{z - 99},{z + 99}\n"
    drawn = tables_drawn(None, table(tmp_path / "o.csv", text), None)
    with pytest.raises(ScenarioError, match="inside obstruction box"):
        into(base, drawn)


@pytest.mark.skipif(not OPEN_DATA.is_dir(), reason="the open data is not here")
@pytest.mark.parametrize("name", ["hospital_level1", "hospital_level3", "hospital_s1_L1B001"])
def test_open_data_without_a_file_of_columns(name: str) -> None:
    folder = OPEN_DATA / name
    drawn = tables_drawn(folder / "heads.csv", folder / "obstructions.csv", folder / "pipes.csv")
    known = read_tables(folder)
    assert [head.at for head in drawn.heads] == [head.at for head in known.heads]
    assert [(head.id, head.kind, head.thread, head.line) for head in drawn.heads] == [
        (head.id, head.kind, head.thread, head.line) for head in known.heads
    ]
    assert [(one.id, one.corners, one.low, one.high) for one in drawn.solids] == [
        (one.id, one.corners, one.low, one.high) for one in known.solids
    ]
    assert drawn.pipes == known.pipes
    assert any("column name does not tell the rows apart" in note for note in drawn.notes)
