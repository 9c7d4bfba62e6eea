"""Candidates and changes of level become the layered graph of each run."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from router.building import pinned
from router.building.arc_prices import ArcPrices
from router.building.long_lows import fills_large, long_lows
from router.building.plugged_ends import ends_clear
from router.profiles.changes import amounts, bend_arcs, coupling_arcs, offset_arcs, ticks, ticks_of
from router.profiles.columns import TAKEOFF, ArcColumns, Arcs, ascending, ranked
from router.profiles.graph import TERMS, Arc, Item, RunGraph
from router.takeoffs import run_takeoff
from router.takeoffs.before import Before
from router.takeoffs.candidates import (
    STYLE_NAMES,
    CandidateColumns,
    Candidates,
    side_code,
    style_code,
)
from router.takeoffs.pairs import CROSS
from router.takeoffs.propose import propose_heads

if TYPE_CHECKING:
    from router.building.prepare import Prepared
    from router.geometry.plan import FloatArray
    from router.geometry.solids import BoolArray, IntArray
    from router.profiles.frame import RunFrame
    from router.profiles.graph import LongLow

OWN_STATION = 0.1
"""mm. An outlet this near to a head's own station is at it: its ends are whole micrometres."""


@dataclass
class BuiltGraph:
    """A run's graph with what it was built from. ``room``: stations its start takes, mm."""

    graph: RunGraph
    candidates: Candidates
    room: float
    item_heads: list[int]
    """Head index by item; child runs follow after the heads."""
    long_lows: list[LongLow] = field(default_factory=list)
    large_down: int = 0
    """Runs that some candidate lets leave downwards, to be reckoned with the large drain."""
    whole: bool = True
    """False where only what was chosen is left of it."""


def build_graph(prepared: Prepared, frame: RunFrame) -> BuiltGraph:
    """All that one run can do, whatever its parent and its children choose."""
    blocked, solids = prepared.blocked[frame.index], prepared.solids_at(frame)
    binding = np.array(binding_stations(prepared, frame))
    starts = [run_takeoff.start_of(frame, prepared.frames[child]) for child in frame.children]
    candidates = Candidates.join(
        [
            propose_heads(frame, prepared.scenario, solids, binding, wanted(prepared, frame)),
            run_takeoff.propose(frame, starts, solids),
        ]
    )
    candidates = pinned.outside_zones(prepared, frame, candidates)
    room = _supply_room(prepared, frame)
    if frame.parent is not None:
        parent = prepared.frames[frame.parent]
        beside = [run_takeoff.start_of(parent, prepared.frames[child]) for child in parent.children]
        room = run_takeoff.start_room(parent, run_takeoff.start_of(parent, frame), beside)
    bends, taken = bend_arcs(frame, solids, blocked)
    couplings, taken_too = coupling_arcs(frame, blocked)
    taken += taken_too
    arcs = _takeoff_arcs(frame, prepared, candidates, room, taken)

    bends = pinned.bends_allowed(prepared, frame, bends)
    pin = prepared.scenario.pins.runs.get(frame.run.id)
    if pin is not None and pin.no_offset is True:
        offsets = ArcColumns.of([])
    else:
        anchors = _anchors(prepared, frame, arcs, taken, room)
        offsets = offset_arcs(frame, solids, blocked, anchors)
        free = offsets.a >= room * 1000 - 5
        for c in couplings:
            free &= (offsets.a >= c.b) | (offsets.b <= c.a)
        offsets = pinned.offsets_allowed(prepared, frame, offsets.take(free))
    starts_arcs = _start_arcs(frame, prepared, room)
    every = ArcColumns.join([arcs, offsets, *(ArcColumns.of(a) for a in (bends, couplings, starts_arcs))])
    every = pinned.at_pinned_levels(prepared, frame, every)
    kept = prepared.keep.charge(frame, candidates, every, prepared.frames) if prepared.keep else None
    prices = ArcPrices(prepared, frame) if prepared.priced else None
    if prices is not None:
        prices.put(every, candidates)
    graph = _assemble(prepared, frame, every, taken, room)
    if kept is not None:
        graph.crossed, graph.begins = tuple(kept[0]), kept[1]
    if prices is not None:
        graph.pipe_price = prices.pipe(graph.positions / 1000.0)
    large = arcs.amounts[:, TERMS.index("large_drain")] > 0
    fed = arcs.feeds[large][:, :, 0]
    lows = long_lows(prepared, frame, graph)
    return BuiltGraph(graph, candidates, room, list(frame.heads), lows, len(np.unique(fed[fed >= 0])))


