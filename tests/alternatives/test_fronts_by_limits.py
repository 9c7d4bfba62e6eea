"""Fronts against second formulations, one limit after the other.

Lines: HiGHS on a path flow with a row for the limit. Trees of runs, styles
included: the whole model of each run with a constraint on the sum, no account
and nothing left out.
"""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING, Any

import highspy
import numpy as np
import pytest
from exhaustive import Enumeration, arc_cost
from fronts_made import ZERO, dealt_built, ducted, ground_of
from made import line
from test_trees import two_runs

from router.alternatives.front import trade_off
from router.alternatives.terms import BY_NAME
from router.building.progress import quiet
from router.model.choice import Choice
from router.profiles.graph import TERMS, Prices
from router.scenario import parse_scenario

if TYPE_CHECKING:
    from router.alternatives.front import Front
    from router.alternatives.ground import Ground
    from router.profiles.graph import RunGraph
    from router.scenario.model import Scenario

HEAD = 1000
"""An unserved head weighs more than all pieces of a small line."""


def at_limit(front: Front, limit: int) -> int | None:
    """What a front has of its other term under a limit."""
    return min((p.other for p in front.points if p.limited <= limit), default=None)


def least_by_highs(graph: RunGraph, limited: str, other: str, limit: int) -> int:
    """HEAD for each unserved head, and the least of a term while another one keeps its limit."""
    highs = highspy.Highs()  # type: ignore[no-untyped-call]
    highs.setOptionValue("output_flag", False)
    highs.setOptionValue("mip_rel_gap", 0.0)
    highs.setOptionValue("mip_abs_gap", 1e-6)
    walk = Enumeration(graph, Prices(**{**vars(ZERO), other: 1.0}))
    count = Enumeration(graph, Prices(**{**vars(ZERO), limited: 1.0}))
    into: dict[tuple[int, int, bool], list[highspy.highs.highs_var]] = {}
    out: dict[tuple[int, int, bool], list[highspy.highs.highs_var]] = {}
    serving: list[list[highspy.highs.highs_var]] = [[] for _ in graph.items]
    nothing = highspy.highs.highs_linear_expression
    spent = nothing()
    starts = []
    for level in range(graph.levels):
        if graph.source[level] >= 0:
            starts.append(highs.addBinary(obj=0.0))
            into.setdefault((0, level, False), []).append(starts[-1])
    for trapped in (False, True) if graph.traps else (False,):
        for i in range(len(graph.positions) - 1):
            for level in map(int, np.flatnonzero(graph.level_ok[i])):
                use = highs.addBinary(obj=0.0)
                out.setdefault((i, level, trapped), []).append(use)
                into.setdefault((i + 1, level, trapped), []).append(use)
        for (i, la), arcs in walk.leaving.items():
            for k in arcs:
                arc = graph.arcs[k]
                now, due = walk.trap(arc, trapped)
                use = highs.addBinary(obj=(walk.cost[k] + due) / 1000)
                piece = (count.cost[k] + count.trap(arc, trapped)[1]) / 1000
                if piece:
                    spent += piece * use
                out.setdefault((i, la, trapped), []).append(use)
                onto = walk.goes[k]
                if onto is not None:
                    into.setdefault((onto, arc.lb, now), []).append(use)
                for item in arc.items:
                    serving[item].append(use)
    for node in sorted(set(into) | set(out)):
        highs.addConstr(sum(into.get(node, []), nothing()) == sum(out.get(node, []), nothing()))
    highs.addConstr(sum(starts, nothing()) <= 1)
    highs.addConstr(spent <= limit)
    for uses in serving:
        left = highs.addBinary(obj=HEAD)
        highs.addConstr(sum(uses, nothing()) + left == 1)
    highs.run()
    assert highs.getModelStatus() == highspy.HighsModelStatus.kOptimal
    return round(highs.getInfo().objective_function_value)


