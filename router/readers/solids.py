"""Solids as drawn become obstructions with proper polygons."""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING, Any

from shapely import STRtree
from shapely.geometry import LineString, MultiPoint, Point, Polygon

from router.readers.ifc.footprint import without_holes

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

    from router.readers.drawn import DrawnSolid

LEAST_AREA_MM2 = 100.0
LIGHT_CLEARANCE_MM = 10.0
"""A light in the ceiling plane is trim, not structure: pipe may pass close above it.
Common practice, no source."""

AROUND_MM = 50.0
"""Room for the pipe to a head that stands in a body: half of 1 in. pipe and the usual clearance."""

ABOVE_MM = 2000.0
"""Obstructions wholly higher than this above all pipe, or below all heads, cannot matter."""


def obstructions(
    rows: list[DrawnSolid],
    heads: list[dict[str, Any]],
    plans: list[LineString],
    levels: tuple[float, float],
    reach: float,
    notes: list[str],
) -> list[dict[str, Any]]:
    """Make obstructions.

    Parameters
    ----------
    rows
        As read.
    heads
        Records as a scenario file holds them. A body that contains an inlet leaves it free, with a note.
    plans, levels, reach
        Plans of the runs, lowest and highest elevation of runs and heads, and
        how far a takeoff may reach, all in mm: what lies beyond is left out.
    notes
        Receives a sentence for each kind of thing left out or repaired.

    Returns
    -------
    list of dict
        As a scenario file holds them, mm.
    """
    near: list[BaseGeometry] = [*plans, *(Point(head["at"][:2]) for head in heads)]
    tree = STRtree(near)
    inlets = STRtree([Point(head["at"][:2]) for head in heads])
    left: Counter[str] = Counter()
    repaired: Counter[str] = Counter()
    result: list[dict[str, Any]] = []
    for row in rows:
        name = row.id
        polygon = Polygon(row.corners)
        if not polygon.is_valid or polygon.area < LEAST_AREA_MM2:
            hull = MultiPoint(row.corners).convex_hull
            if not isinstance(hull, Polygon) or hull.area < LEAST_AREA_MM2:
                left[f"{row.kind} without plan area"] += 1
                continue
            repaired[row.kind] += 1
            polygon = hull
        if row.low >= row.high:
            left[f"{row.kind} without height"] += 1
            continue
        if row.high < levels[0] or row.low > levels[1] + ABOVE_MM:
            left[f"{row.kind} far above or below"] += 1
            continue
        if len(tree.query(polygon, predicate="dwithin", distance=reach)) == 0:
            left[f"{row.kind} beyond reach"] += 1
            continue
        inside = [heads[int(k)] for k in inlets.query(polygon, predicate="contains")]
        inside = [head for head in inside if row.low < head["at"][2] < row.high]
        names = ", ".join(head["id"] for head in inside[:3]) + (" ..." if len(inside) > 3 else "")
        if inside and row.kind == "light":
            # the box around a turned light takes in the head beside it
            notes.append(f"{name} left out: inside it is the inlet of head {names}")
            left[f"{row.kind} around a head"] += 1
            continue
        parts = [polygon]
        if inside:
            parts = _around(polygon, inside)
            notes.append(
                f"{name}: a clash as drawn, {len(inside)} inlets are inside it ({names}); {AROUND_MM:g} mm "
                "around each are left free, all else stays"
            )
        for k, part in enumerate(parts):
            result.append(_record(f"{name}/{k + 1}" if k else name, row, part, heads))
    notes += [f"{count} {what}: left out" for what, count in sorted(left.items())]
    notes += [
        f"{count} {kind} repaired: corners in order by convex hull"
        for kind, count in sorted(repaired.items())
    ]
    return result


def _around(polygon: Polygon, heads: list[dict[str, Any]]) -> list[Polygon]:
    """Give what is left of a body where heads stand in it, in parts without holes."""
    rest = polygon.difference(MultiPoint([head["at"][:2] for head in heads]).buffer(AROUND_MM))
    bodies = [part for part in getattr(rest, "geoms", [rest]) if isinstance(part, Polygon)]
    return [part for body in bodies for part in without_holes(body) if part.area >= LEAST_AREA_MM2]


def _record(name: str, row: DrawnSolid, polygon: Polygon, heads: list[dict[str, Any]]) -> dict[str, Any]:
    corners = [[round(x, 1), round(y, 1)] for x, y in list(polygon.exterior.coords)[:-1]]
    if not polygon.exterior.is_ccw:
        corners.reverse()
    record: dict[str, Any] = {
        "id": name,
        "kind": row.kind,
        "polygon": corners,
        "elevations": [row.low, row.high],
    }
    if row.guid is not None:
        record["guid"] = row.guid
    if row.kind == "light" and _in_ceiling(row, polygon, heads):
        record["clearance"] = LIGHT_CLEARANCE_MM
    return record


def _in_ceiling(row: DrawnSolid, polygon: Polygon, heads: list[dict[str, Any]]) -> bool:
    """Tell whether a light sits in the plane of the nearest head's inlet."""
    centre = polygon.centroid
    nearest = min(heads, key=lambda head: (centre.distance(Point(head["at"][:2])), head["id"]))
    return bool(row.low - 150.0 <= nearest["at"][2] <= row.high + 150.0)
