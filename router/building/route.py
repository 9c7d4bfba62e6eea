"""A scenario in, a judged route out."""

from __future__ import annotations

import hashlib
import platform
from collections.abc import Callable
from dataclasses import dataclass, field
from importlib.metadata import version
from time import monotonic
from typing import TYPE_CHECKING, Literal

import networkx as nx

import router
from router.building.assemble import Assembled, Assembler, RunPlan
from router.building.prepare import Prepared, prepare
from router.building.settle import FIRST_GAP, Group, relaxed_clashes
from router.building.tree import Tree, build_tree, solve_tables
from router.building.why import explain_unserved
from router.profiles.graph import POINT, Prices
from router.route.model import HeadResult, Objective, Proof, Route, Term
from router.route.totals import count, prices_of, terms_of
from router.scenario.write import scenario_text

if TYPE_CHECKING:
    from router.scenario.model import Scenario

Tell = Callable[[str, int, int], None]
"""Progress: phase, how many done, of how many."""


@dataclass
class Solution:
    """What was decided and proven, before it becomes a route."""

    prepared: Prepared
    prices: Prices
    trees: list[Tree]
    plans: dict[int, RunPlan]
    bound: int
    status: Literal["optimal", "feasible"]
    closed_by: set[str] = field(default_factory=set)
    seconds: dict[str, float] = field(default_factory=dict)


def _quiet(phase: str, done: int, total: int) -> None:
    """Tell nobody."""


def solve(scenario: Scenario, seconds: float | None = None, tell: Tell = _quiet) -> Solution:
    """Decide every run: relaxation first, the model where it clashes or mixes styles.

    Parameters
    ----------
    scenario
        Valid, in millimetres.
    seconds
        Time limit; afterwards the best known answer with its bound.
    tell
        Called as work goes on.
    """
    began = monotonic()
    deadline = None if seconds is None else began + seconds
    prices = prices_of(scenario)
    prepared = prepare(scenario)
    trees: list[Tree] = []
    times = {"prepare": monotonic() - began}
    mark = monotonic()
    for i, root in enumerate(prepared.roots):
        tell("candidates", i, len(prepared.roots))
        trees.append(build_tree(prepared, root))
    times["candidates"] = monotonic() - mark
    mark = monotonic()
    for i, tree in enumerate(trees):
        tell("bounds", i, len(trees))
        solve_tables(prepared, tree, prices)
    plans, pairs, spare = relaxed_clashes(prepared, trees, prices)
    times["bounds"] = monotonic() - mark
    mark = monotonic()
    solution = Solution(prepared, prices, trees, plans, sum(t.bound for t in trees), "optimal")
    solution.seconds = times
    _close(solution, pairs, spare, deadline, tell)
    times["model"] = monotonic() - mark
    return solution


def _close(
    solution: Solution,
    pairs: list[tuple[int, int]],
    spare: dict[int, int],
    deadline: float | None,
    tell: Tell,
) -> None:
    """Settle groups of trees by the model until nothing clashes any more."""
    prepared, trees, prices = solution.prepared, solution.trees, solution.prices
    joined: nx.Graph[int] = nx.Graph()
    joined.add_nodes_from(range(len(trees)))
    joined.add_edges_from(pairs)
    clashing = {t for pair in pairs for t in pair}
    bounds = {t: tree.bound for t, tree in enumerate(trees)}
    extra_styles = {t: _styles_cost(solution, t) for t in range(len(trees))}
    solution.closed_by.add("dynamic programme")
    total = 0
    groups = [sorted(g) for g in nx.connected_components(joined)]
    for n, members in enumerate(sorted(groups)):
        needs_model = any(t in clashing for t in members) or any(spare[t] and prices.style for t in members)
        if not needs_model:
            total += sum(bounds[t] + extra_styles[t] for t in members)
            continue
        tell("model", n, len(groups))
        group = Group(prepared, [trees[t] for t in members], prices)
        runs_with_heads = sum(bool(prepared.frames[r].heads) for r in group.graphs)
        first = (
            FIRST_GAP
            if any(t in clashing for t in members)
            else prices.style * (sum(spare[t] for t in members) + runs_with_heads)
        )
        settled = group.settle(first, deadline, lambda text: None)
        solution.closed_by.add("model")
        if settled.plans or settled.status == "optimal":
            for r in group.graphs:
                solution.plans.pop(r, None)
            solution.plans |= settled.plans
        total += settled.bound
        if settled.status != "optimal":
            solution.status = "feasible"
    solution.bound = total


