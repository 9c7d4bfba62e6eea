"""The three tables of a CSV folder as typed rows; every fault by file, row, column and value."""

from __future__ import annotations

import csv
import math
from typing import TYPE_CHECKING

from router.readers.drawn import Drawn, DrawnHead, DrawnPipe, DrawnSolid, Xyz
from router.readers.plain_csv import is_whole, too_large, too_many
from router.scenario.errors import Fault, ScenarioError
from router.trade.sizes import SIZES

if TYPE_CHECKING:
    from pathlib import Path

    from router.scenario.model import HeadKind

ROLES = ("main", "branch", "head_arm")
KINDS: dict[str, HeadKind] = {"pendent": "pendent", "upright": "upright", "sidewall": "sidewall"}
FARTHEST_MM = 1e7
LARGEST_DN = 1000

HEAD_COLUMNS = ("id", "x", "y", "z", "orientation", "conn_dn", "line_id")
PIPE_COLUMNS = ("id", "x1", "y1", "z1", "x2", "y2", "z2", "dn", "role", "line_id")
SOLID_COLUMNS = ("kind", "zmin", "zmax", "x1", "y1", "x2", "y2", "x3", "y3", "x4", "y4")


class _Row:
    """One row with its place, for reading cells and noting faults."""

    def __init__(self, file: str, number: int, cells: dict[str, str], faults: list[Fault]) -> None:
        self.file, self.number, self.cells, self.faults = file, number, cells, faults

    def text(self, column: str) -> str:
        return (self.cells.get(column) or "").strip()

    def fault(self, column: str, message: str, unit: str = "") -> None:
        place = f"{self.file} row {self.number}, column {column}"
        name = self.text("id")
        noun = {"heads.csv": "head", "pipes.csv": "pipe"}.get(self.file, "obstruction")
        item = f"{noun} {name}" if name else noun
        self.faults.append(Fault(place, item, f'"{self.text(column)}"', unit, message, self.number))

    def number_of(self, column: str, unit: str = "mm") -> float:
        try:
            value = float(self.text(column))
        except ValueError:
            self.fault(column, f"a number in {unit} expected", unit)
            return 0.0
        if not math.isfinite(value):
            self.fault(column, f"a finite number in {unit} expected", unit)
            return 0.0
        if unit == "mm" and abs(value) > FARTHEST_MM:
            self.fault(column, "more than 10 km from the origin; lengths in mm expected", unit)
        return value

    def names(self, column: str) -> tuple[str, ...]:
        return tuple(name.strip() for name in self.text(column).split(";") if name.strip())

    def point(self, suffix: str = "") -> Xyz:
        x, y, z = (self.number_of(f"{axis}{suffix}") for axis in "xyz")
        return (x, y, z)


def read_tables(folder: Path) -> Drawn:
    """Read the three tables.

    Parameters
    ----------
    folder
        Holds ``heads.csv``, ``pipes.csv`` and ``obstructions.csv``, lengths in mm.

    Returns
    -------
    Drawn
        With the as-built arms, where their rows can be read.

    Raises
    ------
    ScenarioError
        With every fault of the three files.
    """
    faults: list[Fault] = []
    heads = _heads(_rows(folder, "heads.csv", HEAD_COLUMNS, faults))
    pipes = _pipes(_rows(folder, "pipes.csv", PIPE_COLUMNS, faults))
    solids = _solids(_rows(folder, "obstructions.csv", SOLID_COLUMNS, faults))
    if not faults and not heads:
        faults.append(Fault("heads.csv", "", "0", "rows", "at least one head expected"))
    if not faults and not any(pipe.role != "head_arm" for pipe in pipes):
        faults.append(
            Fault("pipes.csv", "", "0", "rows", "at least one pipe with role main or branch expected")
        )
    if faults:
        raise ScenarioError(faults, str(folder))
    return Drawn(folder.name, heads, pipes, solids)


