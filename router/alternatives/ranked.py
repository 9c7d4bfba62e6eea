"""Weights under which one term comes before another, whatever the amounts; and what plans amount to."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from router.building.close import long_sections
from router.profiles.columns import TAKEOFF
from router.profiles.graph import NEVER, POINT, TERMS, Prices
from router.route.totals import UNITS

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from router.alternatives.terms import TradeTerm
    from router.building.assemble import RunPlan
    from router.building.graphs import BuiltGraph
    from router.building.prepare import Prepared
    from router.building.tree import Tree

NOTHING = dict.fromkeys((*UNITS, "changed"), 0.0)


@dataclass(frozen=True)
class Ranked:
    """Prices under which unserved heads come first, then terms in order, then all the rest.

    ``head`` and ``unit``: thousandths of a point for an unserved head, and for
    one piece (or mm of pipe) of the first term. ``rest``: the scenario's own
    prices of everything else.
    """

    prices: Prices
    head: int
    unit: int
    rest: Prices

    def unserved(self, value: int) -> int:
        """Heads that are unserved at a cost."""
        return value // self.head

    def amount(self, value: int) -> int:
        """Least amount of the first term at a cost: pieces, or mm of pipe."""
        return value % self.head // self.unit


def ranked(prepared: Prepared, trees: Sequence[Tree], own: Prices, order: Iterable[TradeTerm]) -> Ranked:
    """Find such weights for some trees; ``own``: the scenario's prices.

    Each term's unit weighs more than everything after it can come to in any
    choice, so that the order holds exactly.

    Raises
    ------
    ValueError
        If the numbers would be too large to count with.
    """
    terms = list(order)
    rest = replace(own, unserved=0.0, **{t.term: 0.0 for t in terms})
    weights: dict[str, float] = {}
    below = _most(trees, rest)
    unit = 1.0
    for t in reversed(terms):
        unit = float(math.floor(below / POINT) + 1)
        # of pipe a mm counts, and its weight is per m
        weights[t.term] = unit * (1 if t.counts else 1000)
        below += _most(trees, replace(Prices(**NOTHING), **{t.term: weights[t.term]}))
    head = float(math.floor(below / POINT) + 1)
    heads = sum(prepared.heads_below(tree.root) for tree in trees)
    if head * POINT * (heads + 1) > NEVER / 16:
        raise ValueError(f"{heads:,} heads decided together are too many to rank terms strictly")
    prices = replace(rest, unserved=head, **weights)
    return Ranked(prices, prices.whole(head), prices.whole(unit), rest)


def _most(trees: Iterable[Tree], prices: Prices) -> int:
    """Give a cost that no choice for the trees exceeds, unserved heads apart; thousandths of a point."""
    return sum(_most_of_run(built, prices) for tree in trees for built in tree.graphs.values())


def _most_of_run(built: BuiltGraph, prices: Prices) -> int:
    """Give the dearest takeoff of every head, and the dearest way along the run."""
    graph, columns = built.graph, built.graph.columns
    due = graph.flag_moves[1].any(axis=1) * np.int64(prices.due(graph.wet))
    costs = prices.costs(columns.amounts) + due
    if built.long_lows:
        costs = costs + prices.due_large() * (columns.lb < columns.la)
    total = 0
    takes = columns.kind == TAKEOFF
    for item in range(len(graph.items)):
        here = takes & (columns.items == item).any(axis=1)
        total += int(costs[here].max(initial=0))
    total += prices.whole(prices.style) * sum(1 for style in columns.styles if style)
    total += prices.whole(prices.moved * max(float(graph.source.max(initial=0.0)), 0.0))
    steps = np.diff(graph.pipe_costs(prices)).tolist()
    others = np.flatnonzero(~takes & (graph.goes >= 0))
    others = others[np.argsort(graph.starts[others], kind="stable")]
    begins = np.searchsorted(graph.starts[others], np.arange(len(graph.positions) + 1))
    best = np.zeros(len(graph.positions), dtype=np.int64)
    for i in range(len(graph.positions)):
        if i:
            best[i] = max(best[i], best[i - 1] + steps[i - 1])
        here = others[begins[i] : begins[i + 1]]
        np.maximum.at(best, graph.goes[here], best[i] + costs[here])
    ending = costs[~takes & (graph.goes < 0)].max(initial=0)
    return total + int(best.max(initial=0)) + int(ending)


def amounts_of(
    prepared: Prepared, trees: Iterable[Tree], plans: Mapping[int, RunPlan], prices: Prices
) -> dict[str, float]:
    """Add up what plans for some trees come to by term; pipe in mm, the other units as in a route.

    Of ``prices`` the prices of drains are looked at, which are in currency.
    """
    out = dict(NOTHING)
    for tree in trees:
        served = 0
        for r in tree.order:
            if r in plans:
                served += _add_run(out, tree.graphs[r], plans[r], prices)
        out["unserved"] += prepared.heads_below(tree.root) - served
    return out


def _add_run(out: dict[str, float], built: BuiltGraph, plan: RunPlan, prices: Prices) -> int:
    """Add one run; returns how many heads it serves itself."""
    graph = built.graph
    drain = "wet_drain" if graph.wet else "drain"
    served, flag, at = 0, 0, 0
    styles = set()
    for k in plan.arcs:
        arc = graph.arcs[k]
        for name, amount in zip(TERMS, arc.amounts, strict=True):
            out[name] += amount
        flag, due = graph.flag_move(k, flag)
        out[drain] += due
        out["price"] += due * (prices.wet_drain_price if graph.wet else prices.drain_price)
        out["pipe"] += (arc.a - at) / 1000.0
        at = arc.b
        served += sum(item < len(built.item_heads) for item in arc.items)
        styles.add(arc.style)
    if graph.pipe_price is not None:
        out["price"] += _priced_steps(graph.positions, graph.pipe_price, built, plan)
    large = long_sections(built, plan)
    out["large_drain"] += large
    out["price"] += large * prices.large_drain_price
    out["style"] += len(styles - {""})
    out["moved"] += float(graph.source[plan.level])
    return served


def _priced_steps(positions: np.ndarray, price: np.ndarray, built: BuiltGraph, plan: RunPlan) -> float:
    """Price of the run pipe between the arcs of a plan."""
    at, total = 0, 0.0
    for k in plan.arcs:
        arc = built.graph.arcs[k]
        low, high = np.searchsorted(positions, [at, arc.a])
        total += float(price[high] - price[low])
        at = arc.b
    return total


def rest_of(amounts: Mapping[str, float], prices: Prices) -> int:
    """Cost of amounts at prices, thousandths of a point; pipe in mm."""
    points = 0.0
    for name, amount in amounts.items():
        if name != "unserved":
            points += amount * float(getattr(prices, name)) / (1000.0 if name == "pipe" else 1.0)
    return round(points * POINT)


def pieces(amounts: Mapping[str, float], term: TradeTerm) -> int:
    """Amount of a term in whole pieces, pipe in whole mm."""
    return round(amounts[term.term])
