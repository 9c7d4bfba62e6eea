"""Which boxes meet, found storey by storey: floors one above the other are not compared with each other."""

from __future__ import annotations

import numpy as np
import shapely
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

_STOREY_MM = 4000.0
_MOST = 200
"""Storeys; higher ones are taken where there would be more."""


class Storeys:
    """Boxes by height, and on each storey by plan.

    A building's floors lie over each other: by plan alone the pairs to be looked
    at would grow with the square of their number.

    Parameters
    ----------
    plan : ndarray, shape (n, 4)
        Least x and y, greatest x and y, mm; nan for a box that is nowhere.
    low, high : ndarray, shape (n,)
        Heights, mm.
    """

    def __init__(self, plan: Floats, low: Floats, high: Floats) -> None:
        self.plan = plan
        there = np.flatnonzero(np.isfinite(plan).all(axis=1))
        self.floor = float(low[there].min()) if len(there) else 0.0
        tall = float(high[there].max()) - self.floor if len(there) else 0.0
        self.height = max(_STOREY_MM, tall / _MOST)
        self.last = int(tall // self.height)
        rows, storeys = self._by_storey(low[there], high[there])
        self.rows, self.storeys = there[rows], storeys

    def meet(self, plan: Floats, low: Floats, high: Floats) -> tuple[Ints, Ints]:
        """Pairs (of those asked, of these) whose boxes meet in plan and may meet in height, in that order."""
        rows, storeys = self._by_storey(low, high)
        keys = [np.zeros(0, dtype=np.int64)]
        for storey in np.intersect1d(storeys, self.storeys).tolist():
            asked, own = rows[storeys == storey], self.rows[self.storeys == storey]
            tree = shapely.STRtree(_boxes(self.plan[own]))
            which, found = tree.query(_boxes(plan[asked]))
            keys.append(asked[which] * len(self.plan) + own[found])
        # what goes through several storeys is found on each
        pairs = np.unique(np.concatenate(keys))
        return pairs // max(len(self.plan), 1), pairs % max(len(self.plan), 1)

    def _by_storey(self, low: Floats, high: Floats) -> tuple[Ints, Ints]:
        """Return each row as often as it has storeys, and which; the outermost go on without end."""
        first, last = (
            np.clip((z - self.floor) // self.height, 0, self.last).astype(np.int64) for z in (low, high)
        )
        number = np.maximum(last - first, 0) + 1
        rows = np.repeat(np.arange(len(low)), number)
        before = np.cumsum(number) - number
        return rows, first[rows] + np.arange(len(rows)) - before[rows]


def _boxes(plan: Floats) -> NDArray[np.object_]:
    return np.asarray(shapely.box(plan[:, 0], plan[:, 1], plan[:, 2], plan[:, 3]), dtype=object)
