"""Sizes and joining of runs, planned before the choice: by schedule, given, or bounded below."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from router.geometry.plan import STRAIGHT_DEG
from router.profiles.changes import bend_kind, bend_take_out, coupling_half
from router.takeoffs.places import nearest_sections
from router.trade.joining import joining_for

if TYPE_CHECKING:
    from router.building.prepare import Prepared
    from router.profiles.frame import RunFrame
    from router.scenario.model import Run, Scenario
    from router.trade.tables import Tables


def least_for(scenario: Scenario, tables: Tables, run: Run, heads: int) -> int:
    """Return the size that a run by schedule needs for so many heads, DN.

    Never below the arms' size or the run's own ``least_size``.
    """
    system = scenario.system
    by_schedule = tables.size_for_heads(max(heads, 1), system.hazard, run.schedule or system.schedule)
    return max(scenario.rules.arm_size, run.least_size or 0, by_schedule)


def joining_of(prepared: Prepared, run: int) -> str:
    """How a run is joined: as given for it, else by its size at the supply end."""
    frame = prepared.frames[run]
    if frame.run.joining is not None:
        return frame.run.joining
    given = prepared.scenario.system.joining
    if isinstance(given, str):
        return given
    return joining_for(given, supply_size(prepared, run))


def supply_size(prepared: Prepared, run: int) -> int:
    """Return a run's planned size at its supply end, DN."""
    frame = prepared.frames[run]
    if isinstance(frame.run.size, int):
        return frame.run.size
    below = [supply_size(prepared, child) for child in frame.children]
    return max([least_for(prepared.scenario, prepared.tables, frame.run, prepared.heads_below(run)), *below])


def planned_sizes(prepared: Prepared, frame: RunFrame) -> list[tuple[float, int]]:
    """(station from which, DN): the given size, or by schedule for the heads that may lie beyond.

    By schedule, a head counts beyond every station up to its own plus the
    slide, so the size is never too small wherever its outlet comes to sit. On a
    line that is cut at its fittings the pieces then take the size of the heads
    really served; an uncut line changes its size by couplings, which stand
    where no outlet can come to sit.

    Raises
    ------
    ValueError
        If the run's size is given, and one that it feeds needs a larger one.
    """
    if isinstance(frame.run.size, int):
        _feeds_no_larger(prepared, frame, frame.run.size)
        return [(0.0, frame.run.size)]
    events = _events(prepared, frame)
    sizes = [(0.0, supply_size(prepared, frame.index))]
    for station in sorted({latest for _, latest, _, _ in events}):
        dn = _needed(prepared, frame, events, station)
        if dn < sizes[-1][1] and station < frame.plan.length:
            sizes.append((station, dn))
    return _at_couplings(prepared, frame, events, sizes) if frame.uncut else sizes


def _feeds_no_larger(prepared: Prepared, frame: RunFrame, given: int) -> None:
    for child in frame.children:
        needed = supply_size(prepared, child)
        if needed > given:
            count, run = prepared.heads_below(child), prepared.frames[child].run
            heads = f"{count} head{'s' * (count != 1)}"
            raise ValueError(
                f"run {run.id}: its {heads} and what it feeds need DN{needed}, larger than its supply "
                f"{frame.run.id} (DN{given}); sizes never grow downstream; give the size of run {run.id}, "
                f"or a larger one of run {frame.run.id}"
            )


_Event = tuple[float, float, int, int]
"""Earliest and latest station of an outlet, heads that it feeds, size of the run that it feeds (or 0)."""


def _events(prepared: Prepared, frame: RunFrame) -> list[_Event]:
    out: list[_Event] = []
    for first, last in outlet_spans(prepared.scenario, frame):
        out.append((first, last, 1, 0))
    for child in frame.children:
        at = prepared.frames[child].parent_station
        out.append((at, at, prepared.heads_below(child), supply_size(prepared, child)))
    return sorted(out, key=lambda e: (e[1], e[0]))


def _needed(prepared: Prepared, frame: RunFrame, events: list[_Event], station: float) -> int:
    """Return the size for what may leave the run beyond ``station``; sizes never grow downstream."""
    beyond = [e for e in events if e[1] > station + 1e-6]
    heads = sum(e[2] for e in beyond)
    given = max((e[3] for e in beyond), default=0)
    return max(given, least_for(prepared.scenario, prepared.tables, frame.run, heads))


def _at_couplings(
    prepared: Prepared, frame: RunFrame, events: list[_Event], sizes: list[tuple[float, int]]
) -> list[tuple[float, int]]:
    """Move each change of size on to the first place where a coupling has room.

    Room is where no outlet, bend or start can take the stations; changes that
    meet in one gap become one coupling.
    """
    busy = _busy(prepared, frame, events)
    out = [sizes[0]]
    for k, (station, dn) in enumerate(sizes[1:], start=1):
        half = coupling_half(frame, out[-1][1], dn)
        after = sizes[k + 1][0] if k + 1 < len(sizes) else frame.plan.length
        at = _free(busy, station, half)
        if at is None or at + half > frame.plan.length:
            continue
        if at >= after:
            continue  # the next, smaller size begins before there is room: one coupling there
        out.append((at, dn))
        busy = sorted([*busy, (at - half, at + half)])
    return out


def _busy(prepared: Prepared, frame: RunFrame, events: list[_Event]) -> list[tuple[float, float]]:
    largest = supply_size(prepared, frame.index)
    arm = prepared.scenario.rules.arm_size
    out = []
    for first, last, _, given in events:
        half = frame.outlet_half(largest, max(arm, min(given or arm, largest)))
        out.append((first - half, last + half))
    for v in range(1, len(frame.plan.sections)):
        turn = frame.plan.turn_at(v)
        at = float(frame.plan.stations[v])
        if turn >= STRAIGHT_DEG:
            kind = bend_kind(frame, turn)
            half = frame.makeup.half(bend_take_out(frame, kind, largest), largest, frame.elbow_joining)
            half = max(
                half,
                frame.makeup.half(bend_take_out(frame, "elbow_90", largest), largest, frame.elbow_joining),
            )
            out.append((at - half, at + half))
    return sorted(out)


def _free(busy: list[tuple[float, float]], station: float, half: float) -> float | None:
    """Return the first centre at or beyond ``station`` whose ``half`` to either side is free."""
    at = station
    for low, high in busy:
        if high <= at - half or low >= at + half:
            continue
        at = high + half
    return at


def outlet_spans(scenario: Scenario, frame: RunFrame) -> list[tuple[float, float]]:
    """Return the first and the last station at which an outlet for each of a run's heads may sit, mm."""
    rules, sections = scenario.rules, frame.plan.sections
    heads = [scenario.heads[h] for h in frame.heads]
    stations = [[frame.plan.nearest(head.at[:2])[0]] for head in heads]
    shift = np.array([head.shift for head in heads])
    xy = np.array([head.at[:2] for head in heads]).reshape(-1, 2)
    for k, i, own, _ in nearest_sections(frame, xy, rules.reach + shift):
        stations[k].append(min(max(own, sections[i].start), sections[i].end))
    out = []
    for head, reached in zip(heads, stations, strict=True):
        beyond = max(rules.slide, rules.alignment) + head.shift + 1.0
        out.append((max(min(reached) - beyond, 0.0), min(max(reached) + beyond, frame.plan.length)))
    return out
