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
