"""Obstructions as upright prisms, and what they take away from pipes.

A pipe is a capsule (an axis with a radius), an obstruction a plan polygon (any
shape) between two elevations. A horizontal pipe at plan distance ``dh`` from
the polygon is too near exactly while its elevation lies inside
``(low - rho, high + rho)`` with ``rho = sqrt(reach**2 - dh**2)`` and
``reach = radius + clearance``. So one plan distance answers for every level.
"""

from __future__ import annotations

import copy
from typing import TYPE_CHECKING

import numpy as np
import shapely
from numpy.typing import NDArray

from router.geometry.segments import segment_distances

if TYPE_CHECKING:
    from router.geometry.plan import FloatArray

TOUCH = 0.01
"""mm. Touching exactly is allowed; all limits of the generator give way by this much."""

IntArray = NDArray[np.int64]
BoolArray = NDArray[np.bool_]


class Bands:
    """Elevations that horizontal pipes must avoid: some open intervals for each pipe.

    Most pipes meet nothing and hardly one meets many things, so the intervals
    lie in layers: one of each pipe that has one, the second of those that have
    two, and so on.

    Parameters
    ----------
    pipes
        How many pipes there are.
    pipe, low, high
        The intervals: of which pipe, ascending, and its ends in mm; shapes (intervals,).
    """

    def __init__(self, pipes: int, pipe: IntArray, low: FloatArray, high: FloatArray) -> None:
        self.pipes, self.pipe, self.low, self.high = pipes, pipe, low, high
        counts = np.bincount(pipe, minlength=pipes)
        place = np.arange(len(pipe)) - np.repeat(np.cumsum(counts) - counts, counts)
        self.layers: list[tuple[IntArray, FloatArray, FloatArray]] = []
        for layer in range(int(counts.max(initial=0))):
            here = place == layer
            self.layers.append((pipe[here], low[here], high[here]))

    def spread(self, of: IntArray) -> Bands:
        """Bands for other pipes, each of which stands where pipe ``of`` of these does; shape (others,)."""
        counts = np.bincount(self.pipe, minlength=self.pipes)
        each = counts[of]
        begins = np.cumsum(counts) - counts
        first = np.repeat(begins[of] - (np.cumsum(each) - each), each)
        at = first + np.arange(int(each.sum()))
        return Bands(len(of), np.repeat(np.arange(len(of)), each), self.low[at], self.high[at])

    def clear(self, z: FloatArray) -> BoolArray:
        """Whether each pipe is clear at elevation ``z``; shape of ``z`` is (pipes, ...)."""
        return self.clear_span(z, z)

    def clear_span(self, z0: FloatArray, z1: FloatArray) -> BoolArray:
        """Whether upright pipes between ``z0`` and ``z1`` (any order) are clear; shapes (pipes, ...)."""
        ok = np.ones(np.broadcast_shapes(np.shape(z0), np.shape(z1)), dtype=bool)
        if not self.layers:
            return ok
        z0, z1 = np.broadcast_to(z0, ok.shape), np.broadcast_to(z1, ok.shape)
        for pipe, low, high in self.layers:
            shape = (-1,) + (1,) * (ok.ndim - 1)
            one, other = z0[pipe], z1[pipe]
            over = np.maximum(one, other) > low.reshape(shape) + TOUCH
            ok[pipe] &= ~(over & (np.minimum(one, other) < high.reshape(shape) - TOUCH))
        return ok

    def next_clear(self, z: FloatArray, *, upward: bool) -> FloatArray:
        """Nearest clear elevation at or above (below) ``z``; shape (pipes, levels)."""
        out = np.array(z, dtype=float)
        for _ in range(2 * len(self.pipe) + 1):
            moved = False
            for pipe, low, high in self.layers:
                low, high = low[:, None], high[:, None]
                zz = out[pipe]
                hit = (zz > low + TOUCH) & (zz < high - TOUCH)
                if hit.any():
                    moved = True
                    out[pipe] = np.where(hit, high if upward else low, zz)
            if not moved:
                break
        return out


