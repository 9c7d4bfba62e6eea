"""Where a run may change its level, pass a bend, or begin: arcs of its graph."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise, permutations
from typing import TYPE_CHECKING

import numpy as np

from router.geometry.solids import TOUCH, Solids
from router.profiles.frame import STRAIGHT_DEG, RunFrame, Stretch
from router.profiles.graph import Amounts, Arc

if TYPE_CHECKING:
    from router.geometry.plan import FloatArray
    from router.profiles.blocked import Blocked


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


def amounts(
    fitting: float = 0, level_change: float = 0, pipe: float = 0, drain: float = 0, price: float = 0
) -> Amounts:
    """Amounts of an arc of the run itself."""
    return (fitting, level_change, drain, 0.0, pipe, 0.0, 0.0, 0.0, 0.0, price)


def drains_of(frame: RunFrame, la: int, lb: int) -> int:
    """Drains that a change of level costs by itself.

    On a pitched run every descent has a low point of its own at its foot; on a
    level one, descents in a row share one (the graph's trapped flag counts it).
    """
    return int(frame.dry and frame.pitch > 0 and lb < la)


def bend_kind(turn: float) -> str:
    """Fitting of a plan bend by its turn in degrees; within 3 degrees of 45 or 90 a stock elbow."""
    if abs(turn - 90) <= 3:
        return "elbow_90"
    if abs(turn - 45) <= 3:
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
        kind = bend_kind(turn)
        plain = frame.makeup.half(bend_take_out(frame, kind, dn), dn, frame.elbow_joining)
        plain += frame.given_excess(dn)
        square = frame.elbow_half("elbow_90", dn)
        taken.append((at - plain, at + plain))
        for level in range(len(frame.levels)):
            if blocked.clear(level, at - plain, at + plain):
                a, b = ticks(at - plain, at + plain)
                change = Change(0, at, at, True, kind)
                arcs.append(Arc("bend", a, b, level, level, amounts(1, 0, 2 * plain), ref=change))
        for la, lb in permutations(range(len(frame.levels)), 2):
            if not _upright_ok(frame, solids, dn, at, la, lb):
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


def _upright_ok(frame: RunFrame, solids: Solids, dn: int, at: float, la: int, lb: int) -> bool:
    take_out = frame.makeup.tables.take_out("elbow_90", "run", dn, dn, joining=frame.elbow_joining)
    least = frame.makeup.between(take_out, take_out, dn, frame.elbow_joining)
    za, zb = (float(frame.z(frame.levels[k], at)) for k in (la, lb))
    if abs(za - zb) < least - TOUCH:
        return False
    x, y = frame.plan.point(at)
    radius = frame.makeup.tables.od(dn) / 2
    near = solids.near(x, y, x, y, radius + solids.widest)
    bands = solids.bands(np.array([[x, y, x, y]]), radius, near)
    return bool(bands.clear_span(np.array([[za]]), np.array([[zb]]))[0, 0])


def offset_arcs(frame: RunFrame, solids: Solids, blocked: Blocked, anchors: FloatArray) -> list[Arc]:
    """Offsets of two 45 or two 90 degree elbows that begin or end at an anchor station.

    Sliding an offset along a run changes nothing but what it touches, so it is
    enough to let it touch something: the ends of blocked stretches, of outlets,
    of bends.
    """
    arcs: list[Arc] = []
    seen: set[tuple[int, int, int, int, int]] = set()
    for stretch in frame.stretches:
        for la, lb in permutations(range(len(frame.levels)), 2):
            for angle in (45, 90):
                arcs += _offsets(frame, solids, blocked, stretch, anchors, la, lb, angle, seen)
    return arcs


def _offsets(
    frame: RunFrame,
    solids: Solids,
    blocked: Blocked,
    stretch: Stretch,
    anchors: FloatArray,
    la: int,
    lb: int,
    angle: int,
    seen: set[tuple[int, int, int, int, int]],
) -> list[Arc]:
    kind = f"elbow_{angle}"
    dn, joining = stretch.dn, frame.elbow_joining
    take_out = frame.makeup.tables.take_out(kind, "run", dn, dn, joining=joining)
    travel = frame.makeup.between(take_out, take_out, dn, joining)
    rise = abs(float(frame.levels[la] - frame.levels[lb]))
    run = rise if angle == 45 else 0.0
    if rise * (np.sqrt(2) if angle == 45 else 1.0) < travel - TOUCH:
        return []
    half = frame.makeup.half(take_out, dn, joining) + frame.given_excess(dn)
    length = run + 2 * half
    begins = np.unique(np.round(np.concatenate([anchors, anchors - length]), 3))
    begins = begins[(begins >= stretch.start - TOUCH) & (begins + length <= stretch.section.end + TOUCH)]
    begins = begins[begins <= stretch.end]
    first = begins + half
    second = first + run
    ok = blocked.clear_all(la, begins, first) & blocked.clear_all(lb, second, second + half)
    begins, first, second = begins[ok], first[ok], second[ok]
    if not len(begins):
        return []
    starts, ends = (
        np.column_stack(
            [
                stretch.section.origin + np.outer(s - stretch.section.start, stretch.section.along),
                frame.z(frame.levels[k], s),
            ]
        )
        for s, k in ((first, la), (second, lb))
    )
    clear = solids.segments_clear(starts, ends, np.full(len(starts), stretch.radius))
    pipe = 2 * half + (rise * np.sqrt(2) if angle == 45 else rise)
    arcs = []
    for i in np.flatnonzero(clear):
        a, b = ticks(float(begins[i]), float(begins[i] + length))
        if (a, b, la, lb, angle) in seen:
            continue
        seen.add((a, b, la, lb, angle))
        change = Change(angle, float(first[i]), float(second[i]), False, kind)
        carried = amounts(2, 1, float(pipe), drains_of(frame, la, lb))
        arcs.append(Arc("offset", a, b, la, lb, carried, ref=change))
    return arcs
