"""Candidates and changes of level become the layered graph of each run."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from router.building.arc_prices import ArcPrices
from router.building.long_lows import fills_large, long_lows
from router.profiles.changes import amounts, bend_arcs, coupling_arcs, offset_arcs, ticks
from router.profiles.graph import Arc, Item, RunGraph
from router.takeoffs import run_takeoff
from router.takeoffs.propose import propose_heads

if TYPE_CHECKING:
    from router.building.prepare import Prepared
    from router.geometry.plan import FloatArray
    from router.profiles.frame import RunFrame
    from router.profiles.graph import LongLow
    from router.takeoffs.candidate import Candidate
from router.takeoffs.pairs import CROSS


@dataclass
class BuiltGraph:
    """A run's graph with what it was built from. ``room``: stations its start takes, mm."""

    graph: RunGraph
    candidates: list[Candidate]
    room: float
    item_heads: list[int]
    """Head index by item; child runs follow after the heads."""
    long_lows: list[LongLow] = field(default_factory=list)


def build_graph(prepared: Prepared, frame: RunFrame) -> BuiltGraph:
    """All that one run can do, whatever its parent and its children choose."""
    blocked = prepared.blocked[frame.index]
    binding = np.array(_binding(prepared, frame))
    candidates = propose_heads(frame, prepared.scenario, prepared.solids, binding)
    starts = [run_takeoff.start_of(frame, prepared.frames[child]) for child in frame.children]
    candidates += run_takeoff.propose(frame, starts, prepared.solids)

    room = _supply_room(prepared, frame)
    if frame.parent is not None:
        parent = prepared.frames[frame.parent]
        room = run_takeoff.start_room(parent, run_takeoff.start_of(parent, frame))
    bends, taken = bend_arcs(frame, prepared.solids, blocked)
    couplings, taken_too = coupling_arcs(frame, blocked)
    taken += taken_too
    item_of = {h: i for i, h in enumerate(frame.heads)}
    child_item = {c: len(frame.heads) + i for i, c in enumerate(frame.children)}
    arcs = _takeoff_arcs(frame, prepared, candidates, room, taken, item_of, child_item)

    pin = prepared.scenario.pins.runs.get(frame.run.id)
    if pin is not None and pin.no_offset:
        bends = [arc for arc in bends if arc.la == arc.lb]
        offsets: list[Arc] = []
    else:
        anchors = _anchors(prepared, frame, arcs, taken, room)
        offsets = [
            arc
            for arc in offset_arcs(frame, prepared.solids, blocked, anchors)
            if arc.a >= room * 1000 - 5 and not any(arc.a < c.b and arc.b > c.a for c in couplings)
        ]
    starts_arcs = _start_arcs(frame, prepared, room)
    every = arcs + offsets + bends + couplings + starts_arcs
    prices = ArcPrices(prepared, frame) if prepared.priced else None
    if prices is not None:
        every = prices.priced(every, candidates)
    graph = _assemble(prepared, frame, every, taken, room)
    if prices is not None:
        graph.pipe_price = prices.pipe(graph.positions / 1000.0)
    return BuiltGraph(graph, candidates, room, list(frame.heads), long_lows(prepared, frame, graph))


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


def _binding(prepared: Prepared, frame: RunFrame) -> list[float]:
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
    candidates: list[Candidate],
    room: float,
    taken: list[tuple[float, float]],
    item_of: dict[int, int],
    child_item: dict[int, int],
) -> list[Arc]:
    """Give a passing arc and an ending arc for every candidate that has room on the run."""
    blocked = prepared.blocked[frame.index]
    low = np.array([c.station - c.half for c in candidates])
    before = np.array([_half_ending(prepared, frame, c) for c in candidates])
    low_end = np.array([c.station for c in candidates]) - before
    high = np.array([c.station + c.half for c in candidates])
    stop = np.array([c.station + c.end_half for c in candidates])
    level = np.array([c.level for c in candidates], dtype=int)
    passes = np.array([c.may_pass for c in candidates], dtype=bool) & (low >= room - 0.01)
    passes &= high <= frame.plan.length + 0.01
    ends = np.array([c.may_end for c in candidates], dtype=bool) & (low_end >= room - 0.01)
    ends &= stop <= frame.plan.length + 0.01 + np.array([c.end_half for c in candidates])
    for a, b in taken:
        passes &= ~((low < b - 0.01) & (high > a + 0.01))
        ends &= ~((low_end < b - 0.01) & (stop > a + 0.01))
    for k in range(len(frame.levels)):
        here = level == k
        passes[here] &= blocked.clear_all(k, low[here], high[here])
        ends[here] &= blocked.clear_all(k, low_end[here], np.maximum(stop, low_end + 0.1)[here])
    arcs = []
    for i, c in enumerate(candidates):
        items = tuple(item_of[b.head] for b in c.branches) + tuple(child_item[f.run] for f in c.feeds)
        feeds = tuple((f.run, f.level) for f in c.feeds)
        style = c.style if c.branches else ""
        clears = empties(prepared, c)
        for ok, last in ((passes[i], False), (ends[i], True)):
            if not ok:
                continue
            a, b = ticks(float(low_end[i] if last else low[i]), float(high[i]))
            pipe = c.pipe + (float(before[i]) if last else 2 * c.half)
            fittings = c.end_fittings if last else c.fittings
            drains = (float(c.drains), 0.0) if frame.dry else (0.0, float(c.drains))
            large = float(frame.dry and c.drains > 0 and fills_large(prepared, c))
            own = (float(c.hangers), pipe, float(c.reducers), float(c.hoses))
            carried = (float(fittings), 0.0, drains[0], *own, large, drains[1], 0.0)
            if last:
                b = round(c.station * 1000)
            arcs.append(
                Arc(
                    "takeoff",
                    a,
                    b,
                    c.level,
                    c.level,
                    carried,
                    items,
                    feeds,
                    style,
                    last,
                    i,
                    clears,
                )
            )
    return arcs


