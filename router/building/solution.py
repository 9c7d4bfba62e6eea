"""What is decided and proven of a scenario, and the route that is laid out of it."""

from __future__ import annotations

import hashlib
import platform
from dataclasses import dataclass, field
from importlib.metadata import version
from time import monotonic
from typing import TYPE_CHECKING, Literal

import router
from router.building.apart import solve_apart, worth_apart
from router.building.assemble import Assembled, Assembler, RunPlan
from router.building.close import Closed, Looked, close
from router.building.keep import Keep
from router.building.keep_changes import kept_of
from router.building.pin_reason import with_pin
from router.building.prepare import Prepared, prepare, prepare_trees
from router.building.progress import Tally, Tell, quiet
from router.building.stop import NothingDecidedError, Stop
from router.building.term_bounds import least_amounts
from router.building.tree import Tree, work_out
from router.building.why import explain_unserved
from router.hangers.place import place_hangers
from router.profiles.graph import POINT, Prices
from router.route.low_sections import LowSections
from router.route.model import STEPS, Counts, HeadResult, Objective, Proof, Route
from router.route.pricing import price_of_parts
from router.route.totals import count, prices_of, terms_of
from router.scenario.write import scenario_text

if TYPE_CHECKING:
    from collections.abc import Collection, Mapping

    from router.scenario.model import Scenario

ROUNDING = 1e-5
"""Of the value: prices of arcs are rounded one by one."""


@dataclass
class Solution:
    """What was decided and proven, before it becomes a route.

    ``decided``: by run, which step decided it. ``stopped``: what ended the work before it was done.
    """

    prepared: Prepared
    prices: Prices
    trees: list[Tree]
    plans: dict[int, RunPlan]
    bound: int
    status: Literal["optimal", "feasible"]
    closed_by: set[str] = field(default_factory=set)
    seconds: dict[str, float] = field(default_factory=dict)
    decided: dict[int, str] = field(default_factory=dict)
    stopped: str | None = None
    looked: Looked = field(default_factory=Looked)


def solve(
    scenario: Scenario,
    seconds: float | None = None,
    tell: Tell = quiet,
    processes: int = 1,
    stop: Stop | None = None,
    keep: Route | None = None,
    *,
    look: bool = False,
    without: Collection[int] = (),
) -> Solution:
    """Decide every run: relaxation first, the model where pieces clash.

    Parameters
    ----------
    scenario
        Valid, in millimetres.
    seconds
        Time limit for all of it; then the best answer so far, with its bound.
    tell
        Called as work goes on, perhaps from another thread.
    processes
        So many at most, where there is enough to do for more than one. They are
        spawned: a script that asks for them needs ``if __name__ == "__main__"``.
        The answer is the same for any number.
    stop
        Ends the work like a time limit, once somebody sets it.
    keep
        An older route, perhaps of an older scenario, that stays where it can.
    look
        Whether lines that leave heads unserved are decided a second time.
    without
        Heads (indices) that nothing is to serve, nor any size to be planned for.

    Raises
    ------
    DoubtError
        If two ways to decide something disagree.
    NothingDecidedError
        If it is stopped before a head is served.
    """
    stop = Stop() if stop is None else stop
    if seconds is not None:
        stop.limit(seconds)
    began = monotonic()
    prices = prices_of(scenario)
    prepared = prepare(scenario, (), None if keep is None else Keep(scenario, keep), without)
    prepared.look = look
    stop.share = len(scenario.heads) / max(len(scenario.heads) + len(scenario.obstructions), 1)
    stop.fed = max(len(frame.children) for frame in prepared.frames) / len(prepared.frames)
    tally = Tally(len(prepared.frames), len(scenario.heads), tell, stop)
    times = {"prepare": monotonic() - began}
    if worth_apart(prepared):
        mark = monotonic()
        trees, closed = solve_apart(prepared, prices, stop, tally, processes)
        times["trees"] = monotonic() - mark
    else:
        trees, closed = _solve_at_once(prepared, prices, stop, tally, times)
    solution = Solution(
        prepared, prices, trees, closed.plans, closed.bound, closed.status, closed.closed_by, times
    )
    solution.decided, solution.looked = closed.decided, closed.looked
    if stop.hit and (closed.status != "optimal" or len(trees) < len(prepared.roots)):
        if not closed.plans:
            raise NothingDecidedError(stop.why)
        solution.status, solution.stopped = "feasible", stop.why
    return solution


def _solve_at_once(
    prepared: Prepared, prices: Prices, stop: Stop, tally: Tally, times: dict[str, float]
) -> tuple[list[Tree], Closed]:
    mark = monotonic()
    for root in prepared.roots:
        if not stop.asked():
            prepare_trees(prepared, [root])
    times["prepare"] += monotonic() - mark
    times |= {"candidates": 0.0, "bounds": 0.0}
    trees: list[Tree] = []
    tally.begin("candidates")
    for root in prepared.roots:
        tree = None
        if prepared.frames[root].stretches:
            tree = work_out(
                prepared, root, prices, stop, lambda r: tally.add(1, len(prepared.frames[r].heads)), times
            )
        if tree is not None:
            trees.append(tree)
    mark = monotonic()
    closed = close(prepared, trees, prices, stop, tally.tell)
    times["model"] = monotonic() - mark
    return trees, closed


