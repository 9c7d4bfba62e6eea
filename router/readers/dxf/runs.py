"""Runs of a drawing: polylines, and lines joined end to end, hung up as trees."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

from router.readers.dxf.ends import chained, clean
from router.readers.dxf.gaps import tell_gaps
from router.readers.dxf.places import about, corners, sound
from router.readers.dxf.trees import Stroke, hang
from router.readers.dxf.values import Ids, beside, named
from router.scenario.errors import number_text

if TYPE_CHECKING:
    from router.readers.drawn import Xyz
    from router.readers.dxf.walk import Found, Reading

BAND_MM: Final = 300.0
LEVEL_MM: Final = 20.0
"""A run drawn at elevations further apart than this gets a band that holds them."""


def read_runs(reading: Reading, found: list[Found]) -> list[dict[str, Any]]:
    """Read runs as records of a scenario file, mm: ours as they stand, others hung up by where they lie.

    Returns
    -------
    list of dict
    """
    strokes = _strokes(reading, found)
    foreign = [stroke for stroke in strokes if stroke.record is None]
    for layer in dict.fromkeys(stroke.found.layer for stroke in foreign):
        ways = [stroke.points for stroke in foreign if stroke.found.layer == layer]
        tell_gaps(reading, layer, ways, straight=True)
    flat: dict[str, list[bool]] = {}
    for stroke in strokes:
        if stroke.record is None:
            flat.setdefault(stroke.found.layer, []).append(_raise(reading, stroke))
    reading.flat("runs", flat)
    hang(reading, strokes)
    return [_record(reading, stroke) for stroke in strokes]


def _strokes(reading: Reading, found: list[Found]) -> list[Stroke]:
    made: list[tuple[Found, list[Xyz], dict[str, Any] | None]] = []
    loose: dict[str, list[tuple[int, Found, list[Xyz]]]] = {}
    drawn: set[tuple[Xyz, ...]] = set()
    for each in found:
        way = corners(reading, each)
        if way is None:
            reading.lose(each, "no run: a line or a polyline expected", about(reading, each))
            continue
        points, curved = way
        if not sound(reading, each, points):
            continue
        record = beside(reading, each)
        if curved:
            reading.notes.append(f"{each.name} on layer {each.layer}: its arcs are taken as straight parts")
        if record is None:
            points = clean(points)
            if len(points) < 2:
                reading.lose(each, "without length in plan", way[0][0])
                continue
            if not drawn.isdisjoint((tuple(points), tuple(points[::-1]))):
                reading.lose(each, "drawn twice", way[0][0])
                continue
            drawn.add(tuple(points))
        if each.kind == "LINE" and record is None:
            loose.setdefault(each.layer, []).append((len(made), each, points))
        made.append((each, points, record))
    merged = _merged(reading, loose)
    ids = Ids("run", "R", named(record for _, _, record in made))
    strokes = []
    for k, (each, points, record) in enumerate(made):
        if k in merged:
            if merged[k] is None:
                continue
            points = merged[k] or points
        wanted = str(record["id"]) if record else None
        strokes.append(Stroke(ids.give(reading, wanted, each.entry.prefix), each, points, record))
    return strokes


def _merged(
    reading: Reading, loose: dict[str, list[tuple[int, Found, list[Xyz]]]]
) -> dict[int, list[Xyz] | None]:
    """Join single lines of a layer; by number: the whole way, or ``None`` for one that went into another."""
    result: dict[int, list[Xyz] | None] = {}
    for rows in loose.values():
        for chain in chained([points for _, _, points in rows], reading.mapping.tolerance_mm):
            for member in chain.members:
                result[rows[member][0]] = None
            result[rows[min(chain.members)][0]] = clean(chain.points)
    return result


def _raise(reading: Reading, stroke: Stroke) -> bool:
    """Lift a flat run to the mapping's elevation; tell whether nothing says where it is."""
    if any(abs(p[2]) > 1e-6 for p in stroke.points):
        return False
    elevation = stroke.found.entry.elevation
    if elevation is None:
        return True
    z = reading.factor * elevation
    stroke.points = [(x, y, z) for x, y, _ in stroke.points]
    return False


def _record(reading: Reading, stroke: Stroke) -> dict[str, Any]:
    record = dict(stroke.record or {})
    record["id"] = stroke.id
    levels = [round(p[2], 6) for p in stroke.points]
    record["elevation"] = levels[0]
    record["plan"] = [[x, y] for x, y, _ in stroke.points]
    if stroke.record is not None:
        return record
    entry = stroke.found.entry
    record["kind"] = entry.run_kind()
    if entry.size is not None:
        record["size"] = entry.size
    if stroke.supply is not None:
        record["supply"] = stroke.supply
    low, high = min(levels), max(levels)
    if high - low > LEVEL_MM:
        record["band"] = [min(low, levels[0] - BAND_MM), max(high, levels[0] + BAND_MM)]
        reading.notes.append(
            f"run {stroke.id} is drawn at {number_text(low)} to {number_text(high)} mm: nominal "
            f"{number_text(levels[0])} mm as at its supply end, band widened"
        )
    return record
