"""Where a run may change its level, pass a bend, or begin: arcs of its graph."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields
from itertools import pairwise, permutations
from typing import TYPE_CHECKING, Any

import numpy as np

from router.geometry.plan import STRAIGHT_DEG
from router.geometry.solids import TOUCH, Solids
from router.profiles.columns import OFFSET, ArcColumns
from router.profiles.graph import TERMS, Amounts, Arc

if TYPE_CHECKING:
    from router.geometry.plan import FloatArray
    from router.geometry.solids import BoolArray, IntArray
    from router.profiles.blocked import Blocked
    from router.profiles.frame import RunFrame, Stretch

STOCK_DEG = 3.0
"""A bend so near to 45 or 90 degrees may have a stock elbow (common practice, no source)."""
ROUNDED_DEG = 0.001
"""What turns by less than a limit by this still does when its places are rounded to micrometres."""
EXACT_DEG = 1e-6


@dataclass(frozen=True, slots=True)
class Change:
    """Geometry of an offset or bend: its fittings' stations and kinds.

    ``angle``: 45 or 90 for a level change, 0 for a bend that keeps its level;
    ``first``/``second``: stations of the two elbows (equal for 90 and bends).
    """

    angle: int
    first: float
    second: float
    at_bend: bool
    elbow: str = ""


def ticks(low: float, high: float) -> tuple[int, int]:
    """Give an interval of stations in whole micrometres, drawn in by 5 so that touching ones touch."""
    return int(np.floor(low * 1000 + 5)), int(np.ceil(high * 1000 - 5))


def ticks_of(low: FloatArray, high: FloatArray) -> tuple[IntArray, IntArray]:
    """Give the same for many intervals."""
    a, b = np.floor(low * 1000 + 5), np.ceil(high * 1000 - 5)
    return a.astype(np.int64), b.astype(np.int64)


def amounts(fitting: float = 0, level_change: float = 0, pipe: float = 0, drain: float = 0) -> Amounts:
    """Amounts of an arc of the run itself."""
    return (fitting, level_change, drain, 0.0, pipe, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0)


def drains_of(frame: RunFrame, la: int, lb: int) -> int:
    """Drains that a change of level costs by itself.

    On a pitched run every descent has a low point of its own at its foot; on a
    level one, descents in a row share one (the graph's trapped flag counts it).
    """
    return int(frame.dry and frame.pitch > 0 and lb < la)


def bend_kind(frame: RunFrame, turn: float) -> str:
    """Fitting of a plan bend by its turn in degrees, a stock elbow where it is near enough to 45 or 90.

    Near enough is within 3 degrees, and within what the rules allow from square with the run's
    pitch on top, as the referee does. A pitched run turns a little less in space than in plan.
    """
    steep = frame.pitch**2
    turn = float(np.degrees(np.arccos((np.cos(np.radians(turn)) + steep) / (1.0 + steep))))
    allowed = frame.makeup.rules.square_tolerance_deg + float(np.degrees(np.arctan(abs(frame.pitch))))
    near = max(min(STOCK_DEG, allowed) - ROUNDED_DEG, EXACT_DEG)
    if abs(turn - 90) <= near:
        return "elbow_90"
    if abs(turn - 45) <= near:
        return "elbow_45"
    return "elbow_odd"


def bend_take_out(frame: RunFrame, kind: str, dn: int) -> float:
    """Take-out of a bend's elbow, mm."""
    return frame.makeup.tables.take_out(kind, "run", dn, dn, joining=frame.elbow_joining)


def bend_arcs(
    frame: RunFrame, solids: Solids, blocked: Blocked
) -> tuple[list[Arc], list[tuple[float, float]]]:
    """Arcs through each plan bend, level or with a change of level, and the stations they take.

    A change of level at a bend is two 90 degree elbows and an upright piece
    between them, instead of the bend's one elbow.
    """
    arcs: list[Arc] = []
    taken: list[tuple[float, float]] = []
    for v in range(1, len(frame.plan.sections)):
        turn = frame.plan.turn_at(v)
        if turn < STRAIGHT_DEG:
            continue
        at = float(frame.plan.stations[v])
        dn = frame.stretch_at(at).dn
        kind = bend_kind(frame, turn)
        plain = frame.makeup.half(bend_take_out(frame, kind, dn), dn, frame.elbow_joining)
        plain += frame.given_excess(dn)
        square = frame.elbow_half("elbow_90", dn)
        taken.append((at - plain, at + plain))
        for level in range(len(frame.levels)):
            if blocked.clear(level, at - plain, at + plain):
                a, b = ticks(at - plain, at + plain)
                change = Change(0, at, at, True, kind)
                arcs.append(Arc("bend", a, b, level, level, amounts(1, 0, 2 * plain), ref=change))
        upright = _upright_ok(frame, solids, dn, at)
        for la, lb in permutations(range(len(frame.levels)), 2):
            if not upright[la, lb]:
                continue
            if blocked.clear(la, at - square, at) and blocked.clear(lb, at, at + square):
                a, b = ticks(at - square, at + square)
                rise = abs(float(frame.levels[la] - frame.levels[lb]))
                change = Change(90, at, at, True, "elbow_90")
                carried = amounts(2, 1, 2 * square + rise, drains_of(frame, la, lb))
                arcs.append(Arc("bend", a, b, la, lb, carried, ref=change))
    return arcs, taken


def coupling_half(frame: RunFrame, before: int, after: int) -> float:
    """Stations that a reducing coupling needs to either side of its centre, mm."""
    take_out = frame.makeup.tables.take_out(
        "reducing_coupling", "run", before, after, joining=frame.elbow_joining
    )
    return frame.makeup.half(take_out, before, frame.elbow_joining) + frame.given_excess(before)


def coupling_arcs(frame: RunFrame, blocked: Blocked) -> tuple[list[Arc], list[tuple[float, float]]]:
    """Arcs through each change of size of an uncut run, and the stations that its coupling takes.

    A run that is cut at its fittings changes its size in them, by reducing
    tees; an uncut one has a piece of its own for it.
    """
    arcs: list[Arc] = []
    taken: list[tuple[float, float]] = []
    if not frame.uncut:
        return arcs, taken
    for before, after in pairwise(frame.stretches):
        if before.dn == after.dn:
            continue
        at, half = after.start, coupling_half(frame, before.dn, after.dn)
        a, b = ticks(at - half, at + half)
        taken.append((at - half, at + half))
        change = Change(0, at, at, False, "reducing_coupling")
        for level in range(len(frame.levels)):
            if blocked.clear(level, at - half, at + half):
                arcs.append(Arc("coupling", a, b, level, level, amounts(1, 0, 2 * half), ref=change))
    return arcs, taken


def _upright_ok(frame: RunFrame, solids: Solids, dn: int, at: float) -> BoolArray:
    """Whether an upright piece at a station can lead from one level to another; shape (levels, levels)."""
    take_out = frame.makeup.tables.take_out("elbow_90", "run", dn, dn, joining=frame.elbow_joining)
    least = frame.makeup.between(take_out, take_out, dn, frame.elbow_joining)
    z = frame.z(frame.levels, at)
    x, y = frame.plan.point(at)
    radius = frame.makeup.tables.od(dn) / 2
    near = solids.near(x, y, x, y, radius + solids.widest)
    bands = solids.bands(np.array([[x, y, x, y]]), radius, near)
    za, zb = np.broadcast_arrays(z[:, None], z[None, :])
    clear = bands.clear_span(za[None], zb[None])[0]
    return np.asarray(clear & (np.abs(za - zb) >= least - TOUCH))


class OffsetChanges(Sequence[Change]):
    """Geometry of many offsets, made when looked at; arrays of shape (offsets,)."""

    def __init__(self, angle: IntArray, first: FloatArray, second: FloatArray) -> None:
        self.angle, self.first, self.second = angle, first, second

    def __len__(self) -> int:
        return len(self.angle)

    def __getitem__(self, k: Any) -> Any:
        angle = int(self.angle[k])
        return Change(angle, float(self.first[k]), float(self.second[k]), False, f"elbow_{angle}")


@dataclass
class _Rows:
    """Offsets; shapes (offsets,). ``stretch``: index of the one that an offset begins on."""

    stretch: IntArray
    la: IntArray
    lb: IntArray
    angle: IntArray
    begins: FloatArray
    first: FloatArray
    second: FloatArray
    half: FloatArray
    length: FloatArray
    pipe: FloatArray

    def take(self, at: IntArray | BoolArray) -> _Rows:
        """Give some of them."""
        return _Rows(*(getattr(self, f.name)[at] for f in fields(self)))


def offset_arcs(frame: RunFrame, solids: Solids, blocked: Blocked, anchors: FloatArray) -> ArcColumns:
    """Offsets of two 45 or two 90 degree elbows that begin or end at an anchor station.

    Sliding an offset along a run changes nothing but what it touches, so it is
    enough to let it touch something: the ends of blocked stretches, of outlets,
    of bends.
    """
    levels = range(len(frame.levels))
    ways = np.array(
        [(la, lb, angle) for la, lb in permutations(levels, 2) for angle in (45, 90)], dtype=np.int64
    ).reshape(-1, 3)
    parts = [_offsets(frame, n, anchors, ways) for n in range(len(frame.stretches))]
    rows = _Rows(*(np.concatenate([getattr(p, f.name) for p in parts]) for f in fields(_Rows)))
    rows = rows.take(_clear(frame, solids, blocked, rows))
    a, b = ticks_of(rows.begins, rows.begins + rows.length)
    once = _once(frame, rows, a, b)
    rows, a, b = rows.take(once), a[once], b[once]
    count, zero = len(a), np.zeros(len(a))
    drains = np.where(rows.lb < rows.la, drains_of(frame, 1, 0), 0)
    terms = {"fitting": zero + 2, "level_change": zero + 1, "drain": drains, "pipe": rows.pipe}
    return ArcColumns(
        kind=np.full(count, OFFSET),
        a=a,
        b=b,
        la=rows.la,
        lb=rows.lb,
        by_term=np.stack([terms.get(name, zero) for name in TERMS]),
        items=np.zeros((count, 0), dtype=np.int64),
        feeds=np.zeros((count, 0, 2), dtype=np.int64),
        style=np.zeros(count, dtype=np.int64),
        ends=np.zeros(count, dtype=bool),
        ref=np.arange(count),
        empties=np.zeros(count, dtype=bool),
        styles=("",),
        changes=OffsetChanges(rows.angle, rows.first, rows.second),
    )


def _once(frame: RunFrame, rows: _Rows, a: IntArray, b: IntArray) -> BoolArray:
    """Whether an offset was not met before: one that begins where two stretches meet is found on both."""
    meets = np.array([stretch.start for stretch in frame.stretches[1:]])
    keep = np.ones(len(a), dtype=bool)
    seen: set[tuple[int, ...]] = set()
    at_meets = (np.abs(rows.begins[:, None] - meets[None, :]) <= 2 * TOUCH).any(axis=1)
    for k in np.flatnonzero(at_meets):
        key = tuple(int(v[k]) for v in (a, b, rows.la, rows.lb, rows.angle))
        keep[k] = key not in seen
        seen.add(key)
    return keep


def _offsets(frame: RunFrame, stretch: int, anchors: FloatArray, ways: IntArray) -> _Rows:
    """Offsets begun on a stretch, clear or not: by way (level from, level to, angle), then by station."""
    dn, joining = frame.stretches[stretch].dn, frame.elbow_joining
    rise = np.abs(frame.levels[ways[:, 0]] - frame.levels[ways[:, 1]])
    slanted = ways[:, 2] == 45
    half, travel = np.zeros(len(ways)), np.zeros(len(ways))
    for angle, here in ((45, slanted), (90, ~slanted)):
        take_out = frame.makeup.tables.take_out(f"elbow_{angle}", "run", dn, dn, joining=joining)
        half[here] = frame.makeup.half(take_out, dn, joining) + frame.given_excess(dn)
        travel[here] = frame.makeup.between(take_out, take_out, dn, joining)
    # a pitched run rises on its way down a slanted offset, which makes that shorter
    climb = frame.levels[ways[:, 1]] - frame.levels[ways[:, 0]] + frame.pitch * rise
    middle = np.where(slanted, np.hypot(rise, climb), rise)
    long_enough = middle >= travel - TOUCH
    ways, half, middle = ways[long_enough], half[long_enough], middle[long_enough]
    run = np.where(slanted, rise, 0.0)[long_enough]
    length = run + 2 * half
    way, begins = _begins(frame.stretches[stretch], anchors, length)
    la, lb, angles = ways[way].T
    first = begins + half[way]
    return _Rows(
        stretch=np.full(len(way), stretch),
        la=la,
        lb=lb,
        angle=angles,
        begins=begins,
        first=first,
        second=first + run[way],
        half=half[way],
        length=length[way],
        pipe=(2 * half + middle)[way],
    )


def _clear(frame: RunFrame, solids: Solids, blocked: Blocked, rows: _Rows) -> IntArray:
    """Give those that keep their clearance."""
    ok = blocked.clear_at(rows.la, rows.begins, rows.first)
    ok &= blocked.clear_at(rows.lb, rows.second, rows.second + rows.half)
    at = np.flatnonzero(ok)
    of = [stretch.section for stretch in frame.stretches]
    start, origin, along = (np.array([getattr(s, n) for s in of]) for n in ("start", "origin", "along"))
    radius = np.array([stretch.radius for stretch in frame.stretches])
    kept = rows.take(at)
    on = kept.stretch
    ends = [
        np.column_stack([origin[on] + (s - start[on])[:, None] * along[on], frame.z(frame.levels[k], s)])
        for s, k in ((kept.first, kept.la), (kept.second, kept.lb))
    ]
    return at[solids.segments_clear(ends[0], ends[1], radius[on])]


def _begins(stretch: Stretch, anchors: FloatArray, length: FloatArray) -> tuple[IntArray, FloatArray]:
    """(way, station) where offsets of each ``length`` begin: at an anchor, or so that they end at one."""
    low, high = stretch.start - TOUCH, stretch.end
    here = anchors[(anchors >= low) & (anchors <= high)]
    most = float(length.max(initial=0.0))
    before = anchors[(anchors >= low) & (anchors <= high + most + TOUCH)]
    begins = np.hstack([np.tile(here, (len(length), 1)), np.round(before[None, :] - length[:, None], 3)])
    begins.sort(axis=1)
    ok = (begins >= low) & (begins <= high)
    ok &= begins + length[:, None] <= stretch.section.end + TOUCH
    ok[:, 1:] &= begins[:, 1:] != begins[:, :-1]
    way, place = np.nonzero(ok)
    return way, begins[way, place]
