"""Two lines whose arms clash: the settled answer is the best of all pairs of paths.

``clash_matrix`` is the one judge that both sides share; everything else is
enumerated here: all ways to build either line, and every pair of them.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
import pytest
from exhaustive import Enumeration, Whole
from made import thin_built

from router.building.prepare import Prepared, prepare
from router.building.route import route_scenario
from router.building.settle import Group
from router.building.shapes import Axes, Shapes, clash_matrix
from router.building.tree import Tree, build_tree, solve_tables
from router.check.referee import check_route
from router.route.totals import prices_of
from router.scenario import parse_scenario

if TYPE_CHECKING:
    from router.profiles.graph import Prices
    from router.scenario.model import Scenario

CLOSE = 6


def two_lines(seed: int) -> Scenario:
    """Two lines side by side; each serves heads beyond the other, so that arms must cross."""
    rng = np.random.default_rng(seed)
    gap = float(rng.uniform(250, 500))
    heads: list[dict[str, Any]] = []
    for k in range(2):
        x = 500.0 + 450 * k + float(rng.uniform(0, 60))
        near = rng.random() < 0.3
        heads.append({"id": f"A{k}", "at": [x, -200.0 if near else gap + 300.0 + 40 * k, 2600], "run": "A"})
        near = rng.random() < 0.3
        shift = float(rng.uniform(-70, 70))
        heads.append(
            {"id": f"B{k}", "at": [x + shift, gap + 150.0 if near else -300.0 - 40 * k, 2600], "run": "B"}
        )
    return parse_scenario(
        {
            "name": f"two lines {seed}",
            "runs": [
                {"id": "A", "plan": [[0, 0], [1800, 0]], "elevation": 3000, "band": [3000, 3000], "size": 32},
                {
                    "id": "B", "plan": [[0, gap], [1800, gap]],
                    "elevation": 3000 + float(rng.choice([0, 120])), "size": 32,
                    "band": [3000, 3120] if seed % 4 == 0 else None,
                },
            ],
            "heads": heads,
            "rules": {"slide": 120.0, "station_step": 120.0, "allow_shared_nipple": False},
        },
        "made",
    )  # fmt: skip


def trees_of(scenario: Scenario, arcs: int, seed: int) -> tuple[Prepared, list[Tree], Prices]:
    prepared, prices = prepare(scenario), prices_of(scenario)
    trees = [build_tree(prepared, root) for root in prepared.roots]
    for t, tree in enumerate(trees):
        tree.graphs = {r: thin_built(b, arcs, 10 * seed + t) for r, b in tree.graphs.items()}
        solve_tables(prepared, tree, prices)
    return prepared, trees, prices


def elements_of(shapes: Shapes, tree: Tree, way: Whole) -> list[tuple[Any, ...]]:
    """What a way consists of: arcs, and the level pipe between them."""
    run, arcs = tree.root, shapes.graphs[tree.root].graph.arcs
    out: list[tuple[Any, ...]] = []
    at, level = 0, way.start
    for k in way.arcs:
        if arcs[k].a > at:
            out.append(("pipe", run, at, arcs[k].a, level))
        out.append(("arc", run, k))
        at, level = arcs[k].b, arcs[k].lb
    return out


def best_pair(prepared: Prepared, trees: list[Tree], prices: Prices) -> tuple[float, float]:
    """(least cost of a pair of ways that do not clash, the same if clashes were allowed)."""
    shapes = Shapes(prepared, {r: b for tree in trees for r, b in tree.graphs.items()})
    names: dict[tuple[Any, ...], int] = {}
    ways: list[list[tuple[list[int], float]]] = []
    for tree in trees:
        graph = tree.graphs[tree.root].graph
        oracle = Enumeration(graph, prices)
        mine: list[tuple[list[int], float]] = [([], oracle.unserved_cost(0))]
        for level in range(graph.levels):
            for way in oracle.every(level):
                used = [names.setdefault(e, len(names)) for e in elements_of(shapes, tree, way)]
                styles = len({graph.arcs[k].style for k in way.arcs} - {""})
                mine.append((used, way.cost + round(1000 * prices.style) * styles))
        ways.append(mine)
    axes: list[Axes] = [
        shapes.arc(e[1], e[2]) if e[0] == "arc" else shapes.stay(e[1], e[2], e[3], e[4]) for e in names
    ]
    clash = clash_matrix(axes, axes, prepared.scenario.rules.piece_clearance, [None] * len(prepared.frames))
    np.fill_diagonal(clash, False)
    single = clash.astype(np.float32)
    tables, costs = [], []
    for mine in ways:
        table = np.zeros((len(mine), len(names)), dtype=np.float32)
        for i, (used, _) in enumerate(mine):
            table[i, used] = 1
        alone = np.einsum("ij,ij->i", table @ single, table) == 0
        tables.append(table[alone])
        costs.append(np.array([c for _, c in mine])[alone])
    total = costs[0][:, None] + costs[1][None, :]
    apart = (tables[0] @ single @ tables[1].T) == 0
    return float(total[apart].min()), float(total.min())


@pytest.mark.parametrize("seed", range(40))
def test_settled_answer_is_the_best_pair(seed: int) -> None:
    scenario = two_lines(seed)
    prepared, trees, prices = trees_of(scenario, 60, seed)
    want, _ = best_pair(prepared, trees, prices)
    group = Group(prepared, trees, prices)
    for first_gap in (30.0, 1200.0):
        settled = group.settle(first_gap, None, lambda text: None)
        assert settled.status == "optimal"
        assert settled.value == settled.bound
        assert settled.value == pytest.approx(want, abs=CLOSE)


def test_many_of_these_clash() -> None:
    dearer = 0
    for seed in range(40):
        want, free = best_pair(*trees_of(two_lines(seed), 60, seed))
        dearer += want > free + CLOSE
    assert dearer >= 10


@pytest.mark.parametrize("seed", range(6))
def test_whole_route_of_clashing_lines(seed: int) -> None:
    scenario = two_lines(300 + seed)
    prepared, trees, prices = trees_of(scenario, 10**9, seed)
    want, _ = best_pair(prepared, trees, prices)
    route, _ = route_scenario(scenario)
    assert route.status == "optimal"
    assert 1000 * route.objective.value == pytest.approx(want, abs=40)  # the route rounds its metres
    assert check_route(scenario, route).clean
