"""Cross checks on ids, coordinates, polygons and elevations."""

from __future__ import annotations

from typing import TYPE_CHECKING

from shapely.geometry import Polygon
from shapely.validation import explain_validity

from router.scenario.errors import Fault, Path, number_text, value_text
from router.scenario.view import ITEM, View

if TYPE_CHECKING:
    from collections.abc import Iterator

    from router.scenario.model import Obstruction

FARTHEST_MM = 1e7
"""A coordinate beyond 10 km from the origin is almost always a wrong unit."""

LONGEST_ID = 200
LEAST_AREA_MM2 = 1.0


def item_ids(view: View) -> Iterator[Fault]:
    """Check that ids are not empty and stand once in their list."""
    for name, noun in ITEM.items():
        seen: dict[str, int] = {}
        for i, item in enumerate(getattr(view.scenario, name)):
            if set(item.id) & set("\n\r\t") or len(item.id) > LONGEST_ID:
                found = "one line expected, without tabs"
                if len(item.id) > LONGEST_ID:
                    found = f"{len(item.id)} characters; at most {LONGEST_ID}"
                yield view.fault((name, i, "id"), f"{noun} {item.id}", value_text(item.id), "", found)
            if not item.id.strip():
                message = f"the id is empty; each {noun} needs one"
                yield view.fault((name, i, "id"), noun, value_text(item.id), "", message)
            elif item.id in seen:
                listed = view.index.get(name)
                first = listed[seen[item.id]] if listed else seen[item.id]
                yield view.fault(
                    (name, i, "id"),
                    f"{noun} {item.id}",
                    value_text(item.id),
                    "",
                    f"duplicate id, already used by {name}[{first}]; each {noun} its own",
                )
            else:
                seen[item.id] = i


def _numbers(value: object, path: Path) -> Iterator[tuple[Path, float]]:
    if isinstance(value, (int, float)):
        yield path, float(value)
    elif isinstance(value, (list, tuple)):
        for k, part in enumerate(value):
            yield from _numbers(part, (*path, k))


def _far(value: object) -> bool:
    if isinstance(value, (int, float)):
        return abs(value) > FARTHEST_MM
    return isinstance(value, (list, tuple)) and any(map(_far, value))


_COORDINATES = {
    "runs": ("plan", "elevation", "band", "supply_elevation"),
    "heads": ("at", "shift"),
    "obstructions": ("polygon", "elevations"),
    "ceilings": ("polygon", "elevation"),
    "keep_out": ("polygon", "elevations"),
}


def item_coordinates(view: View) -> Iterator[Fault]:
    """Check that coordinates stay near the origin; report the first far one of each field."""
    unit = view.unit
    for name, fields in _COORDINATES.items():
        for i, item in enumerate(getattr(view.scenario, name)):
            for each in fields:
                value = getattr(item, each)
                if not _far(value):
                    continue
                far = [pair for pair in _numbers(value, (name, i, each)) if abs(pair[1]) > FARTHEST_MM]
                if far:
                    yield view.fault(
                        far[0][0],
                        f"{ITEM[name]} {item.id}",
                        f"{far[0][1]:.10g}",
                        "mm",
                        f'more than {FARTHEST_MM / 1e6:g} km from the origin; is units "{unit}" right? '
                        "Use coordinates near a local origin",
                    )


def item_polygon(view: View) -> Iterator[Fault]:
    """Check that polygons have three points, an area, and do not cross themselves."""
    for name in ("obstructions", "ceilings", "keep_out"):
        for i, item in enumerate(getattr(view.scenario, name)):
            place, label = (name, i, "polygon"), f"{ITEM[name]} {item.id}"
            if _far(item.polygon):
                continue  # said there; no area can be worked out of 1e300
            points = list(item.polygon)
            if len(points) > 1 and points[0] == points[-1]:
                points.pop()
            if len(points) < 3:
                yield view.fault(place, label, str(len(points)), "points", "a polygon needs at least 3")
                continue
            polygon = Polygon(points)
            if polygon.convex_hull.area < LEAST_AREA_MM2:
                message = "the polygon has no area; more than 1 mm2 expected"
                yield view.fault(place, label, number_text(polygon.convex_hull.area), "mm2", message)
            elif not polygon.is_valid:
                where = explain_validity(polygon)
                yield view.fault(
                    place, label, where, "mm", "the polygon crosses itself; give its corners in order"
                )


def item_elevations(view: View) -> Iterator[Fault]:
    """Check that obstructions and keep-out zones have a height, and no negative clearance."""
    for i, zone in enumerate(view.scenario.keep_out):
        if zone.elevations is not None and zone.elevations[0] >= zone.elevations[1]:
            what = "no height" if zone.elevations[0] == zone.elevations[1] else "reversed"
            yield view.fault(
                ("keep_out", i, "elevations"),
                f"keep-out zone {zone.id}",
                value_text(zone.elevations),
                "mm",
                f"{what}; lower elevation first, or leave it out for all elevations",
            )
    obstructions: list[Obstruction] = view.scenario.obstructions
    for i, item in enumerate(obstructions):
        low, high = item.elevations
        label = f"obstruction {item.id}"
        if low >= high:
            what = "no height" if low == high else "reversed"
            yield view.fault(
                ("obstructions", i, "elevations"),
                label,
                value_text(item.elevations),
                "mm",
                f"{what}; underside first, then the higher top",
            )
        if item.clearance is not None and item.clearance < 0:
            yield view.fault(
                ("obstructions", i, "clearance"),
                label,
                number_text(item.clearance),
                "mm",
                "0 or more expected",
            )


CHECKS = (item_ids, item_coordinates, item_polygon, item_elevations)
