"""Sidewall outlets and flexible drops at their limits."""

from __future__ import annotations

from math import pi
from typing import TYPE_CHECKING, Any

import pytest
from small_lines import (
    ARM,
    BIT,
    DROP,
    FIRST,
    IN,
    RISE,
    STRAIGHT,
    TEE_OUTLET,
    Z,
    box,
    candidates,
    fails,
    line,
    offered,
    refused,
    works,
)

if TYPE_CHECKING:
    from router.scenario.model import Scenario


def sidewall(at: tuple[float, float, float], facing: float, **more: Any) -> Scenario:
    return line("sidewall", at, head={"facing": facing}, **more)


def test_straight_in_at_the_level_of_the_line() -> None:
    made, route = works(sidewall((1500, STRAIGHT + BIT, Z), 90))
    assert (made.side, made.fittings) == ("left", 1)
    assert route.counts.fittings == {"elbow_90": 1, "reducer": 1}
    made, _ = works(sidewall((1500, -STRAIGHT - BIT, Z), 270))
    assert made.side == "right"
    fails(sidewall((1500, STRAIGHT - BIT, Z), 90))


@pytest.mark.parametrize("up", [1, -1])
def test_on_a_nipple(up: int) -> None:
    made = offered(sidewall((1500, DROP + BIT, Z + up * 300), 90))
    assert (made.side, made.fittings) == ("top" if up > 0 else "bottom", 2)
    assert made.arm_z == Z + up * 300
    assert not nippled((1500, DROP - BIT, Z + up * 300))
    assert nippled((1500, 400, Z + up * (RISE + BIT)))
    assert not nippled((1500, 400, Z + up * (RISE - BIT)))
    rise = {"rise": 250.0}
    offered(sidewall((1500, 400, Z + up * 250), 90, rules=rise))
    refused(sidewall((1500, 400, Z + up * (250 + BIT)), 90, rules=rise))


def nippled(at: tuple[float, float, float]) -> bool:
    return any(c.trunk for c in candidates(sidewall(at, 90)))


@pytest.mark.parametrize("up", [1, -1])
def test_route_on_a_nipple(up: int) -> None:
    works(sidewall((1500, 400, Z + up * (RISE + BIT)), 90))


def test_between_straight_in_and_the_least_nipple_there_is_only_the_turned_arm() -> None:
    # 97.7 mm is the least nipple, 93.4 the least vertical of the turned arm
    for height, sides in ((RISE - BIT, {"left"}), (RISE + BIT, {"left", "top"})):
        assert {c.side for c in candidates(sidewall((1500, 600, Z + height), 90))} == sides
    assert {c.side for c in candidates(sidewall((1500, 600, Z + ARM + BIT), 90))} == {"left"}
    fails(sidewall((1500, 600, Z + ARM - BIT), 90))


def test_turned_to_face_along_the_line() -> None:
    # square arm, vertical 98.2 behind the head (elbow 1.50, reducer 1.69), level lead into it
    made = offered(sidewall((1500, FIRST + BIT, 2800), 0))
    assert (made.side, made.fittings) == ("left", 3)
    assert made.station == pytest.approx(1500 - DROP, abs=0.01)
    assert made.branches[0].points[1] == pytest.approx((1500 - DROP, FIRST + BIT, 2800), abs=0.01)
    fails(sidewall((1500, FIRST - BIT, 2800), 0))
    assert offered(sidewall((1500, 400, Z - ARM - BIT), 180)).station == pytest.approx(1500 + DROP, abs=0.01)
    fails(sidewall((1500, 400, Z - ARM + BIT), 180))
    offered(sidewall((1500, 400, 2800), 0, rules={"reach": 400 + DROP + BIT}))
    fails(sidewall((1500, 400, 2800), 0, rules={"reach": 400 + DROP - BIT}))


def test_route_of_a_turned_sidewall() -> None:
    _, route = works(sidewall((1500, 400, 2800), 0))
    assert route.counts.fittings_counted == 3


def test_facing_within_the_square_tolerance() -> None:
    rules = {"square_tolerance_deg": 3.0}
    assert {c.side for c in candidates(sidewall((1500, 400, 2700), 92.9, rules=rules))} == {"left", "bottom"}
    assert {c.side for c in candidates(sidewall((1500, 400, 2700), 93.1, rules=rules))} == {"left"}
    works(sidewall((1500, 400, Z), 92.9, rules=rules))
    fails(sidewall((1500, 400, Z), 93.1, rules=rules))


def test_clearance_of_a_sidewalls_vertical_and_lead() -> None:
    for gap, good in ((BIT, True), (-BIT, False)):
        x = 1500 - DROP - 1.315 * IN / 2 - 25 - gap  # beside the vertical behind the head
        column = box("column", (x - 200, x), (350, 450), (2650, 2950))
        scenario = sidewall((1500, 400, 2800), 0, obstructions=[column])
        offered(scenario) if good else fails(scenario)


HOSE = {"hose_bend_radius": 100.0, "hose_lengths": [1000.0]}
ROUNDED = (2 - pi / 2) * 100  # what a bend of 100 saves against its square corner: 42.92


def hose(at: tuple[float, float, float], **more: Any) -> Scenario:
    return line("flexible_drop", at, rules={**HOSE, **more.pop("rules", {})}, **more)


def test_hose_needs_its_bend_and_its_straight_end() -> None:
    # 2-1/2 in. without a bend at either nut (64), then the radius; beside the line also the outlet, 1.67 in.
    made, route = works(hose((1500, 400, Z - 164 - BIT)))
    assert (made.hoses, made.fittings, made.pipe) == (1, 1, 0.0)
    assert route.counts.hoses == 1
    fails(hose((1500, 400, Z - 164 + BIT)))
    beside = 164 + TEE_OUTLET * IN
    works(hose((1500, beside + BIT, 2600)))
    fails(hose((1500, beside - BIT, 2600)))


def test_the_shortest_listed_hose_that_reaches() -> None:
    way = 500 + 400 - ROUNDED  # 857.08
    offered(hose((1500, 500, 2600), rules={"hose_lengths": [way + BIT]}))
    fails(hose((1500, 500, 2600), rules={"hose_lengths": [way - BIT]}))
    made, _ = works(hose((1500, 500, 2600), rules={"hose_lengths": [1400, way - BIT, 1000]}))
    assert made.branches[0].hose == 1000


def test_route_with_a_hose_that_just_reaches() -> None:
    works(hose((1500, 500, 2600), rules={"hose_lengths": [500 + 400 - ROUNDED + BIT]}))


def bent(most: int, step: float) -> Scenario:
    """From a station ``step`` away: two bends."""
    rules = {"slide": step, "station_step": step, "hose_max_bends": most, "hose_lengths": [2000.0]}
    return hose((1500, 500, 2600), rules=rules, pins={"heads": {"H1": {"stations": [1000, 1450]}}})


def test_bends_of_the_hose() -> None:
    works(hose((1500, 500, 2600), rules={"hose_max_bends": 1}))
    assert offered(bent(2, 200 + BIT)).dogleg
    fails(bent(2, 200 - BIT))
    fails(bent(1, 200 + BIT))


def test_route_with_a_bent_hose() -> None:
    works(bent(2, 200 + BIT))
