"""Heads left unserved are looked at twice; both looks find what is wrong where something is."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

import pytest
from made import line

import router.building.close
import router.building.solution
from router.building.assemble import RunPlan
from router.building.route import make_route, route_scenario, solve
from router.building.second_look import ByHand, with_changes
from router.building.settle import Group, Settled
from router.check import check_route
from router.model.choice import Choice
from router.model.doubt import DoubtError
from router.scenario import parse_scenario

if TYPE_CHECKING:
    from router.building.close import Closed
    from router.building.route import Solution
    from router.scenario.model import Scenario

CROWDED: dict[str, Any] = {
    "name": "crowded",
    "runs": [{"id": "B", "plan": [[0, 0], [3000, 0]], "elevation": 3000, "size": 32, "band": [3000, 3000]}],
    "heads": [
        {"id": f"H{k}", "at": [x, y, 2600]}
        for k, (x, y) in enumerate([(500, 0), (1500, 0), (1510, 0), (2500, 0)])
    ],
    "rules": {"slide": 0.0},
}
"""H1 and H2 want the same spot under the line."""


def crowded() -> Scenario:
    return parse_scenario(CROWDED, "made")


def dropped(solution: Solution) -> tuple[int, Solution] | None:
    """Give a solution less one takeoff that is not the run's last, and the head that it served."""
    if not solution.plans:
        return None
    (run,) = solution.plans
    built, plan = solution.trees[0].graphs[run], solution.plans[run]
    for k in plan.arcs[:-1]:
        arc = built.graph.arcs[k]
        if arc.kind == "takeoff" and len(arc.items) == 1:
            left = RunPlan(plan.level, tuple(other for other in plan.arcs if other != k))
            return built.item_heads[arc.items[0]], replace(solution, plans={run: left})
    return None


@pytest.mark.parametrize("chunk", range(4))
def test_the_greedy_finds_a_head_that_was_left_out_for_nothing(chunk: int) -> None:
    found = 0
    for seed in range(chunk, 48, 4):
        scenario = line(seed, heads=5)
        less = dropped(solve(scenario))
        if less is None:
            continue
        head, solution = less
        (served, *_) = ByHand(solution.prepared, solution.trees, solution.plans).find([head])
        made = replace(
            solution,
            trees=with_changes(solution.trees, served.graphs),
            plans={**solution.plans, **served.plans},
            status="feasible",
            stopped="tried by hand",
        )
        route = make_route(made, scenario)
        assert route.heads[head].served
        assert {f.rule for f in check_route(scenario, route).breaks} <= {"hangers"}
        found += 1
    assert found > 5


def test_a_head_that_is_really_in_the_way_stays_unserved_and_the_proof_says_what_was_asked() -> None:
    route, _ = route_scenario(crowded())
    assert route.counts.served == 3
    look = route.proof.second_look
    assert look is not None
    assert look.model_dump() == {"lines": 1, "lines_agree": 1, "heads": 1, "heads_agree": 1}


def test_nothing_is_looked_at_where_all_are_served() -> None:
    route, _ = route_scenario(parse_scenario({**CROWDED, "heads": CROWDED["heads"][:2]}, "made"))
    assert route.counts.served == 2
    assert route.proof.second_look is None


def test_a_search_that_leaves_a_head_out_for_nothing_is_caught(monkeypatch: pytest.MonkeyPatch) -> None:
    close = router.building.close.close

    def forgetful(*args: Any, **kwargs: Any) -> Closed:
        closed = close(*args, **kwargs)
        (tree,) = args[1]
        (run, plan) = next(iter(closed.plans.items()))
        arcs = tree.graphs[run].graph.arcs
        worst = next(k for k in plan.arcs if arcs[k].kind == "takeoff" and not arcs[k].ends)
        closed.plans[run] = RunPlan(plan.level, tuple(k for k in plan.arcs if k != worst))
        closed.bound += 1_000_000_000  # and claims that it could not be done for less
        return closed

    monkeypatch.setattr(router.building.solution, "close", forgetful)
    with pytest.raises(
        DoubtError, match=r"left unserved with .* proven to be the least, but a route made by hand"
    ):
        route_scenario(crowded())


def test_a_second_search_that_proves_something_else_is_caught(monkeypatch: pytest.MonkeyPatch) -> None:
    settle = Group.settle

    def other(self: Group, *args: Any) -> Settled:
        settled = settle(self, *args)
        return settled if self.effort is None else replace(settled, value=settled.value + 1)

    monkeypatch.setattr(Group, "settle", other)
    with pytest.raises(
        DoubtError, match=r"^B: proven to cost .* points, but with presolve flipped the model finds"
    ):
        route_scenario(crowded())


def test_a_model_that_the_solver_refuses_is_caught(monkeypatch: pytest.MonkeyPatch) -> None:
    forbid = Choice._add_objective

    def broken(self: Choice) -> None:
        forbid(self)
        domain = self.model.proto.variables[0].domain
        domain[0], domain[1] = 3, 1  # no such interval

    monkeypatch.setattr(Choice, "_add_objective", broken)
    with pytest.raises(DoubtError, match="the solver refuses the model"):
        route_scenario(crowded())
