"""What would be left out instead, were an unserved head served.

The programme is asked again with that head worth more than all others: exact
but for clashes and styles. Where nothing would be left out, it is a clash that
keeps the head off, and the pieces concerned are named.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from router.bounds.dynamic import DynamicProgramme
from router.building.clashes import plan_clashes
from router.building.tree import best_plans, fed_costs, leaves_first
from router.profiles.graph import NEVER, Item
from router.route.totals import prices_of

if TYPE_CHECKING:
    from router.building.assemble import RunPlan
    from router.building.prepare import Prepared
    from router.building.reach import Reach
    from router.building.tree import Tree

MOST_HEADS = 40
"""So many heads at most are asked about: each needs its line and those above solved again."""


@dataclass(frozen=True)
class Instead:
    """``lost``: ids of heads that would go unserved for it; ``clashes``: of what it clashes with."""

    lost: list[str]
    clashes: list[str]


def instead_of(
    prepared: Prepared, reach: Reach, trees: list[Tree], plans: dict[int, RunPlan], head: int
) -> Instead | None:
    """Ask for one head (index); ``None`` where nothing serves it."""
    run = next((f.index for f in prepared.frames if head in f.heads), None)
    tree = next((t for t in trees if run in t.graphs and not t.left_out and not t.thinned), None)
    if run is None or tree is None or any(r not in tree.tables for r in leaves_first(prepared, tree.root)):
        return None  # not all of the tree is known
    prices, heads = prices_of(prepared.scenario), prepared.scenario.heads
    forced = replace(
        tree,
        graphs={**tree.graphs},
        programmes=dict(tree.programmes),
        tables=dict(tree.tables),
        least=None,
    )
    weight, at = 4 * (len(heads) + 1), run
    while True:
        built = reach.whole(at)
        n = built.item_heads.index(head) if at == run else None
        items = [
            Item(item.key, weight if k == n else item.weight) for k, item in enumerate(built.graph.items)
        ]
        child = prepared.frames[at].children
        for k, c in enumerate(child, len(built.item_heads)):
            if c in chain_of(prepared, run):
                items[k] = Item(items[k].key, items[k].weight + weight)
        graph = replace(built.graph, items=items)
        forced.graphs[at] = replace(built, graph=graph)
        programme = DynamicProgramme(graph, prices, fed_costs(forced, graph))
        forced.programmes[at], forced.tables[at] = programme, programme.table()
        parent = prepared.frames[at].parent
        if parent is None:
            break
        at = parent
    if int(forced.tables[tree.root].min()) >= NEVER:
        return None
    found = best_plans(prepared, forced)
    served = _served(forced, found)
    if head not in served:
        return None
    lost = sorted(_served(tree, {r: p for r, p in plans.items() if r in tree.graphs}) - served)
    if lost:
        return Instead([heads[h].id for h in lost], [])
    others = {r: p for r, p in plans.items() if r not in tree.graphs}
    every = [forced if t is tree else t for t in trees]
    clashes = plan_clashes(prepared, every, {**others, **found})
    names: list[str] = []
    for pair in clashes:
        for part in pair:
            graph = every[part.tree].graphs[part.run].graph
            arc = graph.arcs[part.arc] if part.arc >= 0 else None
            whose = [graph.items[i].key for i in arc.items] if arc is not None else []
            names += whose or [prepared.frames[part.run].run.id]
    return Instead([], sorted(set(names) - {heads[head].id}))


def chain_of(prepared: Prepared, run: int) -> list[int]:
    """Give a run and all runs above it, the root last."""
    out = [run]
    while (parent := prepared.frames[out[-1]].parent) is not None:
        out.append(parent)
    return out


def _served(tree: Tree, plans: dict[int, RunPlan]) -> set[int]:
    """Heads (indices) that plans of a tree serve."""
    out: set[int] = set()
    for r, plan in plans.items():
        columns, of = tree.graphs[r].graph.columns, tree.graphs[r].item_heads
        items = columns.items[np.array(plan.arcs, dtype=np.int64)] if plan.arcs else np.zeros((0, 1), int)
        out |= {of[i] for i in items.ravel().tolist() if 0 <= i < len(of)}
    return out