def compare_with_highs(ground: Ground, pair: tuple[str, str]) -> int:
    first, second = (BY_NAME[name] for name in pair)
    front = trade_off(ground, first, second, quiet)
    assert front.proven
    graph = ground.trees[0].graphs[0].graph
    unserved = front.points[0].unserved
    for limit in range(front.points[-1].limited + 2):
        want = least_by_highs(graph, front.axis.term, front.other.term, limit)
        got = at_limit(front, limit)
        if got is None:
            assert want // HEAD > unserved
        else:
            assert divmod(want, HEAD) == (unserved, got)
    return len(front.points)


@pytest.mark.parametrize("groups", [(3,), (2, 3), (4,)], ids=str)
def test_ducted_lines(groups: tuple[int, ...]) -> None:
    ground = ground_of(parse_scenario(ducted(groups, allow_shared_nipple=False), "made"))
    assert compare_with_highs(ground, ("fittings", "level_changes")) > 1


@pytest.mark.parametrize("pair", [("level_changes", "drains"), ("fittings", "level_changes")], ids="-".join)
def test_lines(pair: tuple[str, str]) -> None:
    for seed in range(1, 40, 3):  # dry ones, some pitched
        ground = ground_of(line(seed, heads=2))
        compare_with_highs(ground, pair)


def least_by_model(ground: Ground, limited: str, other: str, limit: int) -> int:
    """Give the same by CP-SAT on all arcs of the first tree, the limit a constraint on the sum."""
    tree = ground.trees[0]
    graphs = {r: built.graph for r, built in tree.graphs.items()}
    prices = Prices(**{**vars(ZERO), "unserved": float(HEAD), **({other: 1.0})})
    choice = Choice(
        graphs,
        {r: list(range(len(g.arcs))) for r, g in graphs.items()},
        {r: ground.prepared.frames[r].parent for r in graphs},
        {r: list(range(len(built.item_heads))) for r, built in tree.graphs.items()},
        {r: np.array([arc_cost(arc, prices) for arc in g.arcs], dtype=np.int64) for r, g in graphs.items()},
        prices,
    )
    spent: list[Any] = []
    for r, graph in graphs.items():
        if limited == "style":
            spent += list(choice.runs[r].style.values())
            continue
        assert not graph.traps or limited not in ("drain", "wet_drain")
        at = TERMS.index(limited)
        spent += [round(arc.amounts[at]) * choice.runs[r].arc[k] for k, arc in enumerate(graph.arcs)]
    choice.model.add(sum(spent) <= limit)
    answer = choice.solve()
    assert answer.status == "optimal"
    return round(answer.value / 1000)


def dear(scenario: Scenario, **weights: float) -> Scenario:
    return scenario.model_copy(update={"weights": scenario.weights.model_copy(update=weights)})


@pytest.mark.parametrize(
    "pair", [("fittings", "level_changes"), ("fittings", "styles"), ("level_changes", "styles")], ids="-".join
)
def test_trees(pair: tuple[str, str]) -> None:
    points = 0
    for seed in range(10):
        ground = ground_of(two_runs(seed), partial(dealt_built, 120, seed))
        front = trade_off(ground, BY_NAME[pair[0]], BY_NAME[pair[1]], quiet)
        assert front.proven
        for limit in range(front.points[-1].limited + 2):
            want = least_by_model(ground, front.axis.term, front.other.term, limit)
            got = at_limit(front, limit)
            if got is None:
                assert want // HEAD > front.points[0].unserved
            else:
                assert divmod(want, HEAD) == (front.points[0].unserved, got)
        points += len(front.points) - 1
    assert points >= 3


def test_weights_of_the_two_terms_do_not_matter() -> None:
    scenario = parse_scenario(ducted((3,), allow_shared_nipple=False), "made")
    fronts = [
        trade_off(ground_of(dear(scenario, **w)), BY_NAME["fittings"], BY_NAME["level_changes"], quiet)
        for w in ({}, {"fitting": 1.0, "level_change": 9000.0}, {"level_change": 0.0})
    ]
    assert fronts[0].points == fronts[1].points == fronts[2].points
    assert len(fronts[0].points) == 2
