"""What an older route had of a run's heads, to be tried beside what the search would try anyway."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from router.geometry.plan import FloatArray
    from router.geometry.solids import BoolArray, IntArray
    from router.takeoffs.candidate import Xyz
    from router.takeoffs.sites import Sites

SAME = 0.001
"""mm. A station or level this near to one that is tried anyway is that one."""
READ = 0.002
"""mm. Places of a route are rounded to a micrometre."""


@dataclass(frozen=True)
class Before:
    """By head (index): ``stations`` of outlets, ``spots`` of inlets that may shift, ``arms`` on nipples.

    Of an arm: station, level and its elevation, mm.
    """

    stations: dict[int, list[float]] = field(default_factory=dict)
    spots: dict[int, Xyz] = field(default_factory=dict)
    arms: dict[int, tuple[float, float, float]] = field(default_factory=dict)

    def more_stations(
        self, heads: list[int], place: IntArray, station: FloatArray
    ) -> tuple[IntArray, FloatArray]:
        """Add the stations of each place's head where they are not tried anyway; ordered as given.

        Parameters
        ----------
        heads
            Head (index) of each place.
        place, station
            What is tried, ascending.
        """
        more: list[tuple[int, float]] = []
        for k, head in enumerate(heads):
            for at in self.stations.get(head, []):
                here = station[place == k]
                if not len(here) or np.abs(here - at).min() > SAME:
                    more.append((k, at))
        if not more:
            return place, station
        place = np.concatenate([place, np.array([k for k, _ in more], dtype=np.int64)])
        station = np.concatenate([station, np.array([at for _, at in more])])
        order = np.lexsort((station, place))
        return place[order], station[order]

    def arm_levels(self, sites: Sites) -> FloatArray | None:
        """Elevations of arms on nipples, NaN where there was none; shape (rows, levels)."""
        if not self.arms:
            return None
        out = np.full(sites.z.shape, np.nan)
        for row, head in enumerate(sites.indices[sites.of].tolist()):
            found = self.arms.get(head)
            if found is None or abs(sites.stations[row] - found[0]) > READ:
                continue
            out[row, np.abs(sites.frame.levels - found[1]) <= READ] = found[2]
        return out if np.isfinite(out).any() else None


def not_met(wanted: FloatArray, met: list[tuple[FloatArray, BoolArray]]) -> BoolArray:
    """Whether a wanted elevation is there and not one of those that are tried anyway.

    ``met``: elevations and where they are possible, shapes as ``wanted``.
    """
    out = np.isfinite(wanted)
    for z, ok in met:
        out &= ~(ok & (np.abs(z - wanted) <= READ))
    return out
