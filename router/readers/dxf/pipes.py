"""Straight pipes of a drawing: every straight part of a line or polyline."""

from __future__ import annotations

import math
from itertools import pairwise
from typing import TYPE_CHECKING, Any, Final

from router.readers.drawn import DrawnPipe
from router.readers.dxf.places import about, corners, sound
from router.readers.dxf.values import Ids, beside, named
from router.scenario.errors import Fault

if TYPE_CHECKING:
    from router.readers.drawn import Xyz
    from router.readers.dxf.walk import Found, Reading

ROLES: Final = ("main", "branch", "head_arm", "hose")
SHORTEST_MM: Final = 0.01


def read_pipes(reading: Reading, found: list[Found]) -> list[DrawnPipe]:
    """Read pipes in the order of the file.

    Returns
    -------
    list of DrawnPipe
        mm; those of our own routes with their roles, others without.
    """
    rows = [(each, corners(reading, each), beside(reading, each)) for each in found]
    ids = Ids("pipe", "P", named(record for _, _, record in rows))
    drawn: set[tuple[Xyz, Xyz]] = set()
    pipes: list[DrawnPipe] = []
    sizeless: dict[str, int] = {}
    flat: dict[str, list[bool]] = {}
    for each, way, record in rows:
        if way is None:
            reading.lose(each, "no pipe: a line or a polyline expected", about(reading, each))
            continue
        points, curved = way
        if not sound(reading, each, points):
            continue
        if curved:
            reading.notes.append(f"{each.name} on layer {each.layer}: its arcs are taken as straight parts")
        if record is not None:
            pipe = _ours(reading, each, record, ids, points)
            if pipe is not None:
                pipes.append(pipe)
            continue
        size = each.entry.size
        if not isinstance(size, int):
            sizeless[each.layer] = sizeless.get(each.layer, 0) + 1
            continue
        level = all(abs(p[2]) < 1e-6 for p in points)
        flat.setdefault(each.layer, []).append(level and each.entry.elevation is None)
        if level and each.entry.elevation is not None:
            points = [(x, y, reading.factor * each.entry.elevation) for x, y, _ in points]
        for a, b in pairwise(points):
            if math.dist(a, b) < SHORTEST_MM:
                reading.lose(each, "without length", a)
                continue
            if not drawn.isdisjoint(((a, b), (b, a))):
                reading.lose(each, "drawn twice", a)
                continue
            drawn.add((a, b))
            pipes.append(DrawnPipe(ids.give(reading, None, each.entry.prefix), a, b, size))
    reading.flat("pipes", flat)
    for layer, count in sizeless.items():
        message = "without a size: size in the mapping expected, as 25 or 1"
        reading.faults.append(Fault(f"layer {layer}", f"{count} pipes", "", "", message))
    return pipes


def _ours(
    reading: Reading, found: Found, record: dict[str, Any], ids: Ids, points: list[Any]
) -> DrawnPipe | None:
    dn, role, line = record.get("dn"), record.get("role", ""), record.get("line", "")
    heads = record.get("heads", [])
    good = isinstance(dn, int) and isinstance(line, str) and (role == "" or role in ROLES)
    if not good or not isinstance(heads, list) or not all(isinstance(name, str) for name in heads):
        reading.fault(found, "what it carries of a route of ours is broken: dn, role, line or heads")
        return None
    if len(points) != 2 or not isinstance(dn, int):
        reading.fault(found, "a straight pipe expected", str(len(points)), "points")
        return None
    return DrawnPipe(ids.give(reading, record["id"]), points[0], points[1], dn, role, line, tuple(heads))
