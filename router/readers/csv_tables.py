"""The three tables of a CSV folder as typed rows; every fault by file, row, column and value."""

from __future__ import annotations

import csv
import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from router.scenario.errors import Fault, ScenarioError
from router.trade.sizes import SIZES

if TYPE_CHECKING:
    from pathlib import Path

    from router.scenario.model import HeadKind

Xyz = tuple[float, float, float]
ROLES = ("main", "branch", "head_arm")
KINDS: dict[str, HeadKind] = {"pendent": "pendent", "upright": "upright", "sidewall": "sidewall"}
FARTHEST_MM = 1e7

HEAD_COLUMNS = ("id", "x", "y", "z", "orientation", "conn_dn", "line_id")
PIPE_COLUMNS = ("id", "x1", "y1", "z1", "x2", "y2", "z2", "dn", "role", "line_id")
SOLID_COLUMNS = ("kind", "zmin", "zmax", "x1", "y1", "x2", "y2", "x3", "y3", "x4", "y4")


@dataclass(frozen=True)
class HeadRow:
    """A row of ``heads.csv``: inlet in mm, thread as DN, facing in degrees."""

    id: str
    at: Xyz
    kind: HeadKind
    thread: int
    line: str
    facing: float | None


@dataclass(frozen=True)
class PipeRow:
    """A row of ``pipes.csv`` that is no arm: the ends of its axis in mm, DN."""

    id: str
    a: Xyz
    b: Xyz
    dn: int
    role: str
    line: str


@dataclass(frozen=True)
class SolidRow:
    """A row of ``obstructions.csv``: four corners in plan and two elevations, mm."""

    row: int
    kind: str
    corners: list[tuple[float, float]]
    low: float
    high: float


@dataclass(frozen=True)
class Tables:
    """All rows of a folder; ``arms`` counts the as-built arms that were passed over."""

    heads: list[HeadRow]
    pipes: list[PipeRow]
    solids: list[SolidRow]
    arms: int
    capped: list[str]


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

    def point(self, suffix: str = "") -> Xyz:
        x, y, z = (self.number_of(f"{axis}{suffix}") for axis in "xyz")
        return (x, y, z)


def read_tables(folder: Path) -> Tables:
    """Read the three tables.

    Parameters
    ----------
    folder
        Holds ``heads.csv``, ``pipes.csv`` and ``obstructions.csv``, lengths in mm.

    Returns
    -------
    Tables

    Raises
    ------
    ScenarioError
        With every fault of the three files.
    """
    faults: list[Fault] = []
    heads = _heads(_rows(folder, "heads.csv", HEAD_COLUMNS, faults))
    pipes, arms, capped = _pipes(_rows(folder, "pipes.csv", PIPE_COLUMNS, faults))
    solids = _solids(_rows(folder, "obstructions.csv", SOLID_COLUMNS, faults))
    if not faults and not heads:
        faults.append(Fault("heads.csv", "", "0", "rows", "at least one head expected"))
    if not faults and not pipes:
        faults.append(
            Fault("pipes.csv", "", "0", "rows", "at least one pipe with role main or branch expected")
        )
    if faults:
        raise ScenarioError(faults, str(folder))
    return Tables(heads, pipes, solids, arms, capped)


def _rows(folder: Path, name: str, columns: tuple[str, ...], faults: list[Fault]) -> list[_Row]:
    rows: list[_Row] = []
    try:
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


def _heads(rows: list[_Row]) -> list[HeadRow]:
    _unique(rows)
    heads = []
    for row in rows:
        kind = KINDS.get(row.text("orientation"))
        if kind is None:
            row.fault("orientation", f"one of {', '.join(KINDS)} expected")
        facing = row.number_of("facing", "deg") if row.text("facing") else None
        if kind == "sidewall" and facing is None:
            row.fault("facing", "a sidewall needs its facing, degrees anticlockwise from +x", "deg")
        thread = _size(row, "conn_dn", capped=None)
        heads.append(
            HeadRow(row.text("id"), row.point(), kind or "pendent", thread, row.text("line_id"), facing)
        )
    return heads


def _size(row: _Row, column: str, capped: list[str] | None) -> int:
    text = row.text(column)
    value = int(text) if text.isdigit() else 0
    if value in SIZES:
        return value
    if capped is not None and value > SIZES[-1] and value <= 1000:
        capped.append(f"pipe {row.text('id')} (DN{value})")
        return SIZES[-1]
    row.fault(column, f"a nominal size expected, one of DN {', '.join(map(str, SIZES))}", "DN")
    return SIZES[-1]


def _pipes(rows: list[_Row]) -> tuple[list[PipeRow], int, list[str]]:
    _unique(rows)
    pipes: list[PipeRow] = []
    capped: list[str] = []
    arms = 0
    for row in rows:
        role = row.text("role")
        if role == "head_arm":
            arms += 1
            continue
        if role not in ROLES:
            row.fault("role", f"one of {', '.join(ROLES)} expected")
        if role == "branch" and not row.text("line_id"):
            row.fault("line_id", "a branch pipe needs its line's id")
        a, b = row.point("1"), row.point("2")
        pipes.append(PipeRow(row.text("id"), a, b, _size(row, "dn", capped), role, row.text("line_id")))
    return pipes, arms, capped


def _solids(rows: list[_Row]) -> list[SolidRow]:
    solids = []
    for row in rows:
        corners = [(row.number_of(f"x{k}"), row.number_of(f"y{k}")) for k in range(1, 5)]
        kind = row.text("kind") or "obstruction"
        solids.append(SolidRow(row.number, kind, corners, row.number_of("zmin"), row.number_of("zmax")))
    return solids
