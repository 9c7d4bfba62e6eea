"""A table before its meaning: sheets of rows of cells, each with its place."""

from __future__ import annotations

from dataclasses import dataclass, field

from router.scenario.errors import Fault

MAX_ROWS = 200_000
MAX_COLUMNS = 1_000
"""More is no list of heads or obstructions but a slip (a format over whole columns) or an attack."""


@dataclass(frozen=True)
class Cell:
    """What a cell holds. Text is stripped. ``trouble``: why whatever it holds cannot be used."""

    value: str | float | bool | None = None
    trouble: str = ""

    @property
    def empty(self) -> bool:
        """Whether nothing is in it (a cell in trouble is not empty)."""
        return not self.trouble and (self.value is None or self.value == "")

    @property
    def text(self) -> str:
        """What it holds as text; a whole number without a fraction."""
        if isinstance(self.value, bool):
            return "TRUE" if self.value else "FALSE"
        if isinstance(self.value, float | int):
            return f"{self.value:.0f}" if float(self.value).is_integer() else repr(float(self.value))
        return self.value or ""


EMPTY = Cell()
_BLANK = "\u200b\u2060\ufeff"
"""Characters without width that no one sees at the ends of a cell."""


def text_cell(text: str) -> Cell:
    """Make a cell of text, without blanks at its ends (hard ones and those without width too)."""
    text = text.strip().strip(_BLANK).strip()
    return Cell(text) if text else EMPTY


@dataclass(frozen=True)
class Line:
    """A row: its number in the file as a person counts (from 1), and its cells from column A on."""

    number: int
    cells: list[Cell]

    @property
    def empty(self) -> bool:
        """Whether all cells are empty."""
        return all(cell.empty for cell in self.cells)


@dataclass
class Sheet:
    """A sheet of a workbook, or a CSV file with ``name`` empty. Rows without any content are left out.

    ``delimiter``: of a CSV file. ``notes``: what a person should know of how it was read.
    """

    file: str
    name: str = ""
    lines: list[Line] = field(default_factory=list)
    delimiter: str = ""
    notes: list[str] = field(default_factory=list)

    @property
    def label(self) -> str:
        """Name the sheet: ``heads.xlsx sheet Heads``, ``heads.csv``."""
        return f"{self.file} sheet {self.name}" if self.name else self.file

    def place(self, row: int, column: int | None = None, header: str = "") -> str:
        """Name a place: ``heads.xlsx sheet Heads, row 7, column C (x)``; ``column`` from 0."""
        text = f"{self.label}{',' if self.name else ''} row {row}"
        if column is None:
            return text
        return f"{text}, column {letters(column)}" + (f" ({header})" if header else "")


def letters(column: int) -> str:
    """Name a column (from 0) as spreadsheets do: A, B ... Z, AA.

    Returns
    -------
    str
    """
    text = ""
    column += 1
    while column:
        column, rest = divmod(column - 1, 26)
        text = chr(ord("A") + rest) + text
    return text


def stop(file: str, message: str, value: str = "", unit: str = "") -> Fault:
    """Give the one fault of a file that cannot be read at all."""
    return Fault(file, "", value, unit, message)
