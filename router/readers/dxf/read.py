"""A drawing becomes heads, runs or pipes, and solids in mm."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from router.readers.drawn import Drawn, DrawnHead, DrawnPipe, DrawnSolid
from router.readers.dxf.carrying import carried_settings
from router.readers.dxf.heads import read_heads
from router.readers.dxf.load import load_dxf, stop
from router.readers.dxf.mapping import UNITS, DxfMapping, own_mapping
from router.readers.dxf.pipes import read_pipes
from router.readers.dxf.runs import read_runs
from router.readers.dxf.solids import read_ceilings, read_keep_out, read_solids
from router.readers.dxf.walk import Found, Reading, walk
from router.scenario.carried import SETTINGS
from router.scenario.errors import ScenarioError, number_text

if TYPE_CHECKING:
    from collections.abc import Iterable

    from ezdxf.document import Drawing

INSUNITS: Final = {
    1: ("in", 25.4),
    2: ("ft", 304.8),
    4: ("mm", 1.0),
    5: ("cm", 10.0),
    6: ("m", 1000.0),
    14: ("dm", 100.0),
    21: ("US survey ft", 1200000.0 / 3937.0),
}
"""Codes of $INSUNITS (DXF reference), and mm in one of each."""

SOME_LAYERS: Final = 12

NEAR_MM: Final = 1e7
"""Scenarios lie within this of their origin."""


def read_dxf(file: Path, mapping: DxfMapping | None = None) -> Drawn:
    """Read a drawing.

    Parameters
    ----------
    file
        DXF as text or binary.
    mapping
        Which layer holds what; default: the layers of our own drawings.

    Returns
    -------
    Drawn
        In mm; ``notes`` say what was decided, mended and passed over.

    Raises
    ------
    ScenarioError
        If the file cannot be used, or with every fault by layer, entity, value and unit.
    """
    file = Path(file)
    notes: list[str] = []
    doc = load_dxf(file, notes)
    mapping = mapping or own_mapping()
    unit, factor = _unit(file, doc, mapping)
    reading = Reading(file, doc, mapping, factor, unit, notes)
    try:
        drawn = _drawn(reading)
    except ScenarioError:
        raise
    except RecursionError as error:
        raise stop(file, "its blocks are nested too deeply") from error
    except MemoryError:
        raise
    except Exception as error:  # a file that loads may still hold entities without sense
        text = f"damaged: an entity cannot be understood ({type(error).__name__}: {str(error)[:80]})"
        raise stop(file, text) from error
    if reading.faults:
        raise ScenarioError(reading.faults, str(file))
    drawn.notes += reading.told()
    return drawn


def _unit(file: Path, doc: Drawing, mapping: DxfMapping) -> tuple[str, float]:
    if mapping.units is not None:
        return mapping.units, UNITS[mapping.units]
    code = doc.header.get("$INSUNITS", 0)
    if code in INSUNITS:
        return INSUNITS[code]
    what = "the drawing does not say its unit" if not code else "a unit that is not read"
    message = f"{what} ($INSUNITS); units: mm, cm, m, in or ft in the mapping expected"
    raise stop(file, message, str(code))


def _drawn(reading: Reading) -> Drawn:
    by: dict[str, list[Found]] = {}
    for found in walk(reading):
        by.setdefault(found.entry.holds, []).append(found)
    if not by:
        raise stop(reading.file, _nothing(reading))
    drawn = Drawn(reading.file.stem, notes=reading.notes)
    drawn.heads = read_heads(reading, by.get("heads", []))
    drawn.runs = read_runs(reading, by.get("runs", []))
    known = {run["id"] for run in drawn.runs}
    drawn.heads = [
        replace(head, given={**head.given, "run": head.line}) if head.line in known else head
        for head in drawn.heads
    ]
    drawn.pipes = read_pipes(reading, by.get("pipes", []))
    drawn.solids = read_solids(reading, by.get("obstructions", []))
    drawn.ceilings = read_ceilings(reading, by.get("ceilings", []))
    drawn.keep_out = read_keep_out(reading, by.get("keep_out", []))
    try:
        settings = carried_settings(reading.doc)
    except ValueError as error:
        raise stop(reading.file, f"what it carries of a scenario of ours cannot be read: {error}") from error
    if settings is not None:
        unknown = [key for key in settings if key not in SETTINGS]
        if unknown:
            raise stop(reading.file, f"carries what no scenario has: {', '.join(map(str, unknown[:4]))}")
        drawn.settings = settings
    elif reading.ours:
        drawn.notes.append(
            "the drawing has lost what it carried for the scenario as a whole (system, rules, pins ...): "
            "defaults are taken"
        )
    return _shifted(reading, drawn)


def _nothing(reading: Reading) -> str:
    """Say what a drawing has instead of what the mapping names."""
    layers = [f"{layer} ({count})" for layer, count in reading.unnamed.most_common(SOME_LAYERS)]
    more = len(reading.unnamed) - len(layers)
    has = f"it has {', '.join(layers)}" if layers else "; ".join(reading.told()[:4]) or "it is empty"
    return f"nothing is on a layer that the mapping names; {has}" + (f" and {more} more" if more else "")


def _points(drawn: Drawn) -> Iterable[tuple[float, float]]:
    for head in drawn.heads:
        yield head.at[:2]
    for pipe in drawn.pipes:
        yield from (pipe.a[:2], pipe.b[:2])
    for run in drawn.runs:
        yield from ((p[0], p[1]) for p in run["plan"])
    for solid in drawn.solids:
        yield from solid.corners
    for area in (*drawn.ceilings, *drawn.keep_out):
        yield from ((p[0], p[1]) for p in area["polygon"])


def _shifted(reading: Reading, drawn: Drawn) -> Drawn:
    """Move a drawing at far coordinates to an origin of its own, by whole metres."""
    given = reading.mapping.origin
    if given is not None:
        dx, dy = (reading.factor * v for v in given)
    else:
        spots = list(_points(drawn))
        if not any(abs(v) > NEAR_MM for spot in spots for v in spot):
            return drawn
        dx, dy = (math.floor(min(spot[k] for spot in spots) / 1000.0) * 1000.0 for k in (0, 1))
    if not dx and not dy:
        return drawn
    if given is None:
        drawn.shift = (dx, dy, 0.0)
    drawn.notes.append(
        f"x {number_text(dx)} mm, y {number_text(dy)} mm of the drawing is the scenario's origin"
        + ("" if given is not None else ": the drawing is far from its own")
    )

    def moved(point: Any) -> Any:
        return (round(point[0] - dx, 6), round(point[1] - dy, 6), *point[2:])

    drawn.heads = [_head(head, moved) for head in drawn.heads]
    drawn.pipes = [_pipe(pipe, moved) for pipe in drawn.pipes]
    drawn.solids = [_solid(solid, moved) for solid in drawn.solids]
    for record, key in [
        *((run, "plan") for run in drawn.runs),
        *((area, "polygon") for area in (*drawn.ceilings, *drawn.keep_out)),
    ]:
        record[key] = [list(moved(p)) for p in record[key]]
    return drawn


def _head(head: DrawnHead, moved: Any) -> DrawnHead:
    return replace(head, at=moved(head.at))


def _pipe(pipe: DrawnPipe, moved: Any) -> DrawnPipe:
    return replace(pipe, a=moved(pipe.a), b=moved(pipe.b))


def _solid(solid: DrawnSolid, moved: Any) -> DrawnSolid:
    return replace(solid, corners=[moved(corner) for corner in solid.corners])
