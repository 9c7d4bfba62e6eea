"""What stands over a pipe: structure to hang it from, or something in the rod's way."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import shapely

from router.trade.hangers import LONGEST_ROD_MM, is_structure

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from router.scenario.model import Obstruction

    Floats = NDArray[np.float64]

Held = tuple[str, float] | None
"""What a hanger hangs from: the obstruction's id and the rod from the centre line up to it, mm."""
TOUCH_MM = 0.01
INSET_MM = 1.0
"""Kept from the edge of a structure, so that rounding does not take the hanger off it."""


class Overhead:
    """All obstructions by plan, to be asked about points and lines at once."""

    def __init__(self, obstructions: list[Obstruction]) -> None:
        solids = [item for item in obstructions if len(item.polygon) >= 3]
        self.ids = [item.id for item in solids]
        self.low = np.array([min(item.elevations) for item in solids], dtype=float)
        self.holds = np.array([is_structure(item.kind) for item in solids], dtype=bool)
        self.shapes = np.array([shapely.make_valid(shapely.Polygon(item.polygon)) for item in solids], object)
        shapely.prepare(self.shapes)
        self.tree = shapely.STRtree(self.shapes)

    def above(self, points: Floats, radius: Floats) -> list[Held]:
        """Return what each point of pipe can hang from.

        Parameters
        ----------
        points : ndarray, shape (n, 3)
            On the centre line, mm.
        radius : ndarray, shape (n,)
            Half the outside diameter, mm.

        Returns
        -------
        list of (id, rod) or None
            The lowest thing over the pipe where it is structure of the same storey,
            with the distance from centre line to underside in mm; ``None`` where
            there is nothing, or where a duct or the like is in the rod's way.
        """
        found: list[Held] = [None] * len(points)
        if not self.ids or not len(points):
            return found
        at, solid = self.tree.query(shapely.points(points[:, :2]), predicate="intersects")
        low = self.low[solid]
        keep = (low >= points[at, 2] + radius[at] - TOUCH_MM) & (low <= points[at, 2] + LONGEST_ROD_MM)
        at, solid = at[keep], solid[keep]
        # lowest first; of two that are level the structure, then the earlier in the scenario
        order = np.lexsort((solid, ~self.holds[solid], self.low[solid], at))
        at, solid = at[order], solid[order]
        for row in np.flatnonzero(np.r_[True, at[1:] != at[:-1]]) if len(at) else []:
            if self.holds[solid[row]]:
                rod = float(self.low[solid[row]] - points[at[row], 2])
                found[int(at[row])] = (self.ids[solid[row]], rod)
        return found

    def crossings(self, axes: Floats) -> list[list[tuple[float, float]]]:
        """Return, for each axis (n, 2, 3), the parts of it under structure, as pairs of t in [0, 1]."""
        spans: list[list[tuple[float, float]]] = [[] for _ in axes]
        if not self.ids or not len(axes):
            return spans
        lines = np.asarray(shapely.linestrings(axes[:, :, :2]), dtype=object)
        at, solid = self.tree.query(lines, predicate="intersects")
        top = np.minimum(axes[at, 0, 2], axes[at, 1, 2])
        level = (axes[:, 0, :2] != axes[:, 1, :2]).any(axis=1)
        keep = level[at] & self.holds[solid] & (self.low[solid] >= top - TOUCH_MM)
        keep &= self.low[solid] <= top + LONGEST_ROD_MM
        at, solid = at[keep], solid[keep]
        cuts = shapely.intersection(lines[at], self.shapes[solid])
        parts, of = shapely.get_parts(cuts, return_index=True)
        line = shapely.get_type_id(parts) == 1
        parts, rows = parts[line], at[of[line]]
        points, of = shapely.get_coordinates(parts, return_index=True)
        if not len(points):
            return spans
        start = axes[rows, 0, :2]
        along = axes[rows, 1, :2] - start
        square = along[:, 0] * along[:, 0] + along[:, 1] * along[:, 1]
        away = points - start[of]
        t = (away[:, 0] * along[of, 0] + away[:, 1] * along[of, 1]) / square[of]
        first = np.flatnonzero(np.r_[True, of[1:] != of[:-1]])
        inset = INSET_MM / np.sqrt(square)
        low, high = np.minimum.reduceat(t, first) + inset, np.maximum.reduceat(t, first) - inset
        for row, a, b in zip(rows.tolist(), low.tolist(), high.tolist(), strict=True):
            if a <= b:
                spans[row].append((a, b))
        return [sorted(each) for each in spans]
