"""What a workbook is made of, looked at before it is opened: sizes, and what openpyxl does not tell.

The reading mode of openpyxl that does not hold everything in memory knows neither
merged cells nor hidden rows, and gives a formula without a stored value as empty.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from typing import IO, TYPE_CHECKING
from xml.etree import ElementTree

from router.readers.tables.cells import MAX_COLUMNS, MAX_ROWS, stop
from router.scenario.errors import ScenarioError

if TYPE_CHECKING:
    import zipfile
    from collections.abc import Iterator

MAX_EXPANDED = 256 * 1024 * 1024
"""Bytes that all parts of a workbook may have together once they are unpacked."""

MAX_MERGED = 1_000

_CELL = re.compile(r"([A-Z]{1,3})([1-9]\d{0,6})")
_MAIN = "{http://schemas.openxmlformats.org/spreadsheetml/2006/main}"
_STRICT = "{http://purl.oclc.org/ooxml/spreadsheetml/main}"
Place = tuple[int, int]
"""Row from 1, column from 0."""


@dataclass
class Scan:
    """Of one sheet: formulas without a stored value, hidden rows, and merged cells but their first."""

    unvalued: set[Place] = field(default_factory=set)
    hidden: set[int] = field(default_factory=set)
    merged: list[tuple[str, Place, Place]] = field(default_factory=list)

    def right(self, row: int) -> int:
        """Give how many columns the merged cells of a row reach: their rest may not be in the file."""
        ends = [right + 1 for _, (top, _), (bottom, right) in self.merged if top <= row <= bottom]
        return max(ends, default=0)

    def merged_at(self, place: Place) -> str:
        """Give the range that a cell is merged into without being its first; empty if none."""
        for name, (top, left), (bottom, right) in self.merged:
            if top <= place[0] <= bottom and left <= place[1] <= right and place != (top, left):
                return name
        return ""


def check_parts(archive: zipfile.ZipFile, file: str) -> None:
    """Refuse a workbook that is locked or unpacks to too much.

    Raises
    ------
    ScenarioError
    """
    parts = archive.infolist()
    total = sum(part.file_size for part in parts)
    if any(part.flag_bits & 1 for part in parts):
        raise ScenarioError([stop(file, "is locked with a password; save it without one")], file)
    if total > MAX_EXPANDED:
        limit = f"its parts unpack to too much; at most {MAX_EXPANDED // 1024 // 1024} MB"
        raise ScenarioError([stop(file, limit, f"{total / 1024 / 1024:.0f}", "MB")], file)
    if "xl/workbook.xml" not in archive.namelist() and not any(
        name.endswith("workbook.xml") for name in archive.namelist()
    ):
        hint = "; this is an OpenDocument file, save it as XLSX" if "mimetype" in archive.namelist() else ""
        raise ScenarioError([stop(file, f"is no XLSX workbook{hint}")], file)
    for part in parts:
        # a declaration of its own has no place in a workbook and is how a small file blows up
        if part.filename.endswith((".xml", ".rels")) and b"<!DOCTYPE" in archive.read(part):
            raise ScenarioError([stop(file, f"part {part.filename} declares a document type")], file)


def scan(stream: IO[bytes], label: str) -> Scan:
    """Look through one sheet's part.

    Raises
    ------
    ScenarioError
        If a cell stands beyond the limits.
    """
    found = Scan()
    row = column = 0
    for event, element in ElementTree.iterparse(stream, events=("start", "end")):
        tag = element.tag.removeprefix(_MAIN).removeprefix(_STRICT)
        if event == "start":
            if tag == "row":
                row, column = _row(element.get("r"), row, label), -1
                if element.get("hidden") in {"1", "true"}:
                    found.hidden.add(row)
            elif tag == "c":
                column += 1
                at = _CELL.fullmatch(element.get("r") or "")
                column = _number(at[1]) if at else column
                if column >= MAX_COLUMNS:
                    limit = f"a cell beyond column {MAX_COLUMNS}; clear what stands there"
                    raise ScenarioError([stop(f"{label}, row {row}", limit)], label)
        elif tag == "c":
            formula, value = (next(_children(element, name), None) for name in ("f", "v"))
            if formula is not None and (value is None or value.text is None) and element.get("t") != "str":
                found.unvalued.add((row, column))
            element.clear()
        elif tag == "mergeCell":
            found.merged += _range(element.get("ref") or "")
            if len(found.merged) > MAX_MERGED:
                limit = f"more than {MAX_MERGED} merged cells; divide them"
                raise ScenarioError([stop(label, limit)], label)
        elif tag == "row":
            element.clear()
    return found


def _children(element: ElementTree.Element, name: str) -> Iterator[ElementTree.Element]:
    return (part for part in element if part.tag in {_MAIN + name, _STRICT + name})


def _row(text: str | None, before: int, label: str) -> int:
    row = int(text) if text and text.isdigit() else before + 1
    if row > MAX_ROWS:
        limit = f"a row beyond {MAX_ROWS}; clear what stands there"
        raise ScenarioError([stop(f"{label}, row {row}", limit)], label)
    return row


def _number(name: str) -> int:
    number = 0
    for letter in name:
        number = number * 26 + ord(letter) - ord("A") + 1
    return number - 1


def _range(text: str) -> list[tuple[str, Place, Place]]:
    ends = [_CELL.fullmatch(part) for part in text.split(":")]
    if len(ends) != 2 or ends[0] is None or ends[1] is None:
        return []
    first, last = ((int(end[2]), _number(end[1])) for end in ends if end)
    return [(text, first, last)]
