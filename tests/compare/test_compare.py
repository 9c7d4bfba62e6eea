"""Two or more routes side by side: figures, heads, and which is called better."""

from __future__ import annotations

from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

from router.building.route import route_scenario
from router.check import check_route
from router.compare import Comparison, RouteFigures, compare
from router.compare.ranking import _NOUNS, pair, rank
from router.route.model import Route
from router.route.totals import UNITS
from router.scenario import read_scenario

if TYPE_CHECKING:
    from router.scenario.model import Scenario

SCENARIOS = Path(__file__).parents[2] / "scenarios"


@cache
def scenario() -> Scenario:
    return read_scenario(SCENARIOS / "minimal.json")


@cache
def best() -> Route:
    return route_scenario(scenario())[0]


@cache
def other() -> Route:
    """The best route without side arms and straight drops: more fittings."""
    rules = scenario().rules.model_copy(update={"styles": ["return_bend", "raised_arm", "lowered_arm"]})
    return route_scenario(scenario().model_copy(update={"rules": rules}))[0]


def lowered(route: Route) -> Route:
    """The route with one drop that ends 30 mm under its head."""
    record = route.model_dump()
    drop = next(p for p in record["pieces"] if p["kind"] == "drop")
    low = min(("start", "end"), key=lambda e: drop[e][2])
    drop[low] = (*drop[low][:2], drop[low][2] - 30.0)
    return Route.model_validate(record)


def without(route: Route, head: str) -> Route:
    """Takes a head from its takeoff and calls it unserved (which breaks rules: its pipe stays)."""
    record = route.model_dump()
    for takeoff in record["takeoffs"]:
        takeoff["heads"] = [name for name in takeoff["heads"] if name != head]
    for result in record["heads"]:
        if result["id"] == head:
            result.update(served=False, takeoff=None, run=None, style=None)
    return Route.model_validate(record)


def figures(name: str, clean: bool = True, served: int = 10, value: float = 1000.0) -> RouteFigures:
    base = compare(scenario(), [("a", best()), ("b", other())]).routes[0]
    changes: dict[str, Any] = {"name": name, "clean": clean, "served": served, "heads": 10, "value": value}
    return base.model_copy(update=changes | {"breaks": {} if clean else {"clearance": 2}})


def test_figures_are_the_referees() -> None:
    found = compare(scenario(), [("best", best()), ("other", other())])
    for own, route in zip(found.routes, (best(), other()), strict=True):
        assert own.clean
        assert own.value == pytest.approx(route.objective.value, abs=0.01)
        assert own.fittings_counted == route.counts.fittings_counted
        assert own.pipe_m == pytest.approx(route.counts.pipe_m, abs=1e-3)
        assert sum(own.fittings.values()) == own.fittings_counted
        assert own.unserved == []
    assert found.ranking.best == "best"
    assert found.routes[1].fittings_counted > found.routes[0].fittings_counted
    assert "fittings fewer" in found.ranking.why
    assert found.exit_code == 0


def test_what_a_route_says_of_itself_counts_nothing() -> None:
    liar = other().model_copy(
        update={
            "counts": other().counts.model_copy(update={"fittings_counted": 1}),
            "objective": other().objective.model_copy(update={"value": 1.0, "bound": 1.0}),
        }
    )
    found = compare(scenario(), [("best", best()), ("liar", liar)])
    assert found.routes[1].fittings_counted == other().counts.fittings_counted
    assert not found.routes[1].clean
    assert found.ranking.best == "best"


def test_weight_is_that_of_the_pipe_by_hand() -> None:
    own = compare(scenario(), [("best", best()), ("other", other())]).routes[0]
    # ASME B36.10M Schedule 40, kg/m: 1 in. 2.50, 1-1/4 in. 3.39
    by_hand = own.pipe_m["25"] * 2.50 + own.pipe_m["32"] * 3.39
    assert set(own.pipe_m) == {"25", "32"}
    assert own.steel_kg == pytest.approx(by_hand, rel=0.005)