class Solids:
    """A set of prisms with a spatial index.

    Parameters
    ----------
    polygons
        Plan rings in mm, one per prism, closed or not.
    low, high
        Elevations in mm.
    clearance
        Least surface distance to pipes, mm.
    ids
        Name of each, for messages.
    ceiling
        Whether the prism is the space below a ceiling plane: its edges are
        taken square, and last verticals to heads pass through it.
    """

    def __init__(
        self,
        polygons: list[list[tuple[float, float]]],
        low: list[float],
        high: list[float],
        clearance: list[float],
        ids: list[str] | None = None,
        ceiling: list[bool] | None = None,
    ) -> None:
        self.ids = ids if ids is not None else [str(i) for i in range(len(polygons))]
        self.ceiling = np.asarray(ceiling if ceiling is not None else [False] * len(polygons), bool)
        self.polygons = np.array([shapely.Polygon(p) for p in polygons], dtype=object)
        self.rings = [np.asarray(p, float) for p in polygons]
        self.low = np.asarray(low, float)
        self.high = np.asarray(high, float)
        self.clearance = np.asarray(clearance, float)
        self.bounds = shapely.bounds(self.polygons).reshape(-1, 4)
        self.onward = [np.roll(ring, -1, axis=0) for ring in self.rings]
        self.tree = shapely.STRtree(self.polygons)
        self.some: IntArray | None = None
        self.widest = float(self.clearance.max()) if len(self.clearance) else 0.0

    def near(self, x0: float, y0: float, x1: float, y1: float, margin: float) -> IntArray:
        """Give the indices of prisms whose plan box meets the box grown by ``margin``, ascending."""
        if not len(self.rings):
            return np.zeros(0, dtype=np.int64)
        if self.some is not None:
            bounds = self.bounds[self.some]
            meets = (bounds[:, 0] <= x1 + margin) & (bounds[:, 2] >= x0 - margin)
            meets &= (bounds[:, 1] <= y1 + margin) & (bounds[:, 3] >= y0 - margin)
            return np.asarray(self.some[meets])
        box = shapely.box(x0 - margin, y0 - margin, x1 + margin, y1 + margin)
        found: IntArray = np.sort(self.tree.query(box)).astype(np.int64)
        return found

    def near_each(self, low: FloatArray, high: FloatArray, margin: float) -> tuple[IntArray, IntArray]:
        """Give (box, prism) wherever a prism's plan box meets a box grown by ``margin``, ascending.

        ``low``, ``high``: corners of the boxes, shape (boxes, 2), mm.
        """
        if self.some is None:
            boxes = shapely.box(*(low - margin).T, *(high + margin).T)
            which, prism = self.tree.query(boxes)
            order = np.lexsort((prism, which))
            return which[order].astype(np.int64), prism[order].astype(np.int64)
        bounds = self.bounds[self.some]
        meets = (bounds[:, 0] <= high[:, None, 0] + margin) & (bounds[:, 2] >= low[:, None, 0] - margin)
        meets &= (bounds[:, 1] <= high[:, None, 1] + margin) & (bounds[:, 3] >= low[:, None, 1] - margin)
        which, prism = np.nonzero(meets)
        return which, self.some[prism]

    def around(self, low: FloatArray, high: FloatArray) -> Solids:
        """Give the same prisms, but ``near`` finds only those that meet the box from ``low`` to ``high``.

        For a run: a building's other storeys lie over and under it in plan. ``low``, ``high``: (3,), mm.
        """
        meets = (self.bounds[:, 0] <= high[0]) & (self.bounds[:, 2] >= low[0])
        meets &= (self.bounds[:, 1] <= high[1]) & (self.bounds[:, 3] >= low[1])
        meets &= (self.low <= high[2]) & (self.high >= low[2])
        view = copy.copy(self)
        view.some = np.flatnonzero(meets)
        return view

    def without_ceilings(self, index: IntArray) -> IntArray:
        """Those of ``index`` that stop a last vertical to a head too."""
        left: IntArray = index[~self.ceiling[index]]
        return left

    def bands(self, ends: FloatArray, radius: float | FloatArray, index: IntArray) -> Bands:
        """Elevation bands that pipes with the plan axes ``ends`` must avoid.

        ``ends``: (n, 4) as x0, y0, x1, y1 (a point twice for an upright pipe);
        ``radius``: mm, one or (n,); ``index``: the prisms that count.
        """
        pipe = np.repeat(np.arange(len(ends)), len(index))
        return self.bands_of_pairs(ends, radius, pipe, np.tile(index, len(ends)))

    def bands_of_pairs(
        self, ends: FloatArray, radius: float | FloatArray, pipe: IntArray, solid: IntArray
    ) -> Bands:
        """Give the same where each pipe has its own prisms: pairs (pipe ascending, prism), shape (pairs,)."""
        if not len(pipe):
            return Bands(len(ends), pipe, np.zeros(0), np.zeros(0))
        own = np.broadcast_to(np.asarray(radius, float), (len(ends),))
        reach = own[pipe] + self.clearance[solid]
        # what the boxes keep apart needs no exact distance
        low, high = np.minimum(ends[:, :2], ends[:, 2:])[pipe], np.maximum(ends[:, :2], ends[:, 2:])[pipe]
        box = self.bounds[solid]
        meets = (low[:, 0] - reach < box[:, 2]) & (high[:, 0] + reach > box[:, 0])
        meets &= (low[:, 1] - reach < box[:, 3]) & (high[:, 1] + reach > box[:, 1])
        pipe, solid, reach = pipe[meets], solid[meets], reach[meets]
        once, which = np.unique(pipe, return_inverse=True)
        lines = np.asarray(shapely.linestrings(ends[once].reshape(-1, 2, 2)))
        distance = shapely.distance(lines[which], self.polygons[solid])
        hit = distance < reach - TOUCH
        pipe, solid, reach, distance = pipe[hit], solid[hit], reach[hit], distance[hit]
        rho = np.where(self.ceiling[solid], reach, np.sqrt(np.maximum(reach**2 - distance**2, 0.0)))
        return Bands(len(ends), pipe, self.low[solid] - rho, self.high[solid] + rho)

    def segment_distance(self, start: FloatArray, end: FloatArray, i: int) -> float:
        """Least distance in mm between a segment in space and prism ``i`` (0 if they meet).

        The segment is cut at the prism's two elevations. Between them the plan
        distance counts; outside, the distance to the top or bottom face, which
        is reached on its rim or straight below (above) an end.
        """
        return float(self.segment_distances(start[None, :], end[None, :], np.array([i]))[0])

    def segment_distances(self, starts: FloatArray, ends: FloatArray, index: IntArray) -> FloatArray:
        """Give the same for pairs of a segment and a prism; shapes (n, 3), (n, 3), (n,)."""
        low, high, polygons = self.low[index], self.high[index], self.polygons[index]
        rise = ends[:, 2] - starts[:, 2]
        flat = np.abs(rise) <= 1e-12
        safe = np.where(flat, 1.0, rise)
        cuts = [np.clip((z - starts[:, 2]) / safe, 0.0, 1.0) for z in (low, high)]
        enters = np.where(flat, 0.0, np.minimum(*cuts))
        leaves = np.where(flat, 0.0, np.maximum(*cuts))
        best = np.full(len(index), np.inf)
        for u, v in ((np.zeros(len(index)), enters), (enters, leaves), (leaves, np.ones(len(index)))):
            some = np.flatnonzero((v - u >= 1e-12) | ((u == 0.0) & (v == 1.0)))
            a = starts[some] + u[some, None] * (ends[some] - starts[some])
            b = starts[some] + v[some, None] * (ends[some] - starts[some])
            middle = (a[:, 2] + b[:, 2]) / 2
            inside = (low[some] <= middle) & (middle <= high[some])
            found = np.full(len(some), np.inf)
            lines = np.stack([a[inside, :2], b[inside, :2]], axis=1)
            found[inside] = shapely.distance(shapely.linestrings(lines), polygons[some[inside]])
            out = np.flatnonzero(~inside)
            face = np.where(middle < low[some], low[some], high[some])[out]
            found[out] = self._to_faces(a[out], b[out], index[some[out]], face)
            best[some] = np.minimum(best[some], found)
        return best

    def _to_faces(self, a: FloatArray, b: FloatArray, index: IntArray, face: FloatArray) -> FloatArray:
        """Least distance of segments that lie over or under prisms to their faces at elevation ``face``."""
        best = np.full(len(index), np.inf)
        if not len(index):
            return best
        sizes = np.array([len(self.rings[i]) for i in index.tolist()])
        row = np.repeat(np.arange(len(index)), sizes)
        rim = np.concatenate([self.rings[i] for i in index.tolist()])
        onward = np.concatenate([self.onward[i] for i in index.tolist()])
        r0 = np.column_stack([rim, face[row]])
        r1 = np.column_stack([onward, face[row]])
        begins = np.cumsum(sizes) - sizes
        best = np.minimum.reduceat(segment_distances(a[row], b[row], r0, r1), begins)
        for p in (a, b):
            over = shapely.intersects_xy(self.polygons[index], p[:, 0], p[:, 1])
            best = np.where(over, np.minimum(best, np.abs(p[:, 2] - face)), best)
        return np.asarray(best)

    def segments_clear(self, starts: FloatArray, ends: FloatArray, radius: FloatArray) -> BoolArray:
        """Whether capsules in any direction keep their clearance; shapes (n, 3), (n, 3), (n,)."""
        ok = np.ones(len(starts), dtype=bool)
        if not len(self.rings) or not len(starts):
            return ok
        pipe, solid = self._met(np.minimum(starts, ends), np.maximum(starts, ends), radius)
        reach = radius[pipe] + self.clearance[solid]
        # the distance in plan is the least that it can be
        once, which = np.unique(pipe, return_inverse=True)
        lines = np.asarray(shapely.linestrings(np.stack([starts[once, :2], ends[once, :2]], axis=1)))
        near = shapely.distance(lines[which], self.polygons[solid]) < reach - TOUCH
        pipe, solid, reach = pipe[near], solid[near], reach[near]
        hit = self.segment_distances(starts[pipe], ends[pipe], solid) < reach - TOUCH
        ok[pipe[hit]] = False
        return ok

    def _met(self, low: FloatArray, high: FloatArray, radius: FloatArray) -> tuple[IntArray, IntArray]:
        """Pairs (box, prism), ascending, wherever boxes (n, 3) grown by radius and clearance meet prisms."""
        least, most = low.min(axis=0), high.max(axis=0)
        widest = self.widest + float(radius.max())
        prism = self.near(float(least[0]), float(least[1]), float(most[0]), float(most[1]), widest)
        prism = prism[self.low[prism] <= most[2] + widest]
        # sorted along the way that they spread most, each prism meets boxes of one stretch of the row
        axis = int(most[1] - least[1] > most[0] - least[0])
        order = np.argsort(low[:, axis], kind="stable")
        row = low[order, axis]
        margin = float(radius.max()) + self.clearance[prism]
        longest = float((high[:, axis] - low[:, axis]).max())
        first = np.searchsorted(row, self.bounds[prism, axis] - margin - longest)
        each = np.maximum(np.searchsorted(row, self.bounds[prism, axis + 2] + margin) - first, 0)
        at = np.repeat(first - (np.cumsum(each) - each), each) + np.arange(int(each.sum()))
        pipe, solid = order[at], np.repeat(prism, each)
        limit = radius[pipe] + self.clearance[solid]
        box = self.bounds[solid]
        meets = (low[pipe, 0] - limit <= box[:, 2]) & (high[pipe, 0] + limit >= box[:, 0])
        meets &= (low[pipe, 1] - limit <= box[:, 3]) & (high[pipe, 1] + limit >= box[:, 1])
        meets &= low[pipe, 2] < self.high[solid] + limit - TOUCH
        meets &= high[pipe, 2] > self.low[solid] - limit + TOUCH
        pipe, solid = pipe[meets], solid[meets]
        sort = np.lexsort((solid, pipe))
        return pipe[sort], solid[sort]


