"""A head seen from one section of a run: stations, legs and what blocks them.

Arrays are shaped (stations,) or (stations, levels). The plan distances to
obstructions are computed once and answer for every level.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np
import shapely

if TYPE_CHECKING:
    from collections.abc import Callable

    from router.geometry.plan import FloatArray, Section
    from router.geometry.solids import Bands, BoolArray, IntArray, Solids
    from router.profiles.frame import MakeUp, RunFrame
    from router.scenario.model import Head

EXACT = 0.05
"""mm. Below this a lateral or level difference is none."""


@dataclass
class HeadSite:
    """One head at one place, seen from one straight section of its run.

    ``at``: the inlet's place (the scenario's, or shifted), mm.
    ``straight_within``: an arm from a station this near to the head's own is
    made straight, a little out of square, mm.
    """

    frame: RunFrame
    section: Section
    head: Head
    head_index: int
    at: tuple[float, float, float]
    stations: FloatArray
    solids: Solids
    straight_within: float = EXACT

    @cached_property
    def makeup(self) -> MakeUp:
        """Make-up rules."""
        return self.frame.makeup

    @cached_property
    def local(self) -> tuple[float, float]:
        """(own station, lateral; left positive), mm."""
        s, d = self.section.local(np.array(self.at[:2]))[0]
        return float(s), float(d)

    @property
    def own(self) -> float:
        """The head's own station, mm."""
        return self.local[0]

    @property
    def lateral(self) -> float:
        """Signed distance from the line, left positive, mm."""
        return self.local[1]

    @property
    def side(self) -> str:
        """Side of the line that the head is on."""
        return "left" if self.lateral > 0 else "right"

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
    def reducers(self) -> int:
        """1 if the head's thread is smaller than the pipe to it (not for a dry head's barrel)."""
        return int(not self.head.dry and self.head.thread < self.arm_dn)

    @cached_property
    def plugs(self) -> int:
        """A dry head stands in a tee with a plug where others hang from an elbow."""
        return int(self.head.dry)

    def vertical_least(self, take_out: float) -> float:
        """Least length of the last vertical below (above) a fitting with ``take_out``, mm."""
        tables = self.makeup.tables
        if self.head.dry:
            return take_out + (self.head.exposed or 0.0) + self._below_ceiling
        if self.reducers:
            end = tables.take_out("reducer", "run", self.arm_dn, self.head.thread, joining="threaded")
            return self.makeup.between(take_out, end, self.arm_dn)
        return (
            take_out
            + tables.shortest_nipple(self.arm_dn, joining="threaded")
            - tables.engagement(self.arm_dn, joining="threaded")
        )

    @cached_property
    def _ceilings(self) -> list[float]:
        """Elevations of the ceilings whose polygon covers the head, mm."""
        here = shapely.Point(self.head.at[:2])
        return [c.elevation for c in self.frame.ceilings if shapely.Polygon(c.polygon).covers(here)]

    @cached_property
    def _below_ceiling(self) -> float:
        """How far the head's inlet is below the lowest ceiling over it, 0 where none is, mm."""
        if not self.head.exposed or not self._ceilings:
            return 0.0
        return max(min(self._ceilings) - self.at[2], 0.0)

    @property
    def _pendent_below_ceiling(self) -> bool:
        """Whether NFPA 13's shorter arms over 100 psi hold; without any ceiling given they do, to be safe."""
        if self.head.kind != "pendent":
            return False
        return bool(self._ceilings) or not self.frame.ceilings

    @cached_property
    def dns(self) -> IntArray:
        """Run size at each station, DN."""
        return self.frame.dn_at(self.stations)

    def per_size(self, name: str, function: Callable[[int], float]) -> FloatArray:
        """Give a value that depends on the run size only (``name`` it), spread over the stations."""
        known, dns = self.frame.by_size, self.dns.tolist()
        values = {}
        for dn in set(dns):
            if (name, dn) not in known:
                known[name, dn] = float(function(dn))
            values[dn] = known[name, dn]
        return np.array([values[dn] for dn in dns])

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
        """Least rise of an arm over (or under) its outlet on a nipple, mm."""
        made = self.per_size(
            "arm_least",
            lambda dn: self.makeup.between(
                self.frame.outlet_take_out(dn, self.arm_dn), self.elbow, self.arm_dn
            ),
        )
        return np.maximum(made, self.own_clear)

    @cached_property
    def first_least(self) -> FloatArray:
        """Least length of an arm between a side outlet and an elbow, mm."""
        return self.per_size(
            "arm_least",
            lambda dn: self.makeup.between(
                self.frame.outlet_take_out(dn, self.arm_dn), self.elbow, self.arm_dn
            ),
        )

    @cached_property
    def points(self) -> FloatArray:
        """Plan points of the stations, shape (stations, 2)."""
        return self.section.origin + np.outer(self.stations - self.section.start, self.section.along)

    @cached_property
    def corners(self) -> FloatArray:
        """Plan points where a dogleg turns (the head itself for a straight arm), shape (stations, 2)."""
        square = self.points if self.under else self.points + self.lateral * self.section.left
        return np.where((self.slide == 0)[:, None], np.array(self.at[:2]), square)

    @cached_property
    def slide(self) -> FloatArray:
        """How far each station is from the head's own, mm, zero where it is the own."""
        away = np.abs(self.stations - self.own)
        return np.where(away <= self.straight_within, 0.0, away)

    @cached_property
    def under(self) -> bool:
        """Whether the head stands under (over) the line, within the alignment allowed."""
        return abs(self.lateral) <= self.makeup.rules.alignment + EXACT

    @cached_property
    def dogleg(self) -> BoolArray:
        """Whether the arm from each station needs a dogleg."""
        return np.asarray((self.slide > 0) & (not self.under))

    @cached_property
    def z(self) -> FloatArray:
        """Elevation of the run's centre line, shape (stations, levels)."""
        return np.asarray(self.frame.z(self.frame.levels[None, :], self.stations[:, None]))

    @cached_property
    def near(self) -> IntArray:
        """Obstructions and ceilings that anything of this head could meet."""
        xy = np.vstack([self.points, self.corners, np.array([self.at[:2]])])
        low, high = xy.min(axis=0), xy.max(axis=0)
        return self.solids.near(low[0], low[1], high[0], high[1], self.arm_radius + self.solids.widest)

    def bands_of(self, a: FloatArray, b: FloatArray, *, last: bool = False) -> Bands:
        """Bands for horizontal pipes a-b in plan; ``last``: a last vertical, ceilings do not count."""
        near = self.solids.without_ceilings(self.near) if last else self.near
        return self.solids.bands(np.hstack([a, b]), self.arm_radius, near)

    @cached_property
    def first_bands(self) -> Bands:
        """What stops the arm from each station square out to the corner."""
        return self.bands_of(self.points, self.corners)

    @cached_property
    def second_bands(self) -> Bands:
        """What stops the dogleg from each corner to the head."""
        return self.bands_of(self.corners, np.broadcast_to(np.array(self.at[:2]), self.corners.shape))

    @cached_property
    def riser_bands(self) -> Bands:
        """What stops a nipple over (under) each station."""
        return self.bands_of(self.points, self.points)

    def last_clear(self, z: FloatArray) -> BoolArray:
        """Whether the vertical between the head's inlet and ``z`` is clear; any shape."""
        flat = np.asarray(z).reshape(1, -1)
        return self.last_bands.clear_span(np.full_like(flat, self.at[2]), flat).reshape(np.shape(z))

    @cached_property
    def last_bands(self) -> Bands:
        """What stops the last vertical to the head; ceilings do not."""
        here = np.array([self.at[:2]])
        return self.bands_of(here, here, last=True)

    @property
    def upward(self) -> bool:
        """Whether the last vertical goes up to the head."""
        return self.head.kind == "upright"

    def vertical(self, z: FloatArray) -> FloatArray:
        """Length of the last vertical from elevation ``z``; negative on the wrong side, mm."""
        return (self.at[2] - z) if self.upward else (z - self.at[2])

    def horizontal(self) -> FloatArray:
        """Cumulative horizontal length of the arm from each station, mm."""
        return self._horizontal

    @cached_property
    def _horizontal(self) -> FloatArray:
        straight = np.hypot(*(np.array(self.at[:2]) - self.points).T)
        return np.where(self.dogleg, abs(self.lateral) + self.slide, straight)

    def hangers(self, horizontal: FloatArray) -> IntArray:
        """1 where an arm is longer than may stay unsupported."""
        rules = self.makeup.rules
        limit = rules.arm_unsupported
        if limit is None:
            limit = self.makeup.tables.arm_unsupported(
                self.frame.over_100_psi and self._pendent_below_ceiling
            )
        return (horizontal > limit + EXACT).astype(np.int64)
