"""Heads of a drawing: inserts of blocks, points, centres of circles."""

from __future__ import annotations

import math
from fnmatch import fnmatchcase
from typing import TYPE_CHECKING, Any

from router.readers.drawn import DrawnHead
from router.readers.dxf.carrying import plain
from router.readers.dxf.mapping import BlockMapping
from router.readers.dxf.names import HEAD_TAGS
from router.readers.dxf.places import about, sound, spot
from router.readers.dxf.values import Ids, beside, marks_of, named, told
from router.readers.spelled.k_factors import LEAST_METRIC, METRIC, US
from router.scenario.errors import number_text

if TYPE_CHECKING:
    from collections.abc import Mapping

    from router.readers.drawn import Xyz
    from router.readers.dxf.walk import Found, Reading

TURNED = 0.01
"""Degrees. An insert turned by less than this faces where its record says."""


def shown(record: Mapping[str, Any]) -> dict[str, str]:
    """Give the attributes that a head's block shows in our own drawings.

    Parameters
    ----------
    record
        A head as a scenario file holds it, defaults left out.

    Returns
    -------
    dict of str to str
        By tag.
    """
    values = {
        "id": str(record["id"]),
        "kind": str(record.get("kind", "pendent")),
        "thread": f"DN{record.get('thread', 15)}",
        "k_factor": number_text(float(record.get("k_factor", 5.6))),
    }
    return {HEAD_TAGS[name]: plain(text) for name, text in values.items()}


def read_heads(reading: Reading, found: list[Found]) -> list[DrawnHead]:
    """Read heads in the order of the file.

    Returns
    -------
    list of DrawnHead
        mm.
    """
    rows = []
    seen: set[tuple[int, int]] = set()
    marks = marks_of(reading, found)
    for each in found:
        at = spot(reading, each)
        if at is None:
            reading.lose(each, "no head: an insert, a point or a circle expected", about(reading, each))
        elif sound(reading, each, [at]):
            record = beside(reading, each)
            if record is None and each.kind != "INSERT":
                place = (round(at[0]), round(at[1]))
                if place in seen:
                    reading.lose(each, "a second mark at the place of a head", at)
                    continue
                seen.add(place)
            rows.append((each, at, record, told(reading, each, marks, record is not None)))
    ids = Ids("head", "H", named(row[2] for row in rows) | named(row[3] for row in rows))
    heads: list[DrawnHead] = []
    flat: dict[str, list[bool]] = {}
    for each, at, record, says in rows:
        if record is not None:
            heads.append(_ours(reading, each, record, at, says, ids))
            continue
        z, guessed = _level(reading, each, at[2], says)
        flat.setdefault(each.layer, []).append(guessed)
        heads.append(_theirs(reading, each, (at[0], at[1], z), says, ids))
    reading.flat("heads", flat)
    reading.notes += reading.k_factors.notes()
    return heads


def _level(reading: Reading, found: Found, z: float, says: dict[str, Any]) -> tuple[float, bool]:
    """Give a head's elevation in mm and whether nothing says it."""
    if "elevation" in says:
        return float(says["elevation"]), False
    if abs(z) > 1e-6:
        return z, False
    if found.entry.elevation is not None:
        return round(reading.factor * found.entry.elevation, 6), False
    return 0.0, True


def _theirs(reading: Reading, found: Found, at: Xyz, says: dict[str, Any], ids: Ids) -> DrawnHead:
    entry, block = found.entry, _block(found)
    kind = says.get("kind") or block.kind or entry.head_kind()
    thread = says.get("thread") or says.get("size") or block.thread or entry.thread
    facing = says.get("facing")
    if kind == "sidewall" and facing is None:
        in_block = block.facing if block.facing is not None else entry.facing
        facing = _facing(found, in_block or 0.0) if found.kind == "INSERT" else entry.facing
    given: dict[str, Any] = {}
    if says.get("kind") or block.kind or entry.kind:
        given["kind"] = kind
    if says.get("thread") or says.get("size") or block.thread:
        given["thread"] = thread
    k_factor = says.get("k_factor")
    if k_factor is None:
        k_factor = _k_factor(reading, entry.k_factor if block.k_factor is None else block.k_factor)
    if k_factor is not None:
        given["k_factor"] = k_factor
    dry = says.get("dry", block.dry)
    if dry is not None:
        given["dry"] = dry
    name = ids.give(reading, says.get("id"), entry.prefix)
    return DrawnHead(name, at, kind, thread, line=says.get("run", ""), facing=facing, given=given)


def _k_factor(reading: Reading, given: float | None) -> float | None:
    """Give the mapping's K-factor in gpm/psi^0.5, which it is in unless it is too large for that."""
    if given is None:
        return None
    return reading.k_factors.us(given, US if given < LEAST_METRIC else METRIC)


def _ours(
    reading: Reading, found: Found, record: dict[str, Any], at: Xyz, says: dict[str, Any], ids: Ids
) -> DrawnHead:
    """Take a head of our own: its place is drawn, the rest carried, unless an attribute was changed."""
    record = dict(record)
    before = shown(record)
    for name, value in says.items():
        tag = HEAD_TAGS.get(name)
        text = before.get(tag or "")
        if tag is None or text is None or _same(name, value, text):
            continue
        reading.notes.append(f"head {record['id']}: its attribute {tag} says {value}, taken for {text}")
        record[name] = value
    kind = record.pop("kind", "pendent")
    facing = record.pop("facing", None)
    if kind == "sidewall" and found.kind == "INSERT":
        drawn = _facing(found, 0.0)
        if facing is None or abs((drawn - facing + 180.0) % 360.0 - 180.0) > TURNED:
            facing = round(drawn, 3)
    name = ids.give(reading, str(record.pop("id")))
    thread = record.pop("thread", 15)
    record |= {"kind": kind, "thread": thread}
    return DrawnHead(name, at, kind, thread, facing=facing, given=record)


def _same(name: str, value: Any, text: str) -> bool:
    if name == "id":
        return str(value) == text.strip()
    if name == "thread":
        return f"DN{value}" == text
    return number_text(value) == text if isinstance(value, float) else str(value) == text


def _block(found: Found) -> BlockMapping:
    """Give what the mapping says of an insert's block."""
    if found.kind == "INSERT":
        name = str(found.entity.dxf.get("name", ""))
        for pattern, block in found.entry.blocks.items():
            if fnmatchcase(name.upper(), pattern.upper()):
                return block
    return BlockMapping()


def _facing(found: Found, in_block: float) -> float:
    """Turn a direction of a block as its insert is turned and mirrored, degrees from +x."""
    angle = math.radians(in_block)
    x, y, _ = found.entity.matrix44().transform_direction((math.cos(angle), math.sin(angle), 0.0))
    return round(math.degrees(math.atan2(y, x)) % 360.0, 6) % 360.0
