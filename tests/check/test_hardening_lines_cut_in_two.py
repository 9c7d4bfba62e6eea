"""A line is counted and charged the same whether it is one run or two, end to end."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
import pytest

from router.building.route import route_scenario
from router.check.referee import check_route
from router.deliver.segments_csv import write_segments
from router.infer import infer_route
from router.readers.segments import read_segments
from router.scenario import parse_scenario

if TYPE_CHECKING:
    from pathlib import Path

    from router.route.model import Route
    from router.scenario.model import Scenario

NO_WEIGHTS = {"wet_drain": 0, "moved": 0, "style": 0}
"""What is counted by run would differ between one run and two."""


def whole(turn: float, **weights: float) -> dict[str, Any]:
    """A pendent, a beam that the line passes under, an upright near the level over the beam's under side."""
    c, s = np.cos(np.radians(turn)), np.sin(np.radians(turn))

    def place(x: float, y: float) -> list[float]:
        return [round(float(c * x - s * y), 3), round(float(s * x + c * y), 3)]

    sides = [place(*p) for p in ((1500, -900), (1700, -900), (1700, 900), (1500, 900))]
    run = {
        "id": "B",
        "plan": [place(0, 0), place(8000, 0)],
        "elevation": 3000,
        "band": [2850, 3000],
        "size": 32,
    }
    heads = [
        {"id": "H1", "at": [*place(1000, 0), 2700]},
        {"id": "H2", "at": [*place(7000, 0), 3200], "kind": "upright"},
    ]
    return {
        "name": "cut in two",
        "runs": [run],
        "heads": heads,
        "obstructions": [{"id": "beam", "polygon": sides, "elevations": [2960, 3400]}],
        "weights": {**NO_WEIGHTS, **weights},
    }


def cut(turn: float, turned: float = 0.0, **weights: float) -> dict[str, Any]:
    """The same as two runs without offsets, the second turned against the first by some degrees."""
    data = whole(turn, **weights)
    (run,), (first, second) = data["runs"], data["heads"]
    a, b = (np.array(p) for p in run["plan"])
    middle = (a + b) / 2
    c, s = np.cos(np.radians(turned)), np.sin(np.radians(turned))
    onward = np.array([[c, -s], [s, c]])
    end, at = (middle + onward @ (np.array(p) - middle) for p in (b, second["at"][:2]))
    runs = [
        {**run, "plan": [a.tolist(), middle.tolist()]},
        {**run, "id": "B beyond", "plan": [middle.tolist(), end.tolist()], "supply": "B"},
    ]
    heads = [{**first, "run": "B"}, {**second, "at": [*at.tolist(), second["at"][2]], "run": "B beyond"}]
    pins = {"B": {"no_offset": True}, "B beyond": {"no_offset": True, "level": 3000}}
    return {**data, "runs": runs, "heads": heads, "pins": {"runs": pins}}


def solved(data: dict[str, Any]) -> tuple[Scenario, Route]:
    scenario = parse_scenario(data, "made")
    route, _ = route_scenario(scenario)
    assert not check_route(scenario, route).breaks
    assert (route.status, route.counts.served) == ("optimal", 2)
    return scenario, route


@pytest.mark.parametrize("turn", [0.0, 31.0, 180.0])
def test_a_level_change_at_the_cut(turn: float) -> None:
    _, route = solved(cut(turn))
    (feeding,) = [t for t in route.takeoffs if t.child_runs]
    assert (feeding.side, feeding.ends_run) == ("top", True)
    assert [run.level_changes for run in route.runs] == [[], []]
    assert route.counts.level_changes == 1
    term = next(term for term in route.objective.terms if term.name == "level_change")
    assert (term.amount, term.cost) == (1, 500.0)
    assert route.objective.gap == 0.0  # the search charged it too


def test_the_same_line_as_one_run_and_as_two() -> None:
    """Pinned to be high at its far end: it comes up somewhere, within a run or between two."""
    as_one, as_two = whole(0.0), cut(0.0)
    as_one["pins"] = {"runs": {"B": {"levels": [{"stations": [6000, 8000], "level": 3000}]}}}
    for one_of_two in ({"level": 3000}, {"level": 3000, "no_offset": True}):
        as_two["pins"] = {"runs": {"B beyond": one_of_two, "B": {"no_offset": "no_offset" in one_of_two}}}
        (_, one), (_, two) = solved(as_one), solved(as_two)
        assert (one.counts.level_changes, two.counts.level_changes) == (1, 1)
        assert one.counts.fittings_counted == two.counts.fittings_counted
        # an elbow's pipe may differ, at 20 points a metre
        assert one.objective.value == pytest.approx(two.objective.value, abs=3.0)


def test_a_drawing_of_it_is_counted_alike(tmp_path: Path) -> None:
    scenario, route = solved(cut(0.0))
    drawing = tmp_path / "drawing.csv"
    drawing.write_text(write_segments(route, decimals=3), encoding="utf-8")
    found = infer_route(scenario, read_segments(drawing)).route
    assert found.counts.level_changes == 1
    assert not check_route(scenario, found).breaks


@pytest.mark.parametrize(("turned", "changes"), [(2.0, 1), (-2.9, 1), (3.1, 0), (-30.0, 0), (90.0, 0)])
def test_only_where_the_second_goes_straight_on(turned: float, changes: int) -> None:
    _, route = solved(cut(20.0, turned))
    assert route.counts.level_changes == changes


def test_a_tee_under_it_is_no_change_of_level() -> None:
    """Where the first run goes on below, the second leaves it like any other."""
    data = cut(0.0)
    data["runs"][0]["plan"] = [[0, 0], [6000, 0]]
    data["heads"].append({"id": "H3", "at": [5500, 0, 2600], "run": "B"})
    scenario = parse_scenario(data, "made")
    route, _ = route_scenario(scenario)
    assert not check_route(scenario, route).breaks
    assert route.counts.level_changes == 0


def test_a_wrong_count_is_found() -> None:
    scenario, route = solved(cut(0.0))
    counts = route.counts.model_copy(update={"level_changes": 0})
    broken = check_route(scenario, route.model_copy(update={"counts": counts})).breaks
    assert "counts.level_changes" in {finding.element for finding in broken}


def test_a_dear_change_of_level_is_made_in_the_fewest_places() -> None:
    """Free levels: the line stays under the beam to its end, with a longer sprig."""
    data = cut(0.0, level_change=5000.0)
    data["pins"] = {}
    _, route = solved(data)
    assert route.counts.level_changes == 0
