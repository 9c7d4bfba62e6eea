"""What changing costs, over every way to build small lines: search, list of changes and referee agree."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
import pytest
from exhaustive import Enumeration
from keep_made import changed
from made import line
from test_crowded_trees import crowded, whole_model

from router.bounds.dynamic import DynamicProgramme
from router.building.assemble import RunPlan
from router.building.graphs import build_graph
from router.building.keep import CHANGED, Keep
from router.building.prepare import prepare
from router.building.route import Solution, make_route, route_scenario, solve
from router.building.tree import Tree
from router.check.changes import changes
from router.check.survey import Survey
from router.profiles.graph import NEVER
from router.route.totals import change_weights, prices_of

if TYPE_CHECKING:
    from router.building.graphs import BuiltGraph
    from router.building.prepare import Prepared
    from router.route.model import Route
    from router.scenario.model import Scenario

MOST_ARCS = 30
MOST_WAYS = 60
CLOSE = 25
"""Thousandths of a point: costs are rounded arc by arc."""


def few_arcs(built: BuiltGraph, seed: int) -> BuiltGraph:
    """A graph with what costs no change, and some of the rest."""
    rng, graph = np.random.default_rng(seed), built.graph
    free = np.flatnonzero(graph.columns.amounts[:, CHANGED] == 0)
    free = rng.permutation(free)[:14]
    rest = np.setdiff1d(np.arange(len(graph.arcs)), free)
    kept = sorted([*free.tolist(), *rng.permutation(rest)[: MOST_ARCS - len(free)].tolist()])
    made = replace(graph, arcs=[graph.arcs[k] for k in kept])
    made.index_arcs()
    return replace(built, graph=made)


def laid(prepared: Prepared, built: BuiltGraph, plan: RunPlan, scenario: Scenario) -> Route:
    tree = Tree(0, [0], {0: built})
    solution = Solution(prepared, prices_of(scenario), [tree], {0: plan}, 0, "feasible")
    solution.stopped = "enumerated"
    return make_route(solution, scenario)


def check_line(seed: int) -> tuple[int, int]:
    """How many ways of a changed line were laid out, and how many differ from the older route."""
    scenario = line(seed)
    older, _ = route_scenario(scenario)
    other = changed(scenario, seed)
    if other is None or len(other.runs) != 1:
        return 0, 0
    keep = Keep(other, older)
    prepared = prepare(other, keep=keep)
    built = few_arcs(build_graph(prepared, prepared.frames[0]), seed)
    prices = prices_of(other)
    with_changes, without = (
        Enumeration(built.graph, prices),
        Enumeration(built.graph, replace(prices, changed=0)),
    )
    w = change_weights(other)
    every = [
        (level, one, two)
        for level in range(built.graph.levels)
        for one, two in zip(with_changes.every(level), without.every(level), strict=True)
    ]
    picked = np.random.default_rng(seed).permutation(len(every))[:MOST_WAYS]
    differ = 0
    for level, one, two in (every[k] for k in picked.tolist()):
        assert one.arcs == two.arcs
        charged = (one.cost - two.cost) / 1000
        route = laid(prepared, built, RunPlan(level, one.arcs), other)
        own = changes(Survey(other, route), older).points(w.head, w.run, w.offset)
        assert route.kept is not None
        assert route.kept.points == pytest.approx(own, abs=0.01), seed
        assert charged == pytest.approx(own, abs=0.05), (seed, one.arcs)
        differ += own > 0
    # and the programme finds the least of all of them
    dp = DynamicProgramme(built.graph, prices, np.zeros(len(built.graph.arcs), dtype=np.int64))
    table = dp.table()
    for level in range(built.graph.levels):
        least = min((one.cost for lvl, one, _ in every if lvl == level), default=None)
        if least is None:
            assert table[level] >= NEVER
        else:
            assert table[level] == pytest.approx(least, abs=CLOSE)
    return len(picked), differ


@pytest.mark.parametrize("dozen", range(0, 72, 12))
def test_every_way_is_charged_what_it_changes(dozen: int) -> None:
    ways, differ = zip(*(check_line(seed) for seed in range(dozen, dozen + 12)), strict=True)
    assert sum(ways) > 100
    assert sum(differ) > 20


@pytest.mark.parametrize("seed", range(0, 40, 4))
def test_crowded_trees_against_the_whole_model(seed: int) -> None:
    scenario = crowded(seed)
    older, _ = route_scenario(scenario)
    other = changed(scenario, seed)
    if other is None:
        pytest.skip("the reader refuses the changed scenario")
    assert solve(other, keep=older).bound == pytest.approx(whole_model(other, Keep(other, older)), abs=CLOSE)
