"""Tables made for the tests: scenarios written as CSV and XLSX the way spreadsheets do it."""

from __future__ import annotations

import csv
import io
from pathlib import Path
from typing import TYPE_CHECKING, Any

import xlsxwriter

from router.readers.tables import Columns, tables_drawn
from router.scenario import ScenarioError

if TYPE_CHECKING:
    from router.readers.drawn import Drawn
    from router.scenario.model import Scenario

ROOT = Path(__file__).parents[3]
Cells = list[list[Any]]

HEAD_FIELDS = ("k_factor", "dry", "facing", "run", "shift", "exposed")


def head_rows(scenario: Scenario) -> Cells:
    rows: Cells = [["id", "x", "y", "z", "kind", "thread", *HEAD_FIELDS]]
    for head in scenario.heads:
        more = [getattr(head, name) for name in HEAD_FIELDS]
        rows.append([head.id, *head.at, head.kind, head.thread, *more])
    return rows


def solid_rows(scenario: Scenario) -> Cells:
    most = max((len(one.polygon) for one in scenario.obstructions), default=0)
    corners = [f"{axis}{k + 1}" for k in range(most) for axis in "xy"]
    rows: Cells = [["id", "kind", "zmin", "zmax", "clearance", *corners]]
    for one in scenario.obstructions:
        flat = [value for corner in one.polygon for value in corner]
        rows.append([one.id, one.kind, *one.elevations, one.clearance, *flat])
    return rows


def spelled(value: Any, comma: bool) -> str:
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        text = f"{value:.4f}"
        return text.replace(".", ",") if comma else text
    return str(value)


def as_csv(rows: Cells, delimiter: str = ",", comma: bool = False) -> str:
    stream = io.StringIO()
    csv.writer(stream, delimiter=delimiter).writerows([spelled(v, comma) for v in row] for row in rows)
    return stream.getvalue()


def as_xlsx(path: Path, sheets: dict[str, Cells]) -> Path:
    with xlsxwriter.Workbook(str(path)) as book:
        for name, rows in sheets.items():
            sheet = book.add_worksheet(name)
            for k, row in enumerate(rows):
                sheet.write_row(k, 0, row)
    return path


def heads_in(path: Path, content: str | bytes, columns: Columns | None = None) -> Drawn:
    path.write_bytes(content.encode() if isinstance(content, str) else content)
    return tables_drawn(path, None, None, columns)


def solids_in(path: Path, content: str | bytes, columns: Columns | None = None) -> Drawn:
    path.write_bytes(content.encode() if isinstance(content, str) else content)
    return tables_drawn(None, path, None, columns)


def faults_of(path: Path, content: str | bytes, columns: Columns | None = None) -> list[str]:
    """Give the faults of a table of heads, or of obstructions where the file is called so."""
    read = solids_in if path.name.startswith("obstructions") else heads_in
    try:
        read(path, content, columns)
    except ScenarioError as error:
        return [str(fault) for fault in error.faults]
    raise AssertionError("no fault found")