def make_route(
    solution: Solution, scenario: Scenario, known: Mapping[str, HeadResult] | None = None
) -> Route:
    """Lay out the pieces, count, and state what is proven.

    ``known``: by id, heads that are known to stay unserved, and why.
    """
    graphs = {r: tree.graphs[r] for tree in solution.trees for r in tree.order}
    made = Assembler(solution.prepared, graphs, solution.plans).assemble()
    takeoffs = made.takeoffs
    pieces = [made.workshop.finish_piece(d) for d in made.workshop.drafts]
    fittings = [made.workshop.finish_joint(j) for j in made.workshop.joints]
    runs = [made.runs[i] for i in sorted(made.runs)]
    heads = _heads(solution, scenario, made, known or {})
    tables = solution.prepared.tables
    low = LowSections(scenario, tables, runs, takeoffs, pieces).find()
    price = price_of_parts(scenario, pieces, fittings, takeoffs, low)
    counts = count(heads, takeoffs, runs, pieces, fittings, low, price)
    keep = solution.prepared.keep
    kept = None if keep is None else kept_of(keep, pieces, takeoffs, runs, heads)
    terms = terms_of(counts, takeoffs, runs, scenario, solution.prices, None if kept is None else kept.points)
    amounts = {t.name: t.amount for t in terms}
    if all(tree.least != {} for tree in solution.trees) and solution.stopped is None:
        least = least_amounts(solution.trees, solution.prices, amounts)
    else:  # what is not worked out has no least
        least = {name: None if amount > 0 else 0.0 for name, amount in amounts.items()}
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
        kept=kept,
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
    # a run that leaves downwards is reckoned to its last head: with heads left out it may hold less
    down = sum(built.large_down for tree in solution.trees for built in tree.graphs.values())
    if solution.status != "optimal":
        # a better route may leave heads out, or serve them in another order: only what is sure either way
        # what is left unserved, not only not begun, leaves no trace in the end
        left_out = unserved > 0 and model >= prices.unserved
        if solution.prepared.priced or left_out:
            given = solution.prepared.scenario.weights.unserved is not None
            return 0.0 if given else model // prices.unserved * prices.unserved
        return round(max(model - down * prices.large_drain, 0.0), 3)
    if solution.prepared.priced and unserved:
        # a head of the user's own worth may be left out for a price that the model sees wrongly
        given = solution.prepared.scenario.weights.unserved is not None
        return 0.0 if given else unserved * prices.unserved
    differs = abs(value - model) if abs(value - model) > ROUNDING * max(value, 1.0) else 0.0
    slack = down * prices.large_drain if unserved else 0.0
    if not differs and not slack:
        return None
    return model - differs - slack


def _proof(solution: Solution) -> Proof:
    rules = solution.prepared.scenario.rules
    closed = dict.fromkeys(STEPS, 0)
    for run in range(len(solution.prepared.frames)):
        closed[solution.decided.get(run, "unproven")] += 1
    candidates, levels, stations = (
        sum(counts) for counts in zip(*(tree.counted() for tree in solution.trees), strict=True)
    )
    scope = (
        "Over the candidate set: arms square to their run, one dogleg at most; outlets at each head's own "
        f"station, every {rules.station_step:g} mm up to {rules.slide:g} mm either side of it, and where an "
        "outlet spacing or a blocked stretch binds; run levels at the nominal, the band's ends, the "
        "supply's, just under and over what is met, and where the last pipe to a head just fits; offsets "
        "where they touch an outlet, a bend or a blocked stretch; each head on the run named for it or "
        "nearest to it, and where it may shift at its own place, under the line, and at half and full shift "
        "along it; sizes by schedule planned for the heads that may lie beyond."
    )
    if solution.prepared.keep is not None:
        scope += (
            " Also what the older route had, where it is still possible: its runs, stations, levels, "
            "arm levels and places of level changes."
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
        lines_closed={name: count for name, count in closed.items() if count},
    )


def _heads(
    solution: Solution, scenario: Scenario, made: Assembled, known: Mapping[str, HeadResult]
) -> list[HeadResult]:
    served: dict[str, tuple[str, str, str]] = {}
    for t in made.takeoffs:
        for name in t.heads:
            served[name] = (t.id, t.run, t.style)
    ends = _inlets(solution)
    missing = [h for h, head in enumerate(scenario.heads) if head.id not in served and head.id not in known]
    reasons = {}
    if missing:
        reasons = explain_unserved(
            solution.prepared, solution.trees, solution.plans, missing, solution.stopped
        )
    out = []
    for h, head in enumerate(scenario.heads):
        if head.id in served:
            takeoff, run, style = served[head.id]
            out.append(
                HeadResult(id=head.id, served=True, takeoff=takeoff, run=run, style=style, inlet=ends[h])
            )
        elif head.id in known:
            out.append(known[head.id])
        else:
            stopped_by = reasons.get(h, [])
            if solution.stopped is None or not stopped_by:
                stopped_by = with_pin(solution.prepared, h, stopped_by)
            out.append(HeadResult(id=head.id, served=False, inlet=head.at, stopped_by=stopped_by))
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
