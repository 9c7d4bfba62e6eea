"""A tiny building made by hand, every kind of joint in it, and a real one where it is at hand."""

from __future__ import annotations

import csv
import json
from pathlib import Path
from typing import Any

import pytest
from shapely.geometry import LineString, Point, Polygon

from router.readers import ImportResult, read_csv_folder
from router.scenario import ScenarioError, notes, read_scenario
from router.scenario.write import dump_scenario

HEADS = "id,x,y,z,orientation,conn_dn,line_id\n"
PIPES = "id,x1,y1,z1,x2,y2,z2,dn,role,line_id\n"
SOLIDS = "kind,zmin,zmax,x1,y1,x2,y2,x3,y3,x4,y4\n"

# A main along x at 3000; line L1 leaves it by a riser in both directions at 3400, drawn in pieces
# with the gaps of its tees; line L2 leaves the main's far end at its level, and steps up by 200.
TINY_PIPES = """\
m1,0,0,3000,4880,0,3000,100,main,
m2,5120,0,3000,9900,0,3000,100,main,
r1,5000,0,3126,5000,0,3350,50,main,
a1,5000,57,3400,5000,2956,3400,50,branch,L1
a2,5001,3044,3400,5000,6000,3400,50,branch,L1
b1,5000,-57,3400,5001,-4000,3400,50,branch,L1
c1,10000,60,3000,10000,3000,3000,50,branch,L2
c2,10000,3060,3040,10000,3060,3160,50,branch,L2
c3,10000,3120,3200,10000,7000,3200,50,branch,L2
x1,5010,3000,3450,5600,3000,3450,25,head_arm,
far,90000,0,3000,95000,0,3000,100,main,
"""
TINY_HEADS = """\
H1,5600,3000,2700,pendent,15,L1
H2,5300,-3900,2700,pendent,15,L1
H3,9700,6500,2700,pendent,15,L2
H4,9700,2000,2700,upright,20,
"""
TINY_SOLIDS = """\
beam,3300,3600,2000,1000,8000,1000,8000,1200,2000,1200
duct,2900,3100,1000,2000,2000,3000,2000,2000,1000,3000
light,2650,2750,5500,2900,5700,2900,5700,3100,5500,3100
light,2700,2760,4500,2900,4700,2900,4700,3100,4500,3100
beam,3300,3600,0,0,100,0,200,0,300,0
beam,3600,3300,2000,1000,8000,1000,8000,1200,2000,1200
column,0,5000,50000,50000,50400,50000,50400,50400,50000,50400
"""


@pytest.fixture
def tiny(tmp_path: Path) -> Path:
    (tmp_path / "heads.csv").write_text(HEADS + TINY_HEADS)
    (tmp_path / "pipes.csv").write_text(PIPES + TINY_PIPES)
    (tmp_path / "obstructions.csv").write_text(SOLIDS + TINY_SOLIDS)
    return tmp_path


def edit(folder: Path, file: str, old: str, new: str) -> None:
    path = folder / file
    text = path.read_text()
    assert old in text
    path.write_text(text.replace(old, new, 1))


def runs_of(result: ImportResult) -> dict[str, Any]:
    return {run.id: run for run in result.scenario.runs}


def has_note(result: ImportResult, text: str) -> bool:
    return any(text in note for note in result.report.notes)


def test_pipes_are_joined_across_their_fittings(tiny: Path) -> None:
    result = read_csv_folder(tiny)
    runs = runs_of(result)
    assert sorted(runs) == ["L1.1", "L1.2", "L2", "main-1"]
    main = runs["main-1"]
    assert main.supply is None
    assert (main.kind, main.size, main.elevation) == ("main", 100, 3000)
    assert main.plan == [(0, 0), (10000, 0)], "two pieces, one run; it ends where the axes meet"
    for name, end in (("L1.1", (5000, 6000)), ("L1.2", (5001, -4000))):
        run = runs[name]
        assert (run.supply, run.size, run.elevation) == ("main-1", 50, 3400), "the riser's top"
        assert run.plan == [(5000, 0), end], "no needless points, the pipe's own end"
    assert result.report.arms_ignored == 1


def test_step_of_a_line_widens_the_band(tiny: Path) -> None:
    result = read_csv_folder(tiny)
    line = runs_of(result)["L2"]
    assert line.plan == [(10000, 0), (10000, 7000)]
    assert (line.elevation, line.band) == (3000, (2700, 3300))
    assert has_note(result, "run L2 is drawn at 3000 to 3200 mm")


