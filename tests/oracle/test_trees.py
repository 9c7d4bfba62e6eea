"""Two runs, one on the other: the whole model, the tables and plain enumeration agree."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest
from exhaustive import Enumeration, arc_cost

from router.building.prepare import prepare
from router.building.route import route_scenario
from router.building.tree import Tree, best_plans, build_tree, solve_tables, through_costs
from router.model.choice import Choice
from router.profiles.graph import NEVER, Prices
from router.route.totals import prices_of
from router.scenario import parse_scenario

if TYPE_CHECKING:
    from router.scenario.model import Scenario

CLOSE = 6


def two_runs(seed: int) -> Scenario:
    """A main with a branch line off its side or end, a head or two on each, and a beam across the branch."""
    rng = np.random.default_rng(seed)
    dry = seed % 2 == 1
    at_end = seed % 3 == 0
    heads: list[dict[str, Any]] = []
    kind = "upright" if dry else "pendent"
    z = 3500 if dry else 2600
    for k in range(int(rng.integers(1, 4))):
        side = float(rng.choice([-1, 1]) * rng.uniform(150, 700))
        heads.append({"id": f"B{k}", "at": [2000 + side, 600 + 700 * k, z], "kind": kind, "run": "B"})
    if not at_end:
        heads.append({"id": "M0", "at": [2600, float(rng.uniform(200, 500)), z], "kind": kind, "run": "M"})
    low = float(rng.uniform(2900, 3250))
    edge = float(rng.uniform(250, 1200))
    level = float(rng.choice([3000, 3200]))
    return parse_scenario(
        {
            "name": f"tree {seed}",
            "system": {"kind": "dry" if dry else "wet"},
            "runs": [
                {
                    "id": "M", "kind": "cross_main", "plan": [[0, 0], [2000 if at_end else 3000, 0]],
                    "elevation": 3000, "band": [2900, 3150], "size": 50,
                },
                {
                    "id": "B", "plan": [[2000, 0], [2000, 3000]], "elevation": level,
                    "band": [2800, 3400], "size": 32, "supply": "M",
                },
            ],
            "heads": heads,
            "obstructions": [
                {
                    "id": "beam",
                    "polygon": [[1200, edge], [2900, edge], [2900, edge + 120], [1200, edge + 120]],
                    "elevations": [low, low + 200],
                }
            ],
            "rules": {"slide": 0.0},
        },
        "made",
    )  # fmt: skip


def solved(scenario: Scenario) -> tuple[Tree, Prices]:
    prepared, prices = prepare(scenario), prices_of(scenario)
    tree = build_tree(prepared, 0)
    solve_tables(prepared, tree, prices)
    return tree, prices


def composed(tree: Tree, prices: Prices) -> tuple[list[float], list[float]]:
    """Tables of branch and main by enumeration: the branch's stands in for the takeoff that feeds it."""
    branch = Enumeration(tree.graphs[1].graph, prices)
    below = [branch.least(level) for level in range(branch.graph.levels)]
    main = tree.graphs[0].graph
    extra = {k: sum(below[level] for _, level in arc.feeds) for k, arc in enumerate(main.arcs) if arc.feeds}
    oracle = Enumeration(main, prices, extra)
    return below, [oracle.least(level) for level in range(main.levels)]


@pytest.mark.parametrize("seed", range(24))
def test_tables_and_whole_model(seed: int) -> None:
    tree, prices = solved(two_runs(seed))
    below, above = composed(tree, prices)
    for run, want in ((1, below), (0, above)):
        for level, cost in enumerate(want):
            got = int(tree.tables[run][level])
            assert got >= NEVER if cost == math.inf else got == pytest.approx(cost, abs=CLOSE)
    graphs = {r: built.graph for r, built in tree.graphs.items()}
    answer = Choice(
        graphs,
        {r: list(range(len(g.arcs))) for r, g in graphs.items()},
        {0: None, 1: 0},
        {r: list(range(len(built.item_heads))) for r, built in tree.graphs.items()},
        {r: np.array([arc_cost(arc, prices) for arc in g.arcs], dtype=np.int64) for r, g in graphs.items()},
        prices,
    ).solve()
    assert answer.status == "optimal"
    styles = sum(
        len({graphs[r].arcs[k].style for k in run.arcs} - {""}) for r, run in answer.runs.items()
    ) * round(1000 * prices.style)
    # the relaxation does not see the styles' term: it bounds from below, by less than all of it
    assert min(above) - CLOSE <= answer.value - styles
    assert answer.value <= min(above) + 2 * 3 * 1000 * prices.style + CLOSE


