"""The line that a run should follow, against shapely's linear referencing and by hand."""

from __future__ import annotations

from typing import Any

import pytest
import shapely
from build import line
from test_referee_shapes import bent

from router.check import check_route
from router.check.lines import Line, snapped_plan
from router.scenario.model import Run

CORNERS = [(0.0, 0.0), (3000.0, 0.0), (3000.0, 2000.0), (5000.0, 4000.0)]


def run(name: str, plan: list[tuple[float, float]], **more: Any) -> Run:
    return Run.model_validate({"id": name, "plan": plan, "elevation": 3000, **more})


@pytest.mark.parametrize(
    ("first", "snapped"),
    [
        ((1500.0, 20.0), (1500.0, 0.0)),  # beside its parent
        ((3040.0, -30.0), (3000.0, 0.0)),  # nearest to the bend
        ((2990.0, 1000.0), (3000.0, 1000.0)),
        ((4010.0, 2990.0), (4000.0, 3000.0)),  # on the slanted leg
        ((5100.0, 4100.0), (5000.0, 4000.0)),  # beyond its end
    ],
)
def test_a_child_begins_on_its_parent(first: tuple[float, float], snapped: tuple[float, float]) -> None:
    parent = run("M", CORNERS, kind="main")
    child = run("B", [first, (first[0] + 700.0, first[1] + 900.0)], supply="M")
    plan = snapped_plan(child, {"M": parent, "B": child})
    assert plan[0] == pytest.approx(snapped)
    assert plan[1] == child.plan[1]
    parents = shapely.LineString(CORNERS)
    nearest = parents.interpolate(parents.project(shapely.Point(first)))
    assert plan[0] == pytest.approx((nearest.x, nearest.y))


def test_a_run_without_supply_begins_where_it_is_drawn() -> None:
    root = run("M", CORNERS, kind="main")
    assert snapped_plan(root, {"M": root}) == CORNERS
    assert snapped_plan(run("B", CORNERS, supply="none"), {"M": root}) == CORNERS


@pytest.mark.parametrize("station", [0.0, 0.5, 1500.0, 2999.5, 3000.0, 3000.5, 4999.7, 5000.3, 7800.0])
def test_places_are_shapelys(station: float) -> None:
    have, plan = Line(CORNERS, [], 0.0), shapely.LineString(CORNERS)
    want = plan.interpolate(station)
    assert have.point(station) == pytest.approx((want.x, want.y))
    assert have.nearest(want.x, want.y) == pytest.approx((station, 0.0), abs=1e-6)
    assert have.stations_of(want.x, want.y) == [pytest.approx(station)] * (1 + (station in have.bends))


@pytest.mark.parametrize(
    ("station", "ways"), [(1500.0, 1), (2999.8, 1), (2999.95, 2), (3000.05, 2), (3000.2, 1)]
)
def test_a_bend_has_two_directions(station: float, ways: int) -> None:
    found = Line(CORNERS, [], 0.0).directions(station)
    assert len(found) == ways
    assert set(found) <= {(1.0, 0.0, 0.0), (0.0, 1.0, 0.0)}


@pytest.mark.parametrize(("deep", "clean"), [(0.09, True), (0.2, False), (40.0, False)])
@pytest.mark.parametrize("turned", [False, True])
def test_an_upright_piece_ends_where_its_step_does(deep: float, clean: bool, turned: bool) -> None:
    # the step of `bent` goes from 3000 to 2800; only one end of its pipe lies too low
    draft = bent(200.0)
    piece = draft.pieces["R/1"]
    piece["end"] = (2000.0, 0.0, 2800.0 - deep)
    if turned:
        piece["start"], piece["end"] = piece["end"], piece["start"]
        piece["fittings"].reverse()
    found = [f for f in check_route(draft.scenario(), draft.route()).by_rule("band") if f.element == "R/1"]
    assert [f.severity for f in found] == ["breaks"] * (not clean)
    for finding in found:
        assert finding.measured == pytest.approx(deep)
        assert finding.place == pytest.approx((2000.0, 0.0, 2800.0 - deep))


@pytest.mark.parametrize("back", [0.01, 0.5, 3.0])
def test_a_profile_does_not_go_back(back: float) -> None:
    draft = line()
    draft.build("R", [(0.0, 3000.0), (2000.0, 3000.0), (2000.0 - back, 3000.0), (5000.0, 3000.0)])
    found = check_route(draft.scenario(), draft.route()).by_rule("band")
    assert any("goes back at station 2000" in f.text for f in found)


@pytest.mark.parametrize("side", ["start", "end"])
@pytest.mark.parametrize(("off", "broken"), [(0.09, False), (0.2, True), (30.0, True)])
def test_how_far_pipe_is_off_the_plan(side: str, off: float, broken: bool) -> None:
    draft = line()
    x, y, z = draft.pieces["R/1"][side]
    draft.pieces["R/1"][side] = (x, y + off, z)
    found = [f for f in check_route(draft.scenario(), draft.route()).by_rule("band") if f.element == "R/1"]
    assert [f.measured for f in found] == [pytest.approx(off)] * broken
