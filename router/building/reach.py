"""From which levels a run can come to what it serves, all else left out."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Callable

    from router.building.graphs import BuiltGraph
    from router.geometry.solids import BoolArray


class Reach:
    """Answers for runs, each worked out once. ``whole``: gives a run's graph with all that is possible."""

    def __init__(self, whole: Callable[[int], BuiltGraph]) -> None:
        self.whole = whole
        self._nodes: dict[int, BoolArray] = {}

    def nodes(self, run: int) -> BoolArray:
        """Whether a position and level can be come to from a start level; (positions, levels, starts)."""
        if run not in self._nodes:
            self._nodes[run] = _nodes(self.whole(run))
        return self._nodes[run]

    def starts(self, run: int, arcs: BoolArray) -> BoolArray:
        """Start levels from which the run can come to any of its arcs (a mask); shape (levels,)."""
        graph = self.whole(run).graph
        at = np.flatnonzero(arcs)
        found = self.nodes(run)[graph.starts[at], graph.columns.la[at]]
        return np.asarray(found.any(axis=0))


def _nodes(built: BuiltGraph) -> BoolArray:
    graph = built.graph
    out = np.zeros((len(graph.positions), graph.levels, graph.levels), dtype=bool)
    if not len(out):
        return out
    begins = np.flatnonzero(graph.source >= 0)
    out[0, begins, begins] = True
    c = graph.columns
    on = np.flatnonzero(graph.goes >= 0)
    on = on[np.argsort(graph.starts[on], kind="stable")]
    edges = np.searchsorted(graph.starts[on], np.arange(len(out) + 1))
    for i in range(len(out)):
        here = on[edges[i] : edges[i + 1]]
        for k in here[out[i].any(axis=1)[c.la[here]]].tolist():
            out[graph.goes[k], c.lb[k]] |= out[i, c.la[k]]
        if i + 1 < len(out):
            out[i + 1] |= out[i] & graph.level_ok[i][:, None]
    return out
