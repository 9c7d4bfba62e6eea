"""Files as they come: encodings, delimiters, workbooks, and what is none."""

from __future__ import annotations

import datetime
import os
import zipfile
from io import BytesIO
from typing import TYPE_CHECKING

import openpyxl
import pytest
from tables_made import Cells, as_xlsx, faults_of, heads_in

from router.readers.tables import Columns, cells, tables_drawn, xlsx_scan
from router.scenario import ScenarioError

if TYPE_CHECKING:
    from pathlib import Path

TEXT = "id;x;y;z\nKöpfe 1;1000,5;2000;3000\n"
AT = (1000.5, 2000.0, 3000.0)


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be"])
@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
def test_encodings_and_line_ends(tmp_path: Path, encoding: str, end: str) -> None:
    marks = {"utf-16-le": b"\xff\xfe", "utf-16-be": b"\xfe\xff"}.get(encoding, b"")
    raw = marks + TEXT.replace("\n", end).encode(encoding)
    (head,) = heads_in(tmp_path / "heads.csv", raw).heads
    assert (head.id, head.at) == ("Köpfe 1", AT)


def test_windows_1252_is_one_clear_error(tmp_path: Path) -> None:
    raw = TEXT.encode("cp1252")
    (fault,) = faults_of(tmp_path / "heads.csv", raw)
    assert f"heads.csv row 2: 0xf6: is not UTF-8 text (byte {raw.index(0xF6)} of the file)" in fault
    assert "save it as UTF-8" in fault


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("id;x;y;z\nA;1;2;3\n".encode("utf-16-le"), "zero byte"),
        ("id;x;y;z\nA;1;2;3\n".encode("utf-32"), "UTF-32"),
        ("id;x;y;z\nA;1;2;3\n".encode("utf-16")[:-1], "not whole UTF-16"),
        (b'id;x;y;z\nA;1;2;3\n"B;1;2;3\n', "row 3: not readable as CSV"),
        (b"", "is empty; a header row"),
        (b"\xef\xbb\xbf \n;;;\n", "is empty; a header row"),
        (b"id;x;y;z\n", "no heads below the header"),
        (b"PK\x03\x04", "is a workbook"),
        (b"id;x;y\nA;1;2\n", "missing: z; headers here: id, x, y"),
        (b"a,b,c\n1,2,3\n", "missing: id, x, y, z; headers here: a, b, c"),
        (b"id;x;x;y;z\nA;1;1;2;3\n", "row 1, column C (x): a second column of this header"),
        ("id;x;y;z\nA;1;2;3\n" + "B" * 200_000, "not readable as CSV"),
    ],
)
def test_files_that_are_no_table(tmp_path: Path, text: str | bytes, why: str) -> None:
    (fault,) = faults_of(tmp_path / "heads.csv", text)
    assert why in fault


@pytest.mark.parametrize("name", ["heads.xls", "heads.ods", "heads.xlsb", "heads.pdf", "heads"])
def test_other_kinds_of_files(tmp_path: Path, name: str) -> None:
    (fault,) = faults_of(tmp_path / name, b"whatever")
    assert fault.startswith(f"{name}: ") and "save it as .xlsx or .csv" in fault


def test_a_file_that_is_not_there(tmp_path: Path) -> None:
    with pytest.raises(ValueError, match=r"none\.csv: cannot be read: No such file"):
        tables_drawn(tmp_path / "none.csv", None, None, None)
    with pytest.raises(ValueError, match="a table of heads or obstructions expected"):
        tables_drawn(None, None, None, None)


def test_a_pipe_between_programs_is_no_file(tmp_path: Path) -> None:
    """Reading it would wait for ever for one who writes."""
    os.mkfifo(tmp_path / "heads.csv")
    with pytest.raises(ScenarioError, match="not a plain file"):
        tables_drawn(tmp_path / "heads.csv", None, None, None)


