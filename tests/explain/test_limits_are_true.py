"""Every obstruction that is named for a profile: at its limit the pipe just clears it, 1 mm on it does not.

Measured with plain arithmetic on shapely's plan distance, not with what the reasons are made of.
"""

from __future__ import annotations

from math import hypot
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from shapely.geometry import LineString, Polygon

from router.building.route import route_scenario
from router.explain import explain_route, explain_run
from router.scenario import read_scenario
from router.trade.tables import Tables

if TYPE_CHECKING:
    from router.explain import Limit
    from router.route.model import Route
    from router.scenario.model import Scenario

SCENARIOS = sorted((Path(__file__).parents[2] / "scenarios").glob("*.json"))
STEP = 5.0


def nearest(scenario: Scenario, route: Route, run_id: str, limit: Limit, level: float) -> float:
    """Least distance of the run's axis at a level to the obstruction, over the stations that are told, mm."""
    run = next(r for r in scenario.runs if r.id == run_id)
    pitch = next(r.pitch for r in route.runs if r.id == run_id) / 1000
    solid = next(o for o in scenario.obstructions if o.id == limit.against)
    polygon, line = Polygon(solid.polygon), LineString(run.plan)
    assert limit.stations is not None
    low, high = limit.stations
    best = float("inf")
    for n in range(int((high - low) / STEP) + 2):
        station = min(low + n * STEP, high)
        z = level + pitch * station
        away = polygon.distance(line.interpolate(station))
        best = min(best, hypot(away, max(solid.elevations[0] - z, z - solid.elevations[1], 0.0)))
    return best


def check(scenario: Scenario, route: Route, run_id: str, limit: Limit, beyond: float) -> None:
    assert limit.level is not None
    solid = next(o for o in scenario.obstructions if o.id == limit.against)
    gap = scenario.rules.clearance if solid.clearance is None else solid.clearance
    tables = Tables(scenario.system.standard, scenario.rules.tables or None)
    radii = {tables.od(p.dn) / 2 for p in route.pieces if p.run == run_id and p.kind == "run"}
    at = nearest(scenario, route, run_id, limit, limit.level)
    assert at >= gap + min(radii) - 0.2, limit
    if len(radii) == 1 and not next(r.pitch for r in route.runs if r.id == run_id):
        assert nearest(scenario, route, run_id, limit, limit.level + beyond) < gap + min(radii) - 0.5, limit


@pytest.mark.parametrize("file", SCENARIOS, ids=lambda file: file.stem)
def test_obstructions_named_for_a_profile(file: Path) -> None:
    scenario = read_scenario(file)
    route, _ = route_scenario(scenario)
    for reasons in explain_route(scenario, route).runs:
        for binding in reasons.bindings:
            for limit in binding.limits:
                if limit.kind == "obstruction" and limit.level is not None:
                    check(scenario, route, reasons.run, limit, 1.0 if "<=" in limit.text else -1.0)


def test_some_are_named() -> None:
    scenario = read_scenario(next(f for f in SCENARIOS if f.stem == "plant_corridor"))
    route, _ = route_scenario(scenario)
    found = explain_run(scenario, route, "B1")
    named = {x.against for b in found.bindings for x in b.limits if x.kind == "obstruction"}
    assert {"cross duct 1", "cross duct 2", "cross duct 3"} <= named
