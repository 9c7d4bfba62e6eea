"""What takes the room of an outlet that would fit: the run's start, its end, a bend, an obstruction."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from router.building.kept_off import attempt_of, gap_of, plug_attempt
from router.profiles.changes import bend_arcs, coupling_arcs

if TYPE_CHECKING:
    from router.building.graphs import BuiltGraph
    from router.building.prepare import Prepared
    from router.profiles.frame import RunFrame
    from router.route.model import Attempt
    from router.takeoffs.candidates import Candidates


def no_room(prepared: Prepared, built: BuiltGraph, own: Candidates) -> list[Attempt]:
    """Say of each style what takes the room of its best outlet: the run's start, its end, a bend, a beam."""
    run = int(built.graph.run)
    frame, blocked = prepared.frames[run], prepared.blocked[run]
    parent = None if frame.parent is None else prepared.frames[frame.parent].run.id
    start = "its first fitting at the supply" if parent is None else f"its tee on {parent}"
    c = own.columns
    before = np.maximum(built.room - (c.station - c.half), 0.0)
    after = np.maximum(c.station + np.where(c.may_end, 0.0, c.half) - frame.plan.length, 0.0)
    taken = _taken(prepared, frame)
    aside = np.zeros((len(c.station), len(taken)))
    for n, (first, until, _) in enumerate(taken):
        over = c.station + np.where(c.may_end, c.end_half, c.half)
        begin, meets = c.station - c.half, (over > first) & (c.station - c.half < until)
        beyond = c.station >= (first + until) / 2
        aside[:, n] = np.where(meets, np.where(beyond, until - begin, over - first), 0.0)
    total = before + after + aside.sum(axis=1)
    out = []
    for style in np.unique(c.style).tolist():
        here = np.flatnonzero(c.style == style)
        k = int(here[np.argmin(total[here])])
        candidate = own[k]
        level = f", run at level {float(frame.levels[candidate.level]):,.0f}"
        met = blocked.by(candidate.level, candidate.station - candidate.half, candidate.station)
        if before[k] > 0.01 or after[k] > 0.01:
            first = before[k] >= after[k]
            short = float(before[k] if first else after[k])
            against = start if first else f"the end of {frame.run.id}"
            has = candidate.station - built.room if first else frame.plan.length - candidate.station
            out.append(attempt_of(
                prepared, run, candidate.style, candidate.station, "outlet_spacing", against,
                float(has), float(has) + short,
            ))  # fmt: skip
        elif met:
            out.append(attempt_of(
                prepared, run, candidate.style, candidate.station, "clearance", prepared.solids.ids[met[0]],
                *gap_of(prepared, run, candidate.level, met[0]), level,
            ))  # fmt: skip
        elif len(taken) and aside[k].max() > 0.01:
            n = int(aside[k].argmax())
            has = abs(candidate.station - (taken[n][0] + taken[n][1]) / 2)
            out.append(attempt_of(
                prepared, run, candidate.style, candidate.station, "outlet_spacing", taken[n][2],
                has, has + float(aside[k, n]),
            ))  # fmt: skip
        elif (plugged := plug_attempt(prepared, candidate)) is not None:
            out.append(plugged)
        else:
            out.append(attempt_of(
                prepared, run, candidate.style, candidate.station, "room", None, None, None,
                ": its end or a pinned level leaves it no place",
            ))  # fmt: skip
    return out


def _taken(prepared: Prepared, frame: RunFrame) -> list[tuple[float, float, str]]:
    """Give the stations that bends and changes of size take, mm, and what takes them."""
    blocked = prepared.blocked[frame.index]
    bends = bend_arcs(frame, prepared.solids_at(frame), blocked)[1]
    sizes = coupling_arcs(frame, blocked)[1]
    return [
        (a, b, f"the {what} at station {(a + b) / 2:,.0f}")
        for what, spans in (("bend", bends), ("change of size", sizes))
        for a, b in spans
    ]
