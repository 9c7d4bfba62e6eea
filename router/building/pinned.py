"""What pins and keep-out zones take away from a run: outlets, levels and changes of level."""

from __future__ import annotations

from typing import TYPE_CHECKING, cast

import numpy as np
import shapely

from router.geometry.solids import TOUCH
from router.profiles.changes import Change, OffsetChanges

if TYPE_CHECKING:
    from router.building.prepare import Prepared
    from router.geometry.plan import FloatArray
    from router.geometry.solids import BoolArray, IntArray
    from router.profiles.columns import ArcColumns
    from router.profiles.frame import RunFrame
    from router.profiles.graph import Arc
    from router.scenario.model import KeepOut, Scenario
    from router.takeoffs.candidates import Candidates

SAME = 0.001
"""mm. A level this near to the pinned one is it: levels are read to a micrometre."""


def _zones(scenario: Scenario, of: str) -> list[KeepOut]:
    return [zone for zone in scenario.keep_out if zone.of == of]


def _range(zone: KeepOut) -> tuple[float, float]:
    return zone.elevations if zone.elevations is not None else (-np.inf, np.inf)


def outside_zones(prepared: Prepared, frame: RunFrame, candidates: Candidates) -> Candidates:
    """Leave out takeoffs whose outlet stands in a zone for outlets; on its edge is outside."""
    zones = _zones(prepared.scenario, "outlets")
    if not zones or not len(candidates):
        return candidates
    c = candidates.columns
    points = shapely.points([frame.plan.place(s) for s in c.station.tolist()])
    z = np.asarray(frame.z(frame.levels[c.level], c.station))
    keep = np.ones(len(c.station), dtype=bool)
    for zone in zones:
        low, high = _range(zone)
        inner = shapely.Polygon(zone.polygon).buffer(-TOUCH)
        keep &= ~(shapely.contains(inner, points) & (z > low + TOUCH) & (z < high - TOUCH))
    return candidates if keep.all() else candidates.take(keep)


def changes_allowed(
    prepared: Prepared, frame: RunFrame, la: IntArray, lb: IntArray, first: FloatArray, second: FloatArray
) -> BoolArray:
    """Whether pins and zones leave each change of level; ``first``, ``second``: stations of its elbows."""
    keep = np.ones(len(la), dtype=bool)
    pin = prepared.scenario.pins.runs.get(frame.run.id)
    if pin is not None and pin.no_offset is True:
        return np.asarray(la == lb)
    if pin is not None and not isinstance(pin.no_offset, bool):
        for low, high in pin.no_offset:
            keep &= (second < low + TOUCH) | (first > high - TOUCH)
    for zone in _zones(prepared.scenario, "level_changes"):
        keep[keep] &= ~_meets(frame, zone, la[keep], lb[keep], first[keep], second[keep])
    return np.asarray(keep | (la == lb))


def _meets(
    frame: RunFrame, zone: KeepOut, la: IntArray, lb: IntArray, first: FloatArray, second: FloatArray
) -> BoolArray:
    """Whether the pipe between the two elbows has a point inside a zone."""
    low, high = _range(zone)
    inner = shapely.Polygon(zone.polygon).buffer(-TOUCH)
    z0, z1 = (np.asarray(frame.z(frame.levels[k], s)) for k, s in ((la, first), (lb, second)))
    out = np.zeros(len(la), dtype=bool)
    for n, (a, b) in enumerate(zip(first.tolist(), second.tolist(), strict=True)):
        p, q = frame.plan.place(a), frame.plan.place(b)
        if b - a < TOUCH:
            spans = [(0.0, 1.0)] if inner.contains(shapely.Point(p)) else []
        else:
            line = shapely.LineString([p, q])
            spans = [
                (
                    float(line.project(shapely.Point(part.coords[0]), normalized=True)),
                    float(line.project(shapely.Point(part.coords[-1]), normalized=True)),
                )
                for part in shapely.get_parts(line.intersection(inner))
                if part.geom_type == "LineString" and not part.is_empty
            ]
        for t, u in spans:
            one, other = (float(z0[n] + (z1[n] - z0[n]) * s) for s in (t, u))
            out[n] |= max(one, other) > low + TOUCH and min(one, other) < high - TOUCH
    return out


