"""What cuts a head off its supply though it would fit: its own run, or a run on the way up."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from router.building.kept_off import attempt_of, gap_of
from router.building.no_room import no_room
from router.takeoffs.attempts import zone_lacks
from router.takeoffs.run_takeoff import nipple_rise, start_of
from router.takeoffs.sites import EXACT

if TYPE_CHECKING:
    from router.building.graphs import BuiltGraph
    from router.building.prepare import Prepared
    from router.building.reach import Reach
    from router.geometry.plan import FloatArray
    from router.geometry.solids import BoolArray
    from router.profiles.frame import RunFrame
    from router.route.model import Attempt
    from router.takeoffs.candidates import Candidates
    from router.takeoffs.run_takeoff import Start

Link = tuple[int, "BoolArray"]
"""A run (index), and which of its arcs lead to what is asked for."""


def serving(built: BuiltGraph, head: int) -> BoolArray:
    """Which arcs of a run's graph serve a head (index)."""
    return np.asarray((built.graph.columns.items == built.item_heads.index(head)).any(axis=1))


def up(prepared: Prepared, reach: Reach, run: int, arcs: BoolArray) -> tuple[list[Link], list[Attempt]]:
    """Go from arcs that serve a head up to the supply: the links, and what cuts it off, if anything does.

    All other heads, and clashes, are left out of it.
    """
    links: list[Link] = []
    while True:
        links.append((run, arcs))
        frame = prepared.frames[run]
        starts = reach.starts(run, arcs)
        if not starts.any():
            found = [_cut_off(prepared, reach, run, arcs)]
            if len(links) > 1:
                found = [_behind(prepared.frames[links[-2][0]].run.id, each) for each in found]
            return links, found
        parent = frame.parent
        if parent is None:
            return links, []
        built, name = reach.whole(parent), frame.run.id
        ways = feeding(built.candidates, run)
        if not len(ways):
            return links, [_no_tee(prepared, parent, run)]
        fed = built.graph.columns.feeds
        arcs = (fed[:, :, 0] == run).any(axis=1)
        if not arcs.any():
            found = no_room(prepared, built, ways)
            return links, [_behind(name, attempt) for attempt in found]
        here = fed[:, :, 0] == run
        fits = (here & starts[np.where(here, fed[:, :, 1], 0)]).any(axis=1)
        if not fits.any():
            levels = frame.levels[np.unique(fed[:, :, 1][here])]
            return links, [_other_level(prepared, parent, run, levels, frame.levels[starts])]
        run, arcs = parent, fits


def feeding(candidates: Candidates, run: int) -> Candidates:
    """Those that feed a run."""
    return candidates.take((candidates.columns.feeds[:, :, 0] == run).any(axis=1))


def _behind(run: str, attempt: Attempt) -> Attempt:
    """Say of a reason on a run above the head's own that it is so."""
    return attempt.model_copy(update={"text": f"its run {run} is not fed: {attempt.text}"})


def _other_level(prepared: Prepared, parent: int, run: int, fed: FloatArray, wanted: FloatArray) -> Attempt:
    """Say that a run can only be fed at levels from which it does not come to the head."""
    apart = np.abs(fed[:, None] - wanted[None, :])
    i, j = np.unravel_index(int(np.argmin(apart)), apart.shape)
    names = prepared.frames[run].run.id, prepared.frames[parent].run.id
    made = attempt_of(
        prepared, parent, "run_takeoff", prepared.frames[run].parent_station, "level", None, 0.0,
        float(apart[i, j]),
    )  # fmt: skip
    text = f"{names[1]} can feed {names[0]} at level {fed[i]:,.0f}, from which {names[0]} does not come to "
    text += f"it; it does from {wanted[j]:,.0f}, {apart[i, j]:,.1f} mm off"
    return made.model_copy(update={"text": text})


def _cut_off(prepared: Prepared, reach: Reach, run: int, arcs: BoolArray) -> Attempt:
    """Say where a run ends that comes to none of the arcs, and what stops it there."""
    frame, built = prepared.frames[run], reach.whole(run)
    nodes: BoolArray = np.asarray(reach.nodes(run).any(axis=2))
    graph, name = built.graph, frame.run.id
    wanted = np.flatnonzero(arcs)
    first = int(graph.starts[wanted].min())
    there = nodes[graph.starts[wanted]].any(axis=1)
    if not nodes[0].any():
        return _no_begin(prepared, run)
    if there.any():  # it comes there, at another level
        off = [
            (_apart(frame, nodes[graph.starts[k]], int(graph.columns.la[k])), k)
            for k in wanted[there].tolist()
        ]
        apart, k = min(off)
        level, station = int(graph.columns.la[k]), float(graph.positions[graph.starts[k]]) / 1000.0
        made = attempt_of(prepared, run, "run_takeoff", station, "level", None, 0.0, apart)
        text = f"{name} would have to be at level {float(frame.levels[level]):,.0f} at station "
        text += f"{station:,.0f}, {apart:,.1f} mm from where it can be; no change of level fits before"
        return made.model_copy(update={"text": text})
    last = int(np.flatnonzero(nodes[: first + 1].any(axis=1)).max())
    places = graph.positions / 1000.0
    station = float(places[last])
    for until in (max(float(places[min(last + 1, first)]), built.room), float(places[first])):
        met = [
            (needs - has, k, solid)
            for k in np.flatnonzero(nodes[last]).tolist()
            for solid in prepared.blocked[run].by(k, station, until)
            for has, needs in [gap_of(prepared, run, k, solid)]
        ]
        if met:
            break
    else:
        made = attempt_of(prepared, run, "run_takeoff", station, "room", None, None, None)
        text = f"{name} does not come past station {station:,.0f}: "
        text += "pins, bends or changes of size leave no way"
        return made.model_copy(update={"text": text})
    _, k, solid = min(met)
    which = prepared.solids.ids[solid]
    rule = "ceiling" if prepared.solids.ceiling[solid] else "clearance"
    made = attempt_of(prepared, run, "run_takeoff", None, rule, which, *gap_of(prepared, run, k, solid))
    text = f"{name} cannot pass {which}"
    if made.short is None:
        text += ", which is there at every level"
    else:
        text += f": at its best level, {float(frame.levels[k]):,.0f}, it is {made.short:,.1f} mm short of "
        text += f"clearance (band {frame.band[0]:,.0f} to {frame.band[1]:,.0f})"
    return made.model_copy(update={"text": text})


