"""What binds a run's profile, on a line whose arithmetic a fitter can follow.

1-1/4 in. pipe is 1.660 in. thick (ASME B36.10M). Tee of 1-1/4 x 1 in.: 1.58 in. along the run; 45
degree elbow 1.29 in. (ASME B16.3, from memory); nipple 2.00 in., engagement 0.661 in. (A733, B1.20.1,
from memory). Between two fittings also stands the working allowance of 25 mm.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pytest
from small_lines import ENGAGED, IN, NIPPLE, RUN_RADIUS, TEE_RUN

from router.building.prepare import prepare
from router.building.route import route_scenario
from router.explain import explain_run
from router.scenario import parse_scenario

if TYPE_CHECKING:
    from router.explain import Binding, RunReasons
    from router.route.model import Route
    from router.scenario.model import Scenario

CLEARANCE = 25.0
REACH = RUN_RADIUS + CLEARANCE
HALF_NIPPLE = ((NIPPLE - 2 * ENGAGED) * IN + 25.0) / 2
"""Of 1 in. pipe, which is engaged least: no pipe on the line is smaller, so its room does for all."""
HALF_TEE = TEE_RUN * IN + HALF_NIPPLE
HALF_45 = 1.29 * IN + HALF_NIPPLE
BEAM = {"id": "G1", "kind": "beam", "polygon": [[2400, -900], [2700, -900], [2700, 900], [2400, 900]],
        "elevations": [2900, 3300]}  # fmt: skip


def one_line(**more: Any) -> Scenario:
    run = {"id": "B", "plan": [[0, 0], [4000, 0]], "size": 32, "elevation": 3000, "band": [2600, 3000],
           "supply_elevation": 3000}  # fmt: skip
    heads = [
        {"id": "H1", "at": [1000, 0, 3400], "kind": "upright"},
        {"id": "H2", "at": [3500, 0, 3400], "kind": "upright"},
    ]
    data = {"name": "one line", "runs": [{**run, **more.pop("run", {})}], "heads": heads,
            "obstructions": [BEAM], **more}  # fmt: skip
    return parse_scenario(data, "one line")


def reasons(scenario: Scenario) -> tuple[Route, RunReasons, Binding]:
    route, _ = route_scenario(scenario)
    found = explain_run(scenario, route, "B")
    return route, found, next(b for b in found.bindings if b.part == "level_change")


def test_an_offset_under_a_beam() -> None:
    route, found, change = reasons(one_line())
    assert found.built
    assert len(route.runs[0].level_changes) == 1
    beam = next(x for x in change.limits if x.kind == "obstruction")
    assert beam.against == "G1"
    # 2,900 less half the pipe and the clearance: 2,853.9; at 3,000 the pipe meets it from 2,353.9 to 2,746.1
    assert beam.level == pytest.approx(2900 - REACH, abs=0.1)
    assert beam.stations == pytest.approx((2400 - REACH, 2700 + REACH), abs=0.1)
    assert "beam G1 needs level <= 2,853.9 from station 2,354 to 2,746" in change.text
    assert change.levels == pytest.approx((3000, 2900 - REACH), abs=0.1)


def test_how_far_the_offset_could_move() -> None:
    """Earlier until its elbow's room meets that of H1's tee, or its own at the supply."""
    _, found, change = reasons(one_line())
    first, second = change.stations
    assert second - first == pytest.approx(3000 - (2900 - REACH), abs=0.1)  # 45 degrees: as far as it falls
    outlet = next(x for x in change.limits if x.kind == "outlet")
    where = "earlier" if outlet.stations[1] < first else "later"  # type: ignore[index]
    assert outlet.against == "H1"
    if where == "earlier":
        assert outlet.stations[1] == pytest.approx(1000 + HALF_TEE, abs=0.1)  # type: ignore[index]
        room = first - HALF_45 - (1000 + HALF_TEE)
    else:
        assert outlet.stations[0] == pytest.approx(1000 - HALF_TEE, abs=0.1)  # type: ignore[index]
        room = (1000 - HALF_TEE) - (second + HALF_45)
    said = f"cannot sit {where}" if room < 1.0 else f"up to {room // 1:,.0f} mm {where}"
    assert said in change.text
    assert found.bindings[0].part == "start"
    assert "the supply comes at level 3,000" in found.bindings[0].text


def test_what_is_said_of_the_beam_is_true() -> None:
    """Without it the line keeps its level; raised by the shortfall too; by one mm less it does not."""
    scenario = one_line()
    short = 3000 - (2900 - REACH)
    for beams, changes in (
        ([], 0),
        ([{**BEAM, "elevations": [2900 + short + 0.1, 3400]}], 0),
        ([{**BEAM, "elevations": [2900 + short - 1.0, 3400]}], 1),
    ):
        data = {**scenario.model_dump(mode="json"), "obstructions": beams}
        data["runs"][0]["band"] = [2600, 3000]
        route, _ = route_scenario(parse_scenario(data, "without"))
        assert len(route.runs[0].level_changes) == changes


def test_a_stretch_says_what_holds_it() -> None:
    _, found, change = reasons(one_line())
    last = found.bindings[-1]
    assert last.part == "stretch"
    assert last.levels[0] == pytest.approx(2900 - REACH, abs=0.1)
    assert [x.against for x in last.limits if x.kind == "obstruction"] == ["G1"]
    cost = next(x for x in last.limits if x.kind == "cost")
    assert "costs" in cost.text
    assert "more" in cost.text
    assert change.item == "B/L1"


def test_the_cost_of_another_level_by_pinning_every_level() -> None:
    """A line that stays level costs by its next level what the best other pinned level costs."""
    scenario = one_line(run={"supply_elevation": None})
    route, _ = route_scenario(scenario)
    found = explain_run(scenario, route, "B")
    assert not route.runs[0].level_changes
    cost = next(x for b in found.bindings for x in b.limits if x.kind == "cost")
    assert "at least" not in cost.text
    more = float(cost.text.split("costs ")[1].split(" ")[0].replace(",", ""))
    others = []
    for level in prepare(scenario).frames[0].levels.tolist():
        if abs(level - route.runs[0].supply_level) > 1.0:
            pinned = scenario.model_dump(mode="json")
            pinned["pins"] = {"runs": {"B": {"level": level}}}
            other, _ = route_scenario(parse_scenario(pinned, "pinned"))
            if other.counts.served == 2:
                others.append(other.objective.value - route.objective.value)
    assert min(others) == pytest.approx(more, abs=0.06 if more < 10 else 0.6)


def test_a_run_that_nothing_moves_names_band_and_pin() -> None:
    route, _ = route_scenario(
        one_line(run={"band": [2700, 2700], "elevation": 2700, "supply_elevation": None})
    )
    scenario = one_line(run={"band": [2700, 2700], "elevation": 2700, "supply_elevation": None})
    found = explain_run(scenario, route, "B")
    assert {"band"} <= {x.kind for b in found.bindings for x in b.limits}
    pinned = one_line(run={"supply_elevation": None}, pins={"runs": {"B": {"level": 2750}}})
    route, _ = route_scenario(pinned)
    found = explain_run(pinned, route, "B")
    assert "pinned to level 2,750" in found.bindings[0].text


def test_an_unknown_run_is_refused() -> None:
    scenario = one_line()
    route, _ = route_scenario(scenario)
    with pytest.raises(ValueError, match="no run 'X'"):
        explain_run(scenario, route, "X")


def test_a_line_that_comes_down_again_says_what_staying_up_costs() -> None:
    """Pendents wait far under the line: 2 x 45 degree elbows and one level change against longer drops."""
    run = {"id": "B", "plan": [[0, 0], [9000, 0]], "size": 32, "elevation": 2800, "band": [2800, 3500],
           "supply_elevation": 2800}  # fmt: skip
    low = {**BEAM, "elevations": [2650, 3000]}
    heads = [{"id": f"H{n}", "at": [3200 + 230 * n, 0, 2600]} for n in range(1, 25)]
    data = {"name": "over", "runs": [run], "heads": heads, "obstructions": [low]}
    scenario = parse_scenario(data, "over")
    route, _ = route_scenario(scenario)
    found = explain_run(scenario, route, "B")
    changes = [b for b in found.bindings if b.part == "level_change"]
    assert changes[0].limits[0].against == "G1"
    assert f"level >= {3000 + REACH:,.1f}" in changes[0].text
    stays = [b for b in changes if "to keep" in b.text]
    assert len(stays) == len(changes) - 1
    for binding in stays:
        assert "costs" in binding.text
        assert "more" in binding.text