@pytest.mark.parametrize("delimiter", [",", ";", "\t"])
def test_delimiters_are_found(tmp_path: Path, delimiter: str) -> None:
    lines = ["Heads, as of today; second floor", "", "ID | ignored| x |y|z", "", " A |'a, b; c'|1|2|3", ""]
    text = "\n".join(lines).replace("|", delimiter).replace("'", '"')
    drawn = heads_in(tmp_path / "heads.csv", text.replace(f'{delimiter}"', f'{delimiter}"'))
    assert [(head.id, head.at) for head in drawn.heads] == [("A", (1, 2, 3))]
    assert any("not read: ignored" in note for note in drawn.notes)


def test_a_line_that_names_the_delimiter(tmp_path: Path) -> None:
    (head,) = heads_in(tmp_path / "heads.csv", "sep=;\r\nid;x;y;z\r\nA;1,5;2;3\r\n").heads
    assert head.at == (1.5, 2.0, 3.0)
    (fault,) = faults_of(tmp_path / "heads.csv", "sep=;\r\nid;x;y;z\r\nA;b;2;3\r\n")
    assert "row 3, column B (x)" in fault


def test_an_unquoted_decimal_comma_among_commas(tmp_path: Path) -> None:
    (fault,) = faults_of(tmp_path / "heads.csv", "id,x,y,z\nA,1,5,2,3\n")
    assert "row 2, column E" in fault and "a decimal comma needs quotes" in fault
    (head,) = heads_in(tmp_path / "heads.csv", 'id,x,y,z\nA,"1,5",2.5,"-0,25"\n').heads
    assert head.at == (1.5, 2.5, -0.25)


def test_rows_of_the_file_are_told_across_line_ends_in_cells(tmp_path: Path) -> None:
    (fault,) = faults_of(tmp_path / "heads.csv", 'id;x;y;z;why\nA;1;2;3;"two\nlines"\n\nB;1;b;3;\n')
    assert "row 5, column C (y): head B" in fault


GOOD: Cells = [["id", "x", "y", "z"], ["A", 1000.5, 2000, 3000]]


def book(path: Path, rows: Cells) -> openpyxl.Workbook:
    made = openpyxl.Workbook()
    sheet = made.active
    assert sheet is not None
    sheet.title = "Heads"
    for row in rows:
        sheet.append(row)
    made.save(path)
    return made


@pytest.mark.parametrize(
    ("value", "why"),
    [
        (datetime.datetime(2026, 1, 2), '"2026-01-02 00:00:00" mm: the spreadsheet holds a date'),
        (datetime.time(1, 2), '"01:02:00" mm: the spreadsheet holds a date'),
        (True, '"TRUE" mm: a number in mm expected, not TRUE or FALSE'),
        ("=1+1", "a formula without a stored value"),
        ("#REF!", '"#REF!" mm: the spreadsheet holds an error'),
        ("#N/A", '"#N/A" mm: the spreadsheet holds an error'),
        ("one", '"one" mm: a length in mm expected'),
        (None, "the cell is empty"),
        (1e9, '"1000000000" mm: more than 10 km'),
    ],
)
def test_broken_cells_of_a_workbook(tmp_path: Path, value: object, why: str) -> None:
    path = tmp_path / "made.xlsx"
    book(path, [*GOOD, [], ["B", 1, value, 3]])
    (fault,) = faults_of(path, path.read_bytes())
    assert "made.xlsx sheet Heads, row 4, column C (y): head B: " in fault and why in fault


def test_a_formula_with_its_stored_value_is_read(tmp_path: Path) -> None:
    import xlsxwriter

    path = tmp_path / "made.xlsx"
    with xlsxwriter.Workbook(str(path)) as made:
        sheet = made.add_worksheet()
        sheet.write_row(0, 0, ["id", "x", "y", "z"])
        sheet.write_row(1, 0, [7, "1.000,5", " 2 m "])
        sheet.write_formula(1, 3, "=1500*2", None, 3000)
    (head,) = heads_in(path, path.read_bytes()).heads
    assert (head.id, head.at) == ("7", AT)


