"""Lowering saves fittings and costs a drain: where the best route turns over, worked out by hand.

A level dry line at 3,000 mm meets a beam from 2,950 to 3,050 mm: it must pass
96 mm lower or 96 mm higher (half the beam, 25 mm clearance, half the outside
diameter of 1-1/4 in. pipe, 21.1 mm). Two dry heads stand 600 mm beside it
behind the beam. Their arms are free at the low level. At the high level a tray
is in their way, and each must first go down a nipple: one elbow more.

    low   2 x (tee, tee, plug) + 2 elbows + drain
    high  2 x (tee, elbow, tee, plug) + 2 elbows

ASME B16.3 and B1.20.1 (grades B and C, take-outs and engagement partly from
memory) give the nipple: 1-1/4 x 1 tee outlet 1.67 in., 1 in. elbow 1.50,
shortest nipple with shoulder 2.00, two engagements of 0.661:

    1.67 + 1.50 + 2.00 - 2 x 0.661 = 3.848 in. = 97.7 mm

The two offsets are alike, so the high route costs 2 fittings (2,000 points)
and 2 x 0.0977 m of pipe at 20 points (3.9) more: the drain is worth 2,003.9.
"""

from __future__ import annotations

from typing import Any

import pytest

from router.building.route import route_scenario
from router.check.referee import check_route
from router.scenario import parse_scenario

NIPPLE_MM = (1.67 + 1.50 + 2.00 - 2 * 0.661) * 25.4
TURN = 2 * 1000 + 2 * NIPPLE_MM / 1000 * 20


def line(drain: float, **weights: float) -> dict[str, Any]:
    return {
        "name": "under or over",
        "system": {"kind": "dry", "pitch_branch": 0},
        "runs": [
            {
                "id": "B1",
                "plan": [[0, 0], [6600, 0]],
                "elevation": 3000,
                "supply_elevation": 3000,
                "band": [2800, 3300],
                "size": "1-1/4",
            }
        ],
        "heads": [
            {"id": "H1", "at": [5000, 600, 2300], "dry": True, "thread": 25},
            {"id": "H2", "at": [6500, 600, 2300], "dry": True, "thread": 25},
        ],
        "obstructions": [
            {"id": "beam", "polygon": [[3000, -200], [3200, -200], [3200, 200], [3000, 200]],
             "elevations": [2950, 3050]},
            {"id": "tray", "polygon": [[4300, 250], [7200, 250], [7200, 450], [4300, 450]],
             "elevations": [3060, 3300]},
        ],
        "weights": {"drain": drain, **weights},
    }  # fmt: skip


@pytest.mark.parametrize(
    ("drain", "lowered"), [(0, True), (2000, True), (TURN - 1, True), (TURN + 1, False), (3000, False)]
)
def test_the_line_dips_until_the_drain_is_worth_the_fittings(drain: float, lowered: bool) -> None:
    scenario = parse_scenario(line(drain), "made")
    route, _ = route_scenario(scenario)
    assert route.status == "optimal"
    assert route.counts.served == 2
    (change,) = route.runs[0].level_changes
    assert (change.levels[1] < change.levels[0]) == lowered
    assert abs(change.levels[1] - 3000) == pytest.approx(50 + 25 + 42.164 / 2, abs=0.1)
    assert route.counts.drains == int(lowered)
    assert route.counts.fittings_counted == 2 + (6 if lowered else 8)
    assert check_route(scenario, route).clean


def test_the_section_holds_what_pi_says_and_takes_the_small_drain() -> None:
    """6,500 mm less the fall, bore 1.38 in. (ASME B36.10M, grade A); arms 2 x 600 mm, 1.049 in."""
    scenario = parse_scenario(line(0.0), "made")
    route, _ = route_scenario(scenario)
    (low,) = route.low_sections
    first = route.runs[0].level_changes[0].stations
    fall = first[1] - first[0]
    run_mm = 6500 - first[1] + fall * 2**0.5
    area = 3.14159265 / 4 * 25.4**2
    litres = area * (1.38**2 * run_mm + 1.049**2 * 2 * 600) / 1e6
    assert low.volume_l == pytest.approx(litres, rel=1e-3)
    assert low.counts_as == "drain"
    assert low.lowest[2] == pytest.approx(3000 - 96.1, abs=0.2)
    assert low.grade == "C"


@pytest.mark.parametrize("large", [0.0, 1000.0])
def test_a_long_low_line_needs_two_valves_and_the_model_reckons_with_them(large: float) -> None:
    """5 gal is 18.93 l: 12 m of 2 in. pipe (2.165 l/m) hold 26 l: staying low costs the large drain."""
    data = line(500.0, large_drain=large)
    data["runs"][0] |= {"size": 50, "plan": [[0, 0], [16000, 0]]}
    data["heads"][1]["at"][0] = 15500
    data["obstructions"][1]["polygon"] = [[4300, 250], [16000, 250], [16000, 450], [4300, 450]]
    scenario = parse_scenario(data, "made")
    route, _ = route_scenario(scenario)
    assert route.status == "optimal"
    assert route.counts.large_drains == 1
    assert route.low_sections[0].volume_l > 18.93
    verdict = check_route(scenario, route)
    assert verdict.clean
    terms = {term.name: term for term in route.objective.terms}
    assert terms["large_drain"].cost == large
    dearer = parse_scenario(data | {"weights": {"drain": 500.0, "large_drain": 2600.0}}, "made")
    other, _ = route_scenario(dearer)
    assert other.status == "optimal"
    assert other.counts.drains == 0


def test_on_a_pitched_line_too() -> None:
    data = line(TURN - 400)
    data["system"] = {"kind": "dry"}
    low, _ = route_scenario(parse_scenario(data, "made"))
    data["weights"]["drain"] = TURN + 400
    high, _ = route_scenario(parse_scenario(data, "made"))
    assert (low.counts.drains, high.counts.drains) == (1, 0)


@pytest.mark.parametrize("reach", [True, False])
def test_a_lower_run_that_may_hold_less_than_reckoned_is_not_called_proven(reach: bool) -> None:
    """The lower line is reckoned to its last head (35 l); without it it ends after 2 m and holds 4 l."""
    data: dict[str, Any] = {
        "name": "down",
        "system": {"kind": "dry", "pitch_branch": 0, "pitch_main": 0},
        "runs": [
            {"id": "M", "kind": "main", "plan": [[0, 0], [3000, 0]], "elevation": 3400,
             "band": [3400, 3400], "size": 50},
            {"id": "B", "plan": [[3000, 0], [3000, 16000]], "elevation": 3000, "band": [3000, 3000],
             "supply": "M", "size": 50},
        ],
        "heads": [
            {"id": "H1", "at": [3500, 2000, 2300], "dry": True, "thread": 25, "run": "B"},
            {"id": "H2", "at": [3500, 15900, 2300], "dry": True, "thread": 25, "run": "B"},
        ],
        # it stands 500 mm beside the line, where a straight drop cannot reach it
        "pins": {"heads": {} if reach else {"H2": {"style": "straight_drop"}}},
    }  # fmt: skip
    scenario = parse_scenario(data, "made")
    route, _ = route_scenario(scenario)
    assert check_route(scenario, route).clean
    assert route.counts.served == 1 + reach
    assert route.counts.large_drains == int(reach)
    assert route.status == ("optimal" if reach else "feasible")
    assert route.objective.gap > 0 or reach
