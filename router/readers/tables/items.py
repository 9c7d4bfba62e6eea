"""The rows of a table become heads, obstructions and pipes as any reader gives them."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING, Any, Final

from router.readers.csv_tables import ROLES
from router.readers.drawn import DrawnHead, DrawnPipe, DrawnSolid
from router.readers.spelled.k_factors import KFactors, k_unit
from router.readers.spelled.kinds import HEAD_WORDS, solid_kind
from router.readers.spelled.numbers import Unclear, tidy
from router.readers.tables.outlines import outline
from router.scenario.errors import number_text

if TYPE_CHECKING:
    from router.readers.drawn import Xyz
    from router.readers.tables.rows import Row, Table
    from router.scenario.model import HeadKind

ROLE_WORDS: Final[dict[str, str]] = {
    **{role.replace("_", " "): role for role in (*ROLES, "hose")},
    **dict.fromkeys(("cross main", "feed main"), "main"),
    **dict.fromkeys(("branch line", "line"), "branch"),
    **dict.fromkeys(("arm", "drop", "sprig", "arm over"), "head_arm"),
}


def heads_of(table: Table, notes: list[str]) -> list[DrawnHead]:
    """Give the heads. ``given`` of each holds what its row says, and nothing that was assumed."""
    rows = table.rows()
    for name, taken in (("kind", "pendent"), ("thread", "DN15")):
        silent = [row.number for row in rows if not row.has(name)]
        if silent:
            where = "rows" if len(silent) == len(rows) else f"{len(silent)} of the rows (first {silent[0]})"
            notes.append(f"{table.sheet.label}: {where} without {name}: {taken}, unless known otherwise")
    _each_its_own(rows, "id")
    heads = []
    k_factors = KFactors()
    for row in rows:
        at: Xyz = (row.length("x"), row.length("y"), row.length("z"))
        given: dict[str, Any] = {}
        if row.has("kind"):
            given["kind"] = row.word("kind", HEAD_WORDS) or "pendent"
        if row.has("thread"):
            given["thread"] = row.size("thread")
        for name, read in (
            ("k_factor", partial(_k_factor, row, k_factors)),
            ("dry", row.yes),
            ("run", row.text),
            ("shift", row.length),
            ("exposed", row.length),
        ):
            if row.has(name):
                given[name] = read(name)
        facing = row.figure("facing") if row.has("facing") else None
        if facing is not None and given.get("kind") == "sidewall":
            given["facing"] = facing  # other heads face nowhere, whatever a spreadsheet has for them
        for name in ("shift", "exposed"):
            if given.get(name, 0.0) < 0:
                row.fault(name, "0 or more expected", row.unit(name))
        kind: HeadKind = given.get("kind", "pendent")
        line = row.text("line")
        heads.append(DrawnHead(row.text("id"), at, kind, given.get("thread", 15), line, facing, given))
    notes += (f"{table.sheet.label}: {note}" for note in k_factors.notes())
    return heads


def _k_factor(row: Row, k_factors: KFactors, name: str) -> float:
    """Give a K-factor in gpm/psi^0.5; 1 where a fault was noted."""
    before = len(row.table.faults)
    value = row.figure(name)
    if len(row.table.faults) > before:
        return 1.0
    column = row.table.heading.columns.get(name)
    unit = k_unit(column.unit) if column and column.unit else None
    try:
        return k_factors.us(value, unit)
    except Unclear as error:
        row.fault(name, str(error), unit or "")
        return 1.0


def solids_of(table: Table, notes: list[str], *, exact: bool) -> list[DrawnSolid]:
    """Give the obstructions; those without an id get their kind and row."""
    rows = table.rows()
    named = "id" in table.heading.columns
    if (
        named
        and table.heading.columns["id"].header.strip().casefold() == "name"
        and "id" not in (table.given.columns)
    ):
        names = [row.text("id") for row in rows]
        if len(set(names)) < len(names) or not all(names):
            named = False
            notes.append(f"{table.sheet.label}: column name does not tell the rows apart and is no id")
            del table.heading.columns["id"]
    if named:
        _each_its_own(rows, "id")
    else:
        notes.append(f"{table.sheet.label}: no ids; each obstruction is called by its kind and row")
    solids = []
    own = {tidy(key).casefold(): value for key, value in table.given.words.get("kind", {}).items()}
    for row in rows:
        kind = row.text("kind") if row.has("kind") else ""
        called = str(own.get(tidy(kind).casefold(), kind)) or "obstruction"
        kind = solid_kind(called)
        low, high = _elevations(row)
        clearance = row.length("clearance") if row.has("clearance") else None
        if clearance is not None and clearance < 0:
            row.fault("clearance", "0 or more expected", row.unit("clearance"))
        name = row.text("id") if named else f"{called}-{row.number}"
        solids.append(DrawnSolid(name, kind, outline(row, notes), low, high, clearance, exact))
    return solids


def _elevations(row: Row) -> tuple[float, float]:
    """Read two of bottom, top and height; where all three are there they must agree."""
    before = len(row.table.faults)
    values = {name: row.length(name) for name in ("bottom", "top", "height") if row.has(name)}
    if len(values) < 2:
        missing = next(name for name in ("top", "bottom", "height") if name not in values)
        row.fault(missing, "two of bottom, top and height expected", row.unit(missing), "")
    if len(row.table.faults) > before:
        return 0.0, 0.0
    height = values.get("height", 1.0)
    if height <= 0:
        row.fault("height", "more than 0 expected", row.unit("height"))
        return 0.0, 0.0
    low = values["bottom"] if "bottom" in values else values["top"] - height
    high = values["top"] if "top" in values else low + height
    if low >= high:
        text = f"{number_text(low)} to {number_text(high)}"
        row.fault("top", "no height or reversed; the top above the bottom expected", "mm", text)
    elif len(values) == 3 and abs(high - low - height) > 1.0:
        row.fault("height", f"top less bottom is {number_text(high - low)} mm", row.unit("height"))
    return round(low, 6), round(high, 6)


def pipes_of(table: Table) -> list[DrawnPipe]:
    """Give the pipes; those without an id are called by their row."""
    rows = table.rows()
    if "id" in table.heading.columns:
        _each_its_own(rows, "id")
    pipes = []
    for row in rows:
        a: Xyz = (row.length("x1"), row.length("y1"), row.length("z1"))
        b: Xyz = (row.length("x2"), row.length("y2"), row.length("z2"))
        if a == b and not table.faults:
            row.fault("x2", "a pipe without length; two ends expected", "mm")
        role = (row.word("role", ROLE_WORDS) or "") if row.has("role") else ""
        dn = row.size("size", larger=True)
        serves = tuple(name.strip() for name in row.text("heads").split(";") if name.strip())
        name = row.text("id") or f"row {row.number}"
        pipes.append(DrawnPipe(name, a, b, dn, role, row.text("line"), serves))
    return pipes


def _each_its_own(rows: list[Row], column: str) -> None:
    seen: dict[str, int] = {}
    for row in rows:
        if row.cell(column).trouble or isinstance(row.cell(column).value, bool):
            continue  # said where the row is read
        name = row.text(column)
        if not name:
            row.fault(column, "an id expected")
        elif name in seen:
            row.fault(column, f"duplicate id, already in row {seen[name]}")
        else:
            seen[name] = row.number
