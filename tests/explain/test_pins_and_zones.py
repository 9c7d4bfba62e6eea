"""Keep-out zones and pins of parts of a run: named where they stop a head; letting them go serves it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pytest

from router.building.route import route_scenario
from router.check import check_route
from router.explain import explain_head
from router.explain.changes import changed
from router.scenario import parse_scenario

if TYPE_CHECKING:
    from router.scenario.model import Scenario

RUN = {"id": "B1", "plan": [[0, 0], [6000, 0]], "size": 32, "elevation": 3000, "band": [3000, 3300]}
HEADS = [{"id": "H1", "at": [1500, 300, 2400]}, {"id": "H2", "at": [5500, 300, 2400]}]
DUCT = {"id": "D1", "kind": "duct", "polygon": [[3000, -900], [3400, -900], [3400, 900], [3000, 900]],
        "elevations": [2900, 3100]}  # fmt: skip
ALL = [[5000, -900], [6200, -900], [6200, 900], [5000, 900]]


def given(run: dict[str, Any] | None = None, **more: Any) -> Scenario:
    return parse_scenario(
        {"name": "case", "runs": [{**RUN, **(run or {})}], "heads": HEADS, "rules": {"slide": 100.0}, **more},
        "case",
    )


CASES = {
    "no outlet near the head": (
        given(keep_out=[{"id": "Z1", "polygon": ALL, "of": "outlets"},
                        {"id": "Z2", "polygon": [[0, 400], [300, 400], [300, 700], [0, 700]]}]),
        "keep-out zone Z1, no outlets in it",
        "leave out keep-out zone Z1",
        {"keep_out[Z1]": None},
    ),
    "no pipe near the head": (
        given(keep_out=[{"id": "Z1", "polygon": ALL}]),
        "keep-out zone Z1",
        "leave out keep-out zone Z1",
        {"keep_out[Z1]": None},
    ),
    "nowhere to go over the duct": (
        given({"supply_elevation": 3000}, obstructions=[DUCT],
              pins={"runs": {"B1": {"no_offset": [[0, 3400], [4000, 5000]]}}}),
        "the pin of B1",
        "drop the no-offset pin of B1 between stations 0 and 3,400",
        {"pins.runs[B1].no_offset": [[4000.0, 5000.0]]},
    ),
    "only one range": (
        given({"supply_elevation": 3000}, obstructions=[DUCT],
              pins={"runs": {"B1": {"no_offset": [[0, 3400]]}}}),
        "the pin of B1",
        "drop the no-offset pin of B1 between stations 0 and 3,400",
        {"pins.runs[B1].no_offset": False},
    ),
    "held at the level of the duct": (
        given(obstructions=[DUCT],
              pins={"runs": {"B1": {"levels": [{"stations": [2900, 3500], "level": 3000}]}}}),
        "the pin of B1",
        "drop the pin of B1 to level 3,000 between stations 2,900 and 3,500",
        {"pins.runs[B1].levels": []},
    ),
}  # fmt: skip


@pytest.mark.parametrize("name", CASES)
def test_it_is_named_and_letting_it_go_serves(name: str) -> None:
    scenario, says, text, change = CASES[name]
    route, _ = route_scenario(scenario)
    assert [h.id for h in route.heads if not h.served] == ["H2"]
    reasons = explain_head(scenario, route, "H2")
    assert says in reasons.conflict
    found = next(r for r in reasons.relaxations if r.text == text)
    assert found.change == change
    freed = changed(scenario, found.change)
    again, _ = route_scenario(freed)
    assert all(h.served for h in again.heads)
    assert check_route(freed, again).clean


def test_a_zone_is_left_out_or_not_at_all() -> None:
    scenario = CASES["no pipe near the head"][0]
    for place, value in (("keep_out[Z9]", None), ("keep_out[Z1]", 1.0), ("keep_out[Z1].of", None)):
        with pytest.raises(ValueError, match=r"no keep-out zone 'Z9'|only be left out|no such place"):
            changed(scenario, {place: value})
