"""The demo's reasons, worked out by hand from its file and two published sizes.

Outside diameters: ASME B36.10M, 2 in. 60.3 mm, 1-1/2 in. 48.3 mm. Pitch 4 mm per m (NFPA 13 in substance,
1/2 in. per 10 ft). Clearances of 25 mm are the scenario's.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from router.building.route import route_scenario
from router.explain import explain_head, explain_route, explain_run
from router.route.model import Route
from router.scenario import read_scenario
from router.scenario.model import Scenario

DOCK = Path(__file__).parents[2] / "scenarios" / "loading_dock.json"
Dock = tuple[Scenario, Route]


@pytest.fixture(scope="module")
def dock() -> Dock:
    scenario = read_scenario(DOCK)
    return scenario, route_scenario(scenario)[0]


def test_the_change_of_level_is_told_from_both_sides(dock: Dock) -> None:
    """Duct D4 (6,700 to 7,100, underside 3,900) is passed under, beam G1 (11,000, top 3,960) over."""
    change = next(b for b in explain_run(*dock, "B1").bindings if b.part == "level_change")
    told = {limit.against: limit for limit in change.limits if limit.level is not None}
    # the worse end of the duct is the far one: the line rises; the pipe is 2 in. there
    under = 3900 - 25 - 60.3 / 2 - 0.004 * (7100 + 25 + 60.3 / 2)
    assert told["duct D4"].level == pytest.approx(under, abs=0.1)
    over = 3960 + 25 + 48.3 / 2 - 0.004 * (11000 - 25 - 48.3 / 2)
    assert told["beam G1"].level == pytest.approx(over, abs=0.1)
    assert "duct D4 needs level <= 3,816.2 from station 6,645 to 7,155" in change.text


def test_a_dearer_style_is_told_with_what_stops_it_at_the_lines_level(dock: Dock) -> None:
    """H03's side arm would go through duct D1 (3,600 to 3,820) at the level that B1 has there."""
    reasons = next(h for h in explain_route(*dock).heads if h.head == "H03")
    (way,) = (w for w in reasons.others if w.style == "side_arm")
    # an arm of 1 in. (33.4 mm) at 3,708.2 + 4 mm/m * 5,800; the way out of the duct is up, with clearance
    short = 3820 + 25 + 33.4 / 2 - (3708.2 + 0.004 * 5800)
    assert f"it is {short:.1f} mm short of clearance to duct D1" in way.text


def test_a_style_tried_by_a_pin_is_not_stopped_by_it() -> None:
    """H2 lies 400 mm off its line: 397 more than the 3 mm that a straight drop may be off it."""
    scenario = read_scenario(DOCK.with_name("minimal.json"))
    reasons = explain_head(scenario, route_scenario(scenario)[0], "H2")
    (drop,) = (w for w in reasons.others if w.style == "straight_drop")
    assert "397.0 mm off the line" in drop.text
    assert "pinned" not in drop.text


def test_why_this_style_names_what_stops_the_simpler_ones(dock: Dock) -> None:
    """H01 lies 520 mm off its line; H03's simpler styles are both stopped; H05 has the simplest."""
    why = {h.head: h.why for h in explain_route(*dock).heads}
    assert why["H01"].startswith("Straight drop: 517 mm off the line. Next best: return bend, at least ")
    assert "Side arm: at the level that B1 has there it is 130.3 mm short of clearance" in why["H03"]
    assert why["H05"].startswith("Nothing is simpler. Next best: ")
