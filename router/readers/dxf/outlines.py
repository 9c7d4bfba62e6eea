"""Closed outlines of a drawing in plan: polylines, circles, hatches, filled quadrilaterals, faces."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

import shapely

from router.readers.dxf.arcs import around, circle

if TYPE_CHECKING:
    from collections.abc import Iterable

    from router.readers.drawn import Xy
    from router.readers.dxf.walk import Found, Reading

GAP_MM: Final = 20.0
"""An open polyline whose ends are this close was meant to be closed. Common practice, no source."""

FLAT: Final = 1e-6
CURVE_OFF_MM: Final = 0.5


class NoOutline(Exception):
    """Why an entity gives no outline."""


class NoPlace(Exception):
    """A coordinate that is no number; the message is its value."""


@dataclass(frozen=True)
class Outline:
    """A plan polygon in mm (not closed), the elevation that it is drawn at and how thick it is, upwards."""

    corners: list[Xy]
    z: float
    thickness: float


def outlines(reading: Reading, found: Found) -> list[Outline]:
    """Give the outlines that an entity draws.

    Raises
    ------
    NoOutline
        Says why there is none.
    NoPlace
        If a coordinate is no number.
    """
    make = _MAKERS.get(found.kind)
    if make is None:
        raise NoOutline(_WHY.get(found.kind, "not an outline"))
    return make(reading, found.entity)


def level(entity: Any) -> float:
    """Tell which way up the plane of a flat entity lies: 1, or -1 for one seen from below.

    Raises
    ------
    NoOutline
        If it is slanted.
    """
    up = entity.dxf.get("extrusion", (0.0, 0.0, 1.0))
    x, y, z = (float(v) for v in up)
    size = math.hypot(x, y, z)
    if not size > 0 or math.hypot(x, y) / size > FLAT:
        raise NoOutline("drawn on a slanted plane")
    return math.copysign(1.0, z)


def _numbers(rows: Iterable[Iterable[float]]) -> None:
    for row in rows:
        for value in row:
            if not math.isfinite(value):
                raise NoPlace(f"{value:g}")


def _polyline(reading: Reading, entity: Any) -> list[Outline]:
    """LWPOLYLINE and POLYLINE in 2D and 3D."""
    factor = reading.factor
    if entity.dxftype() == "POLYLINE" and entity.is_3d_polyline:
        points = [tuple(factor * v for v in vertex.dxf.location) for vertex in entity.vertices]
        heights = [p[2] for p in points]
        if points and max(heights) - min(heights) > 1.0:
            raise NoOutline("a polyline in space, not at one elevation")
        rows = [(p[0], p[1], 0.0) for p in points]
        return [Outline(_closed(reading, entity, rows), heights[0] if heights else 0.0, 0.0)]
    if entity.dxftype() == "POLYLINE":
        if not entity.is_2d_polyline:
            raise NoOutline("meshes are not read")
        rows = [(v.dxf.location.x, v.dxf.location.y, v.dxf.get("bulge", 0.0)) for v in entity.vertices]
        z = float(entity.dxf.get("elevation", (0, 0, 0))[2])
    else:
        rows = [(x, y, b) for x, y, b in entity.get_points("xyb")]
        z = float(entity.dxf.get("elevation", 0.0))
    up = level(entity)
    rows = [(up * factor * x, factor * y, up * b) for x, y, b in rows]
    thickness = up * factor * float(entity.dxf.get("thickness", 0.0))
    return [Outline(_closed(reading, entity, rows), up * factor * z, thickness)]


def _closed(reading: Reading, entity: Any, rows: list[tuple[float, float, float]]) -> list[Xy]:
    _numbers(rows)
    if not entity.is_closed:
        if len(rows) < 3:
            raise NoOutline("an open line")
        gap = math.dist(rows[0][:2], rows[-1][:2])
        most = max(GAP_MM, reading.mapping.tolerance_mm)
        if gap > most:
            raise NoOutline(f"open; ends more than {most:g} mm apart (tolerance_mm in the mapping)")
    rows = [row for k, row in enumerate(rows) if math.dist(row[:2], rows[k - 1][:2]) > 1e-6 or len(rows) == 1]
    if len(rows) < 3 and not any(row[2] for row in rows):
        raise NoOutline("fewer than three corners")
    return around(rows)


def _circle(reading: Reading, entity: Any) -> list[Outline]:
    up, factor = level(entity), reading.factor
    x, y, z = (factor * float(v) for v in entity.dxf.center)
    radius = factor * abs(float(entity.dxf.radius))
    _numbers([(x, y, z, radius)])
    if not 0 < radius < 1e9:
        raise NoOutline("a circle without radius")
    thickness = up * factor * float(entity.dxf.get("thickness", 0.0))
    return [Outline(circle((up * x, y), radius), up * z, thickness)]


def _quad(reading: Reading, entity: Any) -> list[Outline]:
    up, factor = level(entity), reading.factor
    points = [entity.dxf.get(f"vtx{k}") for k in (0, 1, 3, 2)]
    rows = [(up * factor * p[0], factor * p[1], up * factor * p[2]) for p in points if p is not None]
    thickness = up * factor * float(entity.dxf.get("thickness", 0.0))
    return [Outline(_corners(rows), rows[0][2], thickness)]


def _face(reading: Reading, entity: Any) -> list[Outline]:
    factor = reading.factor
    points = [entity.dxf.get(f"vtx{k}") for k in range(4)]
    rows = [(factor * p[0], factor * p[1], factor * p[2]) for p in points if p is not None]
    heights = [z for _, _, z in rows]
    return [Outline(_corners(rows), min(heights), max(heights) - min(heights))]


def _corners(rows: list[tuple[float, float, float]]) -> list[Xy]:
    _numbers(rows)
    corners = [(x, y) for k, (x, y, _) in enumerate(rows) if math.dist((x, y), rows[k - 1][:2]) > 1e-6]
    if len(corners) < 3 or shapely.Polygon(corners).area < 1e-6:
        raise NoOutline("upright, without area in plan")
    return corners


def _hatch(reading: Reading, entity: Any) -> list[Outline]:
    """Outer edges; holes count as filled."""
    up, factor = level(entity), reading.factor
    z = up * factor * float(entity.dxf.get("elevation", (0, 0, 0))[2])
    paths = list(entity.paths)
    paths = [p for p in paths if p.path_type_flags & 17] or paths
    found: list[Outline] = []
    for path in paths:
        if hasattr(path, "vertices"):
            rows = [(up * factor * x, factor * y, up * b) for x, y, b in path.vertices]
            _numbers(rows)
            corners = around(rows) if len(rows) > 1 else []
        else:
            corners = _edges(path, up, factor)
        if len(corners) > 2:
            found.append(Outline(corners, z, 0.0))
    if not found:
        raise NoOutline("a hatch without an edge")
    return found


def _edges(path: Any, up: float, factor: float) -> list[Xy]:
    from ezdxf.path import from_hatch_edge_path

    way = from_hatch_edge_path(path)
    points = [(up * factor * p.x, factor * p.y) for p in way.flattening(CURVE_OFF_MM / factor)]
    curved = any(type(edge).__name__ != "LineEdge" for edge in path.edges)
    return _widened(points) if curved else points[:-1]


def _widened(points: list[Xy]) -> list[Xy]:
    """Move the outline of a curve out by what its chords may cut off."""
    _numbers(points)
    if len(points) < 3:
        raise NoOutline("fewer than three corners")
    area = shapely.make_valid(shapely.Polygon(points)).buffer(CURVE_OFF_MM, join_style="mitre")
    if area.geom_type != "Polygon" or area.is_empty:
        raise NoOutline("a curve that crosses itself")
    return [(float(x), float(y)) for x, y in area.exterior.coords[:-1]]


def _curve(reading: Reading, entity: Any) -> list[Outline]:
    factor = reading.factor
    if entity.dxftype() == "SPLINE" and not entity.closed:
        raise NoOutline("an open curve")
    if entity.dxftype() == "ELLIPSE":
        sweep = abs(float(entity.dxf.end_param) - float(entity.dxf.start_param))
        if abs(sweep - 2.0 * math.pi) > 1e-6:
            raise NoOutline("an open curve")
    rows = [(factor * p.x, factor * p.y, factor * p.z) for p in entity.flattening(CURVE_OFF_MM / factor)]
    heights = [z for _, _, z in rows]
    if max(heights) - min(heights) > 1.0:
        raise NoOutline("drawn on a slanted plane")
    return [Outline(_widened([(x, y) for x, y, _ in rows]), heights[0], 0.0)]


_MAKERS: Final = {
    "LWPOLYLINE": _polyline,
    "POLYLINE": _polyline,
    "CIRCLE": _circle,
    "SOLID": _quad,
    "TRACE": _quad,
    "3DFACE": _face,
    "HATCH": _hatch,
    "ELLIPSE": _curve,
    "SPLINE": _curve,
}
_SOLID: Final = "solids and meshes are not read"
_WHY: Final = {
    "3DSOLID": _SOLID,
    "BODY": _SOLID,
    "REGION": _SOLID,
    "MESH": _SOLID,
    "SURFACE": _SOLID,
    "LINE": "a single line, no outline",
    "ARC": "an open arc",
}
