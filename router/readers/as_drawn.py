"""Obstructions that a drawn line already passes too close, whatever its level.

The tables give bounding boxes, and a line's plan is not ours to move. Where no
level of its band would clear a box, the box yields to the line as drawn: its
clearance becomes the gap that there is, or it is cut back to the pipe.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from shapely.geometry import LineString, Point, Polygon

from router.trade.tables import Tables

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

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
    names = {solid["id"] for solid in solids}
    for solid in solids:
        parts = [solid]
        for run in runs:
            parts = [each for part in parts for each in _against(part, run, tables, band, notes)]
        result += _named(solid["id"], parts, names)
    return result


def _named(name: str, parts: list[dict[str, Any]], names: set[str]) -> list[dict[str, Any]]:
    """Give what is left of an obstruction ids of their own: the first keeps its name."""
    result = parts[:1]
    number = 1
    for part in parts[1:]:
        number += 1
        while f"{name}/{number}" in names:
            number += 1
        names.add(f"{name}/{number}")
        result.append({**part, "id": f"{name}/{number}"})
    return result


def clear_of_drops(
    solids: list[dict[str, Any]], heads: list[dict[str, Any]], notes: list[str]
) -> list[dict[str, Any]]:
    """Return the obstructions with lights cut back where a head hangs through their boxes.

    A light and a head stand side by side in a ceiling; a box round a turned
    light can take in the head beside it.
    """
    radius = Tables().od(25) / 2
    result = []
    cut: list[str] = []
    gone: list[str] = []
    names = {solid["id"] for solid in solids}
    for solid in solids:
        if solid["kind"] != "light":
            result.append(solid)
            continue
        polygon = Polygon(solid["polygon"])
        room = radius + solid.get("clearance", DEFAULT_CLEARANCE_MM) + 0.2
        rest: BaseGeometry = polygon
        for head in heads:
            place = Point(head["at"][:2])
            if solid["elevations"][1] > head["at"][2] and polygon.distance(place) < room:
                # the circle drawn round outside, so that its chords keep the distance
                rest = rest.difference(place.buffer(room / 0.995, quad_segs=16))
        if rest is polygon:
            result.append(solid)
            continue
        parts = _polygons(rest)
        if not parts or any(part.interiors for part in parts):
            gone.append(solid["id"])
            continue
        cut.append(solid["id"])
        result += _named(solid["id"], [{**solid, "polygon": _corners(part)} for part in parts], names)
    if cut:
        notes.append(f"cut back where a head hangs beside them within their boxes: {', '.join(cut)}")
    if gone:
        notes.append(f"left out, a head hangs in the middle of their boxes: {', '.join(gone)}")
    return result


def _polygons(rest: BaseGeometry) -> list[Polygon]:
    """Give what is left of a plan, largest first."""
    parts = [part for part in getattr(rest, "geoms", [rest]) if isinstance(part, Polygon)]
    return sorted((part for part in parts if part.area >= LEAST_AREA_MM2), key=lambda part: -part.area)


def _corners(part: Polygon) -> list[list[float]]:
    return [[round(x, 2), round(y, 2)] for x, y in list(part.exterior.coords)[:-1]]


def _against(
    solid: dict[str, Any], run: dict[str, Any], tables: Tables, band: float, notes: list[str]
) -> list[dict[str, Any]]:
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
            return [solid]
        if gap >= 0.0:
            notes.append(
                f"{solid['id']}: run {run['id']} is drawn {gap:.1f} mm from it, and no level of its band "
                f"passes it: its clearance is taken as that instead of {clearance:g} mm"
            )
            return [{**solid, "clearance": float(int(gap * 10) / 10)}]
        rest = polygon.difference(line.buffer(radius + 0.1, cap_style="flat"))
        parts = _polygons(rest)
        if not parts:
            notes.append(f"{solid['id']} left out: run {run['id']} is drawn right through its box")
            return []
        notes.append(
            f"{solid['id']}: run {run['id']} is drawn {-gap:.1f} mm inside its box, and no level of its band "
            "passes it: the box is cut back to the pipe, clearance 0"
        )
        return [{**solid, "polygon": _corners(part), "clearance": 0.0} for part in parts]
    return [solid]
