"""Sidewall outlet: pipe that arrives level, from behind, in the direction of the water."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from router.geometry.segments import segment_distances
from router.takeoffs.candidate import Branch, Candidate, Xyz
from router.takeoffs.sites import EXACT, Sites

if TYPE_CHECKING:
    from router.geometry.plan import FloatArray
    from router.geometry.solids import Bands, BoolArray

STYLE = "sidewall"


def propose(sites: Sites) -> list[Candidate]:
    """Tee (side) straight in; tee (top, bottom), nipple, elbow; or tee (side), elbow, elbow.

    The first two where the head faces square away from the line; the last for
    any facing: an arm square out, a vertical at a place behind the head, and a
    level lead into it. ``sites``: of one head at one place.
    """
    angle = np.radians(sites.heads[0].facing or 0.0)
    facing = np.array([np.cos(angle), np.sin(angle)])
    lateral = float(sites.laterals[0])
    outward = sites.sections[0].left * np.sign(lateral)
    tolerance = np.cos(np.radians(sites.makeup.rules.square_tolerance_deg))
    made: list[Candidate] = []
    if float(facing @ outward) >= tolerance and abs(lateral) > EXACT:
        made += _square(sites)
    return made + _turned(sites, facing)


def _candidate(
    sites: Sites,
    i: int,
    level: int,
    side: str,
    trunk: tuple[Xyz, ...],
    points: tuple[Xyz, ...],
    elbows: int,
) -> Candidate:
    dry, plugs = sites.heads[0].dry, int(sites.plugs[i])
    outlet = (float(sites.points[i, 0]), float(sites.points[i, 1]), float(sites.z[i, level]))
    chain = np.array([outlet, *trunk, *points])
    steps = np.diff(chain, axis=0)
    pipes = steps[:-1] if dry else steps  # a barrel is no arm
    horizontal = np.array([float(np.hypot(pipes[:, 0], pipes[:, 1]).sum())])
    length = float(np.linalg.norm(steps, axis=1).sum())
    fittings = 1 + elbows + (plugs if elbows else 0)
    barrel = float(np.linalg.norm(steps[-1])) if dry else 0.0
    return Candidate(
        run=sites.frame.index,
        style=STYLE,
        side=side,
        station=float(sites.stations[i]),
        level=level,
        outlet=outlet,
        trunk=trunk,
        branches=(Branch(int(sites.indices[0]), points),),
        half=float(sites.half[i]),
        end_half=float(sites.half[i]) if dry and not elbows else 0.0,
        fittings=fittings,
        end_fittings=fittings + (plugs if not elbows else 0),
        pipe=length - barrel,
        hangers=int(sites.hangers(np.full(len(sites.of), horizontal[0]))[i]),
        reducers=int(sites.reducers[i]),
    )


def _square(sites: Sites) -> list[Candidate]:
    """From the head's own station: level into it, or by a nipple up or down first."""
    own = np.flatnonzero(sites.slide == 0)
    lateral = abs(float(sites.laterals[0]))
    if not len(own) or lateral > sites.makeup.rules.reach:
        return []
    i = int(own[0])
    x, y, inlet = (float(v) for v in sites.at[0])
    column = np.full((len(sites.of), 1), inlet)
    if not bool(sites.first_bands.clear(column)[i, 0]):
        return []
    made = []
    px, py = (float(v) for v in sites.points[i])
    for level in range(len(sites.frame.levels)):
        z = float(sites.z[i, level])
        drop = inlet - z
        if abs(drop) < EXACT:
            if lateral >= sites.vertical_least_of(0, float(sites.outlet_take_out[i])) - EXACT:
                side = "left" if sites.laterals[0] > 0 else "right"
                made.append(_candidate(sites, i, level, side, (), ((x, y, inlet),), 0))
            continue
        if abs(drop) < float(sites.rise_least[i]) - EXACT or abs(drop) > sites.makeup.rules.rise:
            continue
        plug = float(np.copysign(sites.plug_reaches[0], drop))  # the nipple's tee goes on to its plug
        clear = sites.riser_bands.clear_span(np.full_like(column, z), column + plug)
        if bool(clear[i, 0]) and lateral >= sites.vertical_least_of(0, sites.elbow) - EXACT:
            side = "top" if drop > 0 else "bottom"
            made.append(_candidate(sites, i, level, side, ((px, py, inlet),), ((x, y, inlet),), 1))
    return made


