"""What each objective term alone must come to at the least."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from router.bounds.many import tables
from router.profiles.graph import NEVER, POINT, TERMS, Prices

if TYPE_CHECKING:
    from router.bounds.dynamic import DynamicProgramme
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
    wanted = tuple(name for name in PRICED if amounts[name] > 0)
    found = [tree_least(tree, prices, wanted) if tree.least is None else tree.least for tree in trees]
    for name in PRICED:
        if name not in wanted:
            out[name] = 0.0
            continue
        total, unserved = (sum(least[name][n] for least in found) for n in (0, 1))
        out["unserved"] = float(unserved)
        least = max(total, 0) / POINT
        # costs are rounded to thousandths arc by arc: give way by as much
        slack = 0.05 if name in ("pipe", "moved", "price") else 0.0
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


def run_least(programme: DynamicProgramme, prices: Prices, names: tuple[str, ...]) -> IntArray:
    """Least cost of a run that feeds no other with each term priced alone; shape (levels, terms)."""
    graph = programme.graph
    amounts = graph.columns.amounts
    # terms of which the run has none, however it goes, all come to the same
    none = {name for n, name in enumerate(TERMS) if not amounts[:, n].any()} - {"pipe", "price"}
    none -= {"drain", "wet_drain"} if graph.traps else set()
    none = {name for name in none if name in names}
    some = [*(name for name in names if name not in none), *sorted(none)[:1]]
    extra = np.zeros((len(amounts), len(some)), dtype=np.int64)
    found = tables(programme, _alone(prices, tuple(some)), extra)
    return found[:, [some.index(name) if name in some else len(some) - 1 for name in names]]


def _alone(prices: Prices, names: tuple[str, ...]) -> list[Prices]:
    """Return prices of each term alone, one point each, beside unserved heads."""
    nothing = dict.fromkeys((*PRICED, "style"), 0.0)
    return [replace(prices, **{**nothing, name: 1.0}) for name in names]