def _styles_cost(solution: Solution, t: int) -> int:
    """Cost of the styles that the relaxed choice of a tree uses (at most one a run, else not used)."""
    cost = 0
    for r in solution.trees[t].order:
        plan = solution.plans.get(r)
        if plan is not None:
            graph = solution.trees[t].graphs[r].graph
            styles = {graph.arcs[k].style for k in plan.arcs} - {""}
            cost += solution.prices.whole(solution.prices.style) * len(styles)
    return cost


def make_route(solution: Solution, scenario: Scenario) -> Route:
    """Lay out the pieces, count, and state what is proven."""
    graphs = {r: tree.graphs[r] for tree in solution.trees for r in tree.order}
    made = Assembler(solution.prepared, graphs, solution.plans).assemble()
    takeoffs = made.takeoffs
    pieces = [made.workshop.finish_piece(d) for d in made.workshop.drafts]
    fittings = [made.workshop.finish_joint(j) for j in made.workshop.joints]
    runs = [made.runs[i] for i in sorted(made.runs)]
    heads = _heads(solution, scenario, made)
    counts = count(heads, takeoffs, runs, pieces, fittings, made.drains)
    terms = terms_of(counts, takeoffs, runs, scenario, solution.prices)
    value = round(sum(t.cost for t in terms), 3)
    status: Literal["optimal", "feasible", "infeasible"] = solution.status
    bound = value if status == "optimal" else min(round(solution.bound / POINT, 3), value)
    if not counts.served:
        status = "infeasible"
    return Route(
        scenario=scenario.name,
        scenario_sha256=hashlib.sha256(scenario_text(scenario).encode()).hexdigest(),
        status=status,
        objective=Objective(value=value, bound=bound, gap=round(value - bound, 3), terms=terms),
        proof=_proof(solution),
        counts=counts,
        heads=heads,
        takeoffs=takeoffs,
        runs=runs,
        pieces=pieces,
        fittings=fittings,
        versions={
            "branch-drop-router": router.__version__,
            "ortools": version("ortools"),
            "python": platform.python_version(),
        },
    )


def _proof(solution: Solution) -> Proof:
    rules = solution.prepared.scenario.rules
    graphs = [g.graph for tree in solution.trees for g in tree.graphs.values()]
    scope = (
        "Over the candidate set: arms square to their run, one dogleg at most; outlets at each head's own "
        f"station, every {rules.station_step:g} mm up to {rules.slide:g} mm either side of it, and where an "
        "outlet spacing or a blocked stretch binds; run levels at the nominal, the band's ends, the supply's "
        "and just under and over what is met; offsets where they touch an outlet, a bend or a blocked "
        "stretch; each head on the run named for it or nearest to it; sizes by schedule planned for the "
        "heads that may lie beyond."
    )
    return Proof(
        scope=scope,
        closed_by=" and ".join(sorted(solution.closed_by)),
        candidates=sum(sum(arc.kind == "takeoff" for arc in g.arcs) for g in graphs),
        levels=sum(g.levels for g in graphs),
        stations=sum(len(g.positions) for g in graphs),
    )


def _heads(solution: Solution, scenario: Scenario, made: Assembled) -> list[HeadResult]:
    served: dict[str, tuple[str, str, str]] = {}
    for t in made.takeoffs:
        for name in t.heads:
            served[name] = (t.id, t.run, t.style)
    ends = _inlets(solution)
    missing = [h for h, head in enumerate(scenario.heads) if head.id not in served]
    reasons = explain_unserved(solution.prepared, solution.trees, solution.plans, missing) if missing else {}
    out = []
    for h, head in enumerate(scenario.heads):
        if head.id in served:
            takeoff, run, style = served[head.id]
            out.append(
                HeadResult(id=head.id, served=True, takeoff=takeoff, run=run, style=style, inlet=ends[h])
            )
        else:
            out.append(HeadResult(id=head.id, served=False, inlet=head.at, stopped_by=reasons.get(h, [])))
    return out


def _inlets(solution: Solution) -> dict[int, tuple[float, float, float]]:
    out = {}
    for tree in solution.trees:
        for r in tree.order:
            plan = solution.plans.get(r)
            if plan is None:
                continue
            built = tree.graphs[r]
            for k in plan.arcs:
                arc = built.graph.arcs[k]
                if arc.kind == "takeoff" and isinstance(arc.ref, int):
                    for b in built.candidates[arc.ref].branches:
                        x, y, z = b.points[-1]
                        out[b.head] = (round(x, 3), round(y, 3), round(z, 3))
    return out


def route_scenario(
    scenario: Scenario, seconds: float | None = None, tell: Tell = _quiet
) -> tuple[Route, Solution]:
    """Solve and lay out; the referee has not looked at it yet."""
    solution = solve(scenario, seconds, tell)
    return make_route(solution, scenario), solution


__all__ = ["Solution", "Term", "make_route", "route_scenario", "solve"]