def test_a_high_step_is_a_run_of_its_own(tiny: Path) -> None:
    edit(tiny, "pipes.csv", "3060,3160,50", "3060,4960,50")
    edit(tiny, "pipes.csv", "c3,10000,3120,3200,10000,7000,3200", "c3,10000,3120,5000,10000,7000,5000")
    runs = runs_of(read_csv_folder(tiny))
    assert runs["L2.2"].supply == "L2.1"
    assert (runs["L2.1"].elevation, runs["L2.2"].elevation) == (3000, 5000)


def test_a_side_branch_of_a_line_is_a_child_run(tiny: Path) -> None:
    edit(tiny, "pipes.csv", "c1,", "d1,5045,4500,3400,8000,4500,3400,50,branch,L1\nc1,")
    edit(tiny, "heads.csv", "H1,", "H9,7900,4700,2700,pendent,15,L1\nH1,")
    result = read_csv_folder(tiny)
    runs = runs_of(result)
    served_by = {head.id: str(head.run) for head in result.scenario.heads}
    side = runs[served_by["H9"]]
    assert side.supply == served_by["H1"]
    assert side.plan == [(5000, 4500), (8000, 4500)], "an uncut pipe is met in its middle"
    assert side.elevation == 3400


def test_heads_go_to_the_nearest_run_of_their_line(tiny: Path) -> None:
    result = read_csv_folder(tiny)
    heads = {head.id: head for head in result.scenario.heads}
    assert [heads[key].run for key in ("H1", "H2", "H3", "H4")] == ["L1.1", "L1.2", "L2", None]
    assert has_note(result, "on no line as drawn, the nearest run serves them: H4")
    assert (heads["H4"].kind, heads["H4"].thread, heads["H4"].at) == ("upright", 20, (9700, 2000, 2700))


def test_what_serves_nothing_is_left_out(tiny: Path) -> None:
    result = read_csv_folder(tiny)
    assert has_note(result, "1 pipes belong to no tree that serves a head here")
    edit(tiny, "heads.csv", "H3,9700,6500,2700,pendent,15,L2\n", "")
    assert "L2" in runs_of(read_csv_folder(tiny)), "H4 is on no line, and this is the nearest"
    edit(tiny, "heads.csv", "H4,9700,2000,2700,upright,20,\n", "")
    result = read_csv_folder(tiny)
    assert "L2" not in runs_of(result)
    assert has_note(result, "1 branch run (7.0 m) leads to no head here and is left out")


def test_a_line_without_a_main_is_a_tree_of_its_own(tiny: Path) -> None:
    edit(tiny, "pipes.csv", "r1,5000,0,3126", "r1,5300,300,3126")
    edit(tiny, "pipes.csv", "5000,0,3350,50", "5300,300,3350,50")
    result = read_csv_folder(tiny)
    runs = runs_of(result)
    assert runs["L1"].supply is None
    assert LineString(runs["L1"].plan).length == pytest.approx(10000, abs=1)
    assert result.report.roots == 2
    assert has_note(result, "at a free end of line L1 (no main reaches it)")
    assert len(notes(result.scenario)) == 1


def test_supply_comes_from_below(tiny: Path) -> None:
    edit(tiny, "pipes.csv", "m1,", "up,10000,-126,-500,10000,-126,2874,100,main,\nm1,")
    edit(tiny, "pipes.csv", "m1,", "in,10000,-126,3000,10000,-20,3000,100,main,\nm1,")
    result = read_csv_folder(tiny)
    assert has_note(result, "at the DN100 riser that comes up from -500 mm")


def test_sizes_never_grow_downstream(tiny: Path) -> None:
    edit(tiny, "pipes.csv", "b1,5000,-57,3400,5001,-4000,3400,50", "b1,5000,-57,3400,5001,-4000,3400,125")
    edit(tiny, "pipes.csv", "3000,100,main,\nm2", "3000,200,main,\nm2")
    edit(tiny, "pipes.csv", "9900,0,3000,100", "9900,0,3000,200")
    result = read_csv_folder(tiny)
    assert {run.id: run.size for run in result.scenario.runs}["main-1"] == 150
    assert has_note(result, "taken as DN150: pipe m1 (DN200), pipe m2 (DN200)")
    edit(tiny, "pipes.csv", "3000,200,main,\nm2", "3000,80,main,\nm2")
    edit(tiny, "pipes.csv", "9900,0,3000,200", "9900,0,3000,80")
    result = read_csv_folder(tiny)
    assert has_note(result, "drawn as DN125, taken as DN80 like its supply main-1")


