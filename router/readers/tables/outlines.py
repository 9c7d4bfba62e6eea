"""The plan of an obstruction, in whichever of five ways a table gives it."""

from __future__ import annotations

import json
import math
import re
from itertools import count
from typing import TYPE_CHECKING, Any

import shapely
from shapely.geometry import MultiPolygon, Polygon, shape

from router.readers.spelled.lengths import TO_MM, length
from router.readers.spelled.numbers import Unclear, tidy

if TYPE_CHECKING:
    from router.readers.drawn import Xy
    from router.readers.tables.rows import Row

LEAST_AREA_MM2 = 1.0
ONE_CELL = 'a polygon expected: "x y; x y; x y ...", WKT or GeoJSON'


def outline(row: Row, notes: list[str]) -> list[Xy]:
    """Give the corners in mm, not closed; empty where a fault was noted.

    Parameters
    ----------
    row
        The first of these that the row fills is taken: ``polygon``; corners ``x1``, ``y1`` ...; a line from
        corner 1 to corner 2 with ``width``; centre ``x``, ``y`` with ``length``, ``width`` and
        ``rotation`` (degrees anticlockwise from +x to the length); ``xmin`` ... ``ymax``.
    notes
        Gets what was left out.
    """
    before = len(row.table.faults)
    corners: list[Xy] = []
    name = "polygon"
    if row.has("polygon"):
        corners = _one_cell(row, notes)
    elif row.has("x1") or row.has("y1"):
        name = "x1"
        corners = _corners(row)
        if len(corners) == 2 and len(row.table.faults) == before:
            corners = _strip(row, corners)
    elif any(row.has(part) for part in ("xmin", "xmax", "ymin", "ymax")):
        name = "xmin"
        left, right, low, high = (row.length(part) for part in ("xmin", "xmax", "ymin", "ymax"))
        corners = [(left, low), (right, low), (right, high), (left, high)]
    elif row.has("x") or row.has("y"):
        name = "x"
        corners = _turned(row)
    else:
        row.fault(_first(row), "the shape in plan is missing")
    if len(row.table.faults) > before:
        return []
    return _sound(row, name, corners)


def _first(row: Row) -> str:
    columns = row.table.heading.columns
    return next((name for name in ("polygon", "x1", "xmin", "x") if name in columns), "polygon")


def _sound(row: Row, name: str, corners: list[Xy]) -> list[Xy]:
    """Drop a closing or doubled corner; note what is no area."""
    kept: list[Xy] = []
    for corner in corners:
        if not kept or corner != kept[-1]:
            kept.append(corner)
    if len(kept) > 1 and kept[0] == kept[-1]:
        kept.pop()
    if len(kept) < 3:
        row.fault(name, "a polygon needs at least 3 corners", "corners", str(len(kept)))
        return []
    polygon = Polygon(kept)
    if polygon.convex_hull.area < LEAST_AREA_MM2:
        row.fault(name, "the polygon has no area; more than 1 mm2 expected", "mm2", f"{polygon.area:g}")
    elif not polygon.is_valid:
        row.fault(name, "the polygon crosses itself; give its corners in order")
    return kept


def _corners(row: Row) -> list[Xy]:
    """Read corners till the first pair with both cells empty; nothing may stand behind that."""
    corners: list[Xy] = []
    ended = False
    columns = row.table.heading.columns
    for k in count(1):
        x, y = f"x{k}", f"y{k}"
        if x not in columns and y not in columns:
            break
        if not row.has(x) and not row.has(y):
            ended = True
            continue
        if ended:
            row.fault(x if row.has(x) else y, f"corner {k} stands behind an empty one")
            break
        corners.append((row.length(x), row.length(y)))
    return corners


