"""Why a sidewall, a hose or an outlet in a zone has no place: in mm, and moving by so much serves the head.

Take-outs and nipples: ASME B16.3, B1.20.1, A733, from memory. Ways to a sidewall: common practice, no source.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pytest

from router.building.route import route_scenario
from router.check import check_route
from router.scenario import parse_scenario

if TYPE_CHECKING:
    from router.route.model import Attempt

LINE = {"id": "B", "plan": [[0, 0], [4000, 0]], "size": 25, "elevation": 3000, "band": [3000, 3000]}
TWO_ELBOWS = (1.50 + 1.50 + 2.00 - 2 * 0.661) * 25.4
"""Least centre to centre of two 1 in. elbows: take-outs, the shortest nipple less what it is engaged."""


def stopped(*heads: dict[str, Any], **more: Any) -> list[Attempt]:
    data = {"name": "reasons", "runs": [LINE], "heads": list(heads), "rules": {"slide": 0}, **more}
    scenario = parse_scenario(data, "reasons")
    route, _ = route_scenario(scenario)
    assert check_route(scenario, route).clean
    return route.heads[0].stopped_by


def sidewall(x: float, y: float, z: float, facing: float) -> dict[str, Any]:
    return {"id": "H1", "at": [x, y, z], "kind": "sidewall", "facing": facing}


def test_a_sidewall_that_faces_its_line_says_what_the_turn_needs() -> None:
    (attempt,) = stopped(sidewall(2000, 800, 3000, 270))
    assert (attempt.style, attempt.rule, attempt.has) == ("sidewall", "make_up", 0.0)
    assert attempt.needs == pytest.approx(TWO_ELBOWS, abs=0.1)
    assert "faces 270 degrees, 180 off square away" in attempt.text
    assert "water comes from 90 degrees" in attempt.text
    assert stopped(sidewall(2000, 800, 3000 + TWO_ELBOWS + 0.1, 270)) == []
    assert stopped(sidewall(2000, 800, 3000 + TWO_ELBOWS - 0.5, 270))


def test_a_sidewall_that_faces_away_says_how_much_nearer_its_line_may_be() -> None:
    attempt = stopped(sidewall(2000, 40, 3000, 90))[0]
    assert attempt.style == "sidewall"
    assert attempt.short is not None
    assert stopped(sidewall(2000, 40 + attempt.short + 0.1, 3000, 90)) == []
    assert stopped(sidewall(2000, 40 + attempt.short - 0.5, 3000, 90))


def test_the_place_behind_the_head_is_too_near_the_line() -> None:
    """It faces square away, 200 mm too low for nothing but the turn: the vertical behind it needs room."""
    attempt = stopped(sidewall(2000, 160, 2800, 120))[0]
    assert attempt.rule == "behind"
    assert attempt.short is not None
    assert stopped(sidewall(2000, 160 + attempt.short + 0.1, 2800, 120)) == []
    assert stopped(sidewall(2000, 160 + attempt.short - 0.5, 2800, 120))


def test_the_place_behind_the_head_is_past_the_lines_end() -> None:
    attempt = stopped(sidewall(3990, 800, 2800, 180))[0]
    assert attempt.rule == "straight_length"
    assert attempt.short is not None
    assert stopped(sidewall(3990 - attempt.short - 0.1, 800, 2800, 180)) == []
    assert stopped(sidewall(3990 - attempt.short + 0.5, 800, 2800, 180))


def test_a_duct_in_the_way_of_a_sidewall_is_named() -> None:
    duct = {"id": "D", "polygon": [[1500, 300], [2500, 300], [2500, 500], [1500, 500]],
            "elevations": [2900, 3100]}  # fmt: skip
    attempt = stopped(sidewall(2000, 800, 3000, 90), obstructions=[duct])[0]
    assert (attempt.rule, attempt.against) == ("clearance", "D")


def test_styles_for_other_heads_are_not_told_and_an_allowed_hose_is() -> None:
    found = stopped(sidewall(2000, 800, 3000, 270), rules={"slide": 0, "allow_flexible": True})
    assert [a.rule for a in found] == ["make_up", "not_tried"]
    assert "flexible drop is allowed, but not tried" in found[1].text
    assert not any("style_for_head" in a.text for a in found)


def test_where_every_style_is_refused_those_for_other_heads_are_not_told() -> None:
    found = stopped(sidewall(2000, 800, 3200, 90), rules={"styles": ["side_arm"]})
    assert {a.style for a in found} == {"sidewall", "flexible_drop"}
    assert all(a.rule == "allowed_styles" for a in found)


HOSE = {"slide": 0, "allow_flexible": True, "styles": ["flexible_drop"]}


def test_a_hose_without_room_for_its_bend_says_by_how_much() -> None:
    attempt = stopped({"id": "H1", "at": [2000, 150, 2400]}, rules=HOSE)[0]
    assert (attempt.style, attempt.rule) == ("flexible_drop", "hose_bend")
    assert attempt.short is not None
    assert stopped({"id": "H1", "at": [2000, 150 + attempt.short + 0.1, 2400]}, rules=HOSE) == []
    assert stopped({"id": "H1", "at": [2000, 150 + attempt.short - 0.5, 2400]}, rules=HOSE)


def test_a_hose_longer_than_any_listed_says_by_how_much() -> None:
    rules = {**HOSE, "hose_lengths": [1000]}
    attempt = stopped({"id": "H1", "at": [2000, 800, 2400]}, rules=rules)[0]
    assert (attempt.rule, attempt.needs) == ("hose_length", 1000.0)
    assert attempt.short is not None
    assert stopped({"id": "H1", "at": [2000, 800, 2400 + attempt.short + 0.1]}, rules=rules) == []
    assert stopped({"id": "H1", "at": [2000, 800, 2400 + attempt.short - 0.5]}, rules=rules)


def test_an_outlet_in_a_zone_says_how_deep_it_stands() -> None:
    def zone(left: float) -> list[dict[str, Any]]:
        box = [[left, -100], [2500, -100], [2500, 100], [left, 100]]
        return [{"id": "Z", "polygon": box, "of": "outlets"}]

    attempt = stopped({"id": "H1", "at": [2000, 0, 2400]}, keep_out=zone(1970))[0]
    assert (attempt.rule, attempt.against, attempt.short) == ("zone", "Z", 30.0)
    assert "30.0 mm inside Z, a zone without outlets" in attempt.text
    assert stopped({"id": "H1", "at": [2000, 0, 2400]}, keep_out=zone(2000)) == []
