"""What the ways to a sidewall lack: square from the line, or round to the place behind the head."""

from __future__ import annotations

from dataclasses import replace
from math import atan2, cos, degrees, radians, sin
from typing import TYPE_CHECKING

import numpy as np

from router.takeoffs.sidewall import STYLE, lead_apart
from router.takeoffs.sites import EXACT
from router.takeoffs.ways import Way

if TYPE_CHECKING:
    from router.takeoffs.sites import Sites

__all__ = ["STYLE", "ways"]


def ways(site: Sites, level: int) -> list[Way]:
    """Give the ways from one level of the run (index), as ``takeoffs/sidewall.py`` proposes them.

    Square ones only where the head faces square away from the line.
    """
    made = []
    rows = np.flatnonzero(site.slide == 0)
    if _off_square(site) <= site.makeup.rules.square_tolerance_deg and len(rows):
        row = int(rows[0])
        made += [_level_in(site, row, level), _by_nipple(site, row, level)]
    return [*made, _turned(site, level)]


def _off_square(site: Sites) -> float:
    """How far the head faces off square away from its line, degrees; 180 towards it."""
    outward = site.sections[0].left * np.copysign(1.0, float(site.laterals[0]))
    angle = radians(site.heads[0].facing or 0.0)
    x, y = float(outward[0]), float(outward[1])
    return abs(degrees(atan2(x * sin(angle) - y * cos(angle), x * cos(angle) + y * sin(angle))))


def _level_in(site: Sites, row: int, level: int) -> Way:
    """Tee (side), straight in: the run at the head's level."""
    (px, py), z = site.points[row].tolist(), float(site.z[row, level])
    x, y, inlet = (float(v) for v in site.at[0])
    lateral = abs(float(site.laterals[0]))
    way = Way(STYLE, row, level, [(px, py, inlet), (x, y, inlet)], [], drops=False)
    way.need("head_level", 0.0, abs(inlet - z))
    way.need("make_up", site.vertical_least_of(0, float(site.outlet_take_out[row])), lateral)
    way.need("reach", site.makeup.rules.reach, lateral)
    return way


def _by_nipple(site: Sites, row: int, level: int) -> Way:
    """Tee (top, bottom), nipple, elbow and straight in."""
    (px, py), z = site.points[row].tolist(), float(site.z[row, level])
    x, y, inlet = (float(v) for v in site.at[0])
    lateral, rise = abs(float(site.laterals[0])), abs(inlet - z)
    way = Way(STYLE, row, level, [(px, py, z), (px, py, inlet), (x, y, inlet)], [], drops=False)
    way.need("make_up", float(site.rise_least[row]), rise)
    way.need("rise", site.makeup.rules.rise, rise)
    way.need("make_up", site.vertical_least_of(0, site.elbow), lateral)
    way.need("reach", site.makeup.rules.reach, lateral)
    return way


def _turned(site: Sites, level: int) -> Way:
    """Square arm, vertical behind the head, and level into it."""
    lead, section, rules = site.vertical_least_of(0, site.elbow), site.sections[0], site.makeup.rules
    angle = site.heads[0].facing or 0.0
    head, facing = site.at[0, :2], np.array([cos(radians(angle)), sin(radians(angle))])
    behind = head - lead * facing
    station, lateral = (float(v) for v in section.local(behind)[0])
    beside = lateral * float(np.copysign(1.0, float(site.laterals[0])))
    z, inlet = float(site.frame.z(site.frame.levels[level], station)), float(site.at[0, 2])
    start, (bx, by) = section.point(station), behind.tolist()
    sx, sy, hx, hy = float(start[0]), float(start[1]), float(head[0]), float(head[1])
    corners = [(sx, sy, z), (bx, by, z), (bx, by, inlet), (hx, hy, inlet)]
    way = Way(STYLE, 0, level, corners, [], drops=False, station=station)
    take_out = site.frame.outlet_take_out(site.frame.stretch_at(station).dn, site.arm_dn)
    place = replace(site, of=np.zeros(1, dtype=np.int64), stations=np.array([station]))
    own = float(place.own_clear[0])
    way.need("behind", max(site.makeup.between(take_out, site.elbow, site.arm_dn), own), beside)
    apart = lead_apart(place, behind, head)
    way.need("piece_clearance", own, float(apart[level]), site.frame.run.id)
    way.need("straight_length", 0.0, max(section.start - station, station - section.end, 0.0))
    way.need("reach", rules.reach, abs(lateral) + lead)
    way.need("make_up", site.elbow_elbow, abs(inlet - z))
    way.need("rise", rules.rise, abs(inlet - z))
    off = _off_square(site)
    where = "" if beside > EXACT else ", across the line"
    way.note = (
        f"it faces {angle % 360:,.0f} degrees, {off:,.0f} off square away from the line: its water comes "
        f"from {(angle + 180) % 360:,.0f} degrees, by a vertical {lead:,.0f} mm behind it{where}"
    )
    return way
