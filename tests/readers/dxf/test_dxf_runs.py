"""Runs of foreign drawings: polylines and lines, joined, hung up, turned round; loops are refused."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pytest
from dxf_foreign import FOOT, HEADS, RUNS, SOLIDS, blank, mapped, read

from router.readers.floor import floor
from router.scenario import ScenarioError

if TYPE_CHECKING:
    from pathlib import Path

MAPPING = mapped(
    MAIN={"holds": "runs", "kind": "main", "elevation": 3000, "size": "2", "prefix": "M"},
    BRANCH={**RUNS, "prefix": "B"},
    S=HEADS,
    O=SOLIDS,
)


def tree(space: Any) -> None:
    space.add_lwpolyline([(0, 0), (0, 6000)], dxfattribs={"layer": "MAIN"})
    space.add_lwpolyline([(3, 2000), (5000, 2000)], dxfattribs={"layer": "BRANCH"})
    space.add_lwpolyline([(5000, 4000), (2, 4000)], dxfattribs={"layer": "BRANCH"})
    space.add_lwpolyline([(0, 6000), (5000, 6000)], dxfattribs={"layer": "BRANCH"})


def test_where_runs_lie_says_what_feeds_them(tmp_path: Path) -> None:
    doc, space = blank()
    tree(space)
    drawn = read(doc, tmp_path, MAPPING)
    main, *branches = drawn.runs
    assert (main["id"], main["kind"], main["size"], "supply" in main) == ("M1", "main", 50, False)
    assert [run["supply"] for run in branches] == ["M1"] * 3
    assert [run["plan"][0] for run in branches] == [[0, 2000], [0, 4000], [0, 6000]]
    assert branches[1]["plan"] == [[0, 4000], [5000, 4000]]
    assert any("B2 was drawn towards its supply end" in note for note in drawn.notes)


def test_a_whole_scenario_of_a_flat_drawing(tmp_path: Path) -> None:
    doc, space = blank()
    tree(space)
    for y in (2000, 4000, 6000):
        for x in (1500, 3500):
            space.add_point((x, y + 300), {"layer": "S"})
    space.add_lwpolyline([(2400, 0), (2600, 0), (2600, 7000), (2400, 7000)], close=True).dxf.layer = "O"
    result = floor(read(doc, tmp_path, MAPPING), "flat")
    assert [run.id for run in result.scenario.runs] == ["M1", "B1", "B2", "B3"]
    assert len(result.scenario.heads) == 6
    (duct,) = result.scenario.obstructions
    assert (duct.kind, duct.elevations) == ("duct", (2800, 3100))


def test_lines_are_joined_end_to_end(tmp_path: Path) -> None:
    """Feet; the second line is drawn the other way round, and the ends are 3 mm apart."""
    doc, space = blank(FOOT)
    for a, b in (((0, 0), (10, 0)), ((10.01, 10), (10, 0)), ((10, 10), (20, 10))):
        space.add_line(a, b, {"layer": "R"})
    mapping = mapped(R={**RUNS, "elevation": 10})
    (run,) = read(doc, tmp_path, mapping).runs
    assert run["elevation"] == pytest.approx(3048)
    assert [tuple(p) for p in run["plan"]] == [
        pytest.approx(p, abs=3.1) for p in ((0, 0), (3048, 0), (3048, 3048), (6096, 3048))
    ]


def test_where_three_lines_meet_the_straight_one_goes_on(tmp_path: Path) -> None:
    doc, space = blank()
    for a, b in (((0, 0), (4000, 0)), ((4000, 0), (9000, 0)), ((4000, 0), (4000, 3000))):
        space.add_line(a, b, {"layer": "R"})
    through, side = read(doc, tmp_path, mapped(R=RUNS)).runs
    assert through["plan"] == [[0, 0], [9000, 0]]
    assert side["plan"] == [[4000, 0], [4000, 3000]]
    assert side["supply"] == through["id"]


def test_a_polyline_in_space_keeps_its_levels_in_its_band(tmp_path: Path) -> None:
    doc, space = blank()
    points = [(0, 0, 3000), (3000, 0, 3000), (3200, 0, 3200), (8000, 0, 3200)]
    space.add_polyline3d(points, dxfattribs={"layer": "R"})
    (run,) = read(doc, tmp_path, mapped(R=RUNS)).runs
    assert run["elevation"] == 3000
    assert run["band"] == [2700, 3300]
    assert run["plan"][0] == [0, 0]
    assert run["plan"][-1] == [8000, 0]


def test_old_polylines_have_elevations_too(tmp_path: Path) -> None:
    doc, space = blank()
    space.add_polyline2d([(0, 0), (3000, 0)], dxfattribs={"layer": "R", "elevation": (0, 0, 3150)})
    (run,) = read(doc, tmp_path, mapped(R=RUNS)).runs
    assert run["elevation"] == 3150


def test_seen_from_below(tmp_path: Path) -> None:
    """Extrusion 0, 0, -1: x and z are mirrored (DXF reference, object coordinates)."""
    doc, space = blank()
    attributes = {"layer": "R", "elevation": -3150, "extrusion": (0, 0, -1)}
    space.add_lwpolyline([(-1000, 500), (-4000, 500)], dxfattribs=attributes)
    (run,) = read(doc, tmp_path, mapped(R=RUNS)).runs
    assert run["elevation"] == pytest.approx(3150)
    assert [tuple(p) for p in run["plan"]] == [pytest.approx((1000, 500)), pytest.approx((4000, 500))]


def test_a_loop_is_refused_by_name(tmp_path: Path) -> None:
    doc, space = blank()
    for points in (
        [(0, 0), (0, 5000)],
        [(0, 5000), (5000, 5000)],
        [(5000, 5000), (5000, 0)],
        [(5000, 0), (0, 0)],
    ):
        space.add_lwpolyline(points, dxfattribs={"layer": "R"})
    with pytest.raises(ScenarioError, match="loop") as caught:
        read(doc, tmp_path, mapped(R=RUNS))
    assert all(name in str(caught.value) for name in ("R1", "R2", "R3", "R4", "layer R"))


def test_a_run_between_two_others_is_refused(tmp_path: Path) -> None:
    doc, space = blank()
    for points in ([(0, 0), (0, 5000)], [(4000, 0), (4000, 5000)], [(0, 2000), (4000, 2000)]):
        space.add_lwpolyline(points, dxfattribs={"layer": "R"})
    with pytest.raises(ScenarioError, match="both its ends"):
        read(doc, tmp_path, mapped(R=RUNS))


def test_several_trees(tmp_path: Path) -> None:
    doc, space = blank()
    for x in (0, 50_000):
        space.add_lwpolyline([(x, 0), (x, 5000)], dxfattribs={"layer": "R"})
        space.add_lwpolyline([(x, 2500), (x + 3000, 2500)], dxfattribs={"layer": "R"})
    runs = read(doc, tmp_path, mapped(R=RUNS)).runs
    assert [run.get("supply") for run in runs] == [None, "R1", None, "R3"]


def test_pipes_are_straight_parts_without_roles(tmp_path: Path) -> None:
    doc, space = blank()
    space.add_line((0, 0, 3000), (4000, 0, 3000), {"layer": "P-25"})
    space.add_polyline3d([(4000, 0, 3000), (4000, 0, 2800), (4000, 500, 2800)], dxfattribs={"layer": "P-50"})
    layers: dict[str, Any] = {"P-25": {"holds": "pipes", "size": 25}, "P-50": {"holds": "pipes", "size": "2"}}
    pipes = read(doc, tmp_path, mapped(**layers)).pipes
    assert [(pipe.a, pipe.b, pipe.dn, pipe.role) for pipe in pipes] == [
        ((0, 0, 3000), (4000, 0, 3000), 25, ""),
        ((4000, 0, 3000), (4000, 0, 2800), 50, ""),
        ((4000, 0, 2800), (4000, 500, 2800), 50, ""),
    ]


def test_pipes_want_a_size(tmp_path: Path) -> None:
    doc, space = blank()
    space.add_line((0, 0, 3000), (4000, 0, 3000), {"layer": "P"})
    with pytest.raises(ScenarioError, match="1 pipes: without a size"):
        read(doc, tmp_path, mapped(P={"holds": "pipes"}))


def test_a_drawing_far_from_its_origin_is_moved_as_one(tmp_path: Path) -> None:
    """Coordinates as of a national grid, in mm."""
    doc, space = blank()
    x, y = 512_345_678.5, 5_401_234_567.25
    space.add_lwpolyline([(x, y), (x + 6000, y)], dxfattribs={"layer": "MAIN"})
    space.add_point((x + 1500, y + 300), {"layer": "S"})
    space.add_lwpolyline([(x, y + 900), (x + 99, y + 900), (x, y + 999)], close=True).dxf.layer = "O"
    drawn = read(doc, tmp_path, MAPPING)
    assert drawn.runs[0]["plan"] == [[678.5, 567.25], [6678.5, 567.25]]
    assert list(drawn.heads[0].at) == [2178.5, 867.25, 2700]
    assert list(drawn.solids[0].corners[0]) == [678.5, 1467.25]
    assert any("x 512345000 mm, y 5401234000 mm" in note for note in drawn.notes)
    given = MAPPING.model_copy(update={"origin": (512_000_000.0, 5_401_000_000.0)})
    assert list(read(doc, tmp_path, given).heads[0].at) == [347178.5, 234867.25, 2700]


def test_what_is_drawn_twice_counts_once(tmp_path: Path) -> None:
    doc, space = blank()
    for points in ([(0, 0), (9000, 0)], [(9000, 0), (0, 0)]):
        space.add_lwpolyline(points, dxfattribs={"layer": "R"})
        space.add_line((*points[0], 3000), (*points[1], 3000), {"layer": "P"})
    drawn = read(doc, tmp_path, mapped(R=RUNS, P={"holds": "pipes", "size": 25}))
    assert (len(drawn.runs), len(drawn.pipes)) == (1, 1)
    assert any(note.startswith("1 LWPOLYLINE on layer R: drawn twice (#") for note in drawn.notes)


def test_gaps_in_a_straight_line_are_told_and_may_be_closed(tmp_path: Path) -> None:
    """Two lines of three pieces that stop at their heads, and one across that goes its own way."""
    doc, space = blank()
    for y in (0, 3000):
        for a, b in ((0, 2950), (3050, 5950), (6050, 9000)):
            space.add_line((a, y), (b, y), {"layer": "R"})
    space.add_line((3000, 200), (3000, 1500), {"layer": "R"})
    drawn = read(doc, tmp_path, mapped(R=RUNS))
    assert len(drawn.runs) == 7
    (note,) = [note for note in drawn.notes if "gaps" in note]
    assert note.startswith("4 gaps of 100 mm between ends of lines on layer R, at 2950, 0 mm; ")
    assert "(5 mm now, 500 mm at most)" in note
    drawn = read(doc, tmp_path, mapped(R=RUNS), tolerance_mm=100.0)
    plans = [run["plan"] for run in drawn.runs]
    assert plans[:2] == [[[0, 0], [9000, 0]], [[0, 3000], [9000, 3000]]]
    assert not any("gaps" in note for note in drawn.notes)