@pytest.mark.parametrize("seed", range(12))
def test_whole_model_without_the_styles_term_is_the_composition(seed: int) -> None:
    scenario = two_runs(100 + seed)
    scenario = scenario.model_copy(update={"weights": scenario.weights.model_copy(update={"style": 0.0})})
    tree, prices = solved(scenario)
    graphs = {r: built.graph for r, built in tree.graphs.items()}
    answer = Choice(
        graphs,
        {r: list(range(len(g.arcs))) for r, g in graphs.items()},
        {0: None, 1: 0},
        {r: list(range(len(built.item_heads))) for r, built in tree.graphs.items()},
        {r: np.array([arc_cost(arc, prices) for arc in g.arcs], dtype=np.int64) for r, g in graphs.items()},
        prices,
    ).solve()
    assert answer.value == pytest.approx(min(composed(tree, prices)[1]), abs=CLOSE)
    assert tree.bound == pytest.approx(answer.value, abs=CLOSE)


@pytest.mark.parametrize("seed", range(8))
def test_through_costs_of_a_tree(seed: int) -> None:
    """Least cost of the tree with one arc in it: the other ways to serve the same are taken away."""
    tree, prices = solved(two_runs(200 + seed))
    through = through_costs(tree)
    least = min(composed(tree, prices)[1])
    assert min(int(t.min()) for t in through.values()) == pytest.approx(least, abs=CLOSE)
    for values in through.values():
        assert all(v >= least - CLOSE for v in values)
    # every arc of the best plan passes at the least cost
    prepared = prepare(two_runs(200 + seed))
    for run, plan in best_plans(prepared, tree).items():
        for k in plan.arcs:
            assert int(through[run][k]) == pytest.approx(least, abs=CLOSE)
    # branch arcs one by one: the branch's table through that arc, composed into the main
    branch = tree.graphs[1].graph
    whole = Enumeration(branch, prices)
    main = tree.graphs[0].graph
    for k in range(0, len(branch.arcs), max(1, len(branch.arcs) // 12)):
        arc = branch.arcs[k]
        if arc.kind != "takeoff":
            continue
        rivals = {j: math.inf for j, a in enumerate(branch.arcs) if j != k and set(a.items) & set(arc.items)}
        only = Enumeration(branch, prices, rivals)
        # with its heads at no other outlet; an unserved head costs more than any of these
        table = [only.least(level) for level in range(whole.graph.levels)]
        feeds = {j: sum(table[lv] for _, lv in a.feeds) for j, a in enumerate(main.arcs) if a.feeds}
        upper = Enumeration(main, prices, feeds)
        want = min(upper.least(level) for level in range(main.levels))
        got = int(through[1][k])
        if want < least + 1000 * prices.unserved / 2:
            assert got == pytest.approx(want, abs=CLOSE)
        else:
            assert got > least + 1000 * prices.unserved / 2


def test_a_child_run_without_heads_costs_nothing() -> None:
    scenario = two_runs(3).model_dump()
    scenario["heads"] = [h for h in two_runs(4).model_dump()["heads"] if h["run"] == "M"]
    scenario["runs"][0] = two_runs(4).model_dump()["runs"][0]
    bare = parse_scenario(scenario, "made")
    assert bare.heads
    route, solution = route_scenario(bare)
    assert route.counts.served == len(bare.heads)
    assert solution.bound / 1000 == pytest.approx(route.objective.value, abs=0.05)
