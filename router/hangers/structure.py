"""What stands over a pipe: structure to hang it from, or something in the rod's way."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import shapely

from router.trade.hangers import is_structure

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from router.scenario.model import Obstruction

    Floats = NDArray[np.float64]

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

    def above(self, points: Floats, radius: Floats) -> list[tuple[str, float] | None]:
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
            The lowest thing over the pipe where it is structure, with the
            distance from centre line to underside in mm; ``None`` where there is
            nothing, or where a duct or the like is in the rod's way.
        """
        found: list[tuple[str, float] | None] = [None] * len(points)
        if not self.ids or not len(points):
            return found
        at, solid = self.tree.query(shapely.points(points[:, :2]), predicate="intersects")
        keep = self.low[solid] >= points[at, 2] + radius[at] - TOUCH_MM
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
        keep = self.holds[solid] & (self.low[solid] >= top - TOUCH_MM)
        at, solid = at[keep], solid[keep]
        cuts = np.asarray(shapely.intersection(lines[at], self.shapes[solid]), dtype=object)
        for row, cut in zip(at, cuts, strict=True):
            start, along = axes[row, 0, :2], axes[row, 1, :2] - axes[row, 0, :2]
            square = float(along @ along)
            for part in shapely.get_parts(cut):
                if square <= 0.0 or shapely.get_type_id(part) != 1:
                    continue
                t = (shapely.get_coordinates(part) - start) @ along / square
                inset = INSET_MM / square**0.5
                low, high = float(t.min()) + inset, float(t.max()) - inset
                if low <= high:
                    spans[int(row)].append((low, high))
        return [sorted(each) for each in spans]