def _no_begin(prepared: Prepared, run: int) -> Attempt:
    """Say how far a run's supply is from the levels that it may have."""
    frame = prepared.frames[run]
    supply = frame.run.supply_elevation
    apart = None if supply is None else float(np.abs(frame.levels - supply).min())
    made = attempt_of(prepared, run, "run_takeoff", 0.0, "band", None, None if apart is None else 0.0, apart)
    text = f"{frame.run.id} cannot begin at any of its levels ({_levels(frame.levels)})"
    if supply is not None:
        text += f": its supply is at {supply:,.0f}, {apart:,.1f} mm off"
    return made.model_copy(update={"text": text})


def _apart(frame: RunFrame, levels: BoolArray, wanted: int) -> float:
    """Give how far the nearest of some levels (a mask) is from a wanted one, mm."""
    some = frame.levels[levels]
    return float(np.abs(some - frame.levels[wanted]).min()) if len(some) else float("inf")


def _no_tee(prepared: Prepared, parent: int, run: int) -> Attempt:
    """No tee, nipple or elbow leads from a run to its child: the angle, the levels, or what is in the way."""
    above, below = prepared.frames[parent], prepared.frames[run]
    start, station = start_of(above, below), below.parent_station
    names, least = (below.run.id, above.run.id), nipple_rise(above, start, "elbow_90")
    z = np.asarray(above.z(above.levels, station))
    rises = np.abs(below.levels[None, :] - z[:, None])
    level_fits = start.square or (start.at_end and start.straight)
    head = f"no tee, nipple or elbow reaches {names[0]}"
    if level_fits:
        angle = f"at the nearest pair of levels it is {float(rises.min()):,.0f} mm off its parent"
    else:
        angle = f"it leaves {names[1]} at {_angle(above, start):,.0f} degrees, at which there is no tee"
    tall = rises >= least - EXACT
    fits = tall | (rises < EXACT) if level_fits else tall
    if not fits.any():
        most = float(rises.max())
        level = level_fits and float(rises.min()) <= least - most
        has, needs = (0.0, float(rises.min())) if level else (most, least)
        made = attempt_of(prepared, parent, "run_takeoff", station, "band", names[0], has, needs)
        text = f"{head} within the two bands: {angle}; a riser nipple needs {least:,.0f} mm between them, "
        text += f"the bands allow {most:,.0f} ({names[1]} {_levels(z)}, {names[0]} {_levels(below.levels)})"
        return made.model_copy(update={"text": text})
    place = above.plan.place(station)
    in_zones = [zone_lacks(prepared.scenario, (*place, z[i])) for i in np.flatnonzero(fits.any(axis=1))]
    if all(in_zones):
        lack = min((lacks[0] for lacks in in_zones), key=lambda each: each.short)
        return attempt_of(
            prepared, parent, "run_takeoff", station, "zone", lack.against, lack.has, lack.needs,
            f"; {names[0]} begins there",
        )  # fmt: skip
    met = _nipple_meets(prepared, above, start, [(z[i], below.levels[j]) for i, j in np.argwhere(tall)])
    if met is not None:
        rule, which, has, needs = met
        made = attempt_of(prepared, parent, "run_takeoff", station, rule, which, has, needs)
        text = f"{head}: {angle}; the riser nipple is {needs - has:,.1f} mm short of clearance to {which}"
        return made.model_copy(update={"text": text})
    made = attempt_of(prepared, parent, "run_takeoff", station, "room", names[0], None, None)
    return made.model_copy(update={"text": f"{head}: {angle}"})


def _levels(levels: FloatArray) -> str:
    low, high = float(levels.min()), float(levels.max())
    return f"{low:,.0f}" if high - low < 0.5 else f"{low:,.0f} to {high:,.0f}"


def _angle(parent: RunFrame, start: Start) -> float:
    """Give the angle between a run and its parent, degrees up to 90."""
    along = parent.stretch_at(start.station).section.along
    return float(np.degrees(np.arccos(min(abs(float(along @ start.direction)), 1.0))))


def _nipple_meets(
    prepared: Prepared, parent: RunFrame, start: Start, ends: list[tuple[float, float]]
) -> tuple[str, str, float, float] | None:
    """Give what every riser nipple tall enough meets, where it lacks least: (rule, id, has, needs)."""
    solids, (x, y) = prepared.solids, parent.plan.point(start.station)
    radius = parent.makeup.tables.od(start.dn) / 2
    near = solids.near(x, y, x, y, radius + solids.widest)
    best: tuple[float, str, str, float, float] | None = None
    for a, b in ends:
        low, high = np.array([x, y, min(a, b)]), np.array([x, y, max(a, b)])
        met = [
            (gap - has, "ceiling" if solids.ceiling[k] else "clearance", solids.ids[k], has, gap)
            for k in near.tolist()
            for gap in [float(solids.clearance[k])]
            for has in [solids.segment_distance(low, high, k) - radius]
            if gap - has > EXACT
        ]
        if not met:
            return None
        worst = max(met)
        best = worst if best is None else min(best, worst)
    return None if best is None else best[1:]
