"""Cut list as CSV: one file per table."""

from __future__ import annotations

import csv
import io
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from router.cutlist.cells import Cell, Sheet

FORMULA = ("=", "+", "-", "@", "\t", "\r")
"""Text that begins so is taken for a formula by spreadsheets, so it gets an apostrophe before it."""


def sheet_csv(sheet: Sheet) -> str:
    """Write a table as CSV with a header row, lines ended by a line feed.

    Text that a spreadsheet would take for a formula (an id may begin with ``=``)
    is written with an apostrophe before it; numbers are never changed.
    """
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(sheet.columns)
    for row in sheet.rows:
        writer.writerow([cell_text(cell) for cell in row])
    return out.getvalue()


def cell_text(cell: Cell) -> Cell:
    """Give a cell as it is written; see :func:`sheet_csv`."""
    if isinstance(cell, str) and cell.startswith(FORMULA):
        return f"'{cell}"
    if isinstance(cell, float) and cell.is_integer():
        return int(cell)
    return cell
