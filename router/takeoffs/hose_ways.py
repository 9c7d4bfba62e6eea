"""What a hose to a pendent or an upright lacks: room for its bends, or a listed length."""

from __future__ import annotations

from math import pi
from typing import TYPE_CHECKING

from router.takeoffs.arms import points_to_head
from router.takeoffs.flexible_drop import STRAIGHT_END, STYLE, listing
from router.takeoffs.ways import Way

if TYPE_CHECKING:
    from router.takeoffs.sites import Sites

__all__ = ["STYLE", "ways"]


def ways(site: Sites, level: int) -> list[Way]:
    """Give a way from every station, at one level of the run (index); none to a sidewall: none is laid."""
    if site.heads[0].kind == "sidewall":
        return []
    listed, z = listing(site), site.z
    radius, lateral = listed.bend_radius, abs(float(site.laterals[0]))
    made = []
    for i in range(len(site.stations)):
        run_z, turned = float(z[i, level]), bool(site.dogleg[i])
        down, slide = float(site.vertical(z)[i, level]), float(site.slide[i])
        (px, py), bends = site.points[i].tolist(), 2 if turned else 1
        way = Way(STYLE, i, level, [(px, py, run_z), *points_to_head(site, i, run_z)], [])
        way.need("hose_bend", radius + STRAIGHT_END + float(site.outlet_take_out[i]), lateral)
        way.need("piece_clearance", float(site.own_clear[i]), lateral, site.frame.run.id)
        if turned:
            way.need("hose_bend", 2 * radius, slide)
        way.need("hose_bend", radius + STRAIGHT_END, down)
        length = lateral + turned * slide + down - bends * (2 - pi / 2) * radius
        longest = max((n for n in listed.lengths if listed.bends(n) >= bends), default=0.0)
        way.need("hose_length", longest, length)
        made.append(way)
    return made
