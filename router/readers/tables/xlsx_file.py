"""A workbook as sheets of rows of cells: stored values only, no formula is worked out."""

from __future__ import annotations

import datetime
import warnings
import zipfile
from io import BytesIO
from typing import TYPE_CHECKING, Any
from xml.etree.ElementTree import ParseError

from router.readers.tables.cells import EMPTY, Cell, Line, Sheet, stop, text_cell
from router.readers.tables.xlsx_scan import Scan, check_parts, scan
from router.scenario.errors import ScenarioError

if TYPE_CHECKING:
    from collections.abc import Iterator

_DATES = (datetime.datetime, datetime.date, datetime.time, datetime.timedelta)


def xlsx_sheets(raw: bytes, file: str) -> list[Sheet]:
    """Read all sheets of a workbook, in their order; hidden sheets last.

    Raises
    ------
    ScenarioError
        If it is no workbook, broken, locked, or unpacks to too much.
    """
    if raw.startswith(b"\xd0\xcf\x11\xe0"):
        message = "is an old .xls workbook or locked with a password; save it as XLSX without one"
        raise ScenarioError([stop(file, message)], file)
    try:
        with zipfile.ZipFile(BytesIO(raw)) as archive:
            check_parts(archive, file)
            sheets = list(_sheets(raw, archive, file))
    except ScenarioError:
        raise
    except (zipfile.BadZipFile, ParseError, OSError, EOFError, NotImplementedError, MemoryError) as error:
        raise _broken(file, error) from error
    except Exception as error:  # openpyxl has no error of its own for what it does not expect
        raise _broken(file, error) from error
    if not sheets:
        raise ScenarioError([stop(file, "holds no sheet of cells")], file)
    return sheets


def _broken(file: str, error: Exception) -> ScenarioError:
    reason = " ".join(str(error).split())[:120]
    return ScenarioError(
        [stop(file, f"is no readable XLSX workbook ({reason or type(error).__name__})")], file
    )


def _sheets(raw: bytes, archive: zipfile.ZipFile, file: str) -> Iterator[Sheet]:
    import openpyxl

    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # of styles and extensions, which do not matter here
        book = openpyxl.load_workbook(BytesIO(raw), read_only=True, data_only=True, keep_links=False)
        try:
            sheets: list[Any] = sorted(book.worksheets, key=lambda one: one.sheet_state != "visible")
            for one in sheets:
                sheet = Sheet(file, one.title)
                with archive.open(one._worksheet_path) as stream:
                    seen = scan(stream, sheet.label)
                one.reset_dimensions()  # what a file says of its own size need not be so
                _fill(sheet, one.iter_rows(), seen)
                if one.sheet_state != "visible":
                    sheet.notes.append(f"{sheet.label} is hidden and was read")
                yield sheet
        finally:
            book.close()


def _fill(sheet: Sheet, rows: Iterator[tuple[Any, ...]], seen: Scan) -> None:
    for number, cells in enumerate(rows, 1):
        values = [_cell(one, (number, column), seen) for column, one in enumerate(cells)]
        for column in range(len(values), seen.right(number)):
            values.append(_cell(None, (number, column), seen))
        line = Line(number, values)
        if all(cell.value is None and "merged" in cell.trouble for cell in values if not cell.empty):
            continue  # empty, or nothing but the rest of merged cells from above
        sheet.lines.append(line)
    taken = [line.number for line in sheet.lines if line.number in seen.hidden]
    if taken:
        rows_text = ", ".join(map(str, taken[:6])) + (f" and {len(taken) - 6} more" if len(taken) > 6 else "")
        sheet.notes.append(f"{sheet.label}: hidden rows were read as well: {rows_text}")


def _cell(one: Any, place: tuple[int, int], seen: Scan) -> Cell:
    value = None if one is None else one.value
    if value is None:
        if place in seen.unvalued:
            return Cell(None, "a formula without a stored value: open and save it in a spreadsheet")
        merged = seen.merged_at(place) if seen.merged else ""
        return Cell(None, f"part of the merged cells {merged}: divide them") if merged else EMPTY
    if isinstance(value, _DATES):
        return Cell(
            str(value), "the spreadsheet holds a date here: format the cell as text and type it again"
        )
    if isinstance(value, bool | int | float):
        return Cell(value)
    if one.data_type == "e":
        return Cell(str(value), "the spreadsheet holds an error here")
    return text_cell(str(value))