def line_spans(ring: FloatArray, rho: float) -> list[tuple[float, float]]:
    """Where the x axis runs within ``rho`` of a polygon: open spans of x, merged.

    ``ring``: (n, 2) vertices in a frame whose x axis is the pipe's axis, mm.
    Each edge's neighbourhood (a stadium) cuts the axis in one span, whose ends
    are ends of its straight sides' or its round ends' spans.
    """
    nxt = np.roll(ring, -1, axis=0)
    spans: list[tuple[float, float]] = []
    for a, b in zip(ring, nxt, strict=True):
        xs: list[float] = []
        for x, y in (a, b):
            if abs(y) < rho:
                half = float(np.sqrt(rho * rho - y * y))
                xs += [x - half, x + half]
        length = float(np.hypot(*(b - a)))
        if length > 0:
            normal = np.array([-(b - a)[1], (b - a)[0]]) / length * rho
            corners = [a + normal, b + normal, b - normal, a - normal]
            for p, q in zip(corners, [*corners[1:], corners[0]], strict=True):
                if (p[1] < 0) != (q[1] < 0):
                    xs.append(float(p[0] + (q[0] - p[0]) * (0 - p[1]) / (q[1] - p[1])))
        if xs:
            spans.append((min(xs), max(xs)))
    crossings = sorted(
        float(a[0] + (b[0] - a[0]) * (0 - a[1]) / (b[1] - a[1]))
        for a, b in zip(ring, nxt, strict=True)
        if (a[1] < 0) != (b[1] < 0)
    )
    spans += list(zip(crossings[::2], crossings[1::2], strict=False))
    spans.sort()
    merged: list[tuple[float, float]] = []
    for low, high in spans:
        if merged and low <= merged[-1][1]:
            merged[-1] = (merged[-1][0], max(merged[-1][1], high))
        else:
            merged.append((low, high))
    return merged
