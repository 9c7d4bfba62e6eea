"""Flexible drop: a listed hose from a side outlet to the head, bends and lengths by its listing."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from router.takeoffs.arms import points_to_head
from router.takeoffs.candidate import Branch, Candidate
from router.takeoffs.candidates import CandidateColumns, Candidates, side_code
from router.takeoffs.sites import EXACT, Sites

if TYPE_CHECKING:
    from router.geometry.solids import BoolArray, IntArray
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


def listing(sites: Sites) -> Listing:
    """Read what the scenario or the tables list of hoses."""
    rules, tables = sites.makeup.rules, sites.makeup.tables
    return Listing(
        sorted(tables.hose_lengths() if rules.hose_lengths is None else rules.hose_lengths),
        tables.hose_bend_radius() if rules.hose_bend_radius is None else rules.hose_bend_radius,
        rules.hose_max_bends,
        tables,
    )


def propose(sites: Sites, allowed: BoolArray) -> tuple[IntArray, Candidates]:
    """Tee (side) and a hose with one bend down, one more if outlet and head do not line up.

    The hose needs its straight ends and bend radius; the shortest listed length
    that spans the way is taken. Its axis is drawn with square corners, the way
    is counted round them (bend radius as listed). ``allowed``: rows that may have it.
    """
    listed = listing(sites)
    radius, straight = listed.bend_radius, STRAIGHT_END
    z, lateral = sites.z, np.abs(sites.lateral)
    vertical = sites.vertical(z)
    bends = 1 + sites.dogleg.astype(np.int64)
    saved = (2 - np.pi / 2) * radius
    length = (lateral + np.where(sites.dogleg, sites.slide, 0.0))[:, None] + vertical - bends[:, None] * saved
    fits = allowed & ~sites.under & (lateral >= radius + straight + sites.outlet_take_out - EXACT)
    fits &= (~sites.dogleg | (sites.slide >= 2 * radius - EXACT)) & (lateral >= sites.own_clear - EXACT)
    ok = fits[:, None] & (vertical >= radius + straight - EXACT)
    ok &= sites.first_bands.clear(z) & sites.second_bands.clear(z) & sites.last_clear(z)
    hose = np.full(z.shape, np.inf)
    for stock in reversed(listed.lengths):
        spans = (stock >= length - EXACT) & (listed.bends(stock) >= bends)[:, None]
        hose = np.where(spans, stock, hose)
    row, level = np.nonzero(ok & np.isfinite(hose))
    columns = CandidateColumns.filled(
        len(row),
        sites.indices[sites.of[row]][:, None],
        style=STYLE,
        side=np.where(sites.lateral > 0, side_code("left"), side_code("right"))[row],
        station=sites.stations[row],
        level=level,
        half=sites.half[row],
        fittings=1,
        end_fittings=1,
        hoses=1,
    )
    taken = hose[row, level]

    def make(k: int) -> Candidate:
        at = int(row[k])
        x, y = (float(v) for v in sites.points[at])
        run_z = float(z[at, level[k]])
        head = int(sites.indices[sites.of[at]])
        points = points_to_head(sites, at, run_z)
        branch = Branch(head, points, bool(sites.dogleg[at]), float(taken[k]))
        return columns.candidate(k, sites.frame.index, (x, y, run_z), (), (branch,))

    return row, Candidates(columns, make)