def empties(prepared: Prepared, candidate: Candidate) -> bool:
    """Whether a wet low section that the takeoff is on empties once a head of it is taken off.

    A pendent hangs below the line; a run that leaves at its level or below leads to some.
    """
    if candidate.branches:
        return any(prepared.scenario.heads[b.head].kind == "pendent" for b in candidate.branches)
    return any(
        f.z <= candidate.outlet[2] + 0.1 and prepared.frames[f.run].pendents_below for f in candidate.feeds
    )


def _half_ending(prepared: Prepared, frame: RunFrame, candidate: Candidate) -> float:
    """Stations before the outlet that it needs as the run's last: there it is an elbow.

    Two things that leave level on opposite sides need a tee in bull-head
    position; a dry head under the line keeps its tee.
    """
    if not candidate.half:
        return 0.0
    if candidate.side == "end":
        return candidate.half
    dn = frame.stretch_at(candidate.station).dn
    outlet = prepared.scenario.rules.arm_size
    if candidate.feeds:
        outlet = max(prepared.frames[f.run].stretches[0].dn for f in candidate.feeds)
    joining = frame.elbow_joining
    level_pair = (len(candidate.feeds) == 2 and not candidate.trunk) or candidate.style == CROSS
    if level_pair:
        take_out = prepared.tables.take_out("tee", "outlet", outlet, dn, joining=joining)
    else:
        take_out = prepared.tables.take_out("elbow_90", "run", dn, outlet, joining=joining)
    return max(candidate.half, frame.makeup.half(take_out, dn, joining) + frame.given_excess(dn))


def _anchors(
    prepared: Prepared, frame: RunFrame, arcs: list[Arc], taken: list[tuple[float, float]], room: float
) -> FloatArray:
    """Stations that an offset may touch: blocked ends, bends, the start, and own-station outlets."""
    places = {room, *prepared.blocked[frame.index].edges()}
    for a, b in taken:
        places |= {a, b}
    own = {
        round(float(section.local(np.array(prepared.scenario.heads[h].at[:2]))[0, 0]), 1)
        for h in frame.heads
        for section in frame.plan.sections
    }
    for arc in arcs:
        if not arc.ends and (arc.feeds or round((arc.a + arc.b) / 2000.0, 1) in own):
            places |= {arc.a / 1000.0, arc.b / 1000.0}
    return np.unique(np.round(np.array(sorted(places)), 3))


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
    prepared: Prepared, frame: RunFrame, arcs: list[Arc], taken: list[tuple[float, float]], room: float
) -> RunGraph:
    places = {0}
    for arc in arcs:
        places.add(arc.a)
        if not arc.ends:
            places.add(arc.b)
    positions = np.array(sorted(p for p in places if p >= 0), dtype=np.int64)
    arcs = [arc for arc in arcs if arc.a >= 0]
    low, high = positions[:-1] / 1000.0, positions[1:] / 1000.0
    ok = np.ones((max(len(positions) - 1, 0), len(frame.levels)), dtype=bool)
    for k in range(len(frame.levels)):
        ok[:, k] = prepared.blocked[frame.index].clear_all(k, low, high)
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
    falls = any(arc.lb < arc.la for arc in arcs)
    wet = not frame.dry
    traps = falls and (scenario.weights.wet_drain > 0 if wet else frame.pitch <= 0)
    graph = RunGraph(frame.index, positions, ok, arcs, items, traps, source, wet)
    graph.index_arcs()
    return graph
