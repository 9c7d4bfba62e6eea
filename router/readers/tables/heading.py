"""Which row is the header, and which column is which field, in which unit."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from router.readers.spelled.brackets import in_brackets, parted
from router.readers.spelled.k_factors import k_unit
from router.readers.spelled.lengths import unit_word
from router.readers.spelled.numbers import Unclear
from router.readers.tables.fields import FIELDS, Field, Kind, corner_of, field_of, key_of

if TYPE_CHECKING:
    from router.readers.tables.cells import Line, Sheet
    from router.readers.tables.columns import TableColumns

HEADER_ROWS = 20


@dataclass(frozen=True)
class Column:
    """A column that is read: where it stands (from 0), its header as written, its unit if that says one."""

    field: Field
    index: int
    header: str
    unit: str | None = None


@dataclass
class Heading:
    """The header row: its columns by field, what is missing, and what is wrong (column, header, message)."""

    line: Line
    columns: dict[str, Column] = field(default_factory=dict)
    missing: list[str] = field(default_factory=list)
    faults: list[tuple[int, str, str]] = field(default_factory=list)
    unread: list[str] = field(default_factory=list)

    @property
    def headers(self) -> list[str]:
        """The headers as written."""
        return [cell.text for cell in self.line.cells if cell.text]


def find_heading(sheet: Sheet, kind: Kind, given: TableColumns) -> Heading | None:
    """Find the header: the first row in which nothing is missing, else the one with most known columns.

    Returns
    -------
    Heading or None
        ``None`` for a sheet without any row after those to be skipped.
    """
    best: Heading | None = None
    rows = [line for line in sheet.lines if line.number > given.skip_rows][:HEADER_ROWS]
    for line in rows[:1] if given.skip_rows else rows:
        heading = _heading(line, kind, given)
        if not heading.missing and not heading.faults:
            return heading
        if best is None or len(heading.columns) > len(best.columns):
            best = heading
    return best


def _heading(line: Line, kind: Kind, given: TableColumns) -> Heading:
    heading = Heading(line)
    names = [(k, cell.text) for k, cell in enumerate(line.cells) if cell.text and not cell.trouble]
    free = dict(names)
    for name, header in given.columns.items():
        wanted = field_of(kind, name)
        hits = [k for k, text in names if key_of(text) == key_of(header)]
        hits = hits or [k for k, text in names if key_of(parted(text)[0]) == key_of(header)]
        plain, unit = in_brackets(header)
        if not hits and unit:  # the file of columns says the unit, the table does not
            hits = [k for k, text in names if key_of(text) == key_of(plain)]
        if len(hits) > 1:
            heading.faults.append((hits[1], header, f"more than one column has this header (for {name})"))
        elif not hits:
            heading.missing.append(f'{name} (as "{header}")')
        if wanted and hits:
            _take(heading, wanted, hits[0], dict(names)[hits[0]], unit)
            free.pop(hits[0], None)
    for one in FIELDS[kind]:
        if one.name not in given.columns:
            _by_name(heading, one, free)
    if kind == "obstructions":
        for k, text in list(free.items()):
            corner = corner_of(key_of(parted(text)[0])) or corner_of(key_of(text))
            found = field_of(kind, corner) if corner and corner not in given.columns else None
            if found and found.name in heading.columns:
                heading.faults.append((k, text, "a second column of this header"))
            elif found:
                _take(heading, found, k, free.pop(k))
    present = {*heading.columns, *given.defaults}
    heading.missing += [part for part in _needed(kind, present) if part not in given.columns]
    heading.unread = list(free.values())
    return heading


def _by_name(heading: Heading, wanted: Field, free: dict[int, str]) -> None:
    """Look for a field by its names, in their order; with and without a unit in the header."""
    for name in (wanted.name, *wanted.names):
        hits = [k for k, text in free.items() if key_of(name) in (key_of(text), key_of(parted(text)[0]))]
        if len(hits) > 1:
            heading.faults.append((hits[1], free[hits[1]], "a second column of this header"))
        if hits:
            _take(heading, wanted, hits[0], free.pop(hits[0]))
            return


def _take(heading: Heading, wanted: Field, index: int, text: str, given: str = "") -> None:
    """Take a column; ``given``: its unit, if its own header has none."""
    unit: str | None = None
    said = parted(text)[1] or given
    if said and wanted.what in ("length", "outline"):
        unit = unit_word(said)
        if unit is None:
            message = f"the unit {said} is not known; mm, cm, m, in or ft expected"
            heading.faults.append((index, text, message))
    elif said and wanted.name == "k_factor":
        try:
            unit = k_unit(said)
        except Unclear as error:
            heading.faults.append((index, text, str(error)))
    heading.columns[wanted.name] = Column(wanted, index, text, unit)


def _needed(kind: Kind, present: set[str]) -> list[str]:
    """Say what is missing, each thing with the ways in which it could be given."""
    if kind == "heads":
        return [name for name in ("id", "x", "y", "z") if name not in present]
    if kind == "pipes":
        ends = [f"{axis}{end}" for end in "12" for axis in "xyz"]
        return [name for name in (*ends, "size") if name not in present]
    missing = []
    shapes: list[set[str]] = [
        {"polygon"},
        {"x1", "y1", "x2", "y2", "x3", "y3"},
        {"x1", "y1", "x2", "y2", "width"},
        {"x", "y", "length", "width"},
        {"xmin", "xmax", "ymin", "ymax"},
    ]
    if not any(shape <= present for shape in shapes):
        missing.append(
            "the shape in plan (polygon; or x1, y1, x2, y2, x3, y3 ...; or x1, y1, x2, y2, width; "
            "or x, y, length, width; or xmin, xmax, ymin, ymax)"
        )
    if len({"bottom", "top", "height"} & present) < 2:
        missing.append("the elevations (two of bottom, top, height)")
    return missing
