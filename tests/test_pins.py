"""What is pinned stays: styles by head, checked in the route and by the referee."""

from __future__ import annotations

from typing import Any

import pytest

from router.building.route import route_scenario
from router.check import check_route
from router.scenario import ScenarioError, parse_scenario

GIVEN: dict[str, Any] = {
    "name": "pins",
    "runs": [{"id": "B1", "plan": [[0, 0], [6000, 0]], "elevation": 3000, "size": 25}],
    "heads": [{"id": "H1", "at": [2000, 900, 2400]}, {"id": "H2", "at": [5000, 900, 2400]}],
}


def test_one_of_the_pinned_styles_is_taken() -> None:
    free = parse_scenario(GIVEN, "pins")
    route, _ = route_scenario(free)
    assert {h.style for h in route.heads} == {"side_arm"}
    pinned = parse_scenario(
        {**GIVEN, "pins": {"heads": {"H1": {"styles": ["return_bend", "raised_arm"]}}}}, "pins"
    )
    kept, _ = route_scenario(pinned)
    assert [h.style for h in kept.heads] == ["return_bend", "side_arm"]
    assert check_route(pinned, kept).clean
    assert [f.rule for f in check_route(pinned, route).breaks] == ["pins"]


def test_an_unknown_pinned_style_is_a_fault() -> None:
    with pytest.raises(ScenarioError) as caught:
        parse_scenario({**GIVEN, "pins": {"heads": {"H2": {"styles": ["side_arm", "loop"]}}}}, "pins")
    fault = caught.value.faults[0]
    assert "styles[1]" in fault.place
    assert fault.item == "head H2"
    assert "loop" in fault.value
