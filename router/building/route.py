"""A scenario in, a judged route out."""

from __future__ import annotations

import hashlib
import platform
from collections.abc import Callable
from dataclasses import dataclass, field
from importlib.metadata import version
from time import monotonic
from typing import TYPE_CHECKING, Literal

import router
from router.building.apart import solve_apart, worth_apart
from router.building.assemble import Assembled, Assembler, RunPlan
from router.building.close import Closed, close
from router.building.collector import collector_paused
from router.building.prepare import Prepared, prepare, prepare_trees
from router.building.term_bounds import least_amounts
from router.building.tree import Tree, build_tree, solve_tables
from router.building.why import explain_unserved
from router.hangers.place import place_hangers
from router.profiles.graph import POINT, Prices
from router.route.low_sections import LowSections
from router.route.model import Counts, HeadResult, Objective, Proof, Route, Term
from router.route.pricing import price_of_parts
from router.route.totals import count, prices_of, terms_of
from router.scenario.write import scenario_text

if TYPE_CHECKING:
    from router.scenario.model import Scenario

ROUNDING = 1e-5
"""Of the value: prices of arcs are rounded one by one."""
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


def solve(
    scenario: Scenario, seconds: float | None = None, tell: Tell = _quiet, processes: int = 1
) -> Solution:
    """Decide every run: relaxation first, the model where pieces clash.

    Parameters
    ----------
    scenario
        Valid, in millimetres.
    seconds
        Time limit; afterwards the best known answer with its bound.
    tell
        Called as work goes on.
    processes
        So many at most, where there is enough to do for more than one. They are
        spawned: a script that asks for them needs ``if __name__ == "__main__"``.
        The answer is the same for any number.
    """
    began = monotonic()
    prices = prices_of(scenario)
    prepared = prepare(scenario, ())
    apart = worth_apart(prepared)
    if not apart:
        prepare_trees(prepared, prepared.roots)
    times = {"prepare": monotonic() - began}
    if apart:
        mark = monotonic()
        trees, closed = solve_apart(prepared, prices, seconds, tell, processes)
        times["trees"] = monotonic() - mark
    else:
        trees, closed = _solve_at_once(prepared, prices, began, seconds, tell, times)
    return Solution(
        prepared, prices, trees, closed.plans, closed.bound, closed.status, closed.closed_by, times
    )


def _solve_at_once(
    prepared: Prepared,
    prices: Prices,
    began: float,
    seconds: float | None,
    tell: Tell,
    times: dict[str, float],
) -> tuple[list[Tree], Closed]:
    trees: list[Tree] = []
    deadline = None if seconds is None else began + seconds
    mark = monotonic()
    for i, root in enumerate(prepared.roots):
        tell("candidates", i, len(prepared.roots))
        trees.append(build_tree(prepared, root))
    times["candidates"] = monotonic() - mark
    mark = monotonic()
    for i, tree in enumerate(trees):
        tell("bounds", i, len(trees))
        solve_tables(prepared, tree, prices)
    times["bounds"] = monotonic() - mark
    mark = monotonic()
    closed = close(prepared, trees, prices, deadline, tell)
    times["model"] = monotonic() - mark
    return trees, closed


def make_route(solution: Solution, scenario: Scenario) -> Route:
    """Lay out the pieces, count, and state what is proven."""
    graphs = {r: tree.graphs[r] for tree in solution.trees for r in tree.order}
    made = Assembler(solution.prepared, graphs, solution.plans).assemble()
    takeoffs = made.takeoffs
    pieces = [made.workshop.finish_piece(d) for d in made.workshop.drafts]
    fittings = [made.workshop.finish_joint(j) for j in made.workshop.joints]
    runs = [made.runs[i] for i in sorted(made.runs)]
    heads = _heads(solution, scenario, made)
    tables = solution.prepared.tables
    low = LowSections(scenario, tables, runs, takeoffs, pieces).find()
    price = price_of_parts(scenario, pieces, fittings, takeoffs, low)
    counts = count(heads, takeoffs, runs, pieces, fittings, low, price)
    terms = terms_of(counts, takeoffs, runs, scenario, solution.prices)
    amounts = {t.name: t.amount for t in terms}
    least = least_amounts(solution.trees, solution.prices, amounts)
    terms = [t.model_copy(update={"least": least[t.name]}) for t in terms]
    value = round(sum(t.cost for t in terms), 3)
    status: Literal["optimal", "feasible", "infeasible"] = solution.status
    bound = value if status == "optimal" else min(round(solution.bound / POINT, 3), value)
    unproven = _unproven(solution, counts, value)
    if unproven is not None:
        status, bound = "feasible", min(unproven, value)
    if not counts.served:
        status = "infeasible"
    route = Route(
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
        low_sections=low,
        versions={
            "branch-drop-router": router.__version__,
            "ortools": version("ortools"),
            "python": platform.python_version(),
        },
    )
    return route.model_copy(update={"hangers": place_hangers(scenario, route)})


def _unproven(solution: Solution, counts: Counts, value: float) -> float | None:
    """Return a lower bound that holds where the model's own does not; ``None`` where it does.

    The model's sizes are those while all heads are served in the order in which
    they stand. Where a size has a price, or decides on a large drain, a route
    that leaves heads out, or serves them in another order, costs something
    else. With heads unserved only their own cost is then proven; otherwise the
    model's bound less what it differs by.
    """
    unserved = counts.heads - counts.served
    model, prices = solution.bound / POINT, solution.prices
    if solution.status != "optimal":
        return None
    if solution.prepared.priced and unserved:
        return unserved * prices.unserved
    differs = abs(value - model) if abs(value - model) > ROUNDING * max(value, 1.0) else 0.0
    # a run that leaves downwards is reckoned to its last head: with heads left out it may hold less
    down = sum(built.large_down for tree in solution.trees for built in tree.graphs.values())
    slack = down * prices.large_drain if unserved else 0.0
    if not differs and not slack:
        return None
    return model - differs - slack


def _proof(solution: Solution) -> Proof:
    rules = solution.prepared.scenario.rules
    candidates, levels, stations = (
        sum(counts) for counts in zip(*(tree.counted() for tree in solution.trees), strict=True)
    )
    scope = (
        "Over the candidate set: arms square to their run, one dogleg at most; outlets at each head's own "
        f"station, every {rules.station_step:g} mm up to {rules.slide:g} mm either side of it, and where an "
        "outlet spacing or a blocked stretch binds; run levels at the nominal, the band's ends, the supply's "
        "and just under and over what is met; offsets where they touch an outlet, a bend or a blocked "
        "stretch; each head on the run named for it or nearest to it, and where it may shift at its "
        "own place, under the line, and at half and full shift along it; sizes by schedule planned for the "
        "heads that may lie beyond."
    )
    if solution.prepared.priced:
        scope += (
            " Prices by size are those while heads leave their run in the order in which they stand along it."
        )
    return Proof(
        scope=scope,
        closed_by=" and ".join(sorted(solution.closed_by)),
        candidates=candidates,
        levels=levels,
        stations=stations,
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
    scenario: Scenario, seconds: float | None = None, tell: Tell = _quiet, processes: int = 1
) -> tuple[Route, Solution]:
    """Solve and lay out; the referee has not looked at it yet."""
    with collector_paused():
        solution = solve(scenario, seconds, tell, processes)
        return make_route(solution, scenario), solution


__all__ = ["Solution", "Term", "make_route", "route_scenario", "solve"]