def _strip(row: Row, ends: list[Xy]) -> list[Xy]:
    """Give the strip of ``width`` along a line."""
    if not row.has("width"):
        row.fault("x1", "two corners are no polygon: three expected, or a width beside the line", "", "2")
        return []
    width = _above_zero(row, "width")
    (x1, y1), (x2, y2) = ends
    along = math.hypot(x2 - x1, y2 - y1)
    if not along:
        row.fault("x1", "the line's two ends are the same place")
        return []
    dx, dy = (y1 - y2) / along * width / 2, (x2 - x1) / along * width / 2
    corners = [(x1 - dx, y1 - dy), (x2 - dx, y2 - dy), (x2 + dx, y2 + dy), (x1 + dx, y1 + dy)]
    return [(round(x, 6), round(y, 6)) for x, y in corners]


def _turned(row: Row) -> list[Xy]:
    """Give the rectangle around a centre."""
    x, y = row.length("x"), row.length("y")
    a, b = _above_zero(row, "length") / 2, _above_zero(row, "width") / 2
    angle = math.radians(row.figure("rotation")) if row.has("rotation") else 0.0
    cos, sin = math.cos(angle), math.sin(angle)
    ring = ((-a, -b), (a, -b), (a, b), (-a, b))
    return [(round(x + u * cos - v * sin, 6), round(y + u * sin + v * cos, 6)) for u, v in ring]


def _above_zero(row: Row, name: str) -> float:
    before = len(row.table.faults)
    value = row.length(name)
    if value <= 0 and len(row.table.faults) == before:
        row.fault(name, "more than 0 expected", row.unit(name))
    return value


def _one_cell(row: Row, notes: list[str]) -> list[Xy]:
    text = row.text("polygon")
    unit = row.unit("polygon")
    if not text:
        return []
    try:
        if text[0].isalpha() or text[0] == "{":
            rings = _standard(text)
            if len(rings) > 1:
                notes.append(f"{row.table.sheet.place(row.number)}: holes in the polygon are filled")
            return [(round(x * TO_MM[unit], 6), round(y * TO_MM[unit], 6)) for x, y in rings[0]]
        return _pairs(row, text, unit)
    except Unclear as error:
        row.fault("polygon", str(error), unit)
        return []


def _standard(text: str) -> list[list[Xy]]:
    """Read WKT (ISO 19125-1) or GeoJSON (RFC 7946): outer ring first."""
    try:
        found = shape(_geometry(json.loads(text))) if text[0] == "{" else shapely.from_wkt(text)
    except (ValueError, TypeError, KeyError, IndexError, AttributeError, RecursionError) as error:
        raise Unclear(ONE_CELL) from error
    except shapely.errors.ShapelyError as error:
        raise Unclear(ONE_CELL) from error
    if isinstance(found, MultiPolygon) and len(found.geoms) == 1:
        found = found.geoms[0]
    if not isinstance(found, Polygon) or found.is_empty:
        raise Unclear(f"one polygon expected, not {found.geom_type}")
    rings = [[(float(p[0]), float(p[1])) for p in ring.coords] for ring in (found.exterior, *found.interiors)]
    if not all(math.isfinite(value) for ring in rings for point in ring for value in point):
        raise Unclear("finite numbers expected")
    return rings


def _geometry(data: Any) -> Any:
    return data["geometry"] if data.get("type") == "Feature" else data


def _pairs(row: Row, text: str, unit: str) -> list[Xy]:
    """Read ``x y; x y``: points divided by ``;`` or ``|``, numbers by a blank, or else by a comma."""
    points = [tidy(part) for part in re.split(r"[;|]", text) if part.strip()]
    result = []
    for point in points:
        parts = re.split(r"[, ] *", point) if re.fullmatch(r"[^, ]+, [^, ]+", point) else point.split(" ")
        parts = point.split(",") if len(parts) == 1 else parts
        if len(parts) != 2:
            raise Unclear(f"{ONE_CELL}; found {point}")
        x, y = (length(part, unit, row.table.marks) for part in parts)
        result.append((x, y))
    return result