def test_each_head_is_compared_with_the_first_route() -> None:
    found = compare(scenario(), [("best", best()), ("other", other())])
    for row in found.heads:
        d = row.differences[0]
        first, second = row.routes["best"], row.routes["other"]
        assert first.style != second.style
        assert any(change.startswith("style: ") for change in d.changes)
        more = 1000.0 * (second.fittings - first.fittings) + 20.0 * (second.pipe_m - first.pipe_m)
        assert d.judgement == ("worse" if more > 0.01 else "better" if more < -0.01 else "equal")
        assert second.pipe_m > 0
    assert any("fitting" in row.differences[0].why for row in found.heads)
    turned = compare(scenario(), [("other", other()), ("best", best())])
    for a, b in zip(found.heads, turned.heads, strict=True):
        pairs = {("worse", "better"), ("better", "worse"), ("equal", "equal"), ("same", "same")}
        assert (a.differences[0].judgement, b.differences[0].judgement) in pairs


def test_a_route_and_itself_are_the_same() -> None:
    found = compare(scenario(), [("a", best()), ("b", best())])
    assert found.ranking.best is None
    assert "cost the same" in found.ranking.why
    assert {row.differences[0].judgement for row in found.heads} == {"same"}
    assert not any(row.changed for row in found.heads)


def test_a_way_that_breaks_a_rule_is_worse_and_says_which() -> None:
    found = compare(scenario(), [("best", best()), ("short", lowered(best()))])
    judged = {row.id: row.differences[0] for row in found.heads}
    assert sorted(d.judgement for d in judged.values()) == ["same", "same", "worse"]
    worse = next(d for d in judged.values() if d.judgement == "worse")
    assert "breaks a rule there: served" in worse.why
    assert found.ranking.best == "best"
    assert found.exit_code == 1


def test_of_two_ways_that_break_rules_neither_is_better() -> None:
    found = compare(scenario(), [("one", lowered(best())), ("two", lowered(best()))])
    assert found.ranking.best is None
    assert "both break rules" in found.ranking.why
    assert "neither" in {row.differences[0].judgement for row in found.heads}


def test_a_head_that_one_route_leaves_out() -> None:
    found = compare(scenario(), [("best", best()), ("less", without(best(), "H1"))])
    row = next(row for row in found.heads if row.id == "H1")
    assert row.differences[0].judgement == "worse"
    assert row.differences[0].changes == ["served -> not served"]
    assert found.routes[1].unserved == ["H1"]


@pytest.mark.parametrize(
    ("a", "b", "better"),
    [
        (figures("a", value=900.0), figures("b"), "a"),
        (figures("a"), figures("b"), None),
        (figures("a", clean=False, value=1.0), figures("b"), "b"),
        (figures("a", clean=False), figures("b", clean=False, value=1.0), None),
        (figures("a", served=9, value=1.0), figures("b"), "b"),  # heads served before points
        (figures("a", clean=False), figures("b", served=9), None),  # rules broken; fewer heads served
        (figures("a", clean=False, served=9), figures("b"), "b"),
    ],
)
def test_which_is_called_better(a: RouteFigures, b: RouteFigures, better: str | None) -> None:
    assert pair(a, b).better == better
    assert pair(b, a).better == better
    assert rank([a, b]).best == better


def test_the_best_of_three_is_better_than_both() -> None:
    a, b, c = figures("a", value=3.0), figures("b", value=2.0), figures("c", clean=False, value=1.0)
    assert rank([a, b, c]).best == "b"
    assert len(rank([a, b, c]).pairs) == 3
    assert rank([b, b.model_copy(update={"name": "d"}), a]).best is None


def test_names_are_needed_and_differ() -> None:
    with pytest.raises(ValueError, match="1 route to compare, at least 2"):
        compare(scenario(), [("a", best())])
    with pytest.raises(ValueError, match="two routes are called 'a'"):
        compare(scenario(), [("a", best()), ("a", other())])


def test_verdicts_that_are_there_are_taken() -> None:
    verdicts = {"a": check_route(scenario(), best())}
    found = compare(scenario(), [("a", best()), ("b", other())], verdicts)
    assert found == compare(scenario(), [("a", best()), ("b", other())])


def test_a_comparison_is_json_and_back() -> None:
    found = compare(scenario(), [("a", best()), ("b", lowered(other()))])
    assert Comparison.model_validate_json(found.model_dump_json()) == found


def test_every_term_of_the_objective_has_a_word() -> None:
    """A term without one would stop the comparison of two routes that differ in it."""
    assert set(_NOUNS) == set(UNITS)