def edges(prepared: Prepared, frame: RunFrame) -> list[float]:
    """Stations where a pin or a zone begins or ends to say something of levels: an offset may touch them."""
    out: list[float] = []
    pin = prepared.scenario.pins.runs.get(frame.run.id)
    if pin is not None:
        out += [station for part in pin.levels for station in part.stations]
        if not isinstance(pin.no_offset, bool):
            # what must stay out are the elbows: their make-up may reach in
            halves = {
                frame.elbow_half(f"elbow_{angle}", stretch.dn)
                for stretch in frame.stretches
                for angle in (45, 90)
            }
            for low, high in pin.no_offset:
                out += [low, high, *(low + half for half in halves), *(high - half for half in halves)]
    line = shapely.LineString(frame.plan.vertices)
    for zone in _zones(prepared.scenario, "level_changes"):
        met = line.intersection(shapely.Polygon(zone.polygon).exterior)
        for x, y in shapely.get_coordinates(met).tolist():
            out.append(frame.plan.nearest((x, y))[0])
    return [station for station in out if 0.0 <= station <= frame.plan.length]


def bends_allowed(prepared: Prepared, frame: RunFrame, bends: list[Arc]) -> list[Arc]:
    """Leave out the bends that change level where none may."""
    changes = [cast("Change", arc.ref) for arc in bends]
    ends = np.array([(arc.la, arc.lb) for arc in bends], dtype=np.int64).reshape(-1, 2)
    stations = np.array([(c.first, c.second) for c in changes]).reshape(-1, 2)
    keep = changes_allowed(prepared, frame, *ends.T, *stations.T)
    return [arc for arc, kept in zip(bends, keep.tolist(), strict=True) if kept]


def offsets_allowed(prepared: Prepared, frame: RunFrame, offsets: ArcColumns) -> ArcColumns:
    """Leave out the offsets that stand where none may."""
    changes = offsets.changes
    if not len(offsets) or not isinstance(changes, OffsetChanges):
        return offsets
    first, second = changes.first[offsets.ref], changes.second[offsets.ref]
    la, lb = offsets.la.astype(np.int64), offsets.lb.astype(np.int64)
    return offsets.take(changes_allowed(prepared, frame, la, lb, first, second))


def at_pinned_levels(prepared: Prepared, frame: RunFrame, arcs: ArcColumns) -> ArcColumns:
    """Leave out what is not at the pinned level where a pin says which."""
    keep = np.ones(len(arcs), dtype=bool)
    for low, high, fits in _pinned_levels(prepared, frame):
        on = (np.maximum(arcs.b, arcs.a + 1) > low * 1000 + 5) & (arcs.a < high * 1000 - 5)
        keep &= ~on | (fits[arcs.la] & fits[arcs.lb])
    return arcs.take(keep)


def level_steps(prepared: Prepared, frame: RunFrame, low: FloatArray, high: FloatArray) -> BoolArray:
    """Whether pins leave each level between stations ``low`` and ``high``; shape (steps, levels)."""
    ok = np.ones((len(low), len(frame.levels)), dtype=bool)
    for first, last, fits in _pinned_levels(prepared, frame):
        on = (high > first + 0.005) & (low < last - 0.005)
        ok &= ~on[:, None] | fits[None, :]
    return ok


def _pinned_levels(prepared: Prepared, frame: RunFrame) -> list[tuple[float, float, BoolArray]]:
    pin = prepared.scenario.pins.runs.get(frame.run.id)
    if pin is None:
        return []
    return [(*part.stations, np.abs(frame.levels - part.level) <= SAME) for part in pin.levels]


def with_levels(levels: FloatArray, more: list[float], band: tuple[float, float]) -> FloatArray:
    """Add levels that are wanted to the micrometre, where they are in the band."""
    out = levels.tolist()
    for level in more:
        if band[0] - TOUCH <= level <= band[1] + TOUCH and all(abs(level - known) > SAME for known in out):
            out.append(level)
    return np.array(sorted(out))
