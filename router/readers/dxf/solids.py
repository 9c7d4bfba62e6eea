"""Obstructions, ceilings and keep-out zones of a drawing: closed outlines, elevations, thickness."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

from router.readers.drawn import DrawnSolid
from router.readers.dxf.outlines import NoOutline, NoPlace, Outline, outlines
from router.readers.dxf.places import about, sound
from router.readers.dxf.rings import rings
from router.readers.dxf.values import Ids, beside, named
from router.readers.spelled.kinds import solid_kind
from router.scenario.errors import Fault

if TYPE_CHECKING:
    from router.readers.dxf.mapping import LayerMapping
    from router.readers.dxf.walk import Found, Reading


def _outlined(reading: Reading, found: list[Found]) -> list[tuple[Found, Outline, dict[str, Any] | None]]:
    """Give every outline with what its entity carries, in the order of the file."""
    result: list[tuple[Found, Outline, dict[str, Any] | None]] = []
    lines = [each for each in found if each.kind == "LINE"]
    for each in found:
        if each.kind == "LINE":
            continue
        try:
            made = outlines(reading, each)
        except NoOutline as why:
            reading.lose(each, str(why), about(reading, each))
            continue
        except NoPlace as error:
            reading.fault(each, "a coordinate that is no place on a site", str(error), "mm")
            continue
        record = beside(reading, each)
        for outline in made:
            points = [*outline.corners, (outline.z, outline.thickness)]
            if sound(reading, each, points):
                corners = [(round(x, 6), round(y, 6)) for x, y in outline.corners]
                result.append((each, replace(outline, corners=corners), record))
    result += [(each, outline, None) for each, outline in rings(reading, lines)]
    return result


def read_solids(reading: Reading, found: list[Found]) -> list[DrawnSolid]:
    """Read obstructions.

    Returns
    -------
    list of DrawnSolid
        mm; ours exact.
    """
    rows = _outlined(reading, found)
    ids = Ids("obstruction", "O", named(record for _, _, record in rows))
    flat = _Flat(reading, "obstructions")
    solids: list[DrawnSolid] = []
    for each, outline, record in rows:
        if record is not None:
            low, high = _drawn(outline)
            clearance = record.get("clearance")
            name = ids.give(reading, str(record["id"]))
            kind = str(record.get("kind", "obstruction"))
            guid = record.get("guid")
            solids.append(
                DrawnSolid(name, kind, outline.corners, low, high, clearance, exact=True, guid=guid)
            )
            continue
        span = _span(reading, each.entry, outline)
        if span is None:
            flat.note(each)
            continue
        clearance = None if each.entry.clearance is None else reading.factor * each.entry.clearance
        name = ids.give(reading, None, each.entry.prefix)
        solids.append(DrawnSolid(name, solid_kind(each.entry.kind or ""), outline.corners, *span, clearance))
    flat.tell()
    return solids


def read_ceilings(reading: Reading, found: list[Found]) -> list[dict[str, Any]]:
    """Read ceilings as records of a scenario file, mm.

    Returns
    -------
    list of dict
    """
    rows = _outlined(reading, found)
    ids = Ids("ceiling", "C", named(record for _, _, record in rows))
    flat = _Flat(reading, "ceilings")
    result = []
    for each, outline, record in rows:
        z = outline.z
        if record is None and abs(z) < 1e-6:
            if each.entry.elevation is None:
                flat.note(each)
                continue
            z = reading.factor * each.entry.elevation
        name = ids.give(reading, str(record["id"]) if record else None, each.entry.prefix)
        place = {"polygon": [list(corner) for corner in outline.corners], "elevation": round(z, 6)}
        result.append({**(record or {}), "id": name, **place})
    flat.tell()
    return result


def read_keep_out(reading: Reading, found: list[Found]) -> list[dict[str, Any]]:
    """Read keep-out zones as records of a scenario file, mm; a flat one holds at all elevations.

    Returns
    -------
    list of dict
    """
    rows = _outlined(reading, found)
    ids = Ids("keep-out zone", "K", named(record for _, _, record in rows))
    result = []
    for each, outline, record in rows:
        name = ids.give(reading, str(record["id"]) if record else None, each.entry.prefix)
        made: dict[str, Any] = {**(record or {}), "id": name}
        made["polygon"] = [list(corner) for corner in outline.corners]
        if record is None and each.entry.of != "all":
            made["of"] = each.entry.of
        if "elevations" in made:
            del made["elevations"]
        else:
            span = _drawn(outline) if outline.thickness else _span(reading, each.entry, outline)
            if span is not None:
                made["elevations"] = list(span)
        result.append(made)
    return result


def _drawn(outline: Outline) -> tuple[float, float]:
    """Give lowest and highest elevation as drawn, mm."""
    low, high = sorted((outline.z, outline.z + outline.thickness))
    return round(low, 6), round(high, 6)


def _span(reading: Reading, entry: LayerMapping, outline: Outline) -> tuple[float, float] | None:
    """Give lowest and highest elevation of a foreign outline, mm; ``None`` where nothing says them."""
    factor = reading.factor
    if not outline.thickness and entry.elevations is not None:
        return round(factor * entry.elevations[0], 6), round(factor * entry.elevations[1], 6)
    low = outline.z
    if abs(low) < 1e-6 and entry.bottom is not None:
        low = factor * entry.bottom
    height = outline.thickness or (factor * entry.height if entry.height is not None else 0.0)
    if not height:
        return None
    low, high = sorted((low, low + height))
    return round(low, 6), round(high, 6)


class _Flat:
    """Collects what has no elevation, and says it once a layer."""

    def __init__(self, reading: Reading, what: str) -> None:
        self.reading, self.what = reading, what
        self.counts: dict[str, int] = {}

    def note(self, found: Found) -> None:
        self.counts[found.layer] = self.counts.get(found.layer, 0) + 1

    def tell(self) -> None:
        wanted = "elevation" if self.what == "ceilings" else "elevations, or bottom and height,"
        for layer, count in self.counts.items():
            message = f"drawn without {'elevation' if self.what == 'ceilings' else 'thickness'}: {wanted}"
            self.reading.faults.append(
                Fault(
                    f"layer {layer}",
                    f"{count} {self.what}",
                    "0",
                    self.reading.unit,
                    f"{message} in the mapping expected",
                )
            )