def test_an_id_that_became_a_date(tmp_path: Path) -> None:
    path = tmp_path / "made.xlsx"
    book(path, [*GOOD, [datetime.datetime(2026, 3, 4), 1, 2, 3]])
    (fault,) = faults_of(path, path.read_bytes())
    assert "row 3, column A (id)" in fault and "date" in fault


def test_merged_cells_and_hidden_rows(tmp_path: Path) -> None:
    path = tmp_path / "made.xlsx"
    made = book(path, [["List of heads"], *GOOD, ["B", 1, 2, 3]])
    sheet = made["Heads"]
    sheet.merge_cells("A1:D1")
    sheet.row_dimensions[4].hidden = True
    made.save(path)
    drawn = heads_in(path, path.read_bytes())
    assert [head.id for head in drawn.heads] == ["A", "B"]
    assert any("hidden rows were read as well: 4" in note for note in drawn.notes)
    sheet.merge_cells("D3:D4")
    made.save(path)
    (fault,) = faults_of(path, path.read_bytes())
    assert "row 4, column D (z): head B" in fault and "part of the merged cells D3:D4" in fault


def test_the_sheet_that_fits_is_taken(tmp_path: Path) -> None:
    path = as_xlsx(tmp_path / "made.xlsx", {"Cover": [["Project"]], "S 1": GOOD, "Costs": [["id", "x"]]})
    assert heads_in(path, path.read_bytes()).heads[0].at == AT
    as_xlsx(path, {"Cover": [["Project"]], "Costs": [["id", "x"]]})
    (fault,) = faults_of(path, path.read_bytes())
    assert "sheets: Cover, Costs; Cover lacks id, x, y, z; Costs lacks y, z" in fault
    as_xlsx(path, {"old": GOOD, "new": GOOD})
    (fault,) = faults_of(path, path.read_bytes())
    assert "more than one sheet has columns of heads: old, new" in fault
    columns = Columns.model_validate({"heads": {"sheet": "NEW "}})
    assert heads_in(path, path.read_bytes(), columns).heads
    columns = Columns.model_validate({"heads": {"sheet": "newest"}})
    (fault,) = faults_of(path, path.read_bytes(), columns)
    assert fault == 'made.xlsx: "newest": no such sheet; sheets: old, new'


def changed(raw: bytes, name: str, content: bytes | None, method: int = zipfile.ZIP_DEFLATED) -> bytes:
    """Write a workbook anew with one part changed, added, or left out."""
    stream = BytesIO()
    with zipfile.ZipFile(BytesIO(raw)) as old, zipfile.ZipFile(stream, "w", method) as new:
        for part in old.namelist():
            if part != name:
                new.writestr(part, old.read(part))
        if content is not None:
            new.writestr(name, content)
    return stream.getvalue()


SHEET = "xl/worksheets/sheet1.xml"


@pytest.mark.parametrize(
    ("part", "content", "why"),
    [
        (SHEET, b"<worksheet", "no readable XLSX"),
        (SHEET, None, "holds no sheet of cells"),
        ("xl/workbook.xml", b"", "no readable XLSX"),
        ("xl/workbook.xml", None, "no XLSX workbook"),
        (
            SHEET,
            b'<!DOCTYPE x [<!ENTITY a "aa"><!ENTITY b "&a;&a;">]><worksheet>&b;</worksheet>',
            "declares a document type",
        ),
    ],
)
def test_broken_workbooks(tmp_path: Path, part: str, content: bytes | None, why: str) -> None:
    path = as_xlsx(tmp_path / "made.xlsx", {"Heads": GOOD})
    (fault,) = faults_of(path, changed(path.read_bytes(), part, content))
    assert fault.startswith("made.xlsx: ") and why in fault


@pytest.mark.parametrize("cut", [0, 1, 100, 2000, -30])
def test_cut_off_workbooks(tmp_path: Path, cut: int) -> None:
    path = as_xlsx(tmp_path / "made.xlsx", {"Heads": GOOD})
    (fault,) = faults_of(path, path.read_bytes()[:cut])
    assert fault.startswith("made.xlsx: is no ")


