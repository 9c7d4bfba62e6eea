"""Plugged tees of dry heads as they are built: on an arm, on a nipple, and at the end of a run.

A tee goes on beyond its centre to its plug. On arms and nipples the takeoffs keep
that clear of obstructions; here it is kept clear where a run ends, and measured
against other pipe.
"""

from __future__ import annotations

from math import dist
from typing import TYPE_CHECKING, NamedTuple, cast

import numpy as np

from router.takeoffs.attempts import way_out
from router.takeoffs.sites import plug_reach
from router.trade.sizes import SIZES

if TYPE_CHECKING:
    from router.building.prepare import Prepared
    from router.geometry.plan import FloatArray
    from router.geometry.solids import BoolArray, IntArray
    from router.profiles.frame import RunFrame
    from router.takeoffs.candidate import Candidate, Xyz
    from router.takeoffs.candidates import CandidateColumns


class PlugLack(NamedTuple):
    """What the plugged end of a run is too near to: index of the solid, surface distance and need, mm."""

    solid: int
    has: float
    needs: float


class PlugAxis(NamedTuple):
    """Axis from a tee's centre to its plug, with its radius, mm; ``at_outlet``: the tee is on the run."""

    start: Xyz
    end: Xyz
    radius: float
    at_outlet: bool


def plug_axes(prepared: Prepared, frame: RunFrame, c: Candidate, *, ends: bool) -> list[PlugAxis]:
    """Give the plugged openings of a candidate's dry heads; ``ends``: it ends the run."""
    found: list[PlugAxis] = []
    tables, arm = prepared.tables, prepared.scenario.rules.arm_size
    for branch in c.branches:
        head = prepared.scenario.heads[branch.head]
        if not head.dry or branch.hose:
            continue
        way = [c.outlet, *c.trunk, *branch.points][:-1]  # the tee is the last corner before the barrel
        if len(way) > 1:
            (x0, y0, z0), (x, y, z) = way[-2:]
            reach = plug_reach(tables, arm, head) / dist(way[-2], way[-1])
            beyond = (x + (x - x0) * reach, y + (y - y0) * reach, z + (z - z0) * reach)
            found.append(PlugAxis((x, y, z), beyond, tables.od(arm) / 2, at_outlet=False))
        elif ends:
            start, end, radius = _axes(
                prepared, frame, np.array([c.station]), np.array([c.level]), np.array([branch.head])
            )
            one, other = (cast("Xyz", tuple(at[0].tolist())) for at in (start, end))
            found.append(PlugAxis(one, other, float(radius[0]), at_outlet=True))
    return found


def plugged(c: CandidateColumns) -> BoolArray:
    """Whether each candidate's own fitting on the run is plugged where the run ends.

    A dry head straight in the outlet needs a plug there, all others an elbow or a tee less.
    """
    return np.asarray((c.heads >= 0).any(axis=1) & (c.end_fittings > c.fittings))


def ends_clear(prepared: Prepared, frame: RunFrame, c: CandidateColumns, some: BoolArray) -> BoolArray:
    """Whether the plugs of those of ``some`` that end the run in one keep clear; shape (candidates,)."""
    ok = np.ones(len(c.station), dtype=bool)
    rows = np.flatnonzero(some & plugged(c))
    if not len(rows):
        return ok
    start, end, radius = _axes(prepared, frame, c.station[rows], c.level[rows], c.heads[rows].max(axis=1))
    solids = prepared.solids_at(frame)
    low, high = np.minimum(start, end)[:, :2], np.maximum(start, end)[:, :2]
    pairs = solids.near_each(low, high, float(radius.max()) + solids.widest)
    bands = solids.bands_of_pairs(np.hstack([start[:, :2], end[:, :2]]), radius, *pairs)
    ok[rows] = bands.clear_span(start[:, 2], end[:, 2])
    return ok


def end_lack(prepared: Prepared, frame: RunFrame, c: Candidate) -> PlugLack | None:
    """Return what the plug of a candidate that ends the run is too near to, where it is worst."""
    if not c.branches or c.end_fittings <= c.fittings:
        return None
    start, end, radius = _axes(
        prepared, frame, np.array([c.station]), np.array([c.level]), np.array([c.branches[0].head])
    )
    solids = prepared.solids_at(frame)
    low, high = np.minimum(start, end)[:, :2], np.maximum(start, end)[:, :2]
    which, prism = solids.near_each(low, high, float(radius[0]) + solids.widest)
    found: PlugLack | None = None
    for k, away in zip(
        prism.tolist(), solids.segment_distances(start[which], end[which], prism).tolist(), strict=True
    ):
        has = (away if away > 0.0 else -way_out(solids, start[0], end[0], k)) - float(radius[0])
        lack = PlugLack(k, has, float(solids.clearance[k]))
        if lack.needs - lack.has > 0.01 and (found is None or lack.needs - has > found.needs - found.has):
            found = lack
    return found


def _axes(
    prepared: Prepared, frame: RunFrame, stations: FloatArray, levels: IntArray, heads: IntArray
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Axes of plugged openings, in the run's direction: starts and ends (n, 3), radii (n,), mm."""
    tables, dns = prepared.tables, frame.dn_at(stations)
    reach = np.zeros(len(stations))
    for n, (dn, h) in enumerate(zip(dns.tolist(), heads.tolist(), strict=True)):
        head = prepared.scenario.heads[h]
        # by schedule the pipe may come to be smaller than planned; no tee of those reaches farther than this
        fixed = frame.uncut or isinstance(frame.run.size, int)
        made = {dn} if fixed else {dn, *(s for s in SIZES if max(head.thread, 25) <= s <= dn)}
        reach[n] = max(plug_reach(tables, size, head, frame.joining) for size in made)
    radius = np.array([tables.od(dn) / 2 for dn in dns.tolist()])
    plan = np.array([frame.plan.place(station) for station in stations.tolist()])
    along = np.array([frame.plan.section_at(station).along for station in stations.tolist()])
    z = np.asarray(frame.z(frame.levels[levels], stations), dtype=float)
    flat = reach / np.hypot(1.0, frame.pitch)
    start = np.column_stack([plan, z])
    return start, start + np.column_stack([along * flat[:, None], frame.pitch * flat]), radius