def wanted(prepared: Prepared, frame: RunFrame) -> Before:
    """Give what pins name and an older route had, to be tried whatever else is."""
    keep, stations = prepared.keep, {}
    for h in frame.heads:
        pin = prepared.scenario.pins.heads.get(prepared.scenario.heads[h].id)
        if pin is not None and pin.stations is not None:
            stations[h] = _named(prepared, frame, h, pin.stations)
    if keep is None:
        return Before(stations)
    for h, more in keep.stations(frame).items():
        stations[h] = [*stations.get(h, []), *more]
    return Before(stations, keep.spots(frame), keep.arms(frame))


def _named(prepared: Prepared, frame: RunFrame, head: int, pinned: tuple[float, float]) -> list[float]:
    """Give ends and middle of pinned stations between which none may be tried otherwise, within the slide."""
    rules, (low, high) = prepared.scenario.rules, pinned
    if high - low > rules.station_step:
        return []
    own, _ = frame.plan.nearest(prepared.scenario.heads[head].at[:2])
    return [s for s in sorted({low, (low + high) / 2, high}) if abs(s - own) <= rules.slide]


def _supply_room(prepared: Prepared, frame: RunFrame) -> float:
    """Stations that a root keeps free of fittings, mm.

    The pipe from its supply end to its first fitting is a piece like any other:
    a whole nipple, engaged at one end.
    """
    tables, dn = prepared.tables, frame.stretches[0].dn
    nipple = tables.shortest_nipple(dn, joining=frame.joining)
    one_end = nipple - tables.engagement(dn, joining=frame.joining)
    half = (frame.makeup.slack(dn, frame.joining) + prepared.scenario.rules.working_allowance) / 2
    return max(0.0, one_end - half) + frame.given_excess(dn)


def binding_stations(prepared: Prepared, frame: RunFrame) -> list[float]:
    """Stations at which an outlet just clears a blocked stretch."""
    out = []
    arm = prepared.scenario.rules.arm_size
    for edge in prepared.blocked[frame.index].edges():
        half = frame.outlet_half(frame.stretch_at(edge).dn, arm)
        out += [edge - half, edge + half]
    return out


def _takeoff_arcs(
    frame: RunFrame,
    prepared: Prepared,
    candidates: Candidates,
    room: float,
    taken: list[tuple[float, float]],
) -> ArcColumns:
    """Give a passing arc and an ending arc for every candidate that has room on the run."""
    blocked = prepared.blocked[frame.index]
    c = candidates.columns
    low, high, stop = c.station - c.half, c.station + c.half, c.station + c.end_half
    before = _half_ending(prepared, frame, c)
    low_end = c.station - before
    passes = c.may_pass & (low >= room - 0.01) & (high <= frame.plan.length + 0.01)
    ends = c.may_end & (low_end >= room - 0.01) & (stop <= frame.plan.length + 0.01 + c.end_half)
    for first, until in taken:
        passes &= ~((low < until - 0.01) & (high > first + 0.01))
        ends &= ~((low_end < until - 0.01) & (stop > first + 0.01))
    passes &= blocked.clear_at(c.level, low, high)
    ends &= blocked.clear_at(c.level, low_end, np.maximum(c.station, low_end + 0.1))
    ends &= ends_clear(prepared, frame, c, ends)
    # each candidate's passing arc, then its ending one
    ref, last = np.divmod(np.flatnonzero(np.column_stack([passes, ends])), 2)
    ends = last.astype(bool)
    a, b = ticks_of(np.where(ends, low_end[ref], low[ref]), high[ref])
    heads, feeds = c.heads[ref], c.feeds[ref]
    codes, seen = np.unique(c.style, return_index=True)
    codes = codes[np.argsort(seen)]
    styles = ("", *(STYLE_NAMES[code] for code in codes.tolist()))
    style = np.zeros(len(STYLE_NAMES), dtype=np.int64)
    style[codes] = np.arange(1, len(codes) + 1)
    style = style[c.style]
    zero = np.zeros(len(ref))
    terms = {
        "fitting": np.where(ends, c.end_fittings[ref], c.fittings[ref]),
        "level_change": np.where(ends, c.steps[ref], 0),
        ("drain" if frame.dry else "wet_drain"): c.drains[ref],
        "large_drain": _large(prepared, frame, candidates)[ref],
        "hanger": c.hangers[ref],
        "pipe": c.pipe[ref] + np.where(ends, before[ref], 2 * c.half[ref]),
        "reducer": c.reducers[ref],
        "hose": c.hoses[ref],
    }
    return ArcColumns(
        kind=np.full(len(ref), TAKEOFF),
        a=a,
        b=np.where(ends, np.rint(c.station[ref] * 1000).astype(np.int64), b),
        la=c.level[ref],
        lb=c.level[ref],
        by_term=np.stack([terms.get(name, zero) for name in TERMS]),
        items=np.hstack(
            [_places(frame.heads, heads), _places(frame.children, feeds[:, :, 0], len(frame.heads))]
        ),
        feeds=feeds,
        style=np.where((heads >= 0).any(axis=1), style[ref], 0),
        ends=ends,
        ref=ref,
        empties=_empties(prepared, frame, c)[ref],
        styles=styles,
        changes=[],
    )


