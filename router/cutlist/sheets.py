"""A cut list as tables of plain cells: what the CSV files and the workbook hold.

Cells are text, numbers or nothing. Lengths are in mm; with the inch standard a
column in feet, inches and sixteenths stands beside them.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from router.cutlist.notes_sheet import notes_sheet
from router.cutlist.other_sheets import drains_sheet, fittings_sheet, hangers_sheet, totals_sheet
from router.cutlist.pipe_sheets import cuts_sheet, groups_sheet, stock_sheet

if TYPE_CHECKING:
    from router.cutlist.cells import Sheet
    from router.cutlist.records import CutList

NAMES = ("cut_list", "pieces_grouped", "stock_list", "fittings", "hangers", "drains", "totals", "notes")


def sheets(cuts: CutList) -> list[Sheet]:
    """Give all tables of a cut list, in the order of work."""
    return [
        cuts_sheet(cuts),
        groups_sheet(cuts),
        stock_sheet(cuts),
        fittings_sheet(cuts),
        hangers_sheet(cuts),
        drains_sheet(cuts),
        totals_sheet(cuts),
        notes_sheet(cuts),
    ]
