"""What any profile and any takeoff of a run costs at the least, all the rest of its tree chosen anew.

A tree is gone through from its root; each run is at hand with all that it can
do, its least cost of going on and of coming to it. Lines that were thinned are
built again, one at a time.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property
from itertools import combinations
from typing import TYPE_CHECKING

import numpy as np

from router.bounds.dynamic import DynamicProgramme
from router.building.close import close
from router.building.graphs import BuiltGraph, build_graph
from router.building.refine import Refined
from router.building.tree import Tree, fed_costs, solve_tables, work_out
from router.profiles.columns import Arcs
from router.profiles.graph import NEVER, POINT, TERMS

if TYPE_CHECKING:
    from collections.abc import Collection, Iterator

    from numpy.typing import NDArray

    from router.building.prepare import Prepared
    from router.building.stop import Stop
    from router.profiles.frame import RunFrame
    from router.profiles.graph import IntArray, Prices


BEYOND = 1e17
"""mm. A pipe so long costs more than :data:`NEVER`: what has it cannot be."""


@dataclass
class LineCosts:
    """One run with all that it can do. ``begin``: least cost of all else by its supply level.

    ``floor``: what the run costs at the least beyond the programme (one style), thousandths.
    """

    prepared: Prepared
    frame: RunFrame
    built: BuiltGraph
    programme: DynamicProgramme
    begin: IntArray
    floor: int

    @cached_property
    def through(self) -> IntArray:
        """Least cost of the whole tree with each takeoff, offset ... in it; shape (arcs,)."""
        if not (self.begin < NEVER).any():
            return np.full(len(self.built.graph.columns), NEVER, dtype=np.int64)
        lanes, _ = self.programme.through_lanes(self.begin)
        more = self.programme.base + self.floor
        return np.asarray(np.minimum(lanes.min(axis=1) + more, NEVER))

    def least(
        self,
        without: NDArray[np.bool_] | None = None,
        level_ok: NDArray[np.bool_] | None = None,
    ) -> tuple[float, DynamicProgramme | None]:
        """Least points of the whole tree without some arcs, or kept off some levels; infinite if nothing is.

        Also the programme that says so.
        """
        graph = self.built.graph
        if level_ok is not None:
            graph = replace(graph, level_ok=level_ok)
        allowed = np.ones(len(graph.columns), dtype=bool) if without is None else ~without
        programme = DynamicProgramme(graph, self.programme.prices, self.programme.extra, allowed)
        first = programme.value[0, :, 0, 0]
        total = np.where((self.begin < NEVER) & (first < NEVER), self.begin + first, NEVER)
        best = int(total.min(initial=NEVER))
        if best >= NEVER:
            return np.inf, None
        return (best + programme.base + self.floor) / POINT, programme

    def settled(
        self, tree: Tree, without: NDArray[np.bool_], level_ok: NDArray[np.bool_], stop: Stop
    ) -> float | None:
        """Give the points of the whole tree under the same limits, clashes and styles decided too.

        ``None`` if it was not decided for sure. The tree's graphs must be whole.
        """
        columns = self.built.graph.columns
        by_term = columns.by_term.copy()
        by_term[TERMS.index("pipe"), without] = BEYOND
        graph = replace(self.built.graph, level_ok=level_ok, arcs=Arcs(replace(columns, by_term=by_term)))
        graphs = {**tree.graphs, self.frame.index: replace(self.built, graph=graph)}
        limited = Tree(tree.root, tree.order, graphs)
        prices = self.programme.prices
        solve_tables(self.prepared, limited, prices)
        closed = close(self.prepared, [limited], prices, stop)
        return closed.bound / POINT if closed.status == "optimal" else None

    def best_start(self, programme: DynamicProgramme) -> int:
        """Return the supply level (index) from which a programme costs least."""
        first = programme.value[0, :, 0, 0]
        total = np.where((self.begin < NEVER) & (first < NEVER), self.begin + first, NEVER)
        return int(np.argmin(total))


def tree_of(prepared: Prepared, root: int, prices: Prices, stop: Stop) -> Tree | None:
    """Work out one tree, with what its styles cost at the least; ``None`` if a stop came first."""
    if not prepared.frames[root].stretches:
        return None
    tree = work_out(prepared, root, prices, stop)
    if tree is None or tree.left_out:
        return None
    refined = Refined(prepared, tree, prices, stop)
    refined.steady()
    return refined.tree


def least_styles(line: BuiltGraph, unserved: int = 0) -> int:
    """Return how many styles the heads of a run need at the least, by what each could have alone.

    ``unserved``: so many heads of the tree may go without; which ones is open.
    """
    columns = line.graph.columns
    suits: dict[int, set[int]] = {}
    for items in columns.items.T:
        here = (items >= 0) & (items < len(line.item_heads)) & (columns.style > 0)
        for item, style in {*zip(items[here].tolist(), columns.style[here].tolist(), strict=True)}:
            suits.setdefault(item, set()).add(style)
    if unserved:
        return int(len(suits) > unserved)
    asked = {frozenset(styles) for styles in suits.values()}
    every = sorted(set().union(*asked)) if asked else []
    for count in range(1, len(every) + 1):
        if any(all(styles & set(some) for styles in asked) for some in combinations(every, count)):
            return count
    return 0


def root_down(
    prepared: Prepared,
    tree: Tree,
    prices: Prices,
    wanted: Collection[int] | None = None,
    unserved: int = 0,
) -> Iterator[LineCosts]:
    """Give runs from the root down (default: all), each with what all else costs at the least.

    ``unserved``: so many heads of the tree go without in the route that is explained.
    """
    needed = set(tree.order) if wanted is None else _with_parents(prepared, wanted)
    every = prices.whole(prices.style)
    top = tree.tables[tree.root]
    base = {tree.root: np.where(top < NEVER, 0, NEVER)}
    for run in reversed(tree.order):
        if run not in needed:
            continue
        frame = prepared.frames[run]
        built, programme = tree.graphs[run], tree.programmes[run]
        if not built.whole:
            built = build_graph(prepared, frame)
            programme = DynamicProgramme(built.graph, prices, fed_costs(tree, built.graph))
        graph = built.graph
        mine = base.get(run, np.full(graph.levels, NEVER, dtype=np.int64))
        open_at = (mine < NEVER) & (graph.source >= 0)
        begin = np.where(open_at, mine + programme.moved(), NEVER)
        line = LineCosts(prepared, frame, built, programme, begin, every * least_styles(built, unserved))
        _hand_down(line, tree, base)
        if wanted is None or run in wanted:
            yield line


def _with_parents(prepared: Prepared, runs: Collection[int]) -> set[int]:
    out: set[int] = set()
    for run in runs:
        up: int | None = run
        while up is not None:
            out.add(up)
            up = prepared.frames[up].parent
    return out


def _hand_down(line: LineCosts, tree: Tree, base: dict[int, IntArray]) -> None:
    """Note for each run that this one feeds what all but it costs at the least, by its level."""
    columns = line.built.graph.columns
    if not columns.feeds.size or not (columns.feeds[:, :, 0] >= 0).any():
        return
    through = line.through
    for child, level in columns.feeds.transpose(1, 2, 0):
        for fed in np.unique(child[child >= 0]).tolist():
            below = tree.tables[fed]
            table = base.setdefault(fed, np.full(len(below), NEVER, dtype=np.int64))
            here = (child == fed) & (through < NEVER)
            at = level[here]
            fine = below[at] < NEVER
            np.minimum.at(table, at[fine], (through[here] - below[at])[fine])