def _rows(folder: Path, name: str, columns: tuple[str, ...], faults: list[Fault]) -> list[_Row]:
    rows: list[_Row] = []
    try:
        large = too_large(folder / name)
        if large:
            faults += large
            return []
        with (folder / name).open(encoding="utf-8-sig", newline="") as stream:
            reader = csv.DictReader(stream, restval="")
            missing = [column for column in columns if column not in (reader.fieldnames or [])]
            for column in missing:
                faults.append(Fault(f"{name} row 1", "", column, "", "this column is missing", 1))
            if missing:
                return []
            for cells in reader:
                extra = cells.pop(None, None)
                rows.append(_Row(name, reader.line_num, cells, faults))
                if too_many(name, reader.line_num, len(rows), faults):
                    break
                if extra:
                    place = f"{name} row {reader.line_num}"
                    faults.append(
                        Fault(place, "", str(extra[0]), "", "more cells than columns", reader.line_num)
                    )
    except OSError as error:
        faults.append(Fault(name, "", "", "", f"cannot be read: {error.strerror or error}"))
    except UnicodeDecodeError as error:
        faults.append(Fault(name, "", "", "", f"is not UTF-8 text (byte {error.start})"))
    except csv.Error as error:
        faults.append(Fault(name, "", "", "", f"not readable as CSV: {error}"))
    return rows


def _unique(rows: list[_Row]) -> None:
    seen: dict[str, int] = {}
    for row in rows:
        name = row.text("id")
        if not name:
            row.fault("id", "an id expected")
        elif name in seen:
            row.fault("id", f"duplicate id, already in row {seen[name]}")
        seen.setdefault(name, row.number)


def _heads(rows: list[_Row]) -> list[DrawnHead]:
    _unique(rows)
    heads = []
    for row in rows:
        kind = KINDS.get(row.text("orientation"))
        if kind is None:
            row.fault("orientation", f"one of {', '.join(KINDS)} expected")
        facing = row.number_of("facing", "deg") if row.text("facing") else None
        if kind == "sidewall" and facing is None:
            row.fault("facing", "a sidewall needs its facing, degrees anticlockwise from +x", "deg")
        thread = _thread(row, "conn_dn")
        heads.append(
            DrawnHead(row.text("id"), row.point(), kind or "pendent", thread, row.text("line_id"), facing)
        )
    return heads


def _thread(row: _Row, column: str) -> int:
    text = row.text(column)
    if is_whole(text) and int(text) in SIZES:
        return int(text)
    row.fault(column, f"a nominal size expected, one of DN {', '.join(map(str, SIZES))}", "DN")
    return SIZES[-1]


def _size(row: _Row, column: str) -> int:
    text = row.text(column)
    value = int(text) if is_whole(text) else 0
    if value in SIZES or SIZES[-1] < value <= LARGEST_DN:
        return value
    return _thread(row, column)


def _pipes(rows: list[_Row]) -> list[DrawnPipe]:
    _unique(rows)
    pipes: list[DrawnPipe] = []
    for row in rows:
        role = row.text("role")
        if role == "head_arm":
            # an arm is no line of the scenario: what is wrong with it is the drawing's reader's to say
            quiet = _Row(row.file, row.number, row.cells, [])
            a, b, dn = quiet.point("1"), quiet.point("2"), quiet.text("dn")
            if not quiet.faults:
                size = int(dn) if is_whole(dn) else 0
                pipes.append(
                    DrawnPipe(row.text("id"), a, b, size, role, row.text("line_id"), quiet.names("head_ids"))
                )
            continue
        if role not in ROLES:
            row.fault("role", f"one of {', '.join(ROLES)} expected")
        if role == "branch" and not row.text("line_id"):
            row.fault("line_id", "a branch pipe needs its line's id")
        a, b = row.point("1"), row.point("2")
        pipes.append(DrawnPipe(row.text("id"), a, b, _size(row, "dn"), role, row.text("line_id")))
    return pipes


def _solids(rows: list[_Row]) -> list[DrawnSolid]:
    solids = []
    for row in rows:
        corners = [(row.number_of(f"x{k}"), row.number_of(f"y{k}")) for k in range(1, 5)]
        kind = row.text("kind") or "obstruction"
        low, high = row.number_of("zmin"), row.number_of("zmax")
        solids.append(DrawnSolid(f"{kind}-{row.number}", kind, corners, low, high))
    return solids
