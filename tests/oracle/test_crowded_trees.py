"""Small trees whose lines crowd each other, against the whole model with every clash said pair by pair."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
import pytest

from router.building.prepare import prepare
from router.building.route import solve
from router.building.settle import Group
from router.building.tree import build_tree, solve_tables
from router.model.choice import Choice
from router.profiles.graph import NEVER
from router.route.totals import prices_of
from router.scenario import parse_scenario

if TYPE_CHECKING:
    from router.building.keep import Keep
    from router.scenario.model import Scenario


def crowded(seed: int) -> Scenario:
    """Two or three lines close beside each other, some of their heads beyond the next line."""
    rng = np.random.default_rng(seed)
    dry = bool(rng.random() < 0.33)
    lines, gap = int(rng.integers(2, 4)), float(rng.choice([350, 500, 700]))
    band = float(rng.choice([0, 120, 250]))
    runs: list[dict[str, Any]] = [
        {"id": "M", "kind": "cross_main", "plan": [[0, 0], [1200 + gap * lines, 0]], "elevation": 3000,
         "size": 65, "band": [3000 - band, 3000 + band]}
    ]  # fmt: skip
    heads: list[dict[str, Any]] = []
    for n in range(lines):
        x, side = 800 + gap * n, float(rng.choice([1, 1, -1]))
        z, band = 3000 + float(rng.choice([0, 0, 150, -150])), float(rng.choice([0, 120, 250]))
        runs.append(
            {"id": f"B{n}", "plan": [[x, 0], [x, side * float(rng.choice([1500, 2200]))]], "elevation": z,
             "supply": "M", "size": int(rng.choice([32, 40])), "band": [z - band, z + band]}
        )  # fmt: skip
        for _ in range(int(rng.integers(1, 3))):
            upright = dry or bool(rng.random() < 0.33)
            away = float(rng.choice([-1, 1])) * float(rng.choice([0, 0.6 * gap, 1.3 * gap, gap, 300]))
            inlet = float(rng.uniform(3200, 3600)) if upright else float(rng.uniform(2500, 2850))
            place = [round(x + away), round(side * float(rng.choice([600, 610, 640, 900, 1300])))]
            heads.append(
                {"id": f"H{len(heads)}", "at": [*place, round(inlet)], "run": f"B{n}",
                 "kind": "upright" if upright else "pendent"}
            )  # fmt: skip
    weights: dict[str, float] = {"style": float(rng.choice([0, 10, 1000, 3000]))}
    if rng.random() < 0.3:
        weights["unserved"] = float(rng.choice([2500, 6000, 20000]))
    if dry and rng.random() < 0.5:
        weights["large_drain"] = 2000.0
    return parse_scenario(
        {
            "name": f"crowded {seed}",
            "system": {
                "kind": "dry" if dry else "wet",
                "pitch_branch": float(rng.choice([0, 4])) if dry else 0,
                "pitch_main": 0,
            },
            "runs": runs,
            "heads": heads,
            "weights": weights,
            "rules": {
                "slide": float(rng.choice([0, 0, 60])),
                "station_step": 60,
                "allow_cross": bool(seed % 2),
            },
        },
        "made",
    )


def whole_model(scenario: Scenario, keep: Keep | None = None) -> int:
    """Least cost over every arc of every run; what clashes is forbidden pair by pair."""
    prepared, prices = prepare(scenario, keep=keep), prices_of(scenario)
    trees = [build_tree(prepared, root) for root in prepared.roots]
    for tree in trees:
        solve_tables(prepared, tree, prices)
    group = Group(prepared, trees, prices)
    costs = {r: group._own_costs(r, tree) for tree in trees for r in tree.order}
    kept = {r: np.flatnonzero(costs[r] < NEVER // 2).tolist() for r in costs}
    choice = Choice(
        {r: built.graph for r, built in group.graphs.items()},
        kept,
        {r: group.parents[r] for r in costs},
        {r: group._own_items(r) for r in costs},
        costs,
        prices,
        (),
        {r: built.long_lows for r, built in group.graphs.items()},
    )
    while True:
        answer = choice.solve()
        assert answer.status == "optimal"
        pairs = group.clashes(choice, answer)
        if not pairs:
            return answer.value
        for pair in pairs:
            one, other = (group._family(choice, kept, e) for e in pair)
            matrix = group._matrix(choice, one, other)
            for i, j in zip(*matrix.nonzero(), strict=True):
                choice.model.add_bool_or(~choice.element(one[i]), ~choice.element(other[j]))
            group._forbid_beyond(choice, kept, one, other, matrix)


def agrees(scenario: Scenario) -> bool:
    """Whether runs had to be decided together; the answer must be the whole model's."""
    solution = solve(scenario)
    assert solution.status == "optimal"
    assert solution.bound == whole_model(scenario)
    return "model_several_runs" in solution.decided.values()


@pytest.mark.parametrize("twenty", range(0, 80, 20))
def test_lines_decided_together_are_the_whole_models(twenty: int) -> None:
    assert sum(agrees(crowded(seed)) for seed in range(twenty, twenty + 20))


