"""The file of columns: names, units, words, defaults; its own faults."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest
from tables_made import faults_of, heads_in, solids_in

from router.readers.tables import Columns, read_columns, tables_drawn
from router.scenario import ScenarioError

if TYPE_CHECKING:
    from pathlib import Path

GERMAN = """\
units: m
heads:
  sheet: Köpfe
  skip_rows: 2
  decimal: comma
  columns:
    id: Bezeichnung
    x: rechtswert
    y: "HOCHWERT"
    z: Höhe
    kind: Einbau
    thread: Anschluß
  words:
    kind: {hängend: pendent, Stehend: upright, "Wand": sidewall}
    thread: {"ein halbes": 15}
  defaults: {k_factor: "5,6", dry: no, thread: 20}
obstructions:
  units: mm
  columns: {id: Nr, kind: Art, bottom: UK, height: Bauhöhe, x: X, y: Y, length: Länge, width: Breite}
  words: {kind: {Unterzug: beam, Kanal: duct}}
  defaults: {clearance: 50}
"""
TABLE = """\
Köpfe 2. OG
Stand heute
Bezeichnung;Rechtswert [m];Hochwert;Höhe (mm);EINBAU ;Anschluss
K1;1.234,567;5,678;2500;Hängend;ein halbes
K2;1.234;5;2,5 m;STEHEND;
"""


@pytest.fixture
def german(tmp_path: Path) -> Columns:
    path = tmp_path / "columns.yaml"
    path.write_text(GERMAN, encoding="utf-8")
    return read_columns(path)


def test_a_table_in_another_language(tmp_path: Path, german: Columns) -> None:
    first, second = heads_in(tmp_path / "köpfe.csv", TABLE, german).heads
    assert first.at == pytest.approx((1234567, 5678, 2500)) and first.kind == "pendent"
    assert second.at == pytest.approx((1234000, 5000, 2500)) and second.kind == "upright"
    assert (first.thread, second.thread) == (15, 20)
    assert first.given["k_factor"] == 5.6 and first.given["dry"] is False


def test_obstructions_with_words_and_defaults(tmp_path: Path, german: Columns) -> None:
    text = "Nr;Art;X;Y;Länge;Breite;UK;Bauhöhe;Bemerkung\n1;UNTERZUG;0;0;10;20;3000;400;\n"
    drawn = solids_in(tmp_path / "obstructions.csv", text, german)
    (solid,) = drawn.solids
    assert (solid.id, solid.kind, solid.low, solid.high, solid.clearance) == ("1", "beam", 3000, 3400, 50)


def test_a_named_column_that_is_not_there(tmp_path: Path, german: Columns) -> None:
    (fault,) = faults_of(tmp_path / "heads.csv", TABLE.replace("Anschluss", "DN"), german)
    assert 'row 3: columns of heads that are missing: thread (as "Anschluß")' in fault
    assert "headers here: Bezeichnung, Rechtswert [m], Hochwert, Höhe (mm), EINBAU, DN" in fault


def test_a_named_column_that_is_there_twice(tmp_path: Path, german: Columns) -> None:
    faults = faults_of(tmp_path / "heads.csv", TABLE.replace("Anschluss", "Anschluss;anschluss"), german)
    assert any("row 3, column G" in fault and "more than one column" in fault for fault in faults)


def test_defaults_stand_in_for_columns_and_empty_cells(tmp_path: Path) -> None:
    columns = Columns.model_validate({"heads": {"units": "m", "defaults": {"z": 2.7, "kind": "upright"}}})
    first, second = heads_in(tmp_path / "heads.csv", "id,x,y,z\nA,1,2,\nB,1,2,3\n", columns).heads
    assert (first.at[2], second.at[2], first.kind) == (2700, 3000, "upright")
    assert heads_in(tmp_path / "heads.csv", "id,x,y\nA,1,2\n", columns).heads[0].at[2] == 2700
    columns = Columns.model_validate({"heads": {"defaults": {"z": "two"}}})
    (fault,) = faults_of(tmp_path / "heads.csv", "id,x,y\nA,1,2\n", columns)
    assert 'heads.csv row 2, z: head A: "two" mm' in fault


def test_the_delimiter_and_the_decimal_mark_may_be_said(tmp_path: Path) -> None:
    columns = Columns.model_validate({"heads": {"decimal": "point", "delimiter": ";"}})
    assert heads_in(tmp_path / "h.csv", "id;x;y;z\nA;1.234;2;1,000\n", columns).heads[0].at == (
        1.234,
        2,
        1000,
    )


BAD = [
    ("[]", "(file)", "an object with heads"),
    ("heds: {}", "heds", "did you mean heads?"),
    ("heads: {column: {}}", "heads.column", "did you mean columns?"),
    ("heads: {units: yd}", "heads.units", "'mm', 'cm', 'm', 'in' or 'ft' expected"),
    ("heads: {columns: {elevation: Z}}", "heads.columns.elevation", "no field of heads"),
    ("heads: {columns: {x1: Z}}", "heads.columns.x1", "no field of heads"),
    ("heads: {columns: {x: 3}}", "heads.columns.x", "text expected"),
    ('heads: {columns: {x: " "}}', "heads.columns.x", "the header of a column expected"),
    ("heads: {skip_rows: -1}", "heads.skip_rows", "0 or more"),
    ("heads: {skip_rows: two}", "heads.skip_rows", "a whole number"),
    ("heads: {decimal: ','}", "heads.decimal", "'point' or 'comma' expected"),
    ("heads: {words: {kind: [a]}}", "heads.words.kind", "an object expected"),
    ("heads: {defaults: {clearance: 1}}", "heads.defaults.clearance", "no field of heads"),
    ("heads: {defaults: {z: [1]}}", "heads.defaults.z", "expected"),
    ("pipes:\n  columns: {roll: a}", "pipes.columns.roll", "did you mean role?"),
    ("heads: {units: m, units: ft}", "heads.units", ""),
    ("heads: [", "(file)", ""),
]


@pytest.mark.parametrize(("text", "place", "message"), BAD)
def test_faults_of_the_file_of_columns(tmp_path: Path, text: str, place: str, message: str) -> None:
    path = tmp_path / "columns.yaml"
    path.write_text(text)
    with pytest.raises(ScenarioError) as error:
        read_columns(path)
    (fault,) = error.value.faults
    assert fault.place == place and message in fault.message and fault.line
    assert error.value.source == str(path)


def test_corners_may_be_named(tmp_path: Path) -> None:
    columns = Columns.model_validate(
        {
            "obstructions": {
                "columns": {"x1": "ax", "y1": "ay", "x2": "bx", "y2": "by", "x3": "cx", "y3": "cy"}
            }
        }
    )
    text = "kind,ax,ay,bx,by,cx,cy,zmin,zmax\nduct,0,0,9,0,9,9,1,2\n"
    (solid,) = solids_in(tmp_path / "obstructions.csv", text, columns).solids
    assert solid.corners == [(0, 0), (9, 0), (9, 9)]


def test_pipes(tmp_path: Path) -> None:
    path = tmp_path / "pipes.csv"
    path.write_text(
        "id,start x,start y,start z,end x,end y,end z,dn,kind,branch,head_ids\n"
        "P1,0,0,3 m,6 m,0,3 m,DN50,Branch line,B1,\n"
        'P2,1000,0,3 m,1000,500,3 m,1",head_arm,B1,A;B\n'
        "P3,0,0,3 m,0,9 m,3 m,200,,,\n"
    )
    drawn = tables_drawn(None, None, path, None)
    assert [(pipe.dn, pipe.role, pipe.line, pipe.heads) for pipe in drawn.pipes] == [
        (50, "branch", "B1", ()),
        (25, "head_arm", "B1", ("A", "B")),
        (200, "", "", ()),
    ]
    assert drawn.pipes[0].b == (6000, 0, 3000)
