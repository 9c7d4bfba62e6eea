"""Obstructions that a drawn line already passes too close, whatever its level.

The tables give bounding boxes, and a line's plan is not ours to move. Where no
level of its band would clear a box, the box yields to the line as drawn: its
clearance becomes the gap that there is, or it is cut back to the pipe.
"""

from __future__ import annotations

from typing import Any

from shapely.geometry import LineString, MultiPolygon, Polygon

from router.trade.tables import Tables

DEFAULT_CLEARANCE_MM = 25.0
LEAST_AREA_MM2 = 100.0


def yield_to_lines(
    solids: list[dict[str, Any]], runs: list[dict[str, Any]], band: float, notes: list[str]
) -> list[dict[str, Any]]:
    """Return the obstructions, those changed that block a run over its whole band.

    Parameters
    ----------
    solids, runs
        Records as a scenario file holds them, mm.
    band
        How far a run may move up or down where its record has no band, mm.
    notes
        Receives a sentence for each obstruction that was changed.
    """
    tables = Tables()
    result = []
    for solid in solids:
        changed: dict[str, Any] | None = solid
        for run in runs:
            if changed is not None:
                changed = _against(changed, run, tables, band, notes)
        if changed is not None:
            result.append(changed)
    return result


def _against(
    solid: dict[str, Any], run: dict[str, Any], tables: Tables, band: float, notes: list[str]
) -> dict[str, Any] | None:
    low, high = solid["elevations"]
    clearance = solid.get("clearance", DEFAULT_CLEARANCE_MM)
    size = run.get("size", 50)
    radius = tables.od(size if isinstance(size, int) else 50) / 2
    level = run["elevation"]
    bottom, top = run.get("band", (level - band, level + band))
    if low - radius - clearance < bottom and high + radius + clearance > top:
        line, polygon = LineString(run["plan"]), Polygon(solid["polygon"])
        gap = polygon.distance(line) - radius
        if gap >= clearance:
            return solid
        if gap >= 0.0:
            notes.append(
                f"{solid['id']}: run {run['id']} is drawn {gap:.1f} mm from it, and no level of its band "
                f"passes it: its clearance is taken as that instead of {clearance:g} mm"
            )
            return {**solid, "clearance": float(int(gap * 10) / 10)}
        rest = polygon.difference(line.buffer(radius + 0.1, cap_style="flat"))
        parts = list(rest.geoms) if isinstance(rest, MultiPolygon) else [rest]
        if rest.area < LEAST_AREA_MM2:
            notes.append(f"{solid['id']} left out: run {run['id']} is drawn right through its box")
            return None
        part = max(parts, key=lambda p: p.area)
        notes.append(
            f"{solid['id']}: run {run['id']} is drawn {-gap:.1f} mm inside its box, and no level of its band "
            "passes it: the box is cut back to the pipe, clearance 0"
        )
        corners = [[round(x, 2), round(y, 2)] for x, y in list(part.exterior.coords)[:-1]]
        return {**solid, "polygon": corners, "clearance": 0.0}
    return solid
