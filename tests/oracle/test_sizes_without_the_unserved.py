"""Where heads stay unserved the route is no dearer than that of the scenario without them.

Sizes by schedule are planned for all heads; a step planned for one that nothing serves must not stay.
"""

from __future__ import annotations

import pytest
from made import line

from router.building.route import route_scenario
from router.check import check_route


@pytest.mark.parametrize("chunk", range(3))
def test_no_dearer_than_without_them(chunk: int) -> None:
    compared = 0
    for seed in range(chunk, 60, 3):
        made = line(seed, heads=6)
        runs = [run.model_copy(update={"size": "schedule"}) for run in made.runs]
        scenario = made.model_copy(update={"runs": runs})
        route, _ = route_scenario(scenario)
        gone = {head.id for head in route.heads if not head.served}
        if not gone or not route.counts.served:
            continue
        left = [head for head in scenario.heads if head.id not in gone]
        other, _ = route_scenario(scenario.model_copy(update={"heads": left}))
        rest = sum(term.cost for term in route.objective.terms if term.name != "unserved")
        if other.counts.served == other.counts.heads:
            assert rest <= other.objective.value + 0.02
            compared += 1
        assert {finding.rule for finding in check_route(scenario, route).breaks} <= {"hangers"}
        assert all(head.stopped_by for head in route.heads if not head.served)
    assert compared > 2
