"""What each objective term alone must come to at the least."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from router.building.tree import Tree, solve_tables
from router.profiles.graph import NEVER, POINT, Prices

if TYPE_CHECKING:
    from router.building.prepare import Prepared

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


def least_amounts(
    prepared: Prepared, trees: list[Tree], prices: Prices, amounts: dict[str, float]
) -> dict[str, float | None]:
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
    for name in PRICED:
        if amounts[name] <= 0:
            out[name] = 0.0
            continue
        found = [_known(prepared, tree, prices, name) for tree in trees]
        total, unserved = (sum(values) for values in zip(*found, strict=True))
        out["unserved"] = float(unserved)
        least = max(total, 0) / POINT
        # costs are rounded to thousandths arc by arc: give way by as much
        slack = 0.05 if name in ("pipe", "moved", "price") else 0.0
        same = unserved == round(amounts["unserved"])
        out[name] = round(max(min(least, amounts[name]) - slack, 0.0), 3) if same else None
    return out


def _known(prepared: Prepared, tree: Tree, prices: Prices, name: str) -> tuple[int, int]:
    if tree.least is not None:
        return tree.least[name]
    return tree_least(prepared, tree, prices, (name,))[name]


def tree_least(
    prepared: Prepared, tree: Tree, prices: Prices, names: tuple[str, ...]
) -> dict[str, tuple[int, int]]:
    """By term: (its cost without unserved heads in thousandths, unserved heads) of a tree's relaxation."""
    out = {}
    nothing = dict.fromkeys((*PRICED, "style"), 0.0)
    head = prices.whole(prices.unserved)
    for name in names:
        own = Tree(tree.root, tree.order, tree.graphs, none_served=tree.none_served)
        solve_tables(prepared, own, replace(prices, **{**nothing, name: 1.0}), like=tree)
        bound = min(own.bound, NEVER)
        out[name] = bound % head, bound // head
    return out
