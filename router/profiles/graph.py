"""The layered graph of one run: a profile with its takeoffs is a path through it.

Nodes are (position, level); positions are stations in whole micrometres. Arcs
keep a level, change it, pass a bend, or hold a takeoff. This module knows
neither pipes nor solids: it is what bounds and model work on.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property
from typing import TYPE_CHECKING, Literal

import numpy as np
from numpy.typing import NDArray

if TYPE_CHECKING:
    from collections.abc import Sequence

    from router.profiles.columns import ArcColumns

TERMS = (
    "fitting",
    "level_change",
    "drain",
    "hanger",
    "pipe",
    "reducer",
    "hose",
    "large_drain",
    "wet_drain",
    "price",
    "changed",
)
"""Amounts that an arc carries; ``pipe`` in mm, ``price`` in currency, ``changed`` in points for being
other than in an older route (:mod:`router.building.keep`), the others are counts."""
POINT = 1000
"""Costs are whole numbers: thousandths of a point."""
NEVER = 1 << 60
"""Cost of what cannot be."""

ArcKind = Literal["takeoff", "offset", "bend", "start", "coupling"]
Amounts = tuple[float, ...]
"""In the order of :data:`TERMS`."""
IntArray = NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class Arc:
    """One thing that a run can do between two of its positions.

    ``a``/``b``: micrometres; ``la``/``lb``: level indices. ``items``: what it
    serves (indices of the run's items). ``ends``: the run stops here. ``feeds``:
    (child run, its level) pairs. ``style`` is empty but for heads' takeoffs.
    ``empties``: once a pendent head that it leads to is taken off, water leaves
    the wet run's low section that it is on.
    """

    kind: ArcKind
    a: int
    b: int
    la: int
    lb: int
    amounts: Amounts
    items: tuple[int, ...] = ()
    feeds: tuple[tuple[int, int], ...] = ()
    style: str = ""
    ends: bool = False
    ref: object = None
    empties: bool = False


@dataclass(frozen=True)
class LongLow:
    """A descent of a dry run whose low section holds too much for the small drain if it is long.

    ``arc``: index of the descent. The large drain falls due unless the run ends
    or leaves the low section before ``until`` (micrometres): by a rise, on a
    pitched run (``any_change``) by a further descent too, which has its own.
    """

    arc: int
    until: int
    any_change: bool

    def left_by(self, graph: RunGraph, k: int) -> bool:
        """Tell whether arc ``k`` ends or leaves the section in time."""
        foot, arc = graph.arcs[self.arc].b, graph.arcs[k]
        if arc.ends:
            return arc.b < self.until
        turns = arc.lb > arc.la or (self.any_change and arc.lb != arc.la)
        return turns and foot <= arc.a < self.until


@dataclass(frozen=True)
class Item:
    """Something the run must serve: a head (``weight`` 1) or a child run (its heads below)."""

    key: str
    weight: int


@dataclass
class RunGraph:
    """All that a run can do.

    ``positions``: ascending micrometres; ``level_ok[i, l]``: the run can lie at
    level ``l`` between positions i and i + 1; ``source[l]``: amount of
    ``moved`` in mm if the run starts at that level, negative if it may not.
    ``traps``: whether the profile's past decides on drains: of a level dry run
    descents in a row share one; a low section of a wet run (``wet``) needs one
    where it ends without a pendent head on it. ``pipe_price``: price of run
    pipe from the supply to each position, if there is a price table. Where an
    older route is kept: ``crossed``, points for passing a position (micrometres)
    by anything that does not carry its own, and ``begins``, points by start level.
    """

    run: int
    positions: IntArray
    level_ok: NDArray[np.bool_]
    arcs: Sequence[Arc]
    items: list[Item]
    traps: bool
    source: NDArray[np.float64]
    wet: bool = False
    pipe_price: NDArray[np.float64] | None = None
    crossed: tuple[tuple[int, float], ...] = ()
    begins: NDArray[np.float64] | None = None
    starts: IntArray = field(default_factory=lambda: np.zeros(0, dtype=np.int64))
    goes: IntArray = field(default_factory=lambda: np.zeros(0, dtype=np.int64))

    @property
    def levels(self) -> int:
        """Number of levels."""
        return len(self.source)

    @cached_property
    def columns(self) -> ArcColumns:
        """The arcs' fields as arrays."""
        from router.profiles.columns import ArcColumns  # it imports Arc from here

        return ArcColumns.of(self.arcs)

    @cached_property
    def flag_moves(self) -> tuple[IntArray, NDArray[np.bool_]]:
        """Trapped flag after each arc, and whether a drain falls due with it; shapes (arcs, flags).

        Dry: a descent sets the flag and its drain falls due, a rise clears it.
        Wet: a descent sets it, a pendent head clears it; a drain falls due where
        the run rises or ends while it is set.
        """
        columns = self.columns
        if not self.traps:
            shape = (len(columns), 1)
            return np.zeros(shape, dtype=np.int64), np.zeros(shape, dtype=bool)
        before = np.array([[0, 1]])
        falls, rises = (columns.lb < columns.la)[:, None], (columns.lb > columns.la)[:, None]
        if not self.wet:
            to = np.where(falls, 1, np.where(rises, 0, before))
            return to, falls & (before == 0)
        empties = columns.empties[:, None]
        leaves = (rises | columns.ends[:, None]) & ~empties
        to = np.where(empties | leaves, 0, np.where(falls, 1, before))
        return to, leaves & (before == 1)

    def flag_move(self, arc: int, flag: int) -> tuple[int, bool]:
        """Return the same for one arc (by its index) and one flag."""
        to, due = self.flag_moves
        lane = min(flag, to.shape[1] - 1)
        return int(to[arc, lane]), bool(due[arc, lane])

    def pipe_costs(self, prices: Prices) -> IntArray:
        """Cost of run pipe from the supply to each position, thousandths of a point.

        Rounded from the start, so that steps add up without drifting.
        """
        points = self.positions * (prices.pipe / 1000.0)
        if self.pipe_price is not None:
            points = points + self.pipe_price * (prices.price * POINT)
        for at, cost in self.crossed:
            points = points + (self.positions > at) * (cost * prices.changed * POINT)
        costs: IntArray = np.rint(points).astype(np.int64)
        return costs

    def start_points(self, prices: Prices, level: int) -> float:
        """Cost of starting at a level, points."""
        begins = 0.0 if self.begins is None else float(self.begins[level])
        return prices.moved * max(float(self.source[level]), 0.0) + prices.changed * begins

    def index_arcs(self) -> None:
        """Fill ``starts`` and ``goes``: position indices of every arc's two ends."""
        columns = self.columns
        self.starts = np.searchsorted(self.positions, columns.a)
        self.goes = np.where(columns.ends, -1, np.searchsorted(self.positions, columns.b))


@dataclass(frozen=True)
class Prices:
    """Weights of the objective in points; ``unserved`` per head, ``pipe`` per metre.

    ``price`` is points per unit of currency; the prices of drains are in it.
    """

    unserved: float
    fitting: float
    level_change: float
    drain: float
    hanger: float
    pipe: float
    reducer: float
    hose: float
    moved: float
    style: float
    large_drain: float = 0.0
    wet_drain: float = 0.0
    price: float = 0.0
    drain_price: float = 0.0
    large_drain_price: float = 0.0
    wet_drain_price: float = 0.0
    changed: float = 1.0

    def due(self, wet: bool) -> int:
        """Cost of a drain that a profile's past makes fall due, thousandths of a point."""
        own = self.wet_drain if wet else self.drain
        return self.whole(own + self.price * (self.wet_drain_price if wet else self.drain_price))

    def due_large(self) -> int:
        """Cost of the large drain on top of the small one, thousandths of a point."""
        return self.whole(self.large_drain + self.price * self.large_drain_price)

    def vector(self) -> NDArray[np.float64]:
        """Weights of :data:`TERMS`, pipe per mm."""
        return np.array(
            [
                self.fitting,
                self.level_change,
                self.drain,
                self.hanger,
                self.pipe / 1000.0,
                self.reducer,
                self.hose,
                self.large_drain,
                self.wet_drain,
                self.price,
                self.changed,
            ]
        )

    def cost(self, amounts: Amounts) -> int:
        """Cost of an arc, thousandths of a point."""
        return round(float(np.dot(self.vector(), amounts)) * POINT)

    def costs(self, amounts: NDArray[np.float64]) -> IntArray:
        """Cost of many arcs, thousandths of a point; ``amounts``: (arcs, terms).

        Term by term, so that equal amounts cost the same wherever they stand.
        """
        total = np.zeros(len(amounts))
        for column, weight in zip(amounts.T, self.vector(), strict=True):
            if weight:
                total += column * (weight * POINT)
        return np.rint(total).astype(np.int64)

    def whole(self, points: float) -> int:
        """Points as thousandths."""
        return round(points * POINT)
