"""Tables of heads, obstructions and pipes (CSV or XLSX) become what any reader gives."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING

from router.readers.drawn import Drawn
from router.readers.tables.cells import Sheet, stop
from router.readers.tables.columns import Columns, TableColumns
from router.readers.tables.csv_file import csv_sheet, decoded
from router.readers.tables.fields import key_of
from router.readers.tables.heading import Heading, find_heading
from router.readers.tables.items import heads_of, pipes_of, solids_of
from router.readers.tables.rows import Table, table_of
from router.readers.tables.xlsx_file import xlsx_sheets
from router.scenario.errors import Fault, ScenarioError
from router.scenario.load import MAX_BYTES

if TYPE_CHECKING:
    from pathlib import Path

    from router.readers.tables.fields import Kind

TEXT = (".csv", ".txt", ".tsv")
BOOKS = (".xlsx", ".xlsm")


def tables_drawn(
    heads: Path | None, obstructions: Path | None, pipes: Path | None, columns: Columns | None = None
) -> Drawn:
    """Read up to three tables; they may be sheets of one workbook.

    Parameters
    ----------
    heads, obstructions, pipes
        CSV (UTF-8 or UTF-16, divided by comma, semicolon or tab) or XLSX; ``None`` for none.
    columns
        What is where in them; ``None`` where the headers are ours or plain English, lengths in mm.

    Returns
    -------
    Drawn
        In mm. A head's ``given`` holds what its row says; cells that are empty say nothing.

    Raises
    ------
    ScenarioError
        With every fault of all files by row, column, value and unit.
    """
    asked: list[tuple[Kind, Path | None]] = [
        ("heads", heads),
        ("obstructions", obstructions),
        ("pipes", pipes),
    ]
    paths = [(kind, path) for kind, path in asked if path is not None]
    if not paths:
        raise ScenarioError([Fault("(tables)", "", "", "", "a table of heads or obstructions expected")])
    drawn = Drawn(paths[0][1].stem)
    faults: list[Fault] = []
    for kind, path in paths:
        try:
            table = read_table(kind, path, (columns or Columns()).of(kind))
        except ScenarioError as error:
            faults += error.faults
            continue
        drawn.notes += table.sheet.notes
        if kind == "heads":
            drawn.heads = heads_of(table, drawn.notes)
        elif kind == "obstructions":
            # beside drawn lines obstructions yield to these; else they are the designer's own list
            drawn.solids = solids_of(table, drawn.notes, exact=pipes is None)
        else:
            drawn.pipes = pipes_of(table)
        faults += table.faults
        if not table.faults and not (drawn.heads if kind == "heads" else drawn.solids or drawn.pipes):
            faults.append(Fault(table.sheet.label, "", "0", "rows", f"no {kind} below the header"))
    if faults:
        raise ScenarioError(faults, ", ".join(dict.fromkeys(str(path) for _, path in paths)))
    return drawn


def read_table(kind: Kind, path: Path, given: TableColumns) -> Table:
    """Open a file, find its table and header.

    Raises
    ------
    ScenarioError
        If the file cannot be read or a needed column is not in it.
    """
    file = path.name
    raw = _bytes(path)
    suffix = path.suffix.lower()
    if suffix in BOOKS:
        if raw[:2] != b"PK" and not raw.startswith(b"\xd0\xcf\x11\xe0"):
            raise ScenarioError([stop(file, "is no XLSX workbook (it does not begin as one)")], file)
        sheet, heading = _chosen(kind, xlsx_sheets(raw, file), given, file)
    else:
        if raw[:4] == b"PK\x03\x04":
            message = "is a workbook, not text; give it its ending .xlsx, or save it as CSV"
            raise ScenarioError([stop(file, message)], file)
        sheet = csv_sheet(decoded(raw, file), file, given.delimiter, partial(_fit, kind, given))
        heading = find_heading(sheet, kind, given)
    if heading is None:
        raise ScenarioError([stop(sheet.label, f"is empty; a header row and {kind} below it expected")], file)
    faults = _of_heading(kind, sheet, heading)
    if faults:
        raise ScenarioError(faults, file)
    if heading.unread:
        sheet.notes.append(f"{sheet.label}: columns that were not read: {', '.join(heading.unread)}")
    return table_of(kind, sheet, heading, given, [])


def _bytes(path: Path) -> bytes:
    file, suffix = path.name, path.suffix.lower()
    if suffix not in (*TEXT, *BOOKS):
        plain = {".xls": "an old workbook", ".xlsb": "a binary workbook", ".ods": "an OpenDocument sheet"}
        what = plain.get(suffix, f"ends in {suffix}" if suffix else "has no ending")
        message = f"{'is ' if suffix in plain else ''}{what}; save it as .xlsx or .csv"
        raise ScenarioError([stop(file, message)], file)
    try:
        if path.exists() and not path.is_file():
            raise ScenarioError([stop(file, "is not a plain file")], file)
        if path.exists() and path.stat().st_size > MAX_BYTES:
            size = f"{path.stat().st_size / 1024 / 1024:.0f}"
            limit = f"the file is too large; at most {MAX_BYTES // 1024 // 1024} MB"
            raise ScenarioError([stop(file, limit, size, "MB")], file)
        return path.read_bytes()
    except OSError as error:
        raise ScenarioError([stop(file, f"cannot be read: {error.strerror or error}")], file) from error


def _fit(kind: Kind, given: TableColumns, sheet: Sheet) -> int:
    heading = find_heading(sheet, kind, given)
    return len(heading.columns) if heading else 0


def _chosen(kind: Kind, sheets: list[Sheet], given: TableColumns, file: str) -> tuple[Sheet, Heading | None]:
    """Take the sheet that is named, or else the only one whose header fits."""
    names = ", ".join(sheet.name for sheet in sheets)
    if given.sheet is not None:
        for sheet in sheets:
            if key_of(sheet.name) == key_of(given.sheet):
                return sheet, find_heading(sheet, kind, given)
        message = f"no such sheet; sheets: {names}"
        raise ScenarioError([stop(file, message, f'"{given.sheet}"')], file)
    pairs = [(sheet, find_heading(sheet, kind, given)) for sheet in sheets]
    fitting = [(sheet, heading) for sheet, heading in pairs if heading and not heading.missing]
    if len(fitting) == 1 or (fitting and len(pairs) == 1):
        return fitting[0]
    if len(fitting) > 1:
        by_name = [pair for pair in fitting if key_of(pair[0].name).startswith(kind[:-1])]
        if len(by_name) == 1:
            return by_name[0]
        found = ", ".join(sheet.name for sheet, _ in fitting)
        message = f"more than one sheet has columns of {kind}: {found}; name one in the file of columns"
        raise ScenarioError([stop(file, message)], file)
    if len(pairs) == 1:
        return pairs[0]
    tried = [f"{sheet.name} lacks {', '.join(found.missing)}" for sheet, found in pairs if found]
    message = f"no sheet has the columns of {kind}; sheets: {names}" + "".join(f"; {text}" for text in tried)
    raise ScenarioError([stop(file, message)], file)


def _of_heading(kind: Kind, sheet: Sheet, heading: Heading) -> list[Fault]:
    row = heading.line.number
    faults = [
        Fault(sheet.place(row, column, header), "", "", "", message, row)
        for column, header, message in heading.faults
    ]
    if heading.missing:
        found = ", ".join(heading.headers) or "(none)"
        message = (
            f"columns of {kind} that are missing: {', '.join(heading.missing)}; headers here: {found}; "
            "say which is which in a file of columns"
        )
        faults.append(Fault(sheet.place(row), "", "", "", message, row))
    return faults
