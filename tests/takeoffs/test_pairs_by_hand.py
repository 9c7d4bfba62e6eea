"""Shared riser nipple and level cross, by arithmetic from ASME B16.3 take-outs."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pytest
from small_lines import (
    ARM,
    BIT,
    DROP,
    ELBOW,
    FIRST,
    RISE,
    TEE_FULL,
    TEE_OUTLET,
    Z,
    box,
    candidates,
    clean_route,
    fails,
    line,
    made_up,
    works,
)

if TYPE_CHECKING:
    from router.scenario.model import Scenario

STYLES = ("shared_nipple", "level_cross")


def pair(style: str, a: float, b: float, *, apart: float = 0.0, z: float = 2600, **more: Any) -> Scenario:
    return line(style, (1500, a, z), (1500 + apart, -b, z), **more)


def test_shared_nipple_has_two_tees_and_an_elbow_a_head() -> None:
    made, route = works(pair("shared_nipple", 400, 500))
    # nipple: outlet 1.67, then into the side of a 1 in. tee, 1.50
    assert made.arm_z - Z == pytest.approx(made_up(TEE_OUTLET, TEE_FULL), abs=0.01)
    assert (made.side, made.fittings, made.reducers) == ("top", 4, 2)
    assert made.pipe == pytest.approx(RISE + 900 + 2 * (Z + RISE - 2600), abs=0.1)
    # the line's last takeoff has an elbow for its tee: one tee, three elbows
    assert route.counts.fittings == {"elbow_90": 3, "reducer": 2, "tee": 1}


def test_level_cross_has_a_cross_and_an_elbow_a_head() -> None:
    scenario = line(
        "level_cross", (1000, 400, 2600), (1000, -500, 2600), (2000, 300, 2600), (2000, -300, 2600)
    )
    made, route = works(scenario)
    assert (made.arm_z, made.fittings, made.end_fittings) == (Z, 3, 3)
    # the last one is a tee whose two ends are the arms
    assert route.counts.fittings == {"cross": 1, "elbow_90": 4, "reducer": 4, "tee": 1}


def test_least_arm_of_a_shared_nipple() -> None:
    works(pair("shared_nipple", ARM + BIT, 400))
    works(pair("shared_nipple", 400, ARM + BIT))
    fails(pair("shared_nipple", ARM - BIT, 400))
    fails(pair("shared_nipple", 400, ARM - BIT))


BULL_HEAD = made_up(1.75, ELBOW)
"""The last cross is a 1 x 1 x 1-1/4 tee: no row for it, the full size's (longer) 1.75 in."""


def cross_before_the_end(a: float, b: float) -> Scenario:
    return line("level_cross", (1000, a, 2600), (1000, -b, 2600), (2000, 300, 2600), (2000, -300, 2600))


def test_least_arm_of_a_level_cross() -> None:
    works(cross_before_the_end(max(FIRST, BULL_HEAD) + BIT, 400))
    works(pair("level_cross", 400, BULL_HEAD + BIT))
    fails(pair("level_cross", FIRST - BIT, 400))
    fails(pair("level_cross", 400, FIRST - BIT))


def test_least_arm_of_the_last_level_cross() -> None:
    # its arms leave the longer ends of the bull-head tee; a little too short for that, nothing is served
    works(pair("level_cross", BULL_HEAD + BIT, 400))
    assert clean_route(pair("level_cross", FIRST + BIT, 400)).counts.served == 0


def test_least_drop_of_a_level_cross() -> None:
    works(pair("level_cross", 400, 400, z=Z - DROP - BIT))
    fails(pair("level_cross", 400, 400, z=Z - DROP + BIT))


def test_a_shared_nipple_rises_with_heads_above_the_line() -> None:
    for z, rise in ((Z + RISE - DROP - 1, RISE), (Z + RISE - DROP + 7, RISE + 7)):
        made, _ = works(pair("shared_nipple", 400, 400, z=z))
        assert made.arm_z - Z == pytest.approx(rise, abs=0.01)
    z = Z + 300 - DROP
    works(pair("shared_nipple", 400, 400, z=z - BIT, rules={"rise": 300.0}))
    fails(pair("shared_nipple", 400, 400, z=z + BIT, rules={"rise": 300.0}))


@pytest.mark.parametrize("style", STYLES)
def test_alignment_of_opposite_arms(style: str) -> None:
    rules = {"slide": 600.0}
    made, _ = works(pair(style, 400, 400, apart=3.0, rules=rules))
    assert not made.dogleg
    # beyond it one arm takes a dogleg, and that needs its own make-up
    fails(pair(style, 400, 400, apart=3.0 + BIT, rules=rules))
    fails(pair(style, 400, 400, apart=ARM - BIT, rules=rules))
    made, route = works(pair(style, 400, 400, apart=ARM + BIT, rules=rules))
    assert made.dogleg
    assert route.counts.fittings_counted == (5 if style == "shared_nipple" else 4)
    fails(pair(style, 400, 400, apart=ARM + BIT, rules={"slide": 0.0}))


@pytest.mark.parametrize("style", STYLES)
def test_reach_of_either_arm(style: str) -> None:
    rules = {"reach": 600.0}
    works(pair(style, 600, 400, rules=rules))
    fails(pair(style, 400, 600 + BIT, rules=rules))


def test_both_on_one_side_is_no_pair() -> None:
    for style in STYLES:
        assert candidates(line(style, (1500, 400, 2600), (1500, 700, 2600))) == []


def test_crosses_only_if_allowed() -> None:
    assert candidates(pair("level_cross", 400, 400))
    assert candidates(pair("level_cross", 400, 400, rules={"allow_cross": False})) == []
    assert candidates(pair("shared_nipple", 400, 400, rules={"allow_shared_nipple": False})) == []


def test_shared_arms_rise_together_over_a_duct() -> None:
    # over a duct on one side only: 3080 + 25 + half of 1.315 in. = 3121.70
    duct = box("duct", (1300, 1700), (200, 300), (2900, 3080))
    made, route = works(pair("shared_nipple", 600, 400, obstructions=[duct]))
    assert made.arm_z == pytest.approx(3080 + 25 + 1.315 * 25.4 / 2, abs=0.011)
    assert len({p.start[2] for p in route.pieces if p.kind == "arm"}) == 1
    level = 3080 + 25 + 1.315 * 25.4 / 2 - Z
    works(pair("shared_nipple", 600, 400, obstructions=[duct], rules={"rise": level + BIT}))
    assert (
        clean_route(
            pair("shared_nipple", 600, 400, obstructions=[duct], rules={"rise": level - BIT})
        ).counts.served
        == 0
    )
