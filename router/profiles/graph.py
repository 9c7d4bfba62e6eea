"""The layered graph of one run: a profile with its takeoffs is a path through it.

Nodes are (position, level); positions are stations in whole micrometres. Arcs
keep a level, change it, pass a bend, or hold a takeoff. This module knows
neither pipes nor solids: it is what bounds and model work on.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

import numpy as np
from numpy.typing import NDArray

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
    arcs: list[Arc]
    items: list[Item]
    traps: bool
    source: NDArray[np.float64]
    starts: list[int] = field(default_factory=list)
    goes: list[int] = field(default_factory=list)

    @property
    def levels(self) -> int:
        """Number of levels."""
        return len(self.source)

    def index_arcs(self) -> None:
        """Fill ``starts`` and ``goes``: position indices of every arc's two ends."""
        where = {int(p): i for i, p in enumerate(self.positions)}
        self.starts = [where[arc.a] for arc in self.arcs]
        self.goes = [-1 if arc.ends else where[arc.b] for arc in self.arcs]


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

    def pipe_costs(self, positions: IntArray) -> IntArray:
        """Cost of run pipe from the supply to each position (micrometres).

        Rounded from the start, so that steps add up without drifting.
        """
        costs: IntArray = np.rint(positions * (self.pipe / 1000.0)).astype(np.int64)
        return costs

    def whole(self, points: float) -> int:
        """Points as thousandths."""
        return round(points * POINT)
