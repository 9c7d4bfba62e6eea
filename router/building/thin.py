"""A run whose tables are known, kept by little more than what can still be chosen.

A line of 12 heads has thirty thousand arcs, a tree may have a hundred lines.
Once the table by level of a line that feeds no other is known, its choice from
any level is a best path, or one that uses fewer styles and is dearer by no more
than these: all other arcs, and the positions that only they need, can go. Where
clashes ask for more, the run is built again.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from router.bounds.dynamic import DynamicProgramme
from router.building.term_bounds import run_least
from router.profiles.columns import TAKEOFF, Arcs
from router.profiles.graph import NEVER

if TYPE_CHECKING:
    from router.building.graphs import BuiltGraph
    from router.profiles.graph import IntArray, Prices, RunGraph

WHOLE_ARCS = 60_000
"""So many arcs of a tree are kept whole; they take some 20 MB."""
SLOTS = 3
"""Without the compiled passes only runs with no more heads open at once are thinned."""


@dataclass(frozen=True)
class Thinned:
    """What is noted of a run before it is thinned.

    ``origin``: index of each kept arc in the whole graph. ``counted``: takeoff
    arcs, levels and stations. ``least``: by level and term of
    ``term_bounds.PRICED``, as ``term_bounds.run_least`` gives it.
    """

    origin: IntArray
    counted: tuple[int, int, int]
    least: IntArray


def counted(graph: RunGraph) -> tuple[int, int, int]:
    """Return how many takeoff arcs, levels and stations a graph has."""
    return int((graph.columns.kind == TAKEOFF).sum()), graph.levels, len(graph.positions)


def can_be_thinned(built: BuiltGraph, programme: DynamicProgramme) -> bool:
    """Whether a run feeds no other, nothing sends it to the model beforehand, and it costs no time.

    Without the compiled passes one more of them is dear where many heads are open at once.
    """
    feeds = len(built.item_heads) < len(built.graph.items)
    return not feeds and not built.long_lows and (programme.compiled is not None or programme.slots <= SLOTS)


def thin(
    built: BuiltGraph, programme: DynamicProgramme, prices: Prices, given: bool
) -> tuple[BuiltGraph, DynamicProgramme, Thinned]:
    """Keep what a run that feeds no other can choose from any level.

    ``given``: the price of an unserved head is the user's, not one above all else.
    """
    graph = built.graph
    origin = np.flatnonzero(_worth(graph, programme, prices))
    columns = graph.columns.take(origin)
    takeoff = columns.kind == TAKEOFF
    refs, ref = np.unique(columns.ref[takeoff], return_inverse=True)
    columns.ref[takeoff] = ref
    other = np.flatnonzero(~takeoff & (columns.ref >= 0))
    columns.changes = [columns.changes[k] for k in columns.ref[other].tolist()]
    columns.ref[other] = np.arange(len(other))
    small = replace(_shorter(graph, graph.starts[origin], graph.goes[origin]), arcs=Arcs(columns))
    small.index_arcs()
    left = replace(built, graph=small, candidates=built.candidates.take(refs), whole=False)
    less = DynamicProgramme(small, prices, np.zeros(len(columns), dtype=np.int64))
    least = run_least(programme, less, prices, given)
    return left, less, Thinned(origin, counted(graph), least)


def _worth(graph: RunGraph, programme: DynamicProgramme, prices: Prices) -> np.ndarray:
    """Whether each arc can be part of a choice from some level, shape (arcs,)."""
    first = programme.value[0, :, 0, 0]
    begins = (first < NEVER) & (graph.source >= 0)
    top = int(first[begins].max(initial=0))
    # as if every level's best path cost the same: what is over that is what an arc costs too much
    through = programme.through(np.where(begins, top - first, NEVER))
    columns = graph.columns
    styles = {columns.styles[code] for code in np.unique(columns.style).tolist()} - {""}
    worth = through <= top + prices.whole(prices.style) * max(len(styles) - 1, 0)
    # the same takeoff as the run's last one: so it will be if what comes after it must go
    takeoff = columns.kind == TAKEOFF
    chosen = np.unique(columns.ref[worth & takeoff])
    return np.asarray(worth | (takeoff & columns.ends & np.isin(columns.ref, chosen)))


def _shorter(graph: RunGraph, starts: IntArray, goes: IntArray) -> RunGraph:
    """Return a graph with only the positions where an arc begins or ends."""
    at = np.unique(np.concatenate([[0], starts, goes[goes >= 0]]))
    # the run lies at a level from one position to the next if it may do so all the way
    ok = np.logical_and.reduceat(graph.level_ok, at[:-1], axis=0) if len(at) > 1 else graph.level_ok[:0]
    if len(at) > 1:
        ok[-1] = graph.level_ok[at[-2] : at[-1]].all(axis=0)
    price = None if graph.pipe_price is None else graph.pipe_price[at]
    return replace(graph, positions=graph.positions[at], level_ok=ok, pipe_price=price)
