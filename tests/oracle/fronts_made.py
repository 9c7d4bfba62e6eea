"""Fronts by definition: every way to build a line, one by one, and what it comes to."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np
from exhaustive import Enumeration
from made import thin_built

from router.alternatives.ground import Ground
from router.alternatives.terms import BY_NAME
from router.building.close import close
from router.building.prepare import prepare
from router.building.shapes import Axes, Shapes, clash_matrix
from router.building.stop import Stop
from router.building.tree import build_tree, solve_tables
from router.profiles.graph import TERMS, Prices
from router.route.totals import prices_of

if TYPE_CHECKING:
    from router.building.graphs import BuiltGraph
    from router.building.prepare import Prepared
    from router.profiles.graph import Arc
    from router.scenario.model import Scenario

ZERO = Prices(0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0)
CLOSE = 12
"""Thousandths of a point: sums of rounded floats."""


def ground_of(scenario: Scenario, thin: object = None) -> Ground:
    """The trees of a scenario; ``thin`` makes a smaller graph of each run's."""
    prepared, prices = prepare(scenario), prices_of(scenario)
    trees = [build_tree(prepared, root) for root in prepared.roots]
    for tree in trees:
        if callable(thin):
            tree.graphs = {r: thin(r, built) for r, built in tree.graphs.items()}
        solve_tables(prepared, tree, prices)
    return Ground(scenario, prepared, trees, prices, close(prepared, trees, prices), Stop())


def dealt_built(arcs: int, seed: int, run: int, built: BuiltGraph) -> BuiltGraph:
    """A few of a run's arcs, with other amounts than they have: real pieces, and much to trade."""
    few = thin_built(built, arcs, 10 * seed + run)
    rng = np.random.default_rng(1000 * seed + run)
    graph = replace(few.graph, arcs=[_dealt(arc, rng) for arc in few.graph.arcs])
    graph.index_arcs()
    return replace(few, graph=graph)


def _dealt(arc: Arc, rng: np.random.Generator) -> Arc:
    amounts = list(arc.amounts)
    for term, most in (("fitting", 4), ("drain", 2), ("wet_drain", 2), ("hanger", 2)):
        amounts[TERMS.index(term)] += int(rng.integers(0, most))
    amounts[TERMS.index("level_change")] += int(rng.integers(0, 2))
    amounts[TERMS.index("pipe")] += float(rng.uniform(0, 300))
    return replace(arc, amounts=tuple(amounts))


class Ways:
    """All ways to build one run without clashes in itself, not to build it among them.

    ``table``: (ways, 4): unserved heads, the two terms (pipe in mm), the rest in
    thousandths of a point. ``parts``: (ways, elements), of ``elements``.
    """

    def __init__(
        self, prepared: Prepared, built: BuiltGraph, prices: Prices, first: str, second: str
    ) -> None:
        graph = built.graph
        terms = [BY_NAME[name].term for name in (first, second)]
        rest = replace(prices, unserved=0.0, **dict.fromkeys(terms, 0.0))
        # pipe weighs 1000 per m, so that its cost is in micrometres
        units = [replace(ZERO, **{t: 1000.0 if t == "pipe" else 1.0}) for t in terms]
        alone = [replace(ZERO, unserved=1.0), *units, rest]
        oracles = [Enumeration(graph, p) for p in alone]
        rows = [[float(o.unserved_cost(0)) for o in oracles]]
        used: list[list[tuple[object, ...]]] = [[]]
        for level in range(graph.levels):
            for ways in zip(*(o.every(level) for o in oracles), strict=True):
                styles = len({graph.arcs[k].style for k in ways[0].arcs} - {""})
                row = [w.cost for w in ways]
                row[3] += round(1000 * rest.style) * styles
                for n, term in enumerate(terms):
                    if term == "style":
                        row[1 + n] = 1000 * styles
                rows.append(row)
                used.append(self._elements(built, level, ways[0].arcs))
        self.table = np.array(rows)
        self.table[:, :3] /= 1000
        names: dict[tuple[object, ...], int] = {}
        indices = [[names.setdefault(e, len(names)) for e in mine] for mine in used]
        self.parts = np.zeros((len(used), len(names)), dtype=np.float32)
        for i, mine in enumerate(indices):
            self.parts[i, mine] = 1
        shapes = Shapes(prepared, {graph.run: built})
        self.elements: list[Axes] = [
            shapes.arc(graph.run, e[1]) if e[0] == "arc" else shapes.stay(graph.run, *e[1:])  # type: ignore[arg-type]
            for e in names
        ]
        self.gap = prepared.scenario.rules.piece_clearance
        self.parents: list[int | None] = [frame.parent for frame in prepared.frames]
        clash = self.clashes(self.elements)
        np.fill_diagonal(clash, 0)
        alone_too = np.einsum("ij,ij->i", self.parts @ clash, self.parts) == 0
        self.table, self.parts = self.table[alone_too], self.parts[alone_too]

    def clashes(self, others: list[Axes]) -> np.ndarray:
        return clash_matrix(self.elements, others, self.gap, self.parents).astype(np.float32)

    @staticmethod
    def _elements(built: BuiltGraph, start: int, arcs: tuple[int, ...]) -> list[tuple[object, ...]]:
        out: list[tuple[object, ...]] = []
        at, level = 0, start
        for k in arcs:
            arc = built.graph.arcs[k]
            if arc.a > at:
                out.append(("pipe", at, arc.a, level))
            out.append(("arc", k))
            at, level = arc.b, arc.lb
        return out


