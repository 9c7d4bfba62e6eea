"""A text file as rows of cells: its encoding and its delimiter are found out."""

from __future__ import annotations

import csv
import io
from typing import TYPE_CHECKING

from router.readers.tables.cells import MAX_COLUMNS, MAX_ROWS, Line, Sheet, stop, text_cell
from router.scenario.errors import ScenarioError

if TYPE_CHECKING:
    from collections.abc import Callable

DELIMITERS = (";", "\t", ",")
HEADER_ROWS = 20
"""Among so many rows of content the header is looked for."""


def decoded(raw: bytes, file: str) -> str:
    """Give the text of a file: UTF-8 with or without a byte order mark, or UTF-16 with one.

    Raises
    ------
    ScenarioError
        Naming the row and the byte where it is neither.
    """
    if raw.startswith((b"\xff\xfe\x00\x00", b"\x00\x00\xfe\xff")):
        raise ScenarioError([stop(file, "is UTF-32 text; save it as UTF-8")], file)
    wide = raw.startswith((b"\xff\xfe", b"\xfe\xff"))
    try:
        text = raw.decode("utf-16" if wide else "utf-8-sig")
    except UnicodeDecodeError as error:
        if wide:
            message = f"is not whole UTF-16 text (byte {error.start}); save it as UTF-8"
            raise ScenarioError([stop(file, message)], file) from error
        row = raw.count(b"\n", 0, error.start) + 1
        message = (
            f"is not UTF-8 text (byte {error.start} of the file); it may have been saved in an older "
            "encoding such as Windows-1252: save it as UTF-8"
        )
        fault = stop(f"{file} row {row}", message, f"0x{raw[error.start]:02x}")
        raise ScenarioError([fault], file) from error
    if "\x00" in text:
        row = text.count("\n", 0, text.index("\x00")) + 1
        message = "holds a zero byte: no text, or UTF-16 without its mark; save it as UTF-8"
        raise ScenarioError([stop(f"{file} row {row}", message, "0x00")], file)
    return text


def csv_sheet(text: str, file: str, delimiter: str | None, fit: Callable[[Sheet], int]) -> Sheet:
    """Divide text into rows and cells.

    Parameters
    ----------
    text
        The whole file.
    file
        Its name, for messages.
    delimiter
        As given, or ``None`` to find it: the one by which most columns are known.
    fit
        How many columns of a sheet's header are known.

    Raises
    ------
    ScenarioError
        If quotes are left open or there are too many rows.
    """
    first, _, rest = text.partition("\n")
    skipped = 0
    if first.strip().casefold() in {f"sep={mark}" for mark in (";", ",")} or first.strip("\r\n") == "sep=\t":
        # a line by which spreadsheets tell each other the delimiter
        delimiter, text, skipped = delimiter or first.strip("\r\n ")[4:5], rest, 1
    if delimiter:
        return _divided(text, file, delimiter, None, skipped)
    best: tuple[int, int, str] | None = None
    broken: ScenarioError | None = None
    for mark in DELIMITERS:
        try:
            top = _divided(text, file, mark, HEADER_ROWS, skipped)
        except ScenarioError as error:
            broken = broken or error
            continue
        if not top.lines:
            return top
        widest = max(len(line.cells) for line in top.lines)
        score = (fit(top), min(widest, 2), mark)
        if best is None or score[:2] > best[:2]:
            best = score
    if broken is not None and (best is None or not best[0]):
        raise broken
    return _divided(text, file, best[2] if best else ",", None, skipped)


def _divided(text: str, file: str, delimiter: str, most: int | None, skipped: int) -> Sheet:
    sheet = Sheet(file, delimiter=delimiter)
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True)
    end = 0
    try:
        for values in reader:
            number, end = end + 1 + skipped, reader.line_num
            line = Line(number, [text_cell(value) for value in values])
            if not line.empty:
                sheet.lines.append(line)
            if most and len(sheet.lines) >= most:
                break
            if len(sheet.lines) > MAX_ROWS or len(values) > MAX_COLUMNS:
                limit = f"at most {MAX_ROWS} rows and {MAX_COLUMNS} columns are read"
                raise ScenarioError([stop(sheet.place(number), limit)], file)
    except csv.Error as error:
        place = sheet.place(end + 1 + skipped)
        raise ScenarioError([stop(place, f"not readable as CSV from here on: {error}")], file) from error
    return sheet
