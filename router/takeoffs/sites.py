"""Heads seen from straight sections of their run: stations, legs and what blocks them.

A site is one head at one place beside one section; it has a row for every
station that its outlet may have. All sites of a run stand in the same arrays,
shaped (rows,) or (rows, levels): one pass of arithmetic serves them all. The
plan distances to obstructions are computed once and answer for every level.
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np
import shapely

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from router.geometry.plan import FloatArray, Section
    from router.geometry.solids import Bands, BoolArray, IntArray, Solids
    from router.profiles.frame import MakeUp, RunFrame
    from router.scenario.model import Head
    from router.trade.tables import Tables

EXACT = 0.05
"""mm. Below this a lateral or level difference is none."""
UNSUPPORTED = 0.1
"""mm. An arm may be so much longer than the rule says, as the referee allows it."""


def plug_reach(tables: Tables, dn: int, head: Head, joining: str = "threaded") -> float:
    """Give how far a dry head's tee on pipe of a size reaches from its centre to its plug, mm; 0 for others.

    The plug is in the end of the tee's run: its head is taken as round, like a pipe's end.
    """
    return tables.take_out("tee", "run", dn, head.thread, joining=joining) if head.dry else 0.0


@dataclass
class Sites:
    """Sites of heads of one run, and the rows of stations that they may be served from.

    ``heads``, ``indices`` (in the scenario) and ``sections``: one for each site;
    ``at``: the inlets' places (the scenario's, or shifted), shape (sites, 3), mm.
    ``of``: site of each row, ascending; ``stations``: of each row, mm.
    ``straight_within``: an arm from a station this near to the head's own is
    made straight, a little out of square, mm; one, or one for each row.
    """

    frame: RunFrame
    heads: Sequence[Head]
    indices: IntArray
    at: FloatArray
    sections: Sequence[Section]
    of: IntArray
    stations: FloatArray
    solids: Solids
    straight_within: float | FloatArray = EXACT

    @cached_property
    def makeup(self) -> MakeUp:
        """Make-up rules."""
        return self.frame.makeup

    # by site

    @cached_property
    def _lines(self) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
        """Start, origin, direction and left normal of each site's section."""
        of = self.sections
        return (
            np.array([s.start for s in of]),
            np.array([s.origin for s in of]).reshape(-1, 2),
            np.array([s.along for s in of]).reshape(-1, 2),
            np.array([s.left for s in of]).reshape(-1, 2),
        )

    @cached_property
    def owns(self) -> FloatArray:
        """Station of each site's head, mm; shape (sites,)."""
        start, origin, along, _ = self._lines
        return np.asarray(start + ((self.at[:, :2] - origin) * along).sum(axis=1))

    @cached_property
    def laterals(self) -> FloatArray:
        """Signed distance of each site's head from the line, left positive, mm; shape (sites,)."""
        _, origin, _, left = self._lines
        return np.asarray(((self.at[:, :2] - origin) * left).sum(axis=1))

    def by_site(self, function: Callable[[Head], float]) -> FloatArray:
        """Give what depends on the head alone, shape (sites,)."""
        return np.array([function(head) for head in self.heads], dtype=float)

    @cached_property
    def upwards(self) -> BoolArray:
        """Whether the last vertical goes up to the head; shape (sites,)."""
        return np.array([head.kind == "upright" for head in self.heads], dtype=bool)

    @cached_property
    def dries(self) -> BoolArray:
        """Whether the head is a dry one; shape (sites,)."""
        return np.array([head.dry for head in self.heads], dtype=bool)

    # sizes and make-up

    @cached_property
    def arm_dn(self) -> int:
        """Size of arms and drops, DN."""
        return self.makeup.rules.arm_size

    @cached_property
    def arm_radius(self) -> float:
        """Half the outside diameter of arms, mm."""
        return self.makeup.tables.od(self.arm_dn) / 2

    @cached_property
    def elbow(self) -> float:
        """Take-out of an arm's elbow, mm."""
        return self.makeup.tables.take_out("elbow_90", "run", self.arm_dn, self.arm_dn, joining="threaded")

    @cached_property
    def elbow_elbow(self) -> float:
        """Least centre to centre of two arm elbows, mm."""
        return self.makeup.between(self.elbow, self.elbow, self.arm_dn)

    @cached_property
    def reducers(self) -> IntArray:
        """1 where the head's thread is smaller than the pipe to it (not for a dry head's barrel)."""
        each = [int(not head.dry and head.thread < self.arm_dn) for head in self.heads]
        return np.array(each, dtype=np.int64)[self.of]

    @cached_property
    def plugs(self) -> IntArray:
        """1 for a dry head: it stands in a tee with a plug where others hang from an elbow."""
        return self.dry.astype(np.int64)

    @cached_property
    def _known_least(self) -> dict[tuple[float, int], float]:
        return {}

    @cached_property
    def plug_reaches(self) -> FloatArray:
        """How far a dry head's tee reaches on beyond its centre, to its plug; 0 for others, mm; (sites,)."""
        return np.array(
            [plug_reach(self.makeup.tables, self.arm_dn, head) for head in self.heads], dtype=float
        )

    def _beyond(self, a: FloatArray, b: FloatArray, rows: BoolArray) -> FloatArray:
        """Put the ends ``b`` of arms from ``a``, shape (rows, 2), on to where the plugs of some rows end.

        A sidewall's tee stands on its vertical: its plug goes on up or down.
        """
        reach = np.where(rows, self.plug_reaches[self.of], 0.0)
        reach[self._walls[self.of]] = 0.0
        if not reach.any():
            return b
        way = b - a
        length = np.hypot(way[:, 0], way[:, 1])
        share = np.divide(reach, length, out=np.zeros_like(length), where=length > EXACT)
        return np.asarray(np.where((share > 0)[:, None], b + share[:, None] * way, b))

    @cached_property
    def _walls(self) -> BoolArray:
        """Whether the head is a sidewall; shape (sites,)."""
        return np.array([head.kind == "sidewall" for head in self.heads], dtype=bool)

    def vertical_least(self, take_out: float) -> FloatArray:
        """Least length of the last vertical below (above) a fitting with ``take_out``, mm; shape (rows,)."""
        least = [self.vertical_least_of(site, take_out) for site in range(len(self.heads))]
        return np.array(least, dtype=float)[self.of]

    def vertical_least_of(self, site: int, take_out: float) -> float:
        """Give the same for one site, mm."""
        head = self.heads[site]
        if head.dry:
            return take_out + (head.exposed or 0.0) + self._below_ceiling(site)
        key = take_out, head.thread
        if key not in self._known_least:
            self._known_least[key] = self._least(take_out, head)
        return self._known_least[key]

    def _least(self, take_out: float, head: Head) -> float:
        tables, dn = self.makeup.tables, self.arm_dn
        if head.thread < dn:
            end = tables.take_out("reducer", "run", dn, head.thread, joining="threaded")
            return self.makeup.between(take_out, end, dn)
        nipple = tables.shortest_nipple(dn, joining="threaded")
        return take_out + nipple - tables.engagement(dn, joining="threaded")

    @cached_property
    def _rows(self) -> list[tuple[int, int]]:
        """First row of each site, and the one after its last."""
        edges = np.searchsorted(self.of, np.arange(len(self.heads) + 1)).tolist()
        return list(itertools.pairwise(edges))

    def _ceilings(self, at: Sequence[float]) -> list[float]:
        """Elevations of the ceilings whose polygon covers a place, mm."""
        here = shapely.Point(at[:2])
        return [c.elevation for c in self.frame.ceilings if shapely.Polygon(c.polygon).covers(here)]

    def _below_ceiling(self, site: int) -> float:
        """How far a dry head's inlet is below the lowest ceiling above it, 0 where none is, mm."""
        head = self.heads[site]
        if head.exposed is None:
            return 0.0
        # where it is put, if it is shifted, as the route's places are written: there the referee looks up
        place = np.round(self.at[site], 3).tolist()
        inlet = float(self.at[site, 2])
        over = [level for level in self._ceilings(place) if level > inlet]
        return min(over) - inlet if over else 0.0

    def _pendent_below_ceiling(self, head: Head) -> bool:
        """Whether NFPA 13's shorter arms over 100 psi hold; without any ceiling given they do, to be safe."""
        if head.kind != "pendent":
            return False
        return not self.frame.ceilings or bool(self._ceilings(head.at))

    @cached_property
    def dns(self) -> IntArray:
        """Run size at each station, DN."""
        return self.frame.dn_at(self.stations)

    def per_size(self, name: str, function: Callable[[int], float]) -> FloatArray:
        """Give a value that depends on the run size only (``name`` it), spread over the rows."""
        known = self.frame.by_size
        sizes, which = np.unique(self.dns, return_inverse=True)
        for dn in sizes.tolist():
            if (name, dn) not in known:
                known[name, dn] = float(function(dn))
        return np.array([known[name, dn] for dn in sizes.tolist()], dtype=float)[which]

    @cached_property
    def outlet_take_out(self) -> FloatArray:
        """Run centre to the end of an outlet of the arm's size, mm."""
        return self.per_size("outlet_take_out", lambda dn: self.frame.outlet_take_out(dn, self.arm_dn))

    @cached_property
    def half(self) -> FloatArray:
        """Stations an outlet occupies to either side, mm."""
        return self.per_size("half", lambda dn: self.frame.outlet_half(dn, self.arm_dn))

    @cached_property
    def own_clear(self) -> FloatArray:
        """Least axis distance of arm pieces to the own run, mm."""
        gap = self.arm_radius + self.makeup.rules.piece_clearance
        return self.per_size("own_clear", lambda dn: self.makeup.tables.od(dn) / 2 + gap)

    @cached_property
    def rise_least(self) -> FloatArray:
        """Least rise of an arm over (or under) its outlet on a nipple, mm.

        A pitched run comes nearer to what is over it than the rise.
        """
        return np.maximum(self.first_least, self.own_clear / self.plumb)

    @cached_property
    def plumb(self) -> float:
        """Distance from the run's axis for each mm of height over it: less than 1 by its pitch."""
        return 1.0 / float(np.hypot(1.0, self.frame.pitch))

    @cached_property
    def first_least(self) -> FloatArray:
        """Least length of an arm between a side outlet and an elbow, mm."""
        return self.per_size(
            "arm_least",
            lambda dn: self.makeup.between(
                self.frame.outlet_take_out(dn, self.arm_dn), self.elbow, self.arm_dn
            ),
        )

    # by row

    @cached_property
    def own(self) -> FloatArray:
        """Station of the row's head, mm."""
        return np.asarray(self.owns[self.of])

    @cached_property
    def lateral(self) -> FloatArray:
        """Signed distance of the row's head from the line, left positive, mm."""
        return np.asarray(self.laterals[self.of])

    @cached_property
    def inlet(self) -> FloatArray:
        """Elevation of the row's head, mm."""
        return np.asarray(self.at[self.of, 2])

    @cached_property
    def upward(self) -> BoolArray:
        """Whether the last vertical goes up to the head."""
        return np.asarray(self.upwards[self.of])

    @cached_property
    def dry(self) -> BoolArray:
        """Whether the row's head is a dry one."""
        return np.asarray(self.dries[self.of])

    @cached_property
    def points(self) -> FloatArray:
        """Plan points of the stations, shape (rows, 2)."""
        start, origin, along, _ = self._lines
        return np.asarray(origin[self.of] + (self.stations - start[self.of])[:, None] * along[self.of])

    @cached_property
    def targets(self) -> FloatArray:
        """Plan points of the heads, shape (rows, 2)."""
        return np.asarray(self.at[self.of, :2])

    @cached_property
    def corners(self) -> FloatArray:
        """Plan points where a dogleg turns (the head itself for a straight arm), shape (rows, 2)."""
        out = np.where(self.under, 0.0, self.lateral)[:, None] * self._lines[3][self.of]
        return np.where((self.slide == 0)[:, None], self.targets, self.points + out)

    @cached_property
    def slide(self) -> FloatArray:
        """How far each station is from the head's own, mm, zero where it is the own."""
        away = np.abs(self.stations - self.own)
        return np.where(away <= self.straight_within, 0.0, away)

    @cached_property
    def under(self) -> BoolArray:
        """Whether the head is under (over) the line: within the alignment, too near for a square arm."""
        lateral = np.abs(self.lateral)
        near = lateral <= self.makeup.rules.alignment + EXACT
        return np.asarray(near & (lateral < self.first_least - EXACT))

    @cached_property
    def dogleg(self) -> BoolArray:
        """Whether the arm from each station needs a dogleg."""
        return np.asarray((self.slide > 0) & ~self.under)

    @cached_property
    def z(self) -> FloatArray:
        """Elevation of the run's centre line, shape (rows, levels)."""
        return np.asarray(self.frame.z(self.frame.levels[None, :], self.stations[:, None]))

    @cached_property
    def horizontal(self) -> FloatArray:
        """Cumulative horizontal length of the arm from each station, mm."""
        x, y = (self.targets - self.points).T
        return np.where(self.dogleg, np.abs(self.lateral) + self.slide, np.hypot(x, y))

    def vertical(self, z: FloatArray) -> FloatArray:
        """Length of the last vertical from elevation ``z`` (rows, ...); negative on the wrong side, mm."""
        way = np.where(self.upward, -1.0, 1.0).reshape((-1,) + (1,) * (np.ndim(z) - 1))
        return np.asarray(way * (z - self.inlet.reshape(way.shape)))

    def hangers(self, horizontal: FloatArray) -> IntArray:
        """1 where an arm is longer than may stay unsupported; shape (rows,)."""
        limit = self.makeup.rules.arm_unsupported
        if limit is not None:
            return (horizontal > limit + UNSUPPORTED).astype(np.int64)
        find, over = self.makeup.tables.arm_unsupported, self.frame.over_100_psi
        if not over:
            return (horizontal > find(False) + UNSUPPORTED).astype(np.int64)
        limits = self.by_site(lambda head: find(self._pendent_below_ceiling(head)))
        return (horizontal > limits[self.of] + UNSUPPORTED).astype(np.int64)

    # what blocks

    @cached_property
    def _near(self) -> tuple[IntArray, IntArray]:
        """Pairs (site, prism) wherever anything of the site could meet the prism."""
        firsts = [first for first, _ in self._rows]
        xy = np.hstack([self.points, self.corners])
        low = np.minimum.reduceat(xy, firsts).reshape(-1, 2, 2).min(axis=1)
        high = np.maximum.reduceat(xy, firsts).reshape(-1, 2, 2).max(axis=1)
        plug = self.plug_reaches[:, None]
        low, high = np.minimum(low, self.at[:, :2] - plug), np.maximum(high, self.at[:, :2] + plug)
        return self.solids.near_each(low, high, self.arm_radius + self.solids.widest)

    def near(self, site: int) -> IntArray:
        """Prisms that anything of a site could meet."""
        which, prism = self._near
        return np.asarray(prism[which == site])

    def _pairs(self, rows: IntArray) -> tuple[IntArray, IntArray]:
        """Pairs (row, prism) of the rows asked for, ascending."""
        which, prism = self._near
        counts = np.bincount(which, minlength=len(self.heads))
        begins, each = np.cumsum(counts) - counts, counts[self.of[rows]]
        first = np.repeat(begins[self.of[rows]] - (np.cumsum(each) - each), each)
        return np.repeat(rows, each), prism[first + np.arange(int(each.sum()))]

    def bands_of(self, a: FloatArray, b: FloatArray, some: IntArray | None = None) -> Bands:
        """Bands for horizontal pipes a-b in plan, of each row; ``some``: only of these rows, ascending.

        ``a``, ``b``: shape (rows, 2), of all rows.
        """
        pairs = self._pairs(np.arange(len(self.of)) if some is None else some)
        return self.solids.bands_of_pairs(np.hstack([a, b]), self.arm_radius, *pairs)

    def upright_bands(self, rows: IntArray, radius: FloatArray) -> Bands:
        """Bands for last verticals of some rows' heads, (rows,) thick, mm; ceilings do not count."""
        row, prism = self._pairs(rows)
        solid = ~self.solids.ceiling[prism]
        here = np.hstack([self.targets, self.targets])
        return self.solids.bands_of_pairs(here, radius, row[solid], prism[solid])

    @cached_property
    def first_bands(self) -> Bands:
        """What stops the arm from each station square out to the corner, and the plug behind it there."""
        ends = self._beyond(self.points, self.corners, self.slide == 0)
        return self.bands_of(self.points, ends)

    @cached_property
    def second_bands(self) -> Bands:
        """What stops the dogleg (or an arm along the line) from each corner to the head, and its plug."""
        slid = self.slide > 0
        ends = self._beyond(self.corners, self.targets, slid)
        return self.bands_of(self.corners, ends, np.flatnonzero(slid))

    @cached_property
    def riser_bands(self) -> Bands:
        """What stops a nipple over (under) each station."""
        return self.bands_of(self.points, self.points)

    @cached_property
    def last_bands(self) -> Bands:
        """What stops the last vertical to the head of each row; ceilings do not."""
        which, prism = self._near
        solid = ~self.solids.ceiling[prism]
        here = np.hstack([self.at[:, :2], self.at[:, :2]])
        bands = self.solids.bands_of_pairs(here, self.arm_radius, which[solid], prism[solid])
        return bands.spread(self.of)

    def last_clear(self, z: FloatArray) -> BoolArray:
        """Whether the vertical between the head's inlet and ``z`` is clear; shape (rows, ...)."""
        inlet = self.inlet.reshape((-1,) + (1,) * (np.ndim(z) - 1))
        return self.last_bands.clear_span(inlet, z)
