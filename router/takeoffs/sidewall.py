"""Sidewall outlet: pipe that arrives level, from behind, in the direction of the water."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from router.takeoffs.candidate import Branch, Candidate, Xyz
from router.takeoffs.site import EXACT, HeadSite

if TYPE_CHECKING:
    from router.geometry.plan import FloatArray
    from router.geometry.solids import BoolArray

STYLE = "sidewall"


def propose(site: HeadSite) -> list[Candidate]:
    """Tee (side) straight in; tee (top, bottom), nipple, elbow; or tee (side), elbow, elbow.

    The first two where the head faces square away from the line; the last for
    any facing: an arm square out, a vertical at a place behind the head, and a
    level lead into it.
    """
    angle = np.radians(site.head.facing or 0.0)
    facing = np.array([np.cos(angle), np.sin(angle)])
    outward = site.section.left * np.sign(site.lateral)
    tolerance = np.cos(np.radians(site.makeup.rules.square_tolerance_deg))
    made: list[Candidate] = []
    if float(facing @ outward) >= tolerance and abs(site.lateral) > EXACT:
        made += _square(site)
    return made + _turned(site, facing)


def _last_least(site: HeadSite, take_out: float) -> float:
    return site.vertical_least(take_out)


def _candidate(
    site: HeadSite,
    i: int,
    level: int,
    side: str,
    trunk: tuple[Xyz, ...],
    points: tuple[Xyz, ...],
    elbows: int,
) -> Candidate:
    outlet = (float(site.points[i, 0]), float(site.points[i, 1]), float(site.z[i, level]))
    chain = np.array([outlet, *trunk, *points])
    steps = np.diff(chain, axis=0)
    pipes = steps[:-1] if site.head.dry else steps  # a barrel is no arm
    horizontal = np.array([float(np.hypot(pipes[:, 0], pipes[:, 1]).sum())])
    length = float(np.linalg.norm(steps, axis=1).sum())
    fittings = 1 + elbows + (site.plugs if elbows else 0)
    barrel = float(np.linalg.norm(steps[-1])) if site.head.dry else 0.0
    return Candidate(
        run=site.frame.index,
        style=STYLE,
        side=side,
        station=float(site.stations[i]),
        level=level,
        outlet=outlet,
        trunk=trunk,
        branches=(Branch(site.head_index, points),),
        half=float(site.half[i]),
        end_half=float(site.half[i]) if site.head.dry and not elbows else 0.0,
        fittings=fittings,
        end_fittings=fittings + (site.plugs if not elbows else 0),
        pipe=length - barrel,
        hangers=int(site.hangers(horizontal)[0]),
        reducers=site.reducers,
    )


def _square(site: HeadSite) -> list[Candidate]:
    """From the head's own station: level into it, or by a nipple up or down first."""
    own = np.flatnonzero(site.slide == 0)
    if not len(own) or abs(site.lateral) > site.makeup.rules.reach:
        return []
    i = int(own[0])
    x, y, inlet = site.at
    if not bool(site.first_bands.clear(np.full((len(site.stations), 1), inlet))[i, 0]):
        return []
    made = []
    px, py = float(site.points[i, 0]), float(site.points[i, 1])
    for level in range(len(site.frame.levels)):
        z = float(site.z[i, level])
        drop = inlet - z
        if abs(drop) < EXACT:
            if abs(site.lateral) >= _last_least(site, float(site.outlet_take_out[i])) - EXACT:
                made.append(_candidate(site, i, level, site.side, (), ((x, y, inlet),), 0))
            continue
        if abs(drop) < float(site.rise_least[i]) - EXACT or abs(drop) > site.makeup.rules.rise:
            continue
        span = site.riser_bands.clear_span(
            np.full((len(site.stations), 1), z), np.full((len(site.stations), 1), inlet)
        )
        if bool(span[i, 0]) and abs(site.lateral) >= _last_least(site, site.elbow) - EXACT:
            side = "top" if drop > 0 else "bottom"
            made.append(_candidate(site, i, level, side, ((px, py, inlet),), ((x, y, inlet),), 1))
    return made


def _turned(site: HeadSite, facing: FloatArray) -> list[Candidate]:
    """Square arm, vertical behind the head, level lead into it: for any facing."""
    lead = _last_least(site, site.elbow)
    behind = np.array(site.at[:2]) - lead * facing
    station, lateral = (float(v) for v in site.section.local(behind)[0])
    if not site.section.start <= station <= site.section.end or lateral * site.lateral < 0:
        return []
    side = "left" if lateral > 0 else "right"
    stretch = site.frame.stretch_at(station)
    inlet = site.at[2]
    start = site.section.point(station)
    take_out = site.frame.outlet_take_out(stretch.dn, site.arm_dn)
    if abs(lateral) < site.makeup.between(take_out, site.elbow, site.arm_dn) - EXACT:
        return []
    place = HeadSite(
        site.frame, site.section, site.head, site.head_index, site.at, np.array([station]), site.solids
    )
    if abs(lateral) + lead > site.makeup.rules.reach:
        return []
    around = np.array([start, behind, site.at[:2]])
    low, high = around.min(axis=0), around.max(axis=0)
    margin = site.arm_radius + site.solids.widest
    place.near = site.solids.near(low[0], low[1], high[0], high[1], margin)
    arm = place.bands_of(start[None, :], behind[None, :])
    upright = place.bands_of(behind[None, :], behind[None, :])
    into = place.bands_of(behind[None, :], np.array([site.at[:2]]))
    z = place.z
    drop = np.abs(z - inlet)
    ok: BoolArray = arm.clear(z) & upright.clear_span(z, np.full_like(z, inlet))
    ok &= into.clear(np.full_like(z, inlet)) & (drop >= site.elbow_elbow - EXACT)
    ok &= drop <= site.makeup.rules.rise
    made = []
    for level in np.flatnonzero(ok[0]):
        run_z = float(z[0, level])
        corner = (float(behind[0]), float(behind[1]))
        points: tuple[Xyz, ...] = ((*corner, run_z), (*corner, inlet), site.at)
        made.append(_candidate(place, 0, int(level), side, (), points, 2))
    return made
