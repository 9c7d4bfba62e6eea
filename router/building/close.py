"""From relaxed answers to a proven one: which trees go to the model, until nothing clashes."""

from __future__ import annotations

from dataclasses import dataclass, field
from time import monotonic
from typing import TYPE_CHECKING, Literal

import networkx as nx

from router.building.clashes import plan_clashes, without_clashes
from router.building.settle import FIRST_GAP, Group, Settled
from router.building.tree import best_plans
from router.profiles.graph import POINT

if TYPE_CHECKING:
    from collections.abc import Callable

    from router.building.assemble import RunPlan
    from router.building.prepare import Prepared
    from router.building.tree import Tree
    from router.profiles.graph import Prices


@dataclass
class Closed:
    """The choice for all trees. ``bound``: thousandths of a point."""

    plans: dict[int, RunPlan]
    bound: int
    status: Literal["optimal", "feasible"]
    closed_by: set[str] = field(default_factory=set)


def styles_used(tree: Tree, plans: dict[int, RunPlan]) -> dict[int, int]:
    """Return how many styles each run of a tree uses."""
    return {
        r: len({tree.graphs[r].graph.arcs[k].style for k in plans[r].arcs} - {""})
        for r in tree.order
        if r in plans
    }


def long_sections(tree: Tree, plans: dict[int, RunPlan]) -> int:
    """Return how many low sections of the plans ask for the large drain, as the model sees it."""
    total = 0
    for r, plan in plans.items():
        chosen = set(plan.arcs)
        graph = tree.graphs[r].graph
        for low in tree.graphs[r].long_lows:
            if low.arc not in chosen or any(low.left_by(graph, k) for k in plan.arcs):
                continue
            before = [graph.arcs[k] for k in plan.arcs if graph.arcs[k].b <= graph.arcs[low.arc].a]
            turns = [arc for arc in before if arc.la != arc.lb]
            shared = graph.traps and bool(turns) and turns[-1].lb < turns[-1].la
            total += not shared
    return total


def close(
    prepared: Prepared,
    trees: list[Tree],
    prices: Prices,
    deadline: float | None,
    tell: Callable[[str, int, int], None],
) -> Closed:
    """Take every tree's relaxed best; settle by the model those that clash or mix styles.

    A tree whose relaxed best has no clash and one style a run is proven as it
    is. What the model settles is looked at again: where it clashes with another
    tree, the two are settled together.
    """
    relaxed: dict[int, dict[int, RunPlan]] = {t: best_plans(prepared, tree) for t, tree in enumerate(trees)}
    joined: nx.Graph[int] = nx.Graph()
    joined.add_nodes_from(range(len(trees)))
    known: dict[tuple[int, ...], Settled] = {}
    closed = Closed({}, 0, "optimal", {"dynamic programme"})
    while True:
        plans = _current(joined, relaxed, known)
        edges = {
            (a.tree, b.tree)
            for a, b in plan_clashes(prepared, trees, plans)
            if not joined.has_edge(a.tree, b.tree)
        }
        joined.add_edges_from(edges)
        fresh = False
        groups = sorted(tuple(sorted(g)) for g in nx.connected_components(joined))
        for n, members in enumerate(groups):
            if members in known or not _needs_model(joined, members, trees, relaxed, prices):
                continue
            tell("model", n, len(groups))
            known[members] = _settle(prepared, [trees[t] for t in members], prices, joined, members, deadline)
            closed.closed_by.add("model")
            fresh = True
        if not fresh and not edges:
            break
        if deadline is not None and monotonic() > deadline:
            break
    plans = _current(joined, relaxed, known)
    for members in sorted(tuple(sorted(g)) for g in nx.connected_components(joined)):
        settled = known.get(members)
        if settled is not None:
            closed.bound += settled.bound
            closed.status = "feasible" if settled.status != "optimal" else closed.status
        elif not _needs_model(joined, members, trees, relaxed, prices):
            for t in members:
                style = prices.whole(prices.style)
                styles = sum(styles_used(trees[t], relaxed[t]).values())
                closed.bound += trees[t].bound + style * styles
        else:
            closed.bound += sum(trees[t].bound for t in members)
            closed.status = "feasible"
    closed.plans = plans
    if closed.status == "feasible":
        closed.plans = without_clashes(prepared, trees, plans)
    return closed


def _needs_model(
    joined: nx.Graph[int],
    members: tuple[int, ...],
    trees: list[Tree],
    relaxed: dict[int, dict[int, RunPlan]],
    prices: Prices,
) -> bool:
    if joined.subgraph(members).number_of_edges():
        return True
    if prices.due_large() > 0 and any(long_sections(trees[t], relaxed[t]) for t in members):
        return True
    mixed = any(n > 1 for t in members for n in styles_used(trees[t], relaxed[t]).values())
    return mixed and prices.style > 0


def _settle(
    prepared: Prepared,
    trees: list[Tree],
    prices: Prices,
    joined: nx.Graph[int],
    members: tuple[int, ...],
    deadline: float | None,
) -> Settled:
    group = Group(prepared, trees, prices)
    first: float = FIRST_GAP
    due = prices.due_large() / POINT * sum(long_sections(t, best_plans(prepared, t)) for t in trees)
    if due:
        first = max(first, due)
    elif not joined.subgraph(members).number_of_edges():
        # only the number of styles is open: it can cost no more than all that are in use
        used = [styles_used(tree, best_plans(prepared, tree)) for tree in trees]
        first = prices.style * sum(n for tree in used for n in tree.values())
    return group.settle(first, deadline, lambda text: None)


def _current(
    joined: nx.Graph[int], relaxed: dict[int, dict[int, RunPlan]], known: dict[tuple[int, ...], Settled]
) -> dict[int, RunPlan]:
    """Return the plans that stand: settled ones of whole groups, relaxed ones of the rest."""
    plans: dict[int, RunPlan] = {}
    for members in sorted(tuple(sorted(g)) for g in nx.connected_components(joined)):
        settled = known.get(members)
        if settled is not None and (settled.plans or settled.status == "optimal"):
            plans |= settled.plans
        else:
            for t in members:
                plans |= relaxed[t]
    return plans