def test_a_loop_is_cut_open(tiny: Path) -> None:
    edit(tiny, "pipes.csv", "c1,", "e1,5045,4500,3400,7000,4500,3400,50,branch,L1\nc1,")
    edit(tiny, "pipes.csv", "c1,", "e2,7060,4440,3400,7060,-2940,3400,50,branch,L1\nc1,")
    edit(tiny, "pipes.csv", "c1,", "e3,7000,-3000,3400,5045,-3000,3400,50,branch,L1\nc1,")
    edit(tiny, "heads.csv", "H1,", "H9,6900,1000,2700,pendent,15,L1\nH1,")
    result = read_csv_folder(tiny)
    assert has_note(result, "closes a loop")


def test_obstructions(tiny: Path) -> None:
    result = read_csv_folder(tiny)
    solids = {one.id: one for one in result.scenario.obstructions}
    assert sorted(solids) == ["beam-2", "duct-3", "light-5"]
    assert list(solids["beam-2"].elevations) == [3300, 3600]
    assert str([one.clearance for one in result.scenario.obstructions]) == "[None, None, 10.0]"
    assert Polygon(solids["duct-3"].polygon).is_valid, "a bow tie became its hull"
    assert result.report.left_out_obstructions == 4
    for text in (
        "light-4 left out: inside it is the inlet of head H1",
        "1 beam without plan area: left out",
        "1 beam without height: left out",
        "1 column beyond reach: left out",
        "1 duct repaired",
    ):
        assert has_note(result, text), text


def test_an_import_can_be_written_and_read(tiny: Path) -> None:
    result = read_csv_folder(tiny, name="tiny")
    file = tiny / "tiny.json"
    dump_scenario(result.scenario, file)
    assert read_scenario(file) == result.scenario
    assert result.report.text().startswith("tiny: 4 heads, 4 runs in 1 tree")
    assert read_csv_folder(tiny, name="tiny").scenario == result.scenario


@pytest.mark.parametrize(
    ("file", "old", "new", "place", "item", "value", "unit", "message"),
    [
        ("heads.csv", "H1,5600", "H1,56oo", "heads.csv row 2, column x", "head H1", '"56oo"', "mm", "number"),
        ("heads.csv", "H2,5300", "H2,nan", "heads.csv row 3, column x", "head H2", '"nan"', "mm", "finite"),
        ("heads.csv", "H2", "H1", "heads.csv row 3, column id", "head H1", '"H1"', "", "already in row 2"),
        (
            "heads.csv",
            "upright",
            "up",
            "heads.csv row 5, column orientation",
            "head H4",
            '"up"',
            "",
            "one of",
        ),
        ("heads.csv", ",20,", ",21,", "heads.csv row 5, column conn_dn", "head H4", '"21"', "DN", "15, 20"),
        (
            "heads.csv",
            "upright",
            "sidewall",
            "heads.csv row 5, column facing",
            "head H4",
            '""',
            "deg",
            "facing",
        ),
        ("pipes.csv", "main,", "mian,", "pipes.csv row 2, column role", "pipe m1", '"mian"', "", "head_arm"),
        ("pipes.csv", "branch,L1", "branch,", "pipes.csv row 5, column line_id", "pipe a1", '""', "", "line"),
        (
            "pipes.csv",
            ",100,",
            ",4in,",
            "pipes.csv row 2, column dn",
            "pipe m1",
            '"4in"',
            "DN",
            "nominal size",
        ),
        ("pipes.csv", "4880", "4.88e9", "pipes.csv row 2, column x2", "pipe m1", '"4.88e9"', "mm", "10 km"),
        ("pipes.csv", "id,x1", "id,x", "pipes.csv row 1", "", "x1", "", "column is missing"),
        (
            "obstructions.csv",
            "3300,",
            ",",
            "obstructions.csv row 2, column zmin",
            "obstruction",
            '""',
            "mm",
            "n",
        ),
    ],
)
def test_faults_by_file_row_column_and_value(
    tiny: Path, file: str, old: str, new: str, place: str, item: str, value: str, unit: str, message: str
) -> None:
    edit(tiny, file, old, new)
    with pytest.raises(ScenarioError) as caught:
        read_csv_folder(tiny)
    (fault,) = caught.value.faults
    assert (fault.place, fault.item, fault.value, fault.unit) == (place, item, value, unit)
    assert message in fault.message


def test_all_faults_of_all_files_at_once(tiny: Path) -> None:
    edit(tiny, "heads.csv", "H1,5600,3000", "H1,a,b")
    edit(tiny, "pipes.csv", "m1,0", "m1,c")
    (tiny / "obstructions.csv").unlink()
    with pytest.raises(ScenarioError) as caught:
        read_csv_folder(tiny)
    assert [fault.place for fault in caught.value.faults] == [
        "heads.csv row 2, column x",
        "heads.csv row 2, column y",
        "pipes.csv row 2, column x1",
        "obstructions.csv",
    ]


