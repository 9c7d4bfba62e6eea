"""Flexible drop: a listed hose from a side outlet to the head, bends and lengths by its listing."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from router.takeoffs.candidate import Branch, Candidate, Xyz
from router.takeoffs.site import EXACT, HeadSite

if TYPE_CHECKING:
    from router.trade.tables import Tables

STYLE = "flexible_drop"


STRAIGHT_END = 64.0
"""mm. No bend this near to a hose's nuts: 2-1/2 in., one listed hose (grade A as that listing)."""


@dataclass(frozen=True)
class Listing:
    """What the hose's listing (or the scenario) says; lengths in mm."""

    lengths: list[float]
    bend_radius: float
    max_bends: int | None
    tables: Tables

    def bends(self, length: float) -> int:
        """Bends allowed in a hose of ``length``."""
        return self.tables.hose_max_bends(length) if self.max_bends is None else self.max_bends


def _listing(site: HeadSite) -> Listing:
    rules, tables = site.makeup.rules, site.makeup.tables
    return Listing(
        sorted(tables.hose_lengths() if rules.hose_lengths is None else rules.hose_lengths),
        tables.hose_bend_radius() if rules.hose_bend_radius is None else rules.hose_bend_radius,
        rules.hose_max_bends,
        tables,
    )


def propose(site: HeadSite) -> list[Candidate]:
    """Tee (side) and a hose with one bend down, one more if outlet and head do not line up.

    The hose needs its straight ends and bend radius; the shortest listed length
    that spans the way is taken. Its axis is drawn with square corners, the way
    is counted round them (bend radius as listed).
    """
    if site.under:
        return []
    listed = _listing(site)
    radius, straight = listed.bend_radius, STRAIGHT_END
    z = site.z
    vertical = site.vertical(z)
    bends = 1 + site.dogleg.astype(int)
    way = abs(site.lateral) + np.where(site.dogleg, site.slide, 0.0)
    saved = (2 - np.pi / 2) * radius
    length = way[:, None] + vertical - bends[:, None] * saved
    ok = np.asarray(vertical >= radius + straight - EXACT)
    ok = ok & (abs(site.lateral) >= radius + straight + site.outlet_take_out - EXACT)[:, None]
    ok = ok & (~site.dogleg | (site.slide >= 2 * radius - EXACT))[:, None]
    ok = ok & site.first_bands.clear(z) & site.second_bands.clear(z) & site.last_clear(z)
    ok = ok & (abs(site.lateral) >= site.own_clear - EXACT)[:, None]
    made = []
    x, y, inlet = site.at
    for i, level in np.argwhere(ok):
        fits = [
            stock
            for stock in listed.lengths
            if stock >= length[i, level] - EXACT and listed.bends(stock) >= bends[i]
        ]
        if not fits:
            continue
        run_z = float(z[i, level])
        px, py = float(site.points[i, 0]), float(site.points[i, 1])
        points: list[Xyz] = []
        if site.dogleg[i]:
            points.append((float(site.corners[i, 0]), float(site.corners[i, 1]), run_z))
        points += [(x, y, run_z), (x, y, inlet)]
        made.append(
            Candidate(
                run=site.frame.index,
                style=STYLE,
                side=site.side,
                station=float(site.stations[i]),
                level=int(level),
                outlet=(px, py, run_z),
                trunk=(),
                branches=(Branch(site.head_index, tuple(points), bool(site.dogleg[i]), min(fits)),),
                half=float(site.half[i]),
                fittings=1,
                end_fittings=1,
                pipe=0.0,
                hoses=1,
            )
        )
    return made
