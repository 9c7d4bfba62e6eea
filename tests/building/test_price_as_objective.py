"""The user's price table instead of the default weights: worked out by hand on one head and one line."""

from __future__ import annotations

from typing import Any

import pytest

from router.building.route import route_scenario
from router.check.referee import check_route
from router.scenario import parse_scenario


def one_head(prices: dict[str, Any], **more: Any) -> dict[str, Any]:
    return {
        "name": "priced",
        "runs": [{"id": "B1", "plan": [[0, 0], [3000, 0]], "elevation": 3000, "size": 32,
                  "band": [3000, 3000], "supply_elevation": 3000}],
        "heads": [{"id": "H1", "at": [2000, 400, 2600], "thread": 25}],
        "prices": prices,
        **more,
    }  # fmt: skip


def test_every_part_is_in_the_price() -> None:
    """Side arm at the end: two elbows, 2.0 m of 1-1/4, 0.4 m arm and 0.4 m drop of 1 in.

    Pipe 5 + 2 min x 0.5 = 6 a metre of 1-1/4, 4 of 1 in.; elbows 1-1/4 at 7 and 1 in. at 3 + 4 min x 0.5 = 5:
    2.0 x 6 + 0.8 x 4 + 7 + 5 = 27.20.
    """
    prices = {
        "minute": 0.5,
        "pipe": {"1-1/4": {"price": 5, "minutes": 2}, "1": {"price": 4}},
        "fittings": {"elbow_90": {"1-1/4": {"price": 7}, "other": {"price": 3, "minutes": 4}}},
        "as_objective": True,
    }
    scenario = parse_scenario(one_head(prices), "made")
    route, _ = route_scenario(scenario)
    assert route.counts.price == pytest.approx(27.20, abs=0.005)
    assert route.status == "optimal"
    verdict = check_route(scenario, route)
    assert verdict.clean
    assert verdict.counts.price == pytest.approx(27.20, abs=0.005)
    assert {t.name for t in route.objective.terms if t.cost} == {"price", "style"}


@pytest.mark.parametrize(("elbow", "dips"), [(10.0, True), (40.0, False)])
def test_the_cheaper_way_wins_not_the_one_with_fewer_fittings(elbow: float, dips: bool) -> None:
    """A hose at 35 and its tee or elbow, against an arm of pipe with an elbow more.

    With elbows at 10 two of them and 0.8 m of pipe (21.6) are cheaper than one and a hose (45); at 40 they
    are not (81.6 against 75).
    """
    prices = {
        "pipe": {"1": {"price": 2}, "1-1/4": {"price": 3}},
        "fittings": {"elbow_90": {"other": {"price": elbow}}, "tee": {"other": {"price": elbow}}},
        "hose": {"price": 35},
        "as_objective": True,
    }
    data = one_head(prices, rules={"allow_flexible": True, "hose_lengths": [1200]})
    scenario = parse_scenario(data, "made")
    route, _ = route_scenario(scenario)
    assert check_route(scenario, route).clean
    assert (route.counts.hoses == 0) == dips
    assert route.status == "optimal"


def test_a_row_by_schedule_is_proven_and_costs_what_the_model_says() -> None:
    """Pipe by size, fittings by size: model, route and referee agree where heads leave in order."""
    prices = {
        "pipe": {"1": {"price": 4}, "1-1/4": {"price": 5}, "1-1/2": {"price": 6}, "2": {"price": 8}},
        "fittings": {
            "tee": {"1": {"price": 4}, "other": {"price": 9}},
            "elbow_90": {"other": {"price": 3}},
            "reducer": {"other": {"price": 2}},
        },
        "as_objective": True,
    }
    data: dict[str, Any] = {
        "name": "row",
        "runs": [{"id": "B1", "plan": [[0, 0], [21000, 0]], "elevation": 3000}],
        "heads": [{"id": f"H{k}", "at": [3000 * k + 1500, 400 * (-1) ** k, 2600]} for k in range(7)],
        "prices": prices,
    }
    scenario = parse_scenario(data, "made")
    route, solution = route_scenario(scenario)
    assert route.status == "optimal"
    assert route.objective.value == pytest.approx(solution.bound / 1000, rel=1e-5)
    assert check_route(scenario, route).clean
