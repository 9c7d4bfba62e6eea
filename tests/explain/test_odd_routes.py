"""Reasons of routes with an older one kept, with heads that came since, with lines that gave way."""

from __future__ import annotations

import re
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from test_random_floors import floor

from router.building.route import route_scenario
from router.explain import explain_head, explain_route, explain_run
from router.explain.head import pinned
from router.scenario import read_scenario
from router.scenario.model import RunPin

if TYPE_CHECKING:
    from router.scenario.model import Scenario

SCENARIOS = Path(__file__).parents[2] / "scenarios"


def made(seed: int) -> Scenario:
    scenario = floor(seed)
    assert scenario is not None
    return scenario


def test_a_head_that_came_after_the_route() -> None:
    scenario = read_scenario(SCENARIOS / "minimal.json")
    route, _ = route_scenario(scenario)
    gone = next(t for t in route.takeoffs if "H3" in t.heads)
    older = route.model_copy(
        update={
            "heads": [h for h in route.heads if h.id != "H3"],
            "takeoffs": [t for t in route.takeoffs if t is not gone],
        }
    )
    alone = explain_head(scenario, older, "H3")
    assert not alone.served
    assert "H3 is not in the route" in alone.chosen
    assert "serves H3" in alone.chosen
    every = explain_route(scenario, older)
    (found,) = [h for h in every.heads if h.head == "H3"]
    assert "H3 is not in the route" in found.chosen
    assert not any("not beside" in w.text for w in found.others)
    assert "1 head more" in explain_run(scenario, older, "B1").text


def test_a_style_more_is_no_sure_cost_where_a_head_goes_without() -> None:
    """H1 of this floor goes without, so its own style need not be on the line."""
    scenario = made(5014)
    route, _ = route_scenario(scenario)
    assert [h.id for h in route.heads if not h.served] == ["H1"]
    (bounds,) = [h for h in explain_route(scenario, route).heads if h.head == "H2"]
    told = {w.style: w.costs_more for w in bounds.others if w.costs_more is not None}
    other, _ = route_scenario(pinned(scenario, "H2", "return_bend"))
    assert told["return_bend"] <= other.objective.value - route.objective.value + 0.05


def test_a_line_beside_that_gave_way_is_chosen_anew_too() -> None:
    """C gives way to A; where H2 hangs on a hose it is A that goes elsewhere, which is cheaper."""
    scenario = made(7026)
    route, _ = route_scenario(scenario)
    whole, _ = route_scenario(pinned(scenario, "H2", "flexible_drop"))
    way = next(w for w in explain_head(scenario, route, "H2").others if w.style == "flexible_drop")
    assert way.exact
    assert way.costs_more == pytest.approx(whole.objective.value - route.objective.value, abs=0.05)
    assert "the levels of C would change" in way.text


def test_a_kept_route_is_not_said_to_be_the_best() -> None:
    """The raised arm of H03 was kept: anew the head would have another style, and that is said."""
    older, _ = route_scenario(read_scenario(SCENARIOS / "loading_dock.json"))
    scenario = read_scenario(SCENARIOS / "variants" / "loading_dock_changed.json")
    route, _ = route_scenario(scenario, keep=older)
    assert route.kept is not None
    anew, _ = route_scenario(scenario)
    less = route.objective.value - route.kept.points - anew.objective.value
    assert less > 100
    every = explain_route(scenario, route)
    assert all(w.about for h in every.heads for w in h.others if w.costs_more is not None)
    assert not any("at least" in w.text for h in every.heads for w in h.others)
    run = next(t.run for t in route.takeoffs if "H03" in t.heads)
    text = explain_run(scenario, route, run).text
    assert "less than this one" in text
    assert "this one keeps an older route" in text


def test_bounds_reckon_with_a_line_beside_that_gave_way() -> None:
    """Held at 3,300, A costs 150 points less than by itself: C comes back to its own level."""
    scenario = made(7026)
    route, _ = route_scenario(scenario)
    every = explain_route(scenario, route)
    told = 0
    for head in every.heads:
        for way in head.others:
            if way.costs_more is not None:
                whole, _ = route_scenario(pinned(scenario, head.head, way.style))
                assert way.costs_more <= whole.objective.value - route.objective.value + 0.05, way
                told += 1
    assert told > 10
    levels = {r.id: r.profile[0].level for r in route.runs}
    swapped = {r: other for r, other in zip(levels, reversed(list(levels.values())), strict=True)}
    for run in every.runs:
        alone = explain_run(scenario, route, run.run)
        pins = scenario.pins.model_copy(update={"runs": {run.run: RunPin(level=swapped[run.run])}})
        whole, _ = route_scenario(scenario.model_copy(update={"pins": pins}))
        more = whole.objective.value - route.objective.value
        for text in (run.text, alone.text):
            assert "points less." not in text
            for size in re.findall(r"costs (?:at least )?([\d,.]+) points more", text):
                assert float(size.replace(",", "")) <= more + 0.5, text
    assert (
        "By itself C would cost 156 points less: it gives way to A." in explain_run(scenario, route, "C").text
    )
