"""What each objective term alone must come to at the least."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from router.bounds.dynamic import moved_costs
from router.bounds.many import tables
from router.profiles.graph import NEVER, POINT, TERMS, Prices

if TYPE_CHECKING:
    from router.bounds.dynamic import DynamicProgramme
    from router.building.assemble import RunPlan
    from router.building.tree import Tree
    from router.profiles.graph import IntArray

PRICED = (
    "fitting",
    "level_change",
    "drain",
    "large_drain",
    "wet_drain",
    "hanger",
    "pipe",
    "moved",
    "reducer",
    "hose",
    "price",
    "changed",
)
"""Terms that the dynamic programme sees; the number of styles spans a run and is not one of them."""


def least_amounts(trees: list[Tree], prices: Prices, amounts: dict[str, float]) -> dict[str, float | None]:
    """Least amount of each term over all routes that leave as few heads unserved as the route.

    Each term is priced alone, after unserved heads, and the relaxation solved:
    its cost is a lower bound. A term of which the route has none needs no
    solving. ``None`` where the relaxation serves more heads than the route, so
    that it bounds something else.

    Parameters
    ----------
    amounts
        The route's own amounts by term, ``unserved`` among them.
    """
    out: dict[str, float | None] = {"unserved": None, "style": float(min(amounts["style"], 1.0))}
    wanted = tuple(name for name in PRICED if amounts.get(name, 0.0) > 0)
    found = [tree_least(tree, prices, wanted) if tree.least is None else tree.least for tree in trees]
    for name in PRICED:
        if name not in wanted:
            out[name] = 0.0
            continue
        total, unserved = (sum(least[name][n] for least in found) for n in (0, 1))
        out["unserved"] = float(unserved)
        least = max(total, 0) / POINT
        # costs are rounded to thousandths arc by arc: give way by as much
        slack = 0.05 if name in ("pipe", "moved", "price", "changed") else 0.0
        same = unserved == round(amounts["unserved"])
        out[name] = round(max(min(least, amounts[name]) - slack, 0.0), 3) if same else None
    return out


def tree_least(tree: Tree, prices: Prices, names: tuple[str, ...]) -> dict[str, tuple[int, int]]:
    """By term: (its cost without unserved heads in thousandths, unserved heads) of a tree's relaxation."""
    if not names:
        return {}
    places = [PRICED.index(name) for name in names]
    least: dict[int, IntArray] = {}
    for r in tree.order:
        if r in tree.thinned:
            least[r] = tree.thinned[r].least[:, places]
            continue
        columns = tree.graphs[r].graph.columns
        extra = np.zeros((len(columns), len(names)), dtype=np.int64)
        for child, level in columns.feeds.transpose(1, 2, 0):
            for run in np.unique(child[child >= 0]).tolist():
                here = child == run
                extra[here] = np.minimum(extra[here] + least[run][level[here]], NEVER)
        least[r] = tables(tree.programmes[r], _alone(prices, names), extra)
    head = prices.whole(prices.unserved)
    bounds = np.minimum(least[tree.root].min(axis=0), tree.none_served).tolist()
    return {name: (bound % head, bound // head) for name, bound in zip(names, bounds, strict=True)}


def chosen_least(tree: Tree, prices: Prices, plans: dict[int, RunPlan]) -> dict[str, tuple[int, int]]:
    """Give the same for all terms, knowing what was chosen: a term of which that has none costs nothing.

    So it is where the choice leaves as few heads unserved as can be; else all are solved.
    """
    graphs = [(tree.graphs[r].graph, list(plan.arcs)) for r, plan in plans.items()]
    some = {"fitting", "pipe", "moved"}
    for graph, arcs in graphs:
        some |= {name for n, name in enumerate(TERMS) if graph.columns.by_term[n, arcs].any()}
        some |= {"price"} if graph.pipe_price is not None else set()
        some |= {"changed"} if graph.crossed or graph.begins is not None else set()
        some |= {"wet_drain" if graph.wet else "drain", "large_drain"} if graph.traps else set()
    found = tree_least(tree, prices, tuple(name for name in PRICED if name in some))
    served = sum(
        graph.items[item].weight
        for graph, arcs in graphs
        for item in graph.columns.items[arcs].ravel().tolist()
        if item >= 0 and item < len(tree.graphs[graph.run].item_heads)
    )
    unserved = tree.none_served // prices.whole(prices.unserved) - served
    if unserved != found["pipe"][1]:
        return tree_least(tree, prices, PRICED)
    return {name: found.get(name, (0, unserved)) for name in PRICED}


def run_least(whole: DynamicProgramme, thin: DynamicProgramme, prices: Prices, given: bool) -> IntArray:
    """Least cost of a run that feeds no other with each term priced alone; shape (levels, terms).

    A term of which no best choice has anything costs nothing, where that choice
    leaves as few heads unserved as can be: such a term needs no solving. That
    may not hold where the price of an unserved head is ``given`` by the user.

    Parameters
    ----------
    whole, thin
        Programmes over the whole graph and over that of the best choices.
    """
    graph = thin.graph
    amounts = graph.columns.amounts
    some = {name for n, name in enumerate(TERMS) if amounts[:, n].any()} | {"pipe"}
    some |= {"price"} if graph.pipe_price is not None else set()
    some |= {"changed"} if graph.crossed or graph.begins is not None else set()
    some |= {"wet_drain" if graph.wet else "drain"} if graph.flag_moves[1].any() else set()

    def solved(names: tuple[str, ...]) -> IntArray:
        extra = np.zeros((len(whole.graph.columns), len(names)), dtype=np.int64)
        return tables(whole, _alone(prices, names), extra)

    names = tuple(name for name in PRICED if name in some)
    if given:
        return solved(PRICED)
    found, unserved, head = solved(names), _unserved(thin), prices.whole(prices.unserved)
    fewest = found[:, names.index("pipe")] // head * head
    if not np.array_equal(np.where(unserved < NEVER, fewest, NEVER), unserved):
        return solved(PRICED)
    out = np.repeat(unserved[:, None], len(PRICED), axis=1)
    out[:, PRICED.index("moved")] += moved_costs(graph, _alone(prices, ("moved",))[0])
    out[:, [PRICED.index(name) for name in names]] = found
    return np.minimum(out, NEVER)


def _unserved(programme: DynamicProgramme) -> IntArray:
    """Cost of what the best choice from each level leaves unserved, ``NEVER`` where there is none."""
    out = np.full(programme.graph.levels, NEVER, dtype=np.int64)
    for level in np.flatnonzero(programme.table() < NEVER).tolist():
        out[level] = programme.unserved[list(programme.path(level).unserved)].sum()
    return out


def _alone(prices: Prices, names: tuple[str, ...]) -> list[Prices]:
    """Return prices of each term alone, one point each, beside unserved heads."""
    nothing = dict.fromkeys((*PRICED, "style"), 0.0)
    return [replace(prices, **{**nothing, name: 1.0}) for name in names]
