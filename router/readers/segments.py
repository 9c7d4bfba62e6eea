"""A plain drawing: one CSV row per straight pipe. Nothing but ends, sizes and maybe a role.

Columns: ``x1, y1, z1, x2, y2, z2`` (mm) and ``size`` (or ``dn``); optional
``id``, ``role``, ``line_id`` and ``head_ids`` (separated by ``;``). Other columns
are passed over.
"""

from __future__ import annotations

import csv
import math
from dataclasses import dataclass
from pathlib import Path

from router.readers.plain_csv import is_whole, too_large, too_many
from router.scenario.errors import Fault, ScenarioError
from router.scenario.plain import UNSEEN
from router.trade.sizes import parse_size

Xyz = tuple[float, float, float]
ENDS = ("x1", "y1", "z1", "x2", "y2", "z2")
SIZE_COLUMNS = ("size", "dn")
ROLES = ("main", "branch", "head_arm", "hose")
FARTHEST_MM = 1e7
LARGEST_DN = 1000


@dataclass(frozen=True)
class Segment:
    """One straight pipe as drawn.

    ``a`` and ``b``: ends of its axis, mm. ``dn``: nominal size, 0 where the cell
    is empty; it need not be a size that is made. ``role``: main, branch, head_arm,
    hose or empty. ``line``: the line it is said to be of; ``heads``: the heads it is said to serve.
    """

    id: str
    a: Xyz
    b: Xyz
    dn: int
    role: str = ""
    line: str = ""
    heads: tuple[str, ...] = ()
    row: int = 0


def read_segments(path: str | Path) -> list[Segment]:
    """Read a drawing.

    Parameters
    ----------
    path
        A CSV file, UTF-8, lengths in mm, one header row.

    Returns
    -------
    list of Segment
        In the order of the file. Rows without ``id`` get ``row 7`` and so on.

    Raises
    ------
    ScenarioError
        With every fault by file, row, column and value.
    """
    file = Path(path)
    faults: list[Fault] = []
    found: list[Segment] = []
    try:
        faults += too_large(file)
        if faults:
            raise ScenarioError(faults, str(file))
        with file.open(encoding="utf-8-sig", newline="") as stream:
            reader = csv.DictReader(stream, restval="")
            names = [name.strip() for name in reader.fieldnames or []]
            reader.fieldnames = names
            size = next((column for column in SIZE_COLUMNS if column in names), None)
            missing = [column for column in ENDS if column not in names]
            missing += [] if size else ["size"]
            for column in missing:
                faults.append(Fault(f"{file.name} row 1", "", column, "", "this column is missing", 1))
            for cells in [] if missing else reader:
                extra = cells.pop(None, None)
                if extra:
                    place = f"{file.name} row {reader.line_num}"
                    faults.append(
                        Fault(place, "", str(extra[0]), "", "more cells than columns", reader.line_num)
                    )
                found.append(_Cells(file.name, reader.line_num, cells, faults).segment(size or "size"))
                if too_many(file.name, reader.line_num, len(found), faults):
                    break
    except OSError as error:
        faults.append(Fault(file.name, "", "", "", f"cannot be read: {error.strerror or error}"))
    except UnicodeDecodeError as error:
        faults.append(Fault(file.name, "", "", "", f"is not UTF-8 text (byte {error.start})"))
    except csv.Error as error:
        faults.append(Fault(file.name, "", "", "", f"not readable as CSV: {error}"))
    _unique(file.name, found, faults)
    if not faults and not found:
        faults.append(Fault(file.name, "", "0", "rows", "at least one pipe expected"))
    if faults:
        raise ScenarioError(faults, str(file))
    return found


def _unique(file: str, segments: list[Segment], faults: list[Fault]) -> None:
    seen: dict[str, int] = {}
    for segment in segments:
        if segment.id in seen:
            place = f"{file} row {segment.row}, column id"
            text = f"duplicate id, already in row {seen[segment.id]}"
            faults.append(Fault(place, f"pipe {segment.id}", f'"{segment.id}"', "", text, segment.row))
        seen.setdefault(segment.id, segment.row)


class _Cells:
    """One row: reads its cells and notes what is wrong with them."""

    def __init__(self, file: str, row: int, cells: dict[str, str], faults: list[Fault]) -> None:
        self.file, self.row, self.faults = file, row, faults
        self.cells = {key: (value or "").strip() for key, value in cells.items()}
        self.id = self.cells.get("id") or f"row {row}"
        for column in ("id", "line_id", "head_ids"):
            odd = UNSEEN.search(self.cells.get(column, ""))
            if odd:
                self._fault(column, f"a character that does not show (U+{ord(odd[0]):04X})")

    def segment(self, size: str) -> Segment:
        x1, y1, z1, x2, y2, z2 = (self._number(column) for column in ENDS)
        dn = self._size(size)
        role = self.cells.get("role", "")
        if role and role not in ROLES:
            self._fault("role", f"one of {', '.join(ROLES)} expected, or nothing")
        heads = tuple(name.strip() for name in self.cells.get("head_ids", "").split(";") if name.strip())
        line = self.cells.get("line_id", "")
        return Segment(self.id, (x1, y1, z1), (x2, y2, z2), dn, role, line, heads, self.row)

    def _number(self, column: str) -> float:
        try:
            value = float(self.cells.get(column, ""))
        except ValueError:
            self._fault(column, "a number in mm expected", "mm")
            return 0.0
        if not math.isfinite(value):
            self._fault(column, "a finite number in mm expected", "mm")
            return 0.0
        if abs(value) > FARTHEST_MM:
            self._fault(column, "more than 10 km from the origin; lengths in mm expected", "mm")
        return value

    def _size(self, column: str) -> int:
        """Give the DN; a whole number that no pipe has is kept, for the reader of the drawing to remark."""
        text = self.cells.get(column, "")
        if not text:
            return 0
        try:
            return parse_size(int(text) if is_whole(text) else text)
        except ValueError as error:
            if is_whole(text) and int(text) <= LARGEST_DN:
                return int(text)
            self._fault(column, f"a nominal size expected ({error})")
            return 0

    def _fault(self, column: str, message: str, unit: str = "") -> None:
        place = f"{self.file} row {self.row}, column {column}"
        value = f'"{self.cells.get(column, "")}"'
        self.faults.append(Fault(place, f"pipe {self.id}", value, unit, message, self.row))
