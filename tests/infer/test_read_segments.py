"""The drawing's file: what it may hold, and faults by file, row, column and value."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from router.readers.segments import Segment, read_segments
from router.scenario.errors import ScenarioError

if TYPE_CHECKING:
    from pathlib import Path

HEADER = "x1,y1,z1,x2,y2,z2,size,id,role,line_id,head_ids\n"


def read(text: str, folder: Path) -> list[Segment]:
    path = folder / "mine.csv"
    path.write_text(text, encoding="utf-8")
    return read_segments(path)


def faults(text: str, folder: Path) -> list[str]:
    with pytest.raises(ScenarioError) as caught:
        read(text, folder)
    return [str(fault) for fault in caught.value.faults]


def test_every_column(tmp_path: Path) -> None:
    found = read(HEADER + "0,1,2,3.5,4,5,1-1/4,P1,head_arm,B1,H1;H2\n", tmp_path)
    assert found == [
        Segment("P1", (0, 1, 2), (3.5, 4, 5), 32, "head_arm", "B1", ("H1", "H2"), 2),
    ]


def test_only_what_is_needed_dn_for_size_other_columns_passed_over(tmp_path: Path) -> None:
    found = read("colour,dn,x1,y1,z1,x2,y2,z2\nred,25,0,0,0,0,0,100\nblue,DN40,0,0,0,9,0,0\n", tmp_path)
    assert [(s.id, s.dn, s.role) for s in found] == [("row 2", 25, ""), ("row 3", 40, "")]


def test_a_size_that_is_not_made_is_kept_for_the_remark(tmp_path: Path) -> None:
    found = read(HEADER + "0,0,0,1,0,0,200,A,main,,\n0,0,0,1,0,0,,B,,,\n", tmp_path)
    assert [s.dn for s in found] == [200, 0]


def test_a_byte_order_mark_and_crlf(tmp_path: Path) -> None:
    path = tmp_path / "excel.csv"
    path.write_bytes(b"\xef\xbb\xbfx1,y1,z1,x2,y2,z2,size\r\n0,0,0,1,2,3,25\r\n")
    assert read_segments(path)[0].b == (1, 2, 3)


@pytest.mark.parametrize(
    ("row", "column", "value", "says"),
    [
        ("a,0,0,1,0,0,25,P,,,", "x1", '"a"', "a number in mm expected"),
        ("0,0,0,1,0,,25,P,,,", "z2", '""', "a number in mm expected"),
        ("0,0,nan,1,0,0,25,P,,,", "z1", '"nan"', "a finite number in mm expected"),
        ("0,0,0,1,2e7,0,25,P,,,", "y2", '"2e7"', "more than 10 km"),
        ("0,0,0,1,0,0,big,P,,,", "size", '"big"', "a nominal size expected"),
        ("0,0,0,1,0,0,25,P,arm,,", "role", '"arm"', "main, branch, head_arm, hose"),
    ],
)
def test_a_fault_names_row_column_and_value(
    row: str, column: str, value: str, says: str, tmp_path: Path
) -> None:
    (found,) = faults(HEADER + "0,0,0,1,0,0,25,Q,,,\n" + row + "\n", tmp_path)
    assert f"mine.csv row 3, column {column}" in found
    assert "pipe P" in found
    assert value in found
    assert says in found


def test_all_faults_at_once(tmp_path: Path) -> None:
    assert len(faults(HEADER + "a,b,c,1,0,0,huge,P,,,\n0,0,0,1,0,0,25,P,,,\n", tmp_path)) == 5


def test_missing_columns(tmp_path: Path) -> None:
    found = faults("x1,y1,z1,x2,y2\n0,0,0,1,1\n", tmp_path)
    assert len(found) == 2
    assert "z2: this column is missing" in found[0]
    assert "size: this column is missing" in found[1]


def test_doubled_id_and_too_many_cells(tmp_path: Path) -> None:
    (found,) = faults(HEADER + "0,0,0,1,0,0,25,P,,,\n0,0,0,1,0,0,25,P,,,\n", tmp_path)
    assert "duplicate id, already in row 2" in found
    (found,) = faults(HEADER + "0,0,0,1,0,0,25,P,,,,,7\n", tmp_path)
    assert "more cells than columns" in found


def test_no_rows_no_file_no_text(tmp_path: Path) -> None:
    assert "at least one pipe expected" in faults(HEADER, tmp_path)[0]
    with pytest.raises(ScenarioError, match="cannot be read"):
        read_segments(tmp_path / "not_there.csv")
    (tmp_path / "odd.csv").write_bytes(b"x1,y1\n\xff\xfe")
    with pytest.raises(ScenarioError, match="not UTF-8"):
        read_segments(tmp_path / "odd.csv")
