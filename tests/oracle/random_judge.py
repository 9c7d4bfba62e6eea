"""What is asked of any route of any scenario, and the oracles that know better.

Each question raises :class:`WrongError` at the first thing that is not as it must be. Two
oracles: plain enumeration over trees of runs (``exhaustive``), which sees no clashes; and
CP-SAT on everything, with clashes as they are met and no bounds (``random_model``).
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from exhaustive import Enumeration
from random_model import whole_model

from router.building import apart
from router.building import tree as tree_module
from router.building.route import route_scenario
from router.building.stop import NothingDecidedError, Stop
from router.check import check_route

if TYPE_CHECKING:
    from collections.abc import Callable

    from router.building.graphs import BuiltGraph
    from router.building.route import Solution
    from router.building.tree import Tree
    from router.profiles.graph import Prices, RunGraph
    from router.route.model import Route
    from router.scenario.model import Scenario

CLOSE = 8
"""Thousandths of a point: costs are rounded arc by arc, and the oracle adds them in another order."""
LATER = {"served", "hangers"}
"""Rules of the referee that a route may break: heads left out, and hangers to be seen to on site."""
MOST_STATES = 80_000
"""Enumeration is not begun where it might meet more states than this."""
MOST_ARCS = 1_500
"""The whole model is not begun with more arcs than this."""


class WrongError(AssertionError):
    """Something is not as it must be. ``kind``: what, in a few words."""

    def __init__(self, kind: str, text: str) -> None:
        super().__init__(f"{kind}: {text}")
        self.kind = kind


class At(Stop):
    """Stops once it was asked so often, or when time is up; counts the questions."""

    def __init__(self, questions: int = 1 << 60, seconds: float | None = None) -> None:
        super().__init__(seconds)
        self.questions, self.count = questions, 0

    def asked(self) -> bool:
        self.count += 1
        if self.count > self.questions:
            self.set()
        return super().asked()


@dataclass
class Judged:
    """A route with what was looked at. ``oracles``: which of them said the same."""

    scenario: Scenario
    route: Route
    solution: Solution
    questions: int
    oracles: list[str] = field(default_factory=list)


def routed(scenario: Scenario, seconds: float | None = None) -> Judged:
    """Route a scenario; nobody has looked at it yet."""
    stop = At(seconds=seconds)
    route, solution = route_scenario(scenario, stop=stop)
    return Judged(scenario, route, solution, stop.count)


def judge(judged: Judged) -> None:
    """Ask all that can be asked of one route without knowing better."""
    look_at(judged.scenario, judged.route)
    solution = judged.solution
    # a better one by hand takes the place of what was proven, where heads have a price or a worth
    by_hand = judged.route.counts.served < judged.route.counts.heads and judged.route.status == "feasible"
    if solution.stopped is None and solution.status != "optimal" and not by_hand:
        raise WrongError("not proven", "nothing stopped it, and the search gave no proof")


def look_at(scenario: Scenario, route: Route) -> None:
    """Ask the referee, and whether status, value, bound, counts and reasons go together."""
    verdict = check_route(scenario, route)
    broken = [f for f in verdict.breaks if f.rule not in LATER]
    if broken:
        raise WrongError(f"referee: {broken[0].rule}", "; ".join(f.text for f in broken[:3]))
    o, status = route.objective, route.status
    if not (math.isfinite(o.bound) and math.isfinite(o.value) and 0 <= o.bound <= o.value + 1e-6):
        raise WrongError("bound", f"bound {o.bound}, value {o.value}")
    if abs(o.gap - (o.value - o.bound)) > 1e-3:
        raise WrongError("gap", f"gap {o.gap}, value {o.value}, bound {o.bound}")
    if status == "optimal" and o.gap > 1e-6:
        raise WrongError("optimal with a gap", f"gap {o.gap}")
    # lengths are written to a tenth of a millimetre
    if abs(verdict.value - o.value) > 0.05 + 1e-6 * o.value + 1e-4 * scenario.weights.pipe:
        raise WrongError("value", f"the referee adds up {verdict.value}, the route says {o.value}")
    served = sum(h.served for h in route.heads)
    if [h.id for h in route.heads] != [h.id for h in scenario.heads] or served != route.counts.served:
        raise WrongError("heads", "the route's heads are not the scenario's")
    # where the weights say what a head is worth, serving nobody may be the best of what can be done
    by_choice = scenario.weights.unserved is not None and not served
    if (status == "infeasible") != (served == 0) and not by_choice:
        raise WrongError("status", f"{status} with {served} heads served")
    for head in route.heads:
        if not head.served and not head.stopped_by:
            raise WrongError("no reason", f"{head.id} is not served and nothing says why")


# oracles


def composed(trees: list[Tree], prices: Prices) -> float | None:
    """Least cost of all trees with styles and without clashes, by enumeration; ``None``: too many ways."""
    total = 0.0
    for tree in trees:
        if sum(states(tree.graphs[r].graph) for r in tree.order) > MOST_STATES:
            return None
        tables: dict[int, list[float]] = {}
        for r in tree.order:
            graph = tree.graphs[r].graph
            extra = {
                k: sum(tables[c][lvl] for c, lvl in arc.feeds)
                for k, arc in enumerate(graph.arcs)
                if arc.feeds
            }
            oracle = Enumeration(graph, prices, extra)
            tables[r] = [oracle.least(lvl, styles=True) for lvl in range(graph.levels)]
        root = Enumeration(tree.graphs[tree.root].graph, prices)
        total += min([*tables[tree.root], root.unserved_cost(0)])
    return total


def states(graph: RunGraph) -> int:
    """Return about how many states enumeration meets at the most."""
    open_now = len({item for arc in graph.arcs for item in arc.items})
    styles = len({arc.style for arc in graph.arcs if arc.style})
    ways: int = 2 ** (open_now + max(styles - 1, 0))
    return len(graph.positions) * graph.levels * (1 + graph.traps) * ways


def compare(judged: Judged, first: str = "enumeration", *, both: bool = False) -> list[str]:
    """Compare what was proven with an oracle that applies; the names of those that said the same.

    Enumeration is exact where nothing clashed and no section may need the large drain;
    elsewhere it bounds from below, and the whole model is asked too. ``first``: the one that is asked first;
    the other follows where that does not apply (or ``both``).
    """
    solution = judged.solution
    if solution.stopped is not None or solution.status != "optimal":
        return []
    order = [first, "whole model" if first == "enumeration" else "enumeration"]
    for name in order:
        judged.oracles += by_enumeration(judged) if name == "enumeration" else by_model(judged)
        if name in judged.oracles and not both:
            break
    return judged.oracles


def by_enumeration(judged: Judged) -> list[str]:
    """Compare with plain enumeration, where the graphs are small and whole."""
    solution = judged.solution
    graphs: dict[int, BuiltGraph] = {}
    for tree in solution.trees:
        graphs |= tree.graphs
    least = composed(solution.trees, solution.prices) if all(b.whole for b in graphs.values()) else None
    if least is None:
        return []
    if solution.bound < least - CLOSE:
        raise WrongError("below the enumeration", f"{solution.bound} against {least}")
    by_model = any(step.startswith("model") for step in solution.decided.values())
    if by_model or any(b.long_lows for b in graphs.values()):
        return ["enumeration as a bound"]
    if solution.bound > least + CLOSE:
        raise WrongError("not the enumeration's", f"{solution.bound} against {least}")
    return ["enumeration"]


def by_model(judged: Judged) -> list[str]:
    """Compare with the whole model, where it is small enough to be solved."""
    solution = judged.solution
    if sum(len(b.graph.columns) for tree in solution.trees for b in tree.graphs.values()) > MOST_ARCS:
        return []
    value = whole_model(judged.scenario)
    if value is None:
        return ["whole model gave up"]
    if abs(value - solution.bound) > CLOSE:
        raise WrongError("not the whole model's", f"{solution.bound} against {value}")
    return ["whole model"]


# stops and repeats


def stopped(judged: Judged, questions: int) -> str:
    """Stop at that question: a clean route, a bound no higher than the optimum, or nothing at all."""
    try:
        route, solution = route_scenario(judged.scenario, stop=At(questions))
    except NothingDecidedError:
        return "nothing decided"
    _part(judged, route)
    return "cut" if solution.stopped else "done"


def timed_out(judged: Judged, seconds: float) -> str:
    """Give it so little time: the same, wherever it was then."""
    try:
        route, solution = route_scenario(judged.scenario, seconds=seconds)
    except NothingDecidedError:
        return "nothing decided"
    _part(judged, route)
    return "cut" if solution.stopped else "done"


def _part(judged: Judged, route: Route) -> None:
    look_at(judged.scenario, route)
    best = judged.route.objective
    if judged.solution.stopped is not None:
        return
    if route.objective.bound > best.value + 1e-3:
        raise WrongError("bound of a stopped search", f"{route.objective.bound} over {best.value}")
    if route.objective.value < best.bound - 1e-3:
        raise WrongError("better when stopped", f"{route.objective.value} under {best.bound}")


def same_again(judged: Judged, route_again: Callable[[Scenario], Route] | None = None) -> None:
    """Route it once more: the same bytes."""
    again = route_scenario(judged.scenario)[0] if route_again is None else route_again(judged.scenario)
    if again.model_dump_json() != judged.route.model_dump_json():
        raise WrongError("not the same again", "two runs give two routes")


def other_ways(judged: Judged) -> str:
    """Route it with each tree by itself, and with lines thinned once they are known: the same answer."""
    if judged.solution.stopped is not None:
        return "stopped"
    want = judged.route
    for module, name, value in ((apart, "WORTH_HEADS", 1), (tree_module, "WHOLE_ARCS", -1)):
        before = getattr(module, name)
        setattr(module, name, value)
        try:
            again = route_scenario(judged.scenario)[0]
        finally:
            setattr(module, name, before)
        got = (again.objective.value, again.objective.bound, again.status, again.counts.served)
        wanted = (want.objective.value, want.objective.bound, want.status, want.counts.served)
        if got[2:] != wanted[2:] or max(abs(a - b) for a, b in zip(got[:2], wanted[:2], strict=True)) > 0.01:
            raise WrongError(f"another answer: {name}", f"{got} for {wanted}")
    return "same"


def fewer_heads(judged: Judged) -> str:
    """Route it without the heads that are left out: with what they cost it is no better than the bound.

    Where sizes follow a schedule the search plans them for all heads that may lie beyond, and what
    is proven is proven for these: there the route with fewer heads may be better, unless the bound
    was lowered for it (status ``feasible``, nothing stopped).
    """
    left = {h.id for h in judged.route.heads if h.served}
    if not left or len(left) == len(judged.scenario.heads) or judged.solution.stopped is not None:
        return "all or none"
    pins = {k: v for k, v in judged.scenario.pins.heads.items() if k in left}
    weights = judged.scenario.weights.model_copy(update={"unserved": judged.solution.prices.unserved})
    update = {
        "heads": [h for h in judged.scenario.heads if h.id in left],
        "pins": judged.scenario.pins.model_copy(update={"heads": pins}),
        "weights": weights,
    }
    route = route_scenario(judged.scenario.model_copy(update=update))[0]
    others = len(judged.scenario.heads) - len(left)
    worth = others * judged.solution.prices.unserved
    better = route.objective.value + worth < judged.route.objective.bound - 0.5
    if (
        better
        and judged.route.status == "optimal"
        and any(r.size == "schedule" for r in judged.scenario.runs)
    ):
        return "better with the sizes of fewer heads"
    if better:
        text = f"{route.objective.value + worth} with fewer heads, bound {judged.route.objective.bound}"
        raise WrongError("bound above a route with fewer heads", text)
    return "no better" if route.objective.value + worth > judged.route.objective.value - 0.5 else "within it"
