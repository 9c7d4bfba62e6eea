"""The rows of a table by field: cells are read by what they must hold, faults noted by their place."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from router.readers.csv_tables import FARTHEST_MM, LARGEST_DN
from router.readers.spelled.kinds import word_key
from router.readers.spelled.lengths import (
    ANGLE_WORDS,
    K_WORDS,
    TO_MM,
    bare,
    length,
    number,
    spelled,
    unit_word,
)
from router.readers.spelled.numbers import Marks, Unclear, tidy
from router.readers.spelled.sizes import plain_size
from router.readers.tables.cells import EMPTY, Cell
from router.scenario.errors import Fault
from router.trade.sizes import SIZES, parse_size

if TYPE_CHECKING:
    from collections.abc import Mapping

    from router.readers.tables.cells import Line, Sheet
    from router.readers.tables.columns import TableColumns
    from router.readers.tables.fields import Kind
    from router.readers.tables.heading import Heading

NOUN: dict[str, str] = {"heads": "head", "obstructions": "obstruction", "pipes": "pipe"}
YES = {"yes": True, "y": True, "true": True, "1": True, "x": True}
NO = {"no": False, "n": False, "false": False, "0": False, "-": False}


@dataclass
class Table:
    """A sheet with its header, ready to be read row by row."""

    kind: Kind
    sheet: Sheet
    heading: Heading
    given: TableColumns
    faults: list[Fault]
    marks: Marks

    def rows(self) -> list[Row]:
        """Give the rows below the header; what stands beside all columns is a fault."""
        start = self.heading.line.number
        width = 1 + max((k for k, cell in enumerate(self.heading.line.cells) if not cell.empty), default=0)
        result = []
        for line in self.sheet.lines:
            if line.number <= start:
                continue
            for k, cell in enumerate(line.cells[width:], width):
                if not cell.empty and "merged" not in cell.trouble:
                    comma = self.sheet.delimiter == ","
                    hint = "; a decimal comma needs quotes where commas divide the cells" if comma else ""
                    place = self.sheet.place(line.number, k)
                    message = f"a cell beyond the last header{hint}"
                    self.faults.append(Fault(place, "", f'"{cell.text}"', "", message, line.number))
                    break
            result.append(Row(self, line))
        return result


def table_of(kind: Kind, sheet: Sheet, heading: Heading, given: TableColumns, faults: list[Fault]) -> Table:
    """Make a table; what points and commas mean is learned from all its columns of numbers."""
    _units_below(sheet, heading)
    said = {"point": ".", "comma": ",", None: None}[given.decimal]
    marks = Marks(sheet.delimiter, "." if said == "." else "," if said else None)
    texts = []
    for column in heading.columns.values():
        if column.field.what not in ("length", "number", "angle"):
            continue
        for line in sheet.lines:
            cell = line.cells[column.index] if column.index < len(line.cells) else EMPTY
            if line.number > heading.line.number and isinstance(cell.value, str) and not cell.trouble:
                texts.append(cell.value)
    marks.learn(_numbers(texts))
    return Table(kind, sheet, heading, given, faults, marks)


def _units_below(sheet: Sheet, heading: Heading) -> None:
    """Take a row of units right below the header for what it is: ``; m; m; mm``."""
    below = next((line for line in sheet.lines if line.number > heading.line.number), None)
    lengths = [column for column in heading.columns.values() if column.field.what == "length"]
    if below is None or not lengths:
        return
    cells = {column.field.name: below.cells[column.index : column.index + 1] for column in lengths}
    units = {name: unit_word(found[0].text.strip("[]()")) for name, found in cells.items() if found}
    said = [found for found in cells.values() if found and not found[0].empty]
    if not said or any(cells[name][0].text and not unit for name, unit in units.items()):
        return
    for column in lengths:
        unit = units.get(column.field.name)
        if unit:
            heading.columns[column.field.name] = replace(column, unit=unit)
    sheet.lines.remove(below)
    sheet.notes.append(f"{sheet.place(below.number)}: read as the units of the columns")


def _numbers(texts: list[str]) -> list[str]:
    found = []
    for text in texts:
        try:
            found.append(spelled(bare(text, (*ANGLE_WORDS, *K_WORDS))).number)
        except Unclear:
            continue
    return [text for text in found if text]


class Row:
    """One row. A field that is absent or empty gives its default, if the file of columns has one."""

    def __init__(self, table: Table, line: Line) -> None:
        self.table, self.line = table, line
        self.number = line.number

    def cell(self, name: str) -> Cell:
        """Give the cell of a field, or what stands in for it."""
        column = self.table.heading.columns.get(name)
        cell = EMPTY
        if column is not None and column.index < len(self.line.cells):
            cell = self.line.cells[column.index]
        if cell.empty and name in self.table.given.defaults:
            return Cell(self.table.given.defaults[name])
        return cell

    def has(self, name: str) -> bool:
        """Tell whether the row says anything of a field."""
        return not self.cell(name).empty

    def fault(self, name: str, message: str, unit: str = "", value: str | None = None) -> None:
        """Note what is wrong with a field."""
        column = self.table.heading.columns.get(name)
        if column is None:
            place = f"{self.table.sheet.place(self.number)}, {name}"
        else:
            place = self.table.sheet.place(self.number, column.index, column.header)
        own = self.cell("id")
        noun = NOUN[self.table.kind]
        item = f"{noun} {own.text}" if own.text else noun
        found = f'"{self.cell(name).text}"' if value is None else value
        self.table.faults.append(Fault(place, item, found, unit, message, self.number))

    def text(self, name: str) -> str:
        """Give text; a number is taken as it is written."""
        cell = self.cell(name)
        if cell.trouble:
            self.fault(name, cell.trouble)
            return ""
        if isinstance(cell.value, bool):
            self.fault(name, "text expected, not TRUE or FALSE")
            return ""
        return " ".join(cell.text.split())

    def unit(self, name: str) -> str:
        """Give the unit of a column of lengths."""
        column = self.table.heading.columns.get(name)
        return (column.unit if column else None) or self.table.given.units

    def length(self, name: str) -> float:
        """Give a length in mm; 0 where a fault was noted."""
        unit = self.unit(name)
        try:
            cell = self._number_cell(name)
            if isinstance(cell.value, str):
                value = length(cell.value, unit, self.table.marks)
            else:
                value = round(float(cell.value or 0) * TO_MM[unit], 6)
        except Unclear as error:
            text = str(error).replace("a number expected", f"a number in {unit} expected")
            self.fault(name, text.replace("a length expected", f"a length in {unit} expected"), unit)
            return 0.0
        if abs(value) > FARTHEST_MM:
            self.fault(name, f"more than 10 km from the origin; are the lengths in {unit}?", unit)
            return 0.0
        return value

    def figure(self, name: str) -> float:
        """Give a number or an angle in degrees; 0 where a fault was noted."""
        words = ANGLE_WORDS if name in ("facing", "rotation") else K_WORDS
        try:
            cell = self._number_cell(name)
            if isinstance(cell.value, str):
                return number(cell.value, self.table.marks, words)
            return float(cell.value or 0)
        except Unclear as error:
            self.fault(name, str(error), "deg" if words is ANGLE_WORDS else "")
            return 0.0

    def _number_cell(self, name: str) -> Cell:
        cell = self.cell(name)
        if cell.trouble:
            raise Unclear(cell.trouble)
        if isinstance(cell.value, bool):
            raise Unclear("a number expected, not TRUE or FALSE")
        if cell.empty:
            raise Unclear("a number expected, the cell is empty")
        return cell

    def word(self, name: str, known: Mapping[str, str]) -> str | None:
        """Give one of our words, through the words of the file of columns; ``None`` at a fault."""
        own = self._own(name)
        text = own if isinstance(own, str) else self.text(name)
        key = word_key(text)
        found = known.get(key) or known.get(key.removesuffix("s"))
        if found is None and not self.cell(name).trouble:
            ours = ", ".join(dict.fromkeys(known.values()))
            self.fault(name, f"one of {ours} expected; other words can be given in the file of columns")
        return found

    def yes(self, name: str) -> bool:
        """Give yes or no."""
        own = self._own(name)
        cell = self.cell(name)
        value = cell.value if own is None else own
        if isinstance(value, bool):
            return value
        text = tidy(str(own) if own is not None else self.text(name)).casefold()
        found = {**YES, **NO}.get(text)
        if found is None and not cell.trouble:
            self.fault(name, "yes or no expected")
        return bool(found)

    def _own(self, name: str) -> str | float | bool | None:
        words = {tidy(key).casefold(): value for key, value in self.table.given.words.get(name, {}).items()}
        return words.get(tidy(self.cell(name).text).casefold())

    def size(self, name: str, larger: bool = False) -> int:
        """Give a DN; ``larger``: one beyond our tables may stand there, too."""
        cell = self.cell(name)
        own = self._own(name)
        value = cell.value if own is None else own
        try:
            if cell.trouble:
                raise ValueError(cell.trouble)
            if isinstance(value, str):
                value = plain_size(value)
            if larger and isinstance(value, int | float) and SIZES[-1] < value <= LARGEST_DN:
                return int(value)
            return parse_size(value)
        except ValueError:
            sizes = f"a nominal size expected: a DN ({', '.join(map(str, SIZES))}) or inches (1/2 ... 6)"
            self.fault(name, cell.trouble or sizes, "" if cell.trouble else "DN")
            return SIZES[0]
