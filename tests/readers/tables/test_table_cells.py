"""Broken cells: each is said by file, row, column and value, with the unit where there is one."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest
from tables_made import faults_of, heads_in, solids_in

from router.readers.tables import Columns, tables_drawn
from router.scenario import ScenarioError

if TYPE_CHECKING:
    from pathlib import Path

HEADS = "id;x;y;z;kind;thread;dry;facing;k_factor;shift\n"
GOOD = "H1;1000,5;2000;3000;pendent;15;no;;5,6;0\n"

BROKEN = [
    ("H2;;2;3", "row 3, column B (x)", '"" mm', "the cell is empty"),
    ("H2;abc;2;3", "row 3, column B (x)", '"abc" mm', "a length in mm expected"),
    ("H2;1;2;3 km", "row 3, column D (z)", '"3 km" mm', "unit km is not known"),
    ("H2;1;2..5;3", "row 3, column C (y)", '"2..5" mm', "more than one decimal mark"),
    ("H2;1;1.234;3", "row 3, column C (y)", '"1.234" mm', "1234 or 1.234?"),
    ("H2;1;20000 m;3", "row 3, column C (y)", '"20000 m" mm', "more than 10 km"),
    ("H1;1;2;3", "row 3, column A (id)", '"H1"', "duplicate id, already in row 2"),
    (";1;2;3", "row 3, column A (id)", '""', "an id expected"),
    ("H2;1;2;3;hanging down", "row 3, column E (kind)", '"hanging down"', "pendent, upright, sidewall"),
    ("H2;1;2;3;pendent;16", "row 3, column F (thread)", '"16" DN', "nominal size"),
    ("H2;1;2;3;pendent;15;maybe", "row 3, column G (dry)", '"maybe"', "yes or no"),
    ("H2;1;2;3;sidewall;15;;north", "row 3, column H (facing)", '"north" deg', "a number expected"),
    ("H2;1;2;3;pendent;15;;;0", "row 3, column I (k_factor)", '"0"', "more than 0"),
    ("H2;1;2;3;pendent;15;;;;-5", "row 3, column J (shift)", '"-5" mm', "0 or more"),
    ("H2;1;2;3;pendent;15;;;;;stray", "row 3, column K", '"stray"', "beyond the last header"),
]


@pytest.mark.parametrize(("row", "place", "value", "message"), BROKEN, ids=[case[0] for case in BROKEN])
def test_broken_cells_of_heads(tmp_path: Path, row: str, place: str, value: str, message: str) -> None:
    (fault,) = faults_of(tmp_path / "heads.csv", HEADS + GOOD + row + "\n")
    assert f"heads.csv {place}: " in fault
    assert value in fault and message in fault


SOLIDS = "id,kind,polygon,x1,y1,x2,y2,x3,y3,x,y,length,width,rotation,xmin,xmax,ymin,ymax,bottom,top,height\n"
BROKEN_SOLIDS = [
    ("a,,,,,,,,,,,,,,,,,,0,1,", "column C (polygon)", "the shape in plan is missing"),
    ("a,,0 0; 1 1,,,,,,,,,,,,,,,,0,1,", "column C (polygon)", "2 corners"),
    ("a,,0 0; 9 9; 18 18,,,,,,,,,,,,,,,,0,1,", "column C (polygon)", "no area"),
    ("a,,0 0; 9 9; 9 0; 0 9,,,,,,,,,,,,,,,,0,1,", "column C (polygon)", "crosses itself"),
    ("a,,0 0; 9 9; nine 0,,,,,,,,,,,,,,,,0,1,", "column C (polygon)", "a length"),
    ('a,,"LINESTRING (0 0, 1 1)",,,,,,,,,,,,,,,,0,1,', "column C (polygon)", "not LineString"),
    ('a,,"POLYGON ((0 0, 1 1",,,,,,,,,,,,,,,,0,1,', "column C (polygon)", "WKT or GeoJSON"),
    ("a,,{broken,,,,,,,,,,,,,,,,0,1,", "column C (polygon)", "WKT or GeoJSON"),
    ("a,,,0,0,900,0,,,,,,,,,,,,0,1,", "column D (x1)", "a width beside the line"),
    ("a,,,5,5,5,5,,,,,,100,,,,,,0,1,", "column D (x1)", "the same place"),
    ("a,,,0,0,900,,900,900,,,,,,,,,,0,1,", "column G (y2)", "the cell is empty"),
    ("a,,,0,0,,,900,900,,,,,,,,,,0,1,", "column H (x3)", "behind an empty one"),
    ("a,,,,,,,,,5,5,-3,4,,,,,,0,1,", "column L (length)", "more than 0 expected"),
    ("a,,,,,,,,,5,5,3,,,,,,,0,1,", "column M (width)", "the cell is empty"),
    ("a,,,,,,,,,5,5,3,4,steep,,,,,0,1,", "column N (rotation)", "a number expected"),
    ("a,,,,,,,,,,,,,,5,,5,9,0,1,", "column P (xmax)", "the cell is empty"),
    ("a,,,,,,,,,,,,,,5,9,5,9,,,", "column T (top)", "two of bottom, top and height"),
    ("a,,,,,,,,,,,,,,5,9,5,9,5,,", "column T (top)", "two of bottom, top and height"),
    ("a,,,,,,,,,,,,,,5,9,5,9,5,4,", "column T (top)", "reversed"),
    ("a,,,,,,,,,,,,,,5,9,5,9,5,,0", "column U (height)", "more than 0 expected"),
    ("a,,,,,,,,,,,,,,5,9,5,9,5,9,6", "column U (height)", "top less bottom is 4 mm"),
]


@pytest.mark.parametrize(("row", "place", "message"), BROKEN_SOLIDS, ids=[case[0] for case in BROKEN_SOLIDS])
def test_broken_cells_of_obstructions(tmp_path: Path, row: str, place: str, message: str) -> None:
    (fault,) = faults_of(tmp_path / "obstructions.csv", SOLIDS + row + "\n")
    assert f"obstructions.csv row 2, {place}: obstruction a: " in fault and message in fault


def test_all_faults_of_all_files_come_at_once(tmp_path: Path) -> None:
    heads, solids = tmp_path / "heads.csv", tmp_path / "ducts.csv"
    heads.write_text(HEADS + "H1;a;b;c\n" + GOOD + "H3;1;2;d\n")
    solids.write_text("id,polygon,bottom,top\nA,0 0,0,1\nA,0 0;9 0;9 9,0,x\n")
    with pytest.raises(ScenarioError) as error:
        tables_drawn(heads, solids, None, None)
    places = [fault.place for fault in error.value.faults]
    assert len(places) == 8  # three cells, a doubled head, one cell; a shape, a doubled id, a cell
    assert sum("heads.csv" in place for place in places) == 5
    assert all(fault.line for fault in error.value.faults)
    assert error.value.source == f"{heads}, {solids}"


SHAPES = [
    ("polygon", "0 0; 4000 0; 4000 600; 0 600"),
    ("polygon", "0,0; 4000,0; 4000,600; 0,600"),
    ("polygon", "0, 0 | 4000, 0 | 4000, 600 | 0, 600 | 0, 0"),
    ("polygon", "POLYGON ((0 0, 4000 0, 4000 600, 0 600, 0 0))"),
    ("polygon", "MULTIPOLYGON Z (((0 0 9, 4000 0 9, 4000 600 9, 0 600 9, 0 0 9)))"),
    ("polygon", '{"type":"Polygon","coordinates":[[[0,0],[4000,0],[4000,600],[0,600],[0,0]]]}'),
    (
        "polygon",
        '{"type":"Feature","properties":{},"geometry":'
        '{"type":"Polygon","coordinates":[[[0,0],[4000,0],[4000,600],[0,600],[0,0]]]}}',
    ),
    ("x1\ty1\tx2\ty2\tx3\ty3\tx4\ty4\tx5\ty5", "0\t0\t4000\t0\t4000\t600\t0\t600\t\t"),
    ("Corner 1 X\tCorner 1 Y\tCorner 2 X\tCorner 2 Y\tCorner 3 X\tCorner 3 Y\tp4x\tp4y",
     "0\t0\t4000\t0\t4000\t600\t0\t600"),
    ("x1\ty1\tx2\ty2\twidth", "0\t300\t4000\t300\t600"),
    ("x\ty\tlength\twidth", "2000\t300\t4000\t600"),
    ("centre x\tcentre y\tlength\twidth\trotation", "2000\t300\t600\t4000\t90"),
    ("centre x\tcentre y\tlength\twidth\trotation", "2000\t300\t4 m\t60 cm\t-180°"),
    ("xmin\txmax\tymin\tymax", "0\t4000\t0\t600"),
    ("x min\tx max\ty min\ty max", "4000\t0\t0\t600"),
]  # fmt: skip


@pytest.mark.parametrize(("headers", "cells"), SHAPES)
def test_one_duct_in_every_way_that_a_table_gives_it(tmp_path: Path, headers: str, cells: str) -> None:
    from shapely.geometry import Polygon, box

    quoted = cells.replace('"', '""') if "{" in cells else cells
    text = (
        f"kind\t{headers}\tbottom\theight\n"
        + f"duct\t{f'{chr(34)}{quoted}{chr(34)}' if '{' in cells else cells}\t3000\t250\n"
    )
    (solid,) = solids_in(tmp_path / "obstructions.tsv", text).solids
    assert Polygon(solid.corners).symmetric_difference(box(0, 0, 4000, 600)).area < 1e-3
    assert (solid.low, solid.high, solid.kind, solid.id) == (3000, 3250, "duct", "duct-2")


@pytest.mark.parametrize(
    ("headers", "cells"),
    [("zmin;zmax", "3000;3250"), ("underside;depth", "3 m;250"), ("Top;Height", "3250;25 cm")],
)
def test_elevations_in_every_way(tmp_path: Path, headers: str, cells: str) -> None:
    text = f"kind;xmin;xmax;ymin;ymax;{headers}\nduct;0;1;0;1;{cells}\n"
    (solid,) = solids_in(tmp_path / "obstructions.csv", text).solids
    assert (solid.low, solid.high) == (3000, 3250)


def test_a_turned_duct_against_a_rotation_by_shapely(tmp_path: Path) -> None:
    from shapely import affinity
    from shapely.geometry import Polygon, box

    text = "kind;x;y;length;width;rotation;zmin;zmax\nduct;5000;3000;2000;400;33,5;1;2\n"
    (solid,) = solids_in(tmp_path / "obstructions.csv", text).solids
    wanted = affinity.rotate(box(4000, 2800, 6000, 3200), 33.5)
    assert Polygon(solid.corners).symmetric_difference(wanted).area < 1.0


def test_holes_are_filled_and_told(tmp_path: Path) -> None:
    wkt = "POLYGON ((0 0, 9 0, 9 9, 0 9), (1 1, 2 1, 2 2, 1 1))".replace("0 9)", "0 9, 0 0)")
    drawn = solids_in(tmp_path / "obstructions.csv", f'id,wkt,zmin,zmax\nA,"{wkt}",0,1\n')
    assert len(drawn.solids[0].corners) == 4
    assert any("holes" in note and "row 2" in note for note in drawn.notes)


def test_units_in_headers_cells_and_the_file_of_columns(tmp_path: Path) -> None:
    text = "id;x [m];y (ft);z_in;shift\nH1;1,5;10;120;0,25\nH2;1500 mm;3 m;10'-0\";\n"
    columns = Columns.model_validate({"heads": {"units": "m"}})
    first, second = heads_in(tmp_path / "heads.csv", text, columns).heads
    assert first.at == pytest.approx((1500, 3048, 3048)) and first.given["shift"] == 250
    assert second.at == pytest.approx((1500, 3000, 3048)) and "shift" not in second.given
    (fault,) = faults_of(tmp_path / "heads.csv", "id;x [yd];y;z\nH1;1;2;3\n")
    assert "row 1, column B (x [yd])" in fault and "unit yd is not known" in fault


def test_words_of_our_own_trade(tmp_path: Path) -> None:
    rows = "a;1;2;3;PENDANT;1/2\nb;1;2;4;Side-Wall;¾\nc;1;2;5;SSU;DN25\nd;1;2;6;pendent;0,75\n"
    drawn = heads_in(tmp_path / "heads.csv", "id;x;y;z;type;size\n" + rows)
    assert [head.kind for head in drawn.heads] == ["pendent", "sidewall", "upright", "pendent"]
    assert [head.thread for head in drawn.heads] == [15, 20, 25, 20]


def test_a_row_of_units_below_the_header(tmp_path: Path) -> None:
    text = "id;x;y;z;k\nunit;[m];(m);mm;-\nH1;1,5;2;3000;5,6\n"
    drawn = heads_in(tmp_path / "heads.csv", text)
    assert [(head.id, head.at) for head in drawn.heads] == [("H1", (1500.0, 2000.0, 3000.0))]
    assert any("row 2: read as the units" in note for note in drawn.notes)
    (fault,) = faults_of(tmp_path / "heads.csv", "id;x;y;z\nH0;m;2;3\nH1;1;2;3\n")
    assert "row 2, column B (x)" in fault


def test_marks_without_width_are_not_seen(tmp_path: Path) -> None:
    text = "\ufeffid;x;y;z\n\u200bH1\ufeff;\u200b1,5;2\u200b ;3\u2060,5\n"
    (head,) = heads_in(tmp_path / "heads.csv", text).heads
    assert (head.id, head.at) == ("H1", (1.5, 2.0, 3.5))
