"""A head that costs more than the scenario says it is worth: that is the reason, and the figure is true."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pytest

from router.building.route import route_scenario
from router.building.stop import Stop
from router.check import check_route
from router.scenario import parse_scenario

if TYPE_CHECKING:
    from router.route.model import Route

LINE = {"id": "B", "plan": [[0, 0], [4000, 0]], "size": 25, "elevation": 3000, "band": [3000, 3000]}
HEADS = [{"id": "H1", "at": [2000, 600, 2400]}, {"id": "H2", "at": [3000, 0, 2400]}]


def routed(worth: float | None, heads: list[dict[str, Any]] = HEADS, **more: Any) -> Route:
    weights = {"style": 0} if worth is None else {"style": 0, "unserved": worth}
    data = {"name": "worth", "runs": [LINE], "heads": heads, "weights": weights, **more}
    scenario = parse_scenario(data, "worth")
    route, _ = route_scenario(scenario)
    assert check_route(scenario, route).clean
    return route


def test_nobody_is_worth_serving_and_nothing_is_infeasible() -> None:
    route = routed(500)
    assert route.counts.served == 0
    assert route.status == "optimal"
    assert route.objective.value == route.objective.bound == 1000
    for head in route.heads:
        (attempt,) = head.stopped_by
        assert attempt.rule == "worth"
        assert attempt.text.endswith("each head is worth 500 points (weights.unserved)")
    assert routed(None).counts.served == 2


def test_the_points_that_it_is_short_of_are_true() -> None:
    """One head: from the worth that is told on it is served, below it is not."""
    only = HEADS[:1]
    (attempt,) = routed(500, only).heads[0].stopped_by
    least = float(attempt.text.split("at least ")[1].split(" points")[0].replace(",", ""))
    assert least > 500
    assert routed(least - 1, only).counts.served == 0
    assert routed(least + 1, only).counts.served == 1


def test_some_are_worth_it_and_some_are_not() -> None:
    """The drop is an elbow at the line's end, the arm beside it two fittings more."""
    route = routed(1800)
    assert [h.served for h in route.heads] == [False, True]
    assert route.status == "optimal"
    assert [a.rule for a in route.heads[0].stopped_by] == ["worth"]


def test_what_cannot_be_served_at_any_price_keeps_its_reason() -> None:
    far = [{"id": "H1", "at": [2000, 2100, 2400], "run": "B"}]
    route = routed(500, far, rules={"reach": 2000, "slide": 0})
    assert route.status == "infeasible"
    assert route.heads[0].stopped_by[0].rule == "reach"


@pytest.mark.parametrize("worth", [None, 1e9])
def test_where_heads_are_worth_more_than_anything_no_trial_is_made(worth: float | None) -> None:
    far = [*HEADS, {"id": "H3", "at": [2000, 2100, 2400], "run": "B"}]
    route = routed(worth, far, rules={"reach": 2000, "slide": 0})
    assert [h.served for h in route.heads] == [True, True, False]
    assert route.heads[2].stopped_by[0].rule == "reach"


class _Late(Stop):
    """Ends once it was asked so often."""

    def __init__(self, questions: int) -> None:
        super().__init__()
        self.remaining = questions

    def asked(self) -> bool:
        self.remaining -= 1
        if self.remaining < 0:
            self.set()
        return super().asked()


def test_a_trial_that_is_stopped_says_that_it_is_not_known() -> None:
    data = {"name": "worth", "runs": [LINE], "heads": HEADS, "weights": {"unserved": 500}}
    scenario = parse_scenario(data, "worth")
    found = set()
    for questions in range(1, 40):
        try:
            route, solution = route_scenario(scenario, stop=_Late(questions))
        except Exception as error:
            assert "NothingDecided" in type(error).__name__
            continue
        if solution.stopped is None:
            attempt = route.heads[0].stopped_by[0]
            assert attempt.rule == "worth"
            found.add("stopped before it was known" in attempt.text)
    assert found == {True, False}
