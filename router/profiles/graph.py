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

TERMS = ("fitting", "level_change", "drain", "hanger", "pipe", "reducer", "hose")
"""Amounts that an arc carries; ``pipe`` in mm, the others are counts."""
POINT = 1000
"""Costs are whole numbers: thousandths of a point."""
NEVER = 1 << 60
"""Cost of what cannot be."""

ArcKind = Literal["takeoff", "offset", "bend", "start"]
Amounts = tuple[float, float, float, float, float, float, float]
IntArray = NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class Arc:
    """One thing that a run can do between two of its positions.

    ``a``/``b``: micrometres; ``la``/``lb``: level indices. ``items``: what it
    serves (indices of the run's items). ``ends``: the run stops here. ``feeds``:
    (child run, its level) pairs. ``style`` is empty but for heads' takeoffs.
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
    """

    run: int
    positions: IntArray
    level_ok: NDArray[np.bool_]
    arcs: Sequence[Arc]
    items: list[Item]
    traps: bool
    source: NDArray[np.float64]
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

        A descent sets the flag and its drain falls due; a rise clears it.
        """
        columns = self.columns
        if not self.traps:
            shape = (len(columns), 1)
            return np.zeros(shape, dtype=np.int64), np.zeros(shape, dtype=bool)
        before = np.array([[0, 1]])
        falls, rises = (columns.lb < columns.la)[:, None], (columns.lb > columns.la)[:, None]
        to = np.where(falls, 1, np.where(rises, 0, before))
        return to, falls & (before == 0)

    def index_arcs(self) -> None:
        """Fill ``starts`` and ``goes``: position indices of every arc's two ends."""
        columns = self.columns
        self.starts = np.searchsorted(self.positions, columns.a)
        self.goes = np.where(columns.ends, -1, np.searchsorted(self.positions, columns.b))


@dataclass(frozen=True)
class Prices:
    """Weights of the objective in points; ``unserved`` per head, ``pipe`` per metre."""

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

    def pipe_costs(self, positions: IntArray) -> IntArray:
        """Cost of run pipe from the supply to each position (micrometres).

        Rounded from the start, so that steps add up without drifting.
        """
        costs: IntArray = np.rint(positions * (self.pipe / 1000.0)).astype(np.int64)
        return costs

    def whole(self, points: float) -> int:
        """Points as thousandths."""
        return round(points * POINT)