def test_old_or_locked_workbooks(tmp_path: Path) -> None:
    (fault,) = faults_of(tmp_path / "made.xlsx", b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + b"\0" * 600)
    assert "an old .xls workbook or locked with a password" in fault


def test_a_small_file_that_unpacks_to_much(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = as_xlsx(tmp_path / "made.xlsx", {"Heads": GOOD})
    raw = path.read_bytes()
    monkeypatch.setattr(xlsx_scan, "MAX_EXPANDED", 1024 * 1024)
    bomb = changed(raw, "xl/media/zeros.bin", b"\0" * (2 * 1024 * 1024))
    assert len(bomb) < 20_000
    (fault,) = faults_of(path, bomb)
    assert "2 MB: its parts unpack to too much; at most 1 MB" in fault


@pytest.mark.parametrize("place", ["A99999999", "ZZZ2"])
def test_a_cell_far_out(tmp_path: Path, place: str) -> None:
    path = as_xlsx(tmp_path / "made.xlsx", {"Heads": GOOD})
    row = place.lstrip("AZ")
    cell = f'<row r="{row}"><c r="{place}"><v>1</v></c></row></sheetData>'.encode()
    with zipfile.ZipFile(path) as archive:
        sheet = archive.read(SHEET)
    (fault,) = faults_of(path, changed(path.read_bytes(), SHEET, sheet.replace(b"</sheetData>", cell)))
    assert "beyond" in fault and "made.xlsx sheet Heads, row" in fault


def test_too_many_rows(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    from router.readers.tables import csv_file

    monkeypatch.setattr(csv_file, "MAX_ROWS", 10)
    (fault,) = faults_of(tmp_path / "heads.csv", "id;x;y;z\n" + "A;1;2;3\n" * 20)
    assert "at most 10 rows" in fault


def test_letters_of_columns() -> None:
    # as openpyxl names them
    from openpyxl.utils import get_column_letter

    for k in range(1500):
        assert cells.letters(k) == get_column_letter(k + 1)


@pytest.mark.parametrize("name", ["heads.csv", "made.xlsx"])
def test_damaged_files_end_in_faults_or_heads(tmp_path: Path, name: str) -> None:
    """Bytes changed at random places of a sound file: nothing but a list of faults may come of it."""
    import random

    sound = TEXT.encode()
    if name == "made.xlsx":
        rows = [*GOOD, *([f"H{k}", k * 1.5, "2,5 m", 3000] for k in range(30))]
        sound = as_xlsx(tmp_path / "sound.xlsx", {"Heads": rows}).read_bytes()
    chance = random.Random(1)
    outcomes = {"faults": 0, "heads": 0}
    for _ in range(150):
        raw = bytearray(sound)
        for _ in range(chance.randint(1, 4)):
            raw[chance.randrange(len(raw))] = chance.randrange(256)
        try:
            outcomes["heads" if heads_in(tmp_path / name, bytes(raw)).heads else "none"] += 1
        except ScenarioError as error:
            assert error.faults and all(name in fault.place for fault in error.faults)
            outcomes["faults"] += 1
    assert outcomes["faults"] > 10


def test_damaged_parts_of_a_workbook(tmp_path: Path) -> None:
    """The same inside the sheet's part, where no checksum guards the bytes."""
    import random

    path = as_xlsx(tmp_path / "made.xlsx", {"Heads": [*GOOD, *([f"H{k}", k, 2, 3] for k in range(9))]})
    raw = path.read_bytes()
    with zipfile.ZipFile(BytesIO(raw)) as archive:
        sheet = archive.read(SHEET)
    chance = random.Random(2)
    refused = 0
    for _ in range(150):
        part = bytearray(sheet)
        for _ in range(chance.randint(1, 3)):
            part[chance.randrange(len(part))] = chance.choice(b'0123456789<>/="ABrcvt ')
        try:
            heads_in(path, changed(raw, SHEET, bytes(part)))
        except ScenarioError:
            refused += 1
    assert refused > 10
