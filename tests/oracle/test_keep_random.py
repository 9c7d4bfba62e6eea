"""Keeping an older route: no change without need, the referee agrees, nothing cheaper was to be had."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest
from keep_made import changed, parts
from made import line
from test_crowded_trees import crowded
from test_random_floors import floor

from router.building.route import route_scenario
from router.check import check_route
from router.check.changes import changes
from router.check.survey import Survey
from router.route.totals import change_weights

if TYPE_CHECKING:
    from collections.abc import Callable

    from router.route.model import Route
    from router.scenario.model import Scenario

SLACK = 0.02
"""Points: costs are rounded arc by arc."""


def price_of_change(scenario: Scenario, route: Route, older: Route) -> float:
    w = change_weights(scenario)
    return changes(Survey(scenario, route), older).points(w.head, w.run, w.offset)


def check_kept(scenario: Scenario, seed: int) -> int:
    """Route, change the scenario, route again keeping; how many changes there were."""
    older, _ = route_scenario(scenario)
    again, _ = route_scenario(scenario, keep=older)
    assert again.kept is not None
    assert not again.kept.changes
    assert parts(again) == parts(older)
    assert again.objective.value == pytest.approx(older.objective.value, abs=SLACK)
    other = changed(scenario, seed)
    if other is None:
        return 0
    found, _ = route_scenario(other, keep=older)
    free, _ = route_scenario(other)
    verdict = check_route(other, found, older)
    assert [f.text for f in verdict.breaks if f.rule != "served"] == []
    assert found.kept is not None
    if found.status != "optimal":
        return len(found.kept.changes)
    alone = {run.id for run in other.runs} == {head.run for head in other.heads} or len(other.runs) == 1
    if alone:  # else heads may have been given to other runs
        assert found.objective.value <= free.objective.value + price_of_change(other, free, older) + SLACK
    standing = check_route(other, older)
    unserved = {head.id for head in older.heads if not head.served}
    broken = [f for f in standing.breaks if f.rule not in ("objective", "counts", "hangers", "kept")]
    if all(f.rule == "served" and f.element in unserved for f in broken):
        w = found.objective
        weight = next(t.weight for t in w.terms if t.name == "unserved")
        terms = [t.model_copy(update={"cost": t.amount * weight}) if t.name == "unserved" else t
                 for t in standing.terms]  # fmt: skip
        assert w.value <= sum(t.cost for t in terms) + SLACK
    return len(found.kept.changes)


@pytest.mark.parametrize("seed", range(24))
def test_lines(seed: int) -> None:
    check_kept(line(seed), seed)


@pytest.mark.parametrize("seed", range(12))
def test_crowded_trees(seed: int) -> None:
    check_kept(crowded(seed), seed)


# floor 10 holds too, but takes half a minute
@pytest.mark.parametrize("seed", [seed for seed in range(16) if seed != 10])
def test_floors(seed: int) -> None:
    scenario = floor(seed)
    if scenario is not None:
        check_kept(scenario, seed)


def some_change(made: Callable[[int], Scenario | None]) -> int:
    return sum(check_kept(scenario, seed) > 0 for seed in range(6) if (scenario := made(seed)) is not None)


def test_some_of_them_change_something() -> None:
    assert some_change(line) > 2
