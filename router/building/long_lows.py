"""Which descents of a dry run trap more water than its small drain is for."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from router.building.sizes import outlet_spans
from router.profiles.graph import LongLow
from router.trade.drains import limit_l

if TYPE_CHECKING:
    from router.building.prepare import Prepared
    from router.profiles.frame import RunFrame
    from router.profiles.graph import RunGraph
    from router.takeoffs.candidate import Candidate


def long_lows(prepared: Prepared, frame: RunFrame, graph: RunGraph) -> list[LongLow]:
    """Return every descent whose low section can come to hold the large drain's volume.

    Only the run's own pipe is counted, in the least size that it can have
    there, so a large drain is never charged that the route will not need. What
    arms and runs that leave the section hold comes on top in the route: such a
    route says that its bound is lower.
    """
    if not frame.dry or not (prepared.priced or prepared.scenario.weights.large_drain > 0):
        return []
    out = []
    for k in np.flatnonzero(graph.columns.lb < graph.columns.la).tolist():
        arc = graph.arcs[k]
        until = _full_at(prepared, frame, arc.b / 1000.0, float(frame.levels[arc.la] - frame.levels[arc.lb]))
        if until is None:
            continue
        out.append(LongLow(k, round(until * 1000), frame.pitch > 0))
    return out


def fills_large(prepared: Prepared, candidate: Candidate) -> bool:
    """Whether the runs that leave downwards surely hold enough for the large drain.

    Each is reckoned to its last head at that head's earliest station; a route
    that leaves heads unserved may hold less (``building.solution`` says so then).
    """
    missing = limit_l(prepared.tables, "drain_volume_dry", "two valves")
    for feed in candidate.feeds:
        frame = prepared.frames[feed.run]
        last = max((first for first, _ in outlet_spans(prepared.scenario, frame)), default=0.0)
        last = max([last, *(prepared.frames[c].parent_station for c in frame.children)])
        depth = candidate.outlet[2] - feed.z
        if frame.pitch > 0:
            last = min(last, depth / frame.pitch)
        missing -= _litres(prepared, frame, 0.0, last)
    return missing <= 0


def _litres(prepared: Prepared, frame: RunFrame, start: float, end: float) -> float:
    """Litres that the run's own pipe holds at the least between two stations."""
    total = 0.0
    for low, high, dn in _least_sizes(prepared, frame):
        length = min(high, end) - max(low, start)
        if length > 0:
            total += prepared.tables.litres_per_m(dn) * length / 1000.0
    return total


def _full_at(prepared: Prepared, frame: RunFrame, foot: float, depth: float) -> float | None:
    """Return the station at which the section is full enough, mm; ``None`` if it never is."""
    end = frame.plan.length
    if frame.pitch > 0:
        end = min(end, foot + depth / frame.pitch)  # there the line is as high as it was
    missing = limit_l(prepared.tables, "drain_volume_dry", "two valves")
    for start, stop, dn in _least_sizes(prepared, frame):
        start, stop = max(start, foot), min(stop, end)
        if stop <= start:
            continue
        litres = prepared.tables.litres_per_m(dn) * (stop - start) / 1000.0
        if litres >= missing:
            return start + missing / litres * (stop - start)
        missing -= litres
    return None


def _least_sizes(prepared: Prepared, frame: RunFrame) -> list[tuple[float, float, int]]:
    """(from, to, DN): the least size that the run can have there, if all its heads are served.

    A size may change as early as a head's outlet can come to sit: twice the
    slide before the station that the plan reckons with.
    """
    rules = prepared.scenario.rules
    early = 0.0
    if frame.run.size == "schedule" and not frame.uncut:
        most = max((prepared.scenario.heads[h].shift for h in frame.heads), default=0.0)
        early = 2 * (max(rules.slide, rules.alignment) + most + 1.0)
    out = []
    for stretch in frame.stretches:
        first = stretch is frame.stretches[0]
        last = stretch is frame.stretches[-1]
        start = 0.0 if first else max(stretch.start - early, 0.0)
        stop = frame.plan.length if last else max(stretch.end - early, 0.0)
        out.append((start, stop, stretch.dn))
    return out