def _large(prepared: Prepared, frame: RunFrame, candidates: Candidates) -> FloatArray:
    """Give 1 for each candidate by which a run leaves downwards that surely needs the large drain."""
    c = candidates.columns
    out = np.zeros(len(c.station))
    if frame.dry:
        for k in np.flatnonzero(c.drains > 0).tolist():
            out[k] = float(fills_large(prepared, candidates[k]))
    return out


def _empties(prepared: Prepared, frame: RunFrame, c: CandidateColumns) -> BoolArray:
    """Whether a wet low section that a takeoff is on empties once a head of it is taken off.

    A pendent hangs below the line, if its way does not go over the top first; a run that
    leaves at its level or below leads to some.
    """
    heads = prepared.scenario.heads
    pendent = np.array([h for h in frame.heads if heads[h].kind == "pendent"], dtype=np.int64)
    out = np.isin(c.heads, pendent).any(axis=1) & (c.side != side_code("top"))
    at = np.asarray(frame.z(frame.levels[c.level], c.station)) + 0.1
    for child in frame.children:
        other = prepared.frames[child]
        if other.pendents_below:
            fed = c.feeds[:, :, 0] == child
            below = other.levels[np.where(fed, c.feeds[:, :, 1], 0)] <= at[:, None]
            out |= (fed & below).any(axis=1)
    return np.asarray(out, dtype=bool)


def _places(of: list[int], wanted: IntArray, first: int = 0) -> IntArray:
    """Where each of ``wanted`` stands in the ascending list ``of``, counted from ``first``; -1 stays."""
    return np.where(wanted >= 0, np.searchsorted(np.array(of, dtype=np.int64), wanted) + first, -1)


def _half_ending(prepared: Prepared, frame: RunFrame, c: CandidateColumns) -> FloatArray:
    """Stations before each outlet that it needs as the run's last: there it is an elbow.

    Two things that leave level on opposite sides need a tee in bull-head
    position; a dry head under the line keeps its tee.
    """
    joining, find = frame.elbow_joining, prepared.tables.take_out
    fed = np.zeros(len(c.station), dtype=np.int64)
    for child in frame.children:
        here = (c.feeds[:, :, 0] == child).any(axis=1)
        fed[here] = np.maximum(fed[here], prepared.frames[child].stretches[0].dn)
    outlet = np.where(fed > 0, fed, prepared.scenario.rules.arm_size)
    pair = ((c.feeds[:, :, 0] >= 0).sum(axis=1) == 2) & ~c.trunk
    pair |= c.style == style_code(CROSS)
    case = (frame.dn_at(c.station) * 1000 + outlet) * 2 + pair
    least = np.zeros(len(case))
    for key in np.unique(case).tolist():
        dn, size, bull_head = key // 2000, key // 2 % 1000, key % 2
        if bull_head:
            take_out = find("tee", "outlet", size, dn, joining=joining)
        else:
            take_out = find("elbow_90", "run", dn, size, joining=joining)
        least[case == key] = frame.makeup.half(take_out, dn, joining) + frame.given_excess(dn)
    least[c.side == side_code("end")] = 0.0  # one pipe goes on, by a coupling
    return np.where(c.half != 0, np.maximum(c.half, least), 0.0)