def front_of(table: np.ndarray) -> list[tuple[int, int, float]]:
    """By definition: of rows with the fewest unserved, those that no other beats in both terms.

    Pipe (second term) counts by whole mm. Gives (first, second, least rest), ascending.
    """
    table = table[table[:, 0] == table[:, 0].min()]
    pairs = np.unique(np.rint(table[:, 1:3]).astype(np.int64), axis=0)
    out = []
    for a, b in pairs.tolist():
        beaten = ((pairs[:, 0] <= a) & (pairs[:, 1] <= b) & ((pairs[:, 0] < a) | (pairs[:, 1] < b))).any()
        if not beaten:
            same = (np.rint(table[:, 1]) == a) & (np.rint(table[:, 2]) == b)
            out.append((a, b, float(table[same, 3].min())))
    return out


def ducted(groups: tuple[int, ...], *, heads_at: float = -600.0, **rules: object) -> dict[str, Any]:
    """One line whose heads sit beyond ducts, group by group; between groups a duct passes under it.

    At its own level the line needs a fitting more for each head of a group than
    below the duct; to go down and up again costs it four and two level changes.
    """
    heads: list[dict[str, Any]] = []
    obstructions: list[dict[str, Any]] = []

    def box(name: str, x0: float, x1: float, y0: float, y1: float, low: float, high: float) -> None:
        plan = [[x0, y0], [x1, y0], [x1, y1], [x0, y1]]
        obstructions.append({"id": name, "kind": "duct", "polygon": plan, "elevations": [low, high]})

    x = 1500.0
    for g, count in enumerate(groups):
        first = x
        for _ in range(count):
            heads.append({"id": f"H{len(heads)}", "at": [x, heads_at, 2500], "run": "B"})
            x += 900
        last = x - 900
        y0, y1 = sorted((0.75 * heads_at, 0.25 * heads_at))
        box(f"duct {g}", first - 300, last + 300, y0, y1, 3080, 3330)
        x = last + 2500
        if g + 1 < len(groups):
            middle = (last + x) / 2
            box(f"passing {g}", middle - 200, middle + 200, -2000, 2000, 2800, 3120)
    length = x - 2500 + 300
    return {
        "name": f"ducts {groups}",
        "runs": [
            {
                "id": "B", "plan": [[0, 0], [length, 0]], "elevation": 3200, "supply_elevation": 3200,
                "band": [2900, 3300], "size": "1-1/2",
            }
        ],
        "heads": heads,
        "obstructions": obstructions,
        "rules": {"slide": 0.0, **rules},
    }  # fmt: skip
