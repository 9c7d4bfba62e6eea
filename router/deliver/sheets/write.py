"""Sheets into a PDF file or a folder, whole or not at all."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING

import yaml

from router.deliver.files import OutputError, save_bytes
from router.deliver.folder import check_folder, save_all
from router.deliver.sheets.make import PDF, sheet_set
from router.deliver.sheets.paper import paper_of

if TYPE_CHECKING:
    from collections.abc import Iterable
    from pathlib import Path

    from router.deliver.sheets.make import Set
    from router.deliver.sheets.paper import Paper
    from router.route.model import Route
    from router.scenario.model import Scenario


def given_in_inches(path: Path) -> bool:
    """Tell whether a scenario file gives its lengths in inches or feet; its sheets then do too.

    Returns
    -------
    bool
        ``False`` where the file cannot be read: reading the scenario says why.
    """
    try:
        text = path.read_text(encoding="utf-8-sig")
        data = json.loads(text) if path.suffix.lower() == ".json" else yaml.safe_load(text)
    except (OSError, ValueError, yaml.YAMLError, RecursionError):
        return False
    return isinstance(data, dict) and data.get("units") in ("in", "ft")


def sheet_paper(name: str | None, *, inch: bool) -> Paper:
    """Find the paper that is asked for.

    Raises
    ------
    OutputError
        Lists the papers that there are.
    """
    try:
        return paper_of(name, inch=inch)
    except ValueError as error:
        raise OutputError(str(error)) from error


def check_sheet_folder(folder: Path, keep: Iterable[Path]) -> None:
    """Refuse a folder that the sheets could not be written to.

    Raises
    ------
    OutputError
        Names the place and the reason.
    """
    check_folder(folder, [PDF], keep)


def write_sheets(scenario: Scenario, route: Route, output: Path, paper: Paper, date: str = "") -> Set:
    """Draw all sheets: into ``output`` if it ends in ``.pdf``, else into that folder, with an SVG for each.

    Raises
    ------
    OutputError
        If it cannot be written; then nothing is.
    """
    sheets = sheet_set(scenario, route, paper, date)
    if output.suffix.lower() == ".pdf":
        save_bytes(output, sheets.pdf())
    else:
        files = {name: text.encode() for name, text in sheets.svgs().items()}
        save_all(output, {**files, PDF: sheets.pdf()})
    return sheets