def _anchors(
    prepared: Prepared, frame: RunFrame, arcs: ArcColumns, taken: list[tuple[float, float]], room: float
) -> FloatArray:
    """Stations that an offset may touch: blocked ends, bends, the start, and own-station outlets."""
    places = {room, *prepared.blocked[frame.index].edges()}
    for a, b in taken:
        places |= {a, b}
    places |= set(pinned.edges(prepared, frame))
    if prepared.keep is not None:
        places |= set(prepared.keep.offset_begins(frame))
    at = np.array([prepared.scenario.heads[h].at[:2] for h in frame.heads]).reshape(-1, 2)
    own = np.sort(np.concatenate([[-np.inf, np.inf], *(s.local(at)[:, 0] for s in frame.plan.sections)]))
    middles = (arcs.a + arcs.b) / 2000.0
    place = np.searchsorted(own, middles)
    near = np.minimum(middles - own[place - 1], own[place] - middles) <= OWN_STATION
    touched = ~arcs.ends & (near | (arcs.feeds[:, :, 0] >= 0).any(axis=1))
    stations = np.concatenate([np.array(sorted(places)), arcs.a[touched] / 1000.0, arcs.b[touched] / 1000.0])
    return ascending(np.round(stations, 3))


def _start_arcs(frame: RunFrame, prepared: Prepared, room: float) -> list[Arc]:
    """Keep the level along a child's first fitting and make-up."""
    if room <= 0:
        return []
    blocked = prepared.blocked[frame.index]
    _, b = ticks(0.0, room)
    return [
        Arc("start", 0, b, k, k, amounts(pipe=room))
        for k in range(len(frame.levels))
        if blocked.clear(k, 0.0, room)
    ]


def _assemble(
    prepared: Prepared, frame: RunFrame, arcs: ArcColumns, taken: list[tuple[float, float]], room: float
) -> RunGraph:
    arcs = arcs.take(arcs.a >= 0)
    goes_on = np.flatnonzero(~arcs.ends)
    positions, rank = ranked(np.concatenate([[0], arcs.a, arcs.b[goes_on]]))
    goes = np.full(len(arcs), -1, dtype=np.int64)
    goes[goes_on] = rank[1 + len(arcs) :]
    low, high = positions[:-1] / 1000.0, positions[1:] / 1000.0
    ok = np.ones((max(len(positions) - 1, 0), len(frame.levels)), dtype=bool)
    every = np.arange(len(frame.levels))
    ok &= prepared.blocked[frame.index].clear_at(every, low[:, None], high[:, None])
    ok &= pinned.level_steps(prepared, frame, low, high)
    for a, b in taken:
        ok[(low < b - 0.02) & (high > a + 0.02)] = False
    if room > 0:
        ok[low < room - 0.02] = False
    scenario = prepared.scenario
    nominal = frame.run.elevation
    source = np.abs(frame.levels - nominal)
    if frame.run.supply_elevation is not None:
        source = np.where(np.abs(frame.levels - frame.run.supply_elevation) < 0.05, source, -1.0)
    items = [Item(scenario.heads[h].id, 1) for h in frame.heads]
    items += [Item(scenario.runs[c].id, prepared.heads_below(c)) for c in frame.children]
    wet = not frame.dry
    traps = bool((arcs.lb < arcs.la).any()) and (scenario.weights.wet_drain > 0 if wet else frame.pitch <= 0)
    starts = rank[1 : 1 + len(arcs)]
    return RunGraph(
        frame.index, positions, ok, Arcs(arcs), items, traps, source, wet, starts=starts, goes=goes
    )