def test_a_line_beside_that_moves_to_a_level_of_known_cost() -> None:
    """Once two lines clash the main may feed a third one elsewhere, where its table was right already."""
    assert agrees(
        parse_scenario(
            {
                "name": "beside",
                "runs": [
                    {"id": "M", "kind": "cross_main", "plan": [[0, 0], [2250, 0]], "elevation": 3000,
                     "size": 65, "band": [2880, 3120]},
                    {"id": "B0", "plan": [[800, 0], [800, 1500]], "elevation": 2850, "supply": "M",
                     "size": 40, "band": [2730, 2970]},
                    {"id": "B1", "plan": [[1150, 0], [1150, 1500]], "elevation": 2850, "supply": "M",
                     "size": 32, "band": [2600, 3100]},
                    {"id": "B2", "plan": [[1500, 0], [1500, -2200]], "elevation": 3000, "supply": "M",
                     "size": 40, "band": [2750, 3250]},
                ],
                "heads": [
                    {"id": "H0", "at": [1255, 1300, 2511], "run": "B0"},
                    {"id": "H2", "at": [1605, 1300, 2512], "run": "B1"},
                    {"id": "H3", "at": [1150, -610, 3265], "kind": "upright", "run": "B2"},
                ],
            },
            "made",
        )
    )  # fmt: skip


def test_no_style_at_all_may_be_the_best() -> None:
    """The main cannot both feed the line and serve its own head beside that tee; the line takes less.

    Both take one style. Before styles count the own head costs less: 3 fittings against 2 and a style.
    """
    scenario = parse_scenario(
        {
            "name": "no style",
            "runs": [
                {"id": "M", "kind": "cross_main", "plan": [[0, 0], [1900, 0]], "elevation": 3000, "size": 65},
                {"id": "B", "plan": [[1150, 0], [1150, 2200]], "elevation": 3000, "supply": "M", "size": 40},
            ],
            "heads": [
                {"id": "own", "at": [1100, 300, 2700], "run": "M"},
                {"id": "below", "at": [1150, 1300, 2600], "run": "B"},
            ],
            "pins": {"heads": {"own": {"style": "return_bend"}}},
            "weights": {"style": 3000, "unserved": 20000},
            "rules": {"slide": 0},
        },
        "made",
    )
    solution = solve(scenario)
    assert solution.bound == whole_model(scenario)
    assert {scenario.runs[r].id for r in solution.plans} == {"M", "B"}


OBLIQUE: dict[str, Any] = {
    "name": "oblique",
    "system": {
        "kind": "preaction",
        "hazard": "ordinary",
        "joining": [{"up_to": 32, "joining": "threaded"}, {"joining": "butt_weld"}],
        "pitch_main": 0.0,
    },
    "runs": [
        {
            "id": "M",
            "kind": "cross_main",
            "plan": [[0.0, 0.0], [2461.0, 0.0]],
            "elevation": 3000.0,
            "size": 50,
        },
        {
            "id": "B0",
            "kind": "branch",
            "plan": [[2091.8, 0.0], [4274.799, -1260.355]],
            "elevation": 3300.0,
            "supply": "M",
            "band": [3260.0, 3340.0],
            "size": "schedule",
        },
    ],
    "heads": [
        {"id": "H0", "at": [3388.8, -447.7, 3744.9], "kind": "upright", "run": "B0"},
        {"id": "H1", "at": [2960.6, -1197.0, 3910.4], "kind": "upright", "run": "B0"},
        {"id": "H2", "at": [3606.5, -179.1, 3699.0], "kind": "upright", "run": "B0"},
        {"id": "H3", "at": [2398.2, -176.9, 3816.2], "kind": "upright", "run": "B0"},
        {"id": "H4", "at": [2754.5, -1325.3, 3632.0], "kind": "upright", "run": "B0"},
        {"id": "H5", "at": [794.0, -914.0, 3363.1], "kind": "upright", "run": "M", "shift": 150.0},
        {"id": "H6", "at": [1395.6, 948.6, 3212.1], "kind": "upright", "run": "M"},
        {"id": "H7", "at": [2316.8, -1283.5, 3852.5], "kind": "upright", "run": "B0", "shift": 20.0},
    ],
    "obstructions": [
        {
            "id": "O0",
            "kind": "duct",
            "polygon": [[322.7, 269.3], [1145.5, 269.3], [1145.5, 515.1], [322.7, 515.1]],
            "elevations": [2855.1, 3202.7],
            "clearance": 5.0,
        },
        {
            "id": "O1",
            "kind": "column",
            "polygon": [[2801.7, -554.9], [3018.2, -679.9], [3143.2, -463.4], [2926.7, -338.4]],
            "elevations": [400.0, 3900.0],
        },
    ],
    "rules": {
        "slide": 240.0,
        "station_step": 60.0,
        "piece_clearance": 50.0,
        "alignment": 0.5,
        "allow_cross": False,
        "allow_flexible": False,
    },
    "weights": {"large_drain": 5000.0},
}
"""A riser nipple feeds the line at 30 degrees; pipe keeps 50 mm apart, more than the nipple is at first."""


def test_the_pipe_before_a_lines_first_outlet_is_one_with_its_beginning() -> None:
    """However far that goes it may be near to the nipple that feeds it; only beyond an outlet it may not."""
    scenario = parse_scenario(OBLIQUE, "made")
    assert solve(scenario).bound == whole_model(scenario)
