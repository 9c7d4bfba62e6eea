"""A low section of a wet run is emptied by taking off a pendent head only if its pipe never rises.

NFPA 13 (from memory, grade C) asks for no drain where trapped piping "can be drained by removing a
single pendent sprinkler"; water does not run up through a return bend.
"""

from __future__ import annotations

from typing import Any

import pytest

from router.building.route import route_scenario
from router.check import check_route
from router.scenario import parse_scenario


def hollow(style: str) -> dict[str, Any]:
    """A run that must go under a beam, its only head in the hollow; the ends are held high by ducts below."""
    duct = {"elevations": [2300, 2930]}
    return {
        "name": "hollow",
        "runs": [{"id": "B", "plan": [[0, 0], [6000, 0]], "elevation": 3000, "size": 32,
             "band": [2700, 3000]}],
        "heads": [
            {"id": "H1", "at": [3000, 600, 2300]},
            {"id": "H2", "at": [5800, 600, 2300]},
        ],
        "obstructions": [
            {"id": "D1", **duct, "polygon": [[300, -200], [900, -200], [900, 200], [300, 200]]},
            {"id": "beam", "elevations": [2900, 3400],
             "polygon": [[2000, -900], [4000, -900], [4000, 900], [2000, 900]]},
            {"id": "D2", **duct, "polygon": [[5000, -200], [5500, -200], [5500, 200], [5000, 200]]},
        ],
        "pins": {"heads": {"H1": {"style": style}}},
    }  # fmt: skip


@pytest.mark.parametrize(("style", "drains"), [("side_arm", 0), ("return_bend", 1)])
def test_a_return_bend_empties_nothing(style: str, drains: int) -> None:
    scenario = parse_scenario(hollow(style), "made")
    route, _ = route_scenario(scenario)
    assert route.counts.served == 2
    assert {t.style for t in route.takeoffs if "H1" in t.heads} == {style}
    assert route.counts.wet_drains == drains
    assert route.status == "optimal"
    assert check_route(scenario, route).clean


def test_the_referee_finds_a_drain_that_is_left_out() -> None:
    scenario = parse_scenario(hollow("return_bend"), "made")
    route, _ = route_scenario(scenario)
    without = route.model_copy(update={"low_sections": []})
    assert "trapped" in {finding.rule for finding in check_route(scenario, without).breaks}
