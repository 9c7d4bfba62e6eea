"""Reasons for heads that are not served, on cases whose shortfall is worked out by hand.

Common practice, no source, but for the spacing (ASME B16.3, B1.20.1, A733: from memory).
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pytest

from router.building.route import route_scenario
from router.check import check_route
from router.scenario import parse_scenario

if TYPE_CHECKING:
    from router.route.model import Attempt


def stopped(data: dict[str, Any], head: str) -> list[Attempt]:
    scenario = parse_scenario({"name": "reasons", **data}, "reasons")
    route, _ = route_scenario(scenario)
    assert check_route(scenario, route).clean
    return next(h for h in route.heads if h.id == head).stopped_by


def test_a_run_that_is_not_fed_says_what_keeps_it_off() -> None:
    """The branch starts 200 mm over a main that may not move: the nipple fits; 20 mm over: nothing does."""
    main = {
        "id": "M",
        "kind": "main",
        "plan": [[0, 0], [6000, 0]],
        "size": 50,
        "elevation": 3000,
        "band": [3000, 3000],
    }
    branch = {"id": "B", "plan": [[3000, 0], [3000, 4000]], "size": 25, "supply": "M"}
    heads = [{"id": "H1", "at": [3000, 3000, 2400]}]
    near = {"runs": [main, {**branch, "elevation": 3020, "band": [3020, 3020]}], "heads": heads}
    attempt = stopped(near, "H1")[0]
    assert "no tee, nipple or elbow reaches B" in attempt.text
    assert "20 mm off" in attempt.text
    far = {"runs": [main, {**branch, "elevation": 3200, "band": [3200, 3200]}], "heads": heads}
    assert stopped(far, "H1") == []


def test_a_drop_that_is_too_short_says_by_how_much() -> None:
    """The inlet is 60 mm under the line; tee, nipple, reducer need 1.50 + 1.69 + 2.00 - 2 x 0.661 in."""
    data = {
        "runs": [
            {"id": "B", "plan": [[0, 0], [4000, 0]], "size": 25, "elevation": 3000, "band": [3000, 3000]}
        ],
        "heads": [{"id": "H1", "at": [3000, 0, 2940]}],
        "rules": {"slide": 0, "styles": ["straight_drop"]},
    }
    attempt = stopped(data, "H1")[0]
    assert attempt.rule == "make_up"
    assert attempt.needs == pytest.approx((1.50 + 1.69 + 2.00 - 2 * 0.661) * 25.4, abs=0.1)
    assert attempt.has == pytest.approx(60.0, abs=0.1)


def test_an_arm_beyond_reach_says_by_how_much() -> None:
    data = {
        "runs": [{"id": "B", "plan": [[0, 0], [4000, 0]], "size": 25, "elevation": 3000}],
        "heads": [{"id": "H1", "at": [3000, 2100, 2400], "run": "B"}],
        "rules": {"reach": 2000, "slide": 0},
    }
    attempt = stopped(data, "H1")[0]
    assert attempt.rule == "reach"
    assert attempt.short == pytest.approx(100.0, abs=0.1)


LINE = {"id": "B", "plan": [[0, 0], [4000, 0]], "size": 25, "elevation": 3000, "band": [3000, 3000]}
RADIUS = 1.315 / 2 * 25.4
"""1 in. pipe, ASME B36.10M."""


def test_an_arm_inside_a_duct_says_the_whole_way_out() -> None:
    """The arm's axis is 150 mm over the duct's underside and 250 under its top: 150 down, half a pipe, 25."""
    data = {
        "runs": [LINE],
        "heads": [{"id": "H1", "at": [3000, 900, 2400]}],
        "obstructions": [
            {"id": "D", "polygon": [[0, 300], [4000, 300], [4000, 700], [0, 700]], "elevations": [2850, 3250]}
        ],
        "rules": {"slide": 0, "styles": ["side_arm"]},
    }
    attempt = stopped(data, "H1")[0]
    assert attempt.rule == "clearance"
    assert attempt.against == "D"
    assert attempt.short == pytest.approx(150 + RADIUS + 25, abs=0.1)
    assert attempt.has == pytest.approx(-150 - RADIUS, abs=0.1)
    assert "which it runs into" in attempt.text


def test_a_head_off_the_line_says_how_far_and_how_far_is_allowed() -> None:
    data = {
        "runs": [LINE],
        "heads": [{"id": "H1", "at": [3000, 49, 2400]}],
        "rules": {"slide": 0, "styles": ["straight_drop"]},
    }
    attempt = stopped(data, "H1")[0]
    assert (attempt.rule, attempt.has, attempt.needs, attempt.short) == ("alignment", 49.0, 3.0, 46.0)
    assert "46.0 mm off the line (49.0, allowed 3.0)" in attempt.text


def test_a_shift_that_is_allowed_is_tried() -> None:
    """20 mm along the line bring the drop 20 mm nearer to the way out of a column, beside which it stands."""
    column = {"id": "C", "polygon": [[2900, -100], [3040, -100], [3040, -10], [2900, -10]],
              "elevations": [2400, 2990]}  # fmt: skip
    data = {
        "runs": [LINE],
        "heads": [{"id": "H1", "at": [3000, 0, 2400], "shift": 20}],
        "obstructions": [column],
        "rules": {"slide": 0, "styles": ["straight_drop"]},
    }
    attempt = stopped(data, "H1")[0]
    assert "head shifted" not in attempt.text  # it is 10 mm beside it wherever it stands
    wide = {**data, "heads": [{"id": "H1", "at": [3000, 0, 2400], "shift": 60}]}
    near = stopped(wide, "H1")[0]
    assert "head shifted 60 mm" in near.text
    assert near.short is not None
    assert attempt.short is not None
    assert near.short < attempt.short


def test_an_outlet_in_the_room_of_the_lines_own_start() -> None:
    """50 mm from the tee there is no room for a second one; the referee's table says how much is needed."""
    main = {"id": "M", "kind": "main", "plan": [[0, 0], [6000, 0]], "size": 50, "elevation": 3000,
            "band": [3000, 3000]}  # fmt: skip
    branch = {"id": "B", "plan": [[3000, 0], [3000, 4000]], "size": 25, "supply": "M", "elevation": 3000,
              "band": [3000, 3000]}  # fmt: skip

    def away(station: float) -> list[Attempt]:
        heads = [
            {"id": "H1", "at": [3600, station, 2400], "run": "B"},
            {"id": "H2", "at": [3000, 3000, 2400]},
        ]
        return stopped({"runs": [main, branch], "heads": heads, "rules": {"slide": 0}}, "H1")

    attempt = next(a for a in away(50) if a.style == "side_arm")
    assert attempt.rule == "outlet_spacing"
    assert attempt.against == "its tee on M"
    assert attempt.short is not None
    assert away(50 + attempt.short + 0.1) == []
    assert away(50 + attempt.short - 1.0)


def test_a_line_that_cannot_pass_a_beam_names_it() -> None:
    """The beam hangs 100 mm below the line's axis: down that far, half a pipe and 25 mm."""
    beam = {"id": "G", "polygon": [[1000, -500], [1200, -500], [1200, 500], [1000, 500]],
            "elevations": [2900, 3500]}  # fmt: skip
    data = {"runs": [LINE], "heads": [{"id": "H1", "at": [3000, 0, 2400]}], "obstructions": [beam]}
    attempt = stopped(data, "H1")[0]
    assert attempt.text.startswith("B cannot pass G")
    assert attempt.short == pytest.approx(100 + RADIUS + 25, abs=0.1)