def _turned(sites: Sites, facing: FloatArray) -> list[Candidate]:
    """Square arm, vertical behind the head, level lead into it: for any facing."""
    lead, section = sites.vertical_least_of(0, sites.elbow), sites.sections[0]
    head = sites.at[0, :2]
    behind = head - lead * facing
    station, lateral = (float(v) for v in section.local(behind)[0])
    if not section.start <= station <= section.end or lateral * float(sites.laterals[0]) < 0:
        return []
    frame, inlet = sites.frame, float(sites.at[0, 2])
    start = section.point(station)
    take_out = frame.outlet_take_out(frame.stretch_at(station).dn, sites.arm_dn)
    if abs(lateral) < sites.makeup.between(take_out, sites.elbow, sites.arm_dn) - EXACT:
        return []
    if abs(lateral) + lead > sites.makeup.rules.reach:
        return []
    place = replace(sites, of=np.zeros(1, dtype=np.int64), stations=np.array([station]))
    if abs(lateral) < float(place.own_clear[0]) - EXACT:
        return []  # the vertical is beside the run
    around = np.array([start, behind, head])
    margin = sites.arm_radius + sites.solids.widest
    (x0, y0), (x1, y1) = around.min(axis=0).tolist(), around.max(axis=0).tolist()
    near = sites.solids.near(x0, y0, x1, y1, margin)

    def bands(a: FloatArray, b: FloatArray) -> Bands:
        return sites.solids.bands(np.array([[*a, *b]]), sites.arm_radius, near)

    z = place.z
    drop = np.abs(z - inlet)
    level_in = np.full_like(z, inlet)
    plug = np.copysign(sites.plug_reaches[0], inlet - z)  # the vertical's tee goes on to its plug
    ok: BoolArray = bands(start, behind).clear(z) & bands(behind, behind).clear_span(z, level_in + plug)
    ok &= bands(behind, head).clear(level_in) & (drop >= sites.elbow_elbow - EXACT)
    ok &= (drop <= sites.makeup.rules.rise) & _lead_clear(place, behind, head)
    made = []
    side = "left" if lateral > 0 else "right"
    x, y = (float(v) for v in behind)
    target = (float(head[0]), float(head[1]), inlet)
    for level in np.flatnonzero(ok[0]):
        points: tuple[Xyz, ...] = ((x, y, float(z[0, level])), (x, y, inlet), target)
        made.append(_candidate(place, 0, int(level), side, (), points, 2))
    return made


def _lead_clear(place: Sites, behind: FloatArray, head: FloatArray) -> BoolArray:
    """Whether the level lead keeps clear of the run at its outlet, shape (1, levels)."""
    apart = lead_apart(place, behind, head)
    return np.asarray(apart >= float(place.own_clear[0]) - EXACT)[None, :]


def lead_apart(place: Sites, behind: FloatArray, head: FloatArray) -> FloatArray:
    """Give how far the axis of the level lead is from the run at its outlet, by level, mm.

    Of the run's pipe that the outlet takes up, to either side; what comes
    before and after it is looked at with everything else that is near.
    """
    section, half = place.sections[0], float(place.half[0])
    stations = np.clip(place.stations[0] + np.array([-half, half]), section.start, section.end)
    levels = place.frame.levels
    a, b = (
        np.column_stack([np.tile(section.point(float(s)), (len(levels), 1)), place.frame.z(levels, s)])
        for s in stations
    )
    inlet = float(place.at[0, 2])
    p, q = (np.tile([*spot, inlet], (len(a), 1)) for spot in (behind, head))
    return segment_distances(a, b, p, q)
