"""Cut list and stock list of a route: the tables into a folder, all of them or none."""

from __future__ import annotations

from typing import TYPE_CHECKING

from router.check import check_route
from router.cutlist import cut_list
from router.cutlist.sheets import NAMES, sheets
from router.deliver.cutlist_csv import sheet_csv
from router.deliver.cutlist_xlsx import workbook
from router.deliver.folder import check_folder, save_all

if TYPE_CHECKING:
    from collections.abc import Iterable
    from pathlib import Path

    from router.cutlist import CutList
    from router.route.model import Route
    from router.scenario.model import Scenario

WORKBOOK = "cutlist.xlsx"
FILES = (*(f"{name}.csv" for name in NAMES), WORKBOOK)
"""What is written, in order."""


def check_cut_list_folder(folder: Path, keep: Iterable[Path]) -> None:
    """Refuse a folder that the cut list could not be written to.

    Raises
    ------
    OutputError
        Names the place and the reason.
    """
    check_folder(folder, FILES, keep)


def write_cut_list(scenario: Scenario, route: Route, folder: Path) -> tuple[CutList, int]:
    """Work out a route's cut list and write it.

    Returns
    -------
    CutList, int
        The list, and how many of the referee's findings say that the route breaks a rule.

    Raises
    ------
    OutputError
        If it cannot be written; then nothing is.
    ValueError
        If ``rules.stock_lengths`` or ``rules.saw_cut`` cannot be.
    """
    cuts = cut_list(scenario, route)
    broken = len(check_route(scenario, route).breaks)
    if broken:
        findings = "1 finding breaks" if broken == 1 else f"{broken} findings break"
        cuts.remarks.insert(0, f"{findings} a rule: see `branch-router check` before anything is cut")
    tables = sheets(cuts)
    files = {f"{table.name}.csv": sheet_csv(table).encode() for table in tables}
    files[WORKBOOK] = workbook(tables, f"{cuts.scenario}: cut list", cuts.caution)
    save_all(folder, files)
    return cuts, broken
