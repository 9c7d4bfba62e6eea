"""The tables as files: CSV and workbook say the same, nothing becomes a formula, bytes are the same twice."""

from __future__ import annotations

import csv
import io
from datetime import datetime
from typing import TYPE_CHECKING

import openpyxl
import pytest
from shop_made import Shop, scenario

from router.cutlist import cut_list
from router.cutlist.cells import Sheet
from router.cutlist.sheets import NAMES, sheets
from router.deliver.cutlist_csv import sheet_csv
from router.deliver.cutlist_xlsx import workbook

if TYPE_CHECKING:
    from router.cutlist import CutList

NASTY = [
    "=1+1",
    "+2",
    "-3",
    "@SUM(A1)",
    "http://example.org",
    "007",
    'say "so"',
    "a,b",
    "zwei\nlines",
    "Größe",
]


@pytest.fixture(scope="module")
def made() -> CutList:
    runs = [{"id": "=cmd|' /C calc'!A0", "plan": [(0, 0), (9000, 0)], "elevation": 3000}]
    shop = Shop(scenario(runs))
    run = runs[0]["id"]
    elbow = shop.fit("elbow_90", (0.0, 0.0, 3000.0), run=str(run))
    shop.pipe("run", ((-1000.0, 0.0, 3000.0), elbow), 25, run=str(run))
    shop.pipe("run", (elbow, (0.0, 9000.0, 3000.0)), 25, run=str(run))
    return cut_list(shop.given, shop.route())


def test_the_workbook_reads_back_as_written(made: CutList) -> None:
    tables = [*sheets(made), Sheet("nasty", ("a", "b"), [[text, k] for k, text in enumerate(NASTY)])]
    book = openpyxl.load_workbook(io.BytesIO(workbook(tables, "title & more", made.caution)))
    assert book.sheetnames == [*NAMES, "nasty"]
    for table in tables:
        page = book[table.name]
        rows = [[cell.value for cell in row] for row in page.iter_rows()]
        assert tuple(rows[0]) == table.columns
        wanted = [[cell if cell != "" else None for cell in row] for row in table.rows]
        assert rows[1:] == wanted
        types = [[cell.data_type for cell in row] for row in page.iter_rows(min_row=2)]
        for given, kinds in zip(table.rows, types, strict=True):
            for cell, kind in zip(given, kinds, strict=True):
                assert kind == ("s" if isinstance(cell, str) and cell else "n")
    assert not any(cell.hyperlink for row in book["nasty"].iter_rows() for cell in row)


def test_csv_reads_back_and_holds_no_formula(made: CutList) -> None:
    for table in [*sheets(made), Sheet("nasty", ("a", "b"), [[text, k] for k, text in enumerate(NASTY)])]:
        header, *rows = csv.reader(io.StringIO(sheet_csv(table)))
        assert tuple(header) == table.columns
        assert len(rows) == len(table.rows)
        for given, row in zip(table.rows, rows, strict=True):
            for cell, text in zip(given, row, strict=True):
                if isinstance(cell, str):
                    assert text in (cell, f"'{cell}")
                    assert not text.startswith(("=", "+", "-", "@"))
                else:
                    assert text == "" if cell is None else float(text) == cell


def test_a_negative_number_stays_a_number() -> None:
    text = sheet_csv(Sheet("s", ("x",), [[-12.5], [-3.0], ["-x"]]))
    assert text.splitlines() == ["x", "-12.5", "-3", "'-x"]


def test_the_same_bytes_twice(made: CutList) -> None:
    first = workbook(sheets(made), "t", "c")
    assert first == workbook(sheets(made), "t", "c")
    # not the time of the run, which two writings within a second share
    assert openpyxl.load_workbook(io.BytesIO(first)).properties.created == datetime(2000, 1, 1)


def test_feet_stand_beside_millimetres_and_metric_has_none(made: CutList) -> None:
    cut = {table.name: table for table in sheets(made)}["cut_list"]
    row = dict(zip(cut.columns, cut.rows[0], strict=True))
    # 1000 mm - 1.50 in. + 0.661 in. = 978.7 mm = 38.53 in. = 38 1/2 in. rounded to sixteenths
    assert row["cut length"] == "3'-2 1/2\""
    assert row["cut length mm"] == 977.9
    assert row["exact mm"] == 978.7
    assert row["size"] == "1 in."
