"""Points of entities in mm in the drawing's world frame, finite and within reach."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any, Final

from router.readers.dxf.arcs import arc

if TYPE_CHECKING:
    from collections.abc import Iterable

    from router.readers.drawn import Xyz
    from router.readers.dxf.walk import Found, Reading

FARTHEST: Final = 1e12
"""mm; farther than any grid on Earth."""


def world(reading: Reading, point: Any) -> Xyz:
    """Give a point of the world frame in mm, to 1e-6 mm as lengths of scenarios are."""
    return tuple(round(reading.factor * float(v), 6) for v in point)  # type: ignore[return-value]


def sound(reading: Reading, found: Found, points: Iterable[Iterable[float]]) -> bool:
    """Tell whether all coordinates are finite numbers within reason; a fault if not."""
    for point in points:
        for value in point:
            if not math.isfinite(value) or abs(value) > FARTHEST:
                reading.fault(found, "a coordinate that is no place on a site", f"{value:g}", "mm")
                return False
    return True


def corners(reading: Reading, found: Found) -> tuple[list[Xyz], bool] | None:
    """Give the corners of a line or polyline in space, and whether it has arcs.

    Returns
    -------
    corners, curved
        ``None`` where it is no line.
    """
    entity, kind = found.entity, found.kind
    if kind == "LINE":
        return [world(reading, entity.dxf.start), world(reading, entity.dxf.end)], False
    if kind == "LWPOLYLINE":
        rows = [(x, y, b) for x, y, b in entity.get_points("xyb")]
        z = float(entity.dxf.get("elevation", 0.0))
    elif kind == "POLYLINE" and entity.is_2d_polyline:
        rows = [(v.dxf.location.x, v.dxf.location.y, v.dxf.get("bulge", 0.0)) for v in entity.vertices]
        z = float(entity.dxf.get("elevation", (0, 0, 0))[2])
    elif kind == "POLYLINE" and entity.is_3d_polyline:
        points = [world(reading, v.dxf.location) for v in entity.vertices]
        return points + points[:1] if entity.is_closed else points, False
    else:
        return None
    if entity.is_closed and rows:
        rows.append((rows[0][0], rows[0][1], 0.0))
    flat: list[tuple[float, float]] = []
    curved = False
    for k, row in enumerate(rows):
        flat.append((row[0], row[1]))
        if row[2] and k + 1 < len(rows) and math.dist(row[:2], rows[k + 1][:2]) > 1e-9:
            flat += arc(row, rows[k + 1], outside=False)
            curved = True
    ocs = entity.ocs()
    return [world(reading, ocs.to_wcs((x, y, z))) for x, y in flat], curved


def spot(reading: Reading, found: Found) -> Xyz | None:
    """Give the place of an insert, a point or a circle's centre; ``None`` for anything else."""
    entity, kind = found.entity, found.kind
    if kind == "INSERT":
        return world(reading, entity.ocs().to_wcs(entity.dxf.insert))
    if kind == "POINT":
        return world(reading, entity.dxf.location)
    if kind == "CIRCLE":
        return world(reading, entity.ocs().to_wcs(entity.dxf.center))
    if kind == "ELLIPSE":  # a circle in a block that is not scaled evenly
        return world(reading, entity.dxf.center)
    return None


def about(reading: Reading, found: Found) -> Xyz | None:
    """Give a point of an entity, so that a person finds it; ``None`` where it has none that is plain.

    Returns
    -------
    tuple of float or None
        mm.
    """
    way = corners(reading, found)
    if way is not None:
        return way[0][0] if way[0] else None
    at = spot(reading, found)
    if at is None and found.kind in ("3DFACE", "SOLID", "TRACE"):
        at = world(reading, found.entity.ocs().to_wcs(found.entity.dxf.vtx0))
    if at is None and found.kind == "ARC":
        at = world(reading, found.entity.ocs().to_wcs(found.entity.dxf.center))
    return at