def test_a_table_without_rows(tiny: Path) -> None:
    (tiny / "heads.csv").write_text(HEADS)
    with pytest.raises(ScenarioError, match=r"heads\.csv: 0 rows: at least one head expected"):
        read_csv_folder(tiny)


OPEN_DATA = Path(__file__).resolve().parents[3] / "shared" / "open-data"
FOLDERS = ("hospital_s1_L1B001", "hospital_s3_L3high", "hospital_level1", "hospital_level3")


@pytest.fixture(scope="module", params=FOLDERS)
def building(request: pytest.FixtureRequest) -> tuple[Path, ImportResult]:
    """Import a folder of a real building (Open IFC Model Repository, model 308, CC BY 3.0)."""
    folder = OPEN_DATA / str(request.param)
    if not folder.is_dir():
        pytest.skip(f"no open data at {folder}")
    return folder, read_csv_folder(folder)


def as_built(folder: Path) -> list[dict[str, str]]:
    with (folder / "heads.csv").open(newline="") as stream:
        return list(csv.DictReader(stream))


def test_every_head_of_the_real_building_is_there(building: tuple[Path, ImportResult]) -> None:
    folder, result = building
    counts = json.loads((folder / "counts.json").read_text())
    assert len(result.scenario.heads) == counts["heads"]
    assert result.report.arms_ignored == counts["pipes"]["head_arm"]
    solids = sum(counts["obstructions"].values())
    assert len(result.scenario.obstructions) + result.report.left_out_obstructions == solids


def test_every_line_of_the_real_building_is_there(building: tuple[Path, ImportResult]) -> None:
    folder, result = building
    counts = json.loads((folder / "counts.json").read_text())
    with (folder / "pipes.csv").open(newline="") as stream:
        level = {
            row["line_id"]
            for row in csv.DictReader(stream)
            if row["role"] == "branch"
            and abs(float(row["x1"]) - float(row["x2"])) + abs(float(row["y1"]) - float(row["y2"])) > 10
        }
    lines = {row["line_id"] for row in as_built(folder) if row["line_id"]}
    assert len(lines) == counts["lines"]
    # A line drawn as vertical pipe only has no plan, so it is no run.
    found = {run.id.split(".")[0] for run in result.scenario.runs}
    assert lines & level <= found


def test_as_built_tees_lie_on_the_runs(building: tuple[Path, ImportResult]) -> None:
    """The place of each as-built tee, traced independently of us, is on the head's run.

    Beyond a run's drawn end a fitting may still follow: up to 130 mm. Along the
    run the drawn positions and the straightening agree within 15 mm.
    """
    folder, result = building
    runs = runs_of(result)
    seen = 0
    for row, head in zip(as_built(folder), result.scenario.heads, strict=True):
        run = runs.get(head.run or "")
        if not row["asbuilt_tee_x"] or run is None or run.id.split(".")[0] != row["line_id"]:
            continue
        seen += 1
        line = LineString(run.plan)
        tee = Point(float(row["asbuilt_tee_x"]), float(row["asbuilt_tee_y"]))
        station = line.project(tee)
        beyond = station in (0.0, line.length)
        assert line.distance(tee) < (130.0 if beyond else 15.0), head.id
        low, high = run.band or (run.elevation, run.elevation)
        assert low - 5.0 <= float(row["asbuilt_tee_z"]) <= high + 5.0, head.id
    assert seen >= 0.95 * len(result.scenario.heads)


def test_runs_of_the_real_building_form_trees_of_straight_pipes(
    building: tuple[Path, ImportResult],
) -> None:
    _, result = building
    known: set[str] = set()
    for run in result.scenario.runs:
        assert run.supply is None or run.supply in known, "parents come first"
        known.add(run.id)
    assert result.report.roots == sum(1 for run in result.scenario.runs if run.supply is None)
    assert result.report.roots <= 14


def test_a_duct_with_a_head_in_it_stays(tiny: Path) -> None:
    """A clash as drawn: the head's place is left free, the duct is not lost."""
    edit(tiny, "obstructions.csv", "duct,", "duct,2600,2800,5000,2800,9000,2800,9000,3200,5000,3200\nduct,")
    result = read_csv_folder(tiny)
    assert has_note(result, "duct-3: a clash as drawn, 1 inlets are inside it (H1)")
    parts = [Polygon(o.polygon) for o in result.scenario.obstructions if o.id.split("/")[0] == "duct-3"]
    inlet = Point(5600, 3000)
    assert len(parts) == 2
    assert min(part.distance(inlet) for part in parts) == pytest.approx(50, abs=0.5)
    assert sum(part.area for part in parts) == pytest.approx(4000 * 400 - 50**2 * 3.14159, rel=1e-3)
