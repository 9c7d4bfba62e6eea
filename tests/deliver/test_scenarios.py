"""The demo scenarios are plausible: what a designer would notice at a glance."""

from __future__ import annotations

import math
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import pytest
import shapely

from router.geometry.plan import PlanLine
from router.scenario import read_scenario

if TYPE_CHECKING:
    from router.scenario.model import Scenario

SCENARIOS = Path(__file__).parents[2] / "scenarios"


@pytest.fixture(scope="module", params=sorted(p.name for p in SCENARIOS.glob("*.json")))
def scenario(request: pytest.FixtureRequest) -> Scenario:
    return read_scenario(SCENARIOS / request.param)


def test_heads_stand_1_8_to_4_6_m_apart(scenario: Scenario) -> None:
    """NFPA 13: at most 15 ft (4.6 m, seen in an excerpt), at least 6 ft (1.8 m, from memory)."""
    places = np.array([h.at[:2] for h in scenario.heads])
    gaps = np.hypot(*(places[:, None] - places[None]).transpose(2, 0, 1))
    np.fill_diagonal(gaps, np.inf)
    assert gaps.min() >= 1800
    assert gaps.min(axis=1).max() <= 4600


def test_heads_are_within_reach_and_on_the_right_side_of_their_line(scenario: Scenario) -> None:
    lines = {run.id: (PlanLine(run.plan), run) for run in scenario.runs}
    for head in scenario.heads:
        plan, run = lines[head.run or scenario.runs[-1].id]
        assert plan.nearest(head.at[:2])[1] <= scenario.rules.reach
        rise = head.at[2] - run.elevation
        assert rise > 300 if head.kind == "upright" else rise < -300


def test_no_head_stands_in_an_obstruction(scenario: Scenario) -> None:
    """The last vertical comes down (or up) to the head: it must have a free way in plan."""
    for item in scenario.obstructions:
        area = shapely.Polygon(item.polygon)
        for head in scenario.heads:
            assert shapely.Point(head.at[:2]).distance(area) > 45, (item.id, head.id)


def test_each_line_meets_an_obstruction_at_its_nominal_level(scenario: Scenario) -> None:
    """Or there would be nothing to solve: one line or its arms meets a thing at the given elevation."""
    met = 0
    for run in scenario.runs:
        line = shapely.LineString(run.plan)
        for item in scenario.obstructions:
            near = shapely.Polygon(item.polygon).distance(line) < 300
            met += near and item.elevations[0] - 60 < run.elevation < item.elevations[1] + 60
    assert met >= 1


def test_children_start_on_their_supply(scenario: Scenario) -> None:
    plans = {run.id: PlanLine(run.plan) for run in scenario.runs}
    for run in scenario.runs:
        if run.supply:
            assert plans[run.supply].nearest(run.plan[0])[1] < 1.0


def test_the_clinic_is_turned() -> None:
    scenario = read_scenario(SCENARIOS / "clinic_corridor.json")
    (x0, y0), (x1, y1) = scenario.runs[1].plan
    assert math.degrees(math.atan2(y1 - y0, x1 - x0)) == pytest.approx(17.0, abs=0.01)
