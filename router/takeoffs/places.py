"""Where the heads of a run may stand, which sections may serve them, and from which stations."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Mapping

    from router.geometry.plan import FloatArray, Section
    from router.geometry.solids import IntArray
    from router.profiles.frame import RunFrame
    from router.scenario.model import Head, Scenario


@dataclass(frozen=True)
class Place:
    """A head at one of its possible places beside one section that may serve it.

    ``head``: its index; ``spot``: which of its places; ``section``: index of the
    section; ``own``, ``lateral``: station and signed distance there, mm.
    """

    head: int
    spot: int
    at: tuple[float, float, float]
    section: int
    own: float
    lateral: float


def spots_of(frame: RunFrame, head: Head) -> list[tuple[float, float, float]]:
    """Give the head's own place; with an allowed shift also under the line and along it.

    A fixed head has one place. A shifted one is tried where it lines up with
    the run and at half and full shift along it: resolution of the claim.
    """
    spots = [head.at]
    if head.shift > 0:
        station, distance = frame.plan.nearest(head.at[:2])
        if distance <= head.shift:
            x, y = frame.plan.point(station)
            spots.append((float(x), float(y), head.at[2]))
        along = frame.plan.section_at(station).along
        for step in (-1.0, -0.5, 0.5, 1.0):
            x, y = np.array(head.at[:2]) + step * head.shift * along
            spots.append((float(x), float(y), head.at[2]))
    return spots


def places_of(
    frame: RunFrame,
    scenario: Scenario,
    heads: list[int],
    reach: float,
    more: Mapping[int, tuple[float, float, float]] | None = None,
) -> list[Place]:
    """Give every place of heads beside the at most two nearest sections within ``reach``, in order.

    ``more``: by head, one more spot to be tried.
    """
    spots = []
    for h in heads:
        own = spots_of(frame, scenario.heads[h])
        if more is not None and h in more and all(math.dist(more[h], at) > 0.001 for at in own):
            own.append(more[h])
        spots += [(h, n, at) for n, at in enumerate(own)]
    xy = np.array([at[:2] for _, _, at in spots]).reshape(-1, 2)
    return [Place(*spots[k], i, own, lateral) for k, i, own, lateral in nearest_sections(frame, xy, reach)]


def nearest_sections(
    frame: RunFrame, xy: FloatArray, reach: float | FloatArray
) -> list[tuple[int, int, float, float]]:
    """Give the at most two sections nearest to each point, shape (points, 2), and within ``reach``, mm.

    ``reach``: one, or one for each point.

    Returns
    -------
    list of tuple
        (point, section, station and lateral of the point there), nearest first.
    """
    local = np.stack([section.local(xy) for section in frame.plan.sections], axis=1)
    start = np.array([section.start for section in frame.plan.sections])
    end = np.array([section.end for section in frame.plan.sections])
    own, lateral = local[..., 0], local[..., 1]
    away = np.abs(lateral) + np.maximum(np.maximum(start - own, own - end), 0.0)
    nearest = np.argsort(away, axis=1, kind="stable")[:, :2]
    limit = np.broadcast_to(np.asarray(reach, float), (len(xy),))[:, None]
    point, order = np.nonzero(np.take_along_axis(away, nearest, axis=1) <= limit)
    at = nearest[point, order]
    columns = (point, at, own[point, at], lateral[point, at])
    return list(zip(*(c.tolist() for c in columns), strict=True))


def station_options(
    frame: RunFrame, sections: list[Section], owns: FloatArray, extra: FloatArray
) -> tuple[IntArray, FloatArray]:
    """Stations worth trying: a head's own, a slide either way, and where something binds.

    Parameters
    ----------
    sections, owns
        Of each place: its section, and the head's own station on it, mm.
    extra
        Ascending stations a spacing away from other heads, and beside blocked stretches, mm.

    Returns
    -------
    tuple
        (place, station) of every option, ascending. A head beyond the
        section's end slides in from that end.
    """
    rules = frame.makeup.rules
    start, end = np.array([s.start for s in sections]), np.array([s.end for s in sections])
    anchor = np.clip(owns, start, end)
    every = [anchor[:, None]]
    if rules.slide > 0:
        most = int(rules.slide // rules.station_step)
        every.append(anchor[:, None] + np.arange(-most, most + 1) * rules.station_step)
    count = sum(block.shape[1] for block in every)
    place = np.repeat(np.arange(len(anchor)), count)
    station = np.hstack(every).ravel()
    if rules.slide > 0:
        # a little more is taken, and judged as exactly as all
        first = np.searchsorted(extra, anchor - rules.slide - 1.0)
        each = np.searchsorted(extra, anchor + rules.slide + 1.0) - first
        near = np.repeat(np.arange(len(anchor)), each)
        at = np.repeat(first - (np.cumsum(each) - each), each) + np.arange(int(each.sum()))
        fits = np.abs(extra[at] - anchor[near]) <= rules.slide
        place, station = np.concatenate([place, near[fits]]), np.concatenate([station, extra[at][fits]])
    inside = (station >= start[place]) & (station <= end[place])
    place, station = place[inside], np.round(station[inside], 3)
    beside = (start <= owns) & (owns <= end)
    keep = ~beside[place] | (np.abs(station - owns[place]) > 0.5)
    place = np.concatenate([place[keep], np.flatnonzero(beside)])
    station = np.concatenate([station[keep], owns[beside]])
    order = np.lexsort((station, place))
    place, station = place[order], station[order]
    new = np.ones(len(place), dtype=bool)
    new[1:] = (place[1:] != place[:-1]) | (station[1:] != station[:-1])
    return place[new], station[new]
