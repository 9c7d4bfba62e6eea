"""Random floors with everything mixed: whatever the router serves, the referee finds clean."""

from __future__ import annotations

from math import cos, degrees, pi, radians, sin
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest

from router.building.route import route_scenario
from router.check.referee import check_route
from router.scenario import ScenarioError, parse_scenario

if TYPE_CHECKING:
    from router.scenario.model import Scenario

INLETS = {"pendent": 2600.0, "upright": 3450.0, "sidewall": 3000.0}


def floor(seed: int) -> Scenario | None:
    """One line with or without a bend and a child run, or two lines; ``None`` if the reader refuses it."""
    rng = np.random.default_rng(seed)
    turned = float(rng.uniform(0, 2 * pi)) if rng.random() < 0.5 else 0.0

    def put(x: float, y: float) -> list[float]:
        return [
            round(x * cos(turned) - y * sin(turned), 3),
            round(x * sin(turned) + y * cos(turned), 3),
        ]

    kind = ("wet", "dry", "preaction")[seed % 3]
    bend = radians(float(rng.choice([0, 45, 90, 60, 30])) * float(rng.choice([-1, 1])))
    length = float(rng.uniform(1500, 3500))
    plan = [(0.0, 0.0), (length, 0.0)]
    if bend:
        plan.append((length + 2500 * cos(bend), 2500 * sin(bend)))
    second = str(rng.choice(["none", "child", "line"], p=[0.3, 0.5, 0.2]))
    sizes = [50, 65] if second == "child" else ["schedule", 40, 50]
    runs: list[dict[str, Any]] = [
        {"id": "A", "plan": [put(*p) for p in plan], "elevation": 3000,
         "kind": "cross_main" if second == "child" else "branch",
         "size": sizes[int(rng.integers(len(sizes)))]}
    ]  # fmt: skip
    at = length * float(rng.choice([0.3, 0.6]))
    if second == "child":
        runs.append({"id": "C", "plan": [put(at, 0), put(at, -2500)], "size": 32, "supply": "A",
                     "elevation": float(rng.choice([3000, 3000, 3150, 2850]))})  # fmt: skip
    if second == "line":
        beside = -float(rng.uniform(300, 800))
        runs.append({"id": "C", "plan": [put(0, beside), put(length, beside)], "size": 32, "elevation": 3000})
    heads: list[dict[str, Any]] = []
    for h in range(int(rng.integers(2, 7))):
        run = "C" if second != "none" and rng.random() < 0.4 else "A"
        head = str(rng.choice(["pendent", "pendent", "upright", "sidewall"]))
        if run == "C" and second == "child":
            x, y = at + float(rng.uniform(-900, 900)), -float(rng.uniform(200, 2400))
        else:
            x = float(rng.uniform(100, length))
            y = float(rng.uniform(-900, 900)) if rng.random() < 0.7 else 0.0
        if bend and run == "A" and rng.random() < 0.4:
            d, e = float(rng.uniform(100, 2400)), float(rng.uniform(-800, 800))
            x, y = length + d * cos(bend) - e * sin(bend), d * sin(bend) + e * cos(bend)
        z = INLETS[head] - (300.0 if head == "sidewall" and rng.random() < 0.4 else 0.0)
        heads.append(
            {"id": f"H{h}", "at": [*put(x, y), z], "kind": head, "run": run,
             "dry": bool(kind != "wet" and head == "pendent" and rng.random() < 0.7)}
        )  # fmt: skip
        if head == "sidewall":
            heads[-1]["facing"] = (degrees(turned) + float(rng.choice([0, 90, 180, 270]))) % 360
        if rng.random() < 0.2:
            heads[-1]["shift"] = float(rng.uniform(20, 150))
        if rng.random() < 0.2:
            heads[-1]["thread"] = int(rng.choice([20, 25]))
    obstructions = []
    for b in range(int(rng.integers(0, 4))):
        x, y = float(rng.uniform(0, length)), float(rng.uniform(-1500, 500))
        w, d, low = float(rng.uniform(80, 400)), float(rng.uniform(80, 1500)), float(rng.uniform(2750, 3250))
        obstructions.append(
            {"id": f"O{b}", "polygon": [put(x, y), put(x + w, y), put(x + w, y + d), put(x, y + d)],
             "elevations": [low, low + float(rng.uniform(50, 400))]}
        )  # fmt: skip
    rules: dict[str, Any] = {
        "slide": float(rng.choice([0, 120, 300])),
        "allow_cross": bool(rng.integers(2)),
        "allow_flexible": bool(rng.integers(2)),
    }
    if rng.random() < 0.2:
        rules["outlet_spacing"] = float(rng.choice([80, 150, 300]))
    if rng.random() < 0.2:
        rules["arm_size"] = int(rng.choice([20, 32]))
    ceilings = []
    if rng.random() < 0.3:
        corners = [put(-900, -3000), put(7000, -3000), put(7000, 3000), put(-900, 3000)]
        ceilings.append({"id": "ceiling", "polygon": corners, "elevation": 2650})
    try:
        return parse_scenario(
            {
                "name": f"floor {seed}",
                "system": {
                    "kind": kind,
                    "joining": ("threaded", "welded", "grooved", "butt_weld")[int(rng.integers(4))],
                    "water": str(rng.choice(["clean", "clean", "raw"])),
                    "standard": str(rng.choice(["inch", "inch", "metric"])),
                },
                "runs": runs,
                "heads": heads,
                "obstructions": obstructions,
                "ceilings": ceilings,
                "rules": rules,
            },
            "made",
        )
    except ScenarioError:
        return None


def judged(seed: int) -> int:
    """Route and judge one floor; how many heads it serves."""
    scenario = floor(seed)
    if scenario is None:
        return 0
    route, solution = route_scenario(scenario)
    verdict = check_route(scenario, route)
    assert [(seed, f.text) for f in verdict.breaks if f.rule != "served"] == []
    if route.status == "feasible":  # cheaper, without a trace of those who are not served
        assert route.counts.served < route.counts.heads
        assert route.objective.value < solution.bound / 1000
    else:
        assert solution.bound / 1000 == pytest.approx(route.objective.value, abs=0.3)
    assert verdict.value == pytest.approx(route.objective.value, abs=0.02)
    # whoever is left out is told why
    assert all(h.served or h.stopped_by for h in route.heads)
    return route.counts.served


SLOW = (10, 35)
"""Crowded floors whose proof takes half a minute each: ``benchmarks/slow_floors.py`` judges them."""


@pytest.mark.parametrize("ten", range(0, 80, 10))
def test_what_is_served_is_clean_and_costs_what_was_proven(ten: int) -> None:
    assert sum(judged(seed) for seed in range(ten, ten + 10) if seed not in SLOW) > 15


SEEN = {
    172: "a tee beside a plan bend",
    208: "a child's first outlet of a wide tee",
    259: "a level change that jumps over a child run's only takeoff",
    369: "a drop before a bend, spacing given",
    456: "an offset beside an outlet, spacing given",
    505: "a line that is settled for its styles runs into another",
    642: "a sidewall that ends the line",
}


@pytest.mark.parametrize("seed", SEEN, ids=lambda seed: SEEN[seed].replace(" ", "-"))
def test_floors_that_once_went_wrong(seed: int) -> None:
    assert judged(seed)
