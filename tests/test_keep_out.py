"""Keep-out zones, levels and ranges without offsets: the search keeps them, the referee sees them broken."""

from __future__ import annotations

from itertools import pairwise
from typing import Any

import pytest

from router.building.route import route_scenario
from router.check import check_route
from router.deliver.draw import draw_svg
from router.scenario import ScenarioError, parse_scenario

GIVEN: dict[str, Any] = {
    "name": "zones",
    "runs": [{"id": "B1", "plan": [[0, 0], [9000, 0]], "elevation": 3000, "size": 25, "band": [3000, 3300],
              "supply_elevation": 3000}],
    "heads": [{"id": f"H{n}", "at": [1500 * n, 300, 2400]} for n in (1, 2, 3, 4, 5)],
    "obstructions": [{"id": "D1", "polygon": [[5200, -500], [5400, -500], [5400, 100], [5200, 100]],
                      "elevations": [2900, 3100]}],
}  # fmt: skip
HALF_OD = 33.4 / 2
"""DN25, 1 in.: 33.4 mm outside (ASME B36.10M)."""


def box(x0: float, x1: float, y0: float = -400, y1: float = 400) -> list[list[float]]:
    return [[x0, y0], [x1, y0], [x1, y1], [x0, y1]]


def scenario(**more: Any) -> Any:
    return parse_scenario({**GIVEN, **more}, "zones")


def zone(polygon: list[list[float]], **more: Any) -> list[dict[str, Any]]:
    return [{"id": "Z1", "polygon": polygon, "why": "hatch", **more}]


def routed(**more: Any) -> Any:
    given = scenario(**more)
    route, _ = route_scenario(given)
    assert route.counts.served == 5
    assert check_route(given, route).clean
    return route


def faults(**more: Any) -> list[str]:
    with pytest.raises(ScenarioError) as caught:
        scenario(**more)
    return [str(fault) for fault in caught.value.faults]


def test_outlets_stay_out() -> None:
    free = routed()
    keep_out = zone(box(1400, 1700), of="outlets")
    route = routed(keep_out=keep_out)
    assert all(not 1400.1 < t.station < 1699.9 for t in route.takeoffs)
    (finding,) = check_route(scenario(keep_out=keep_out), free).breaks
    assert (finding.rule, finding.against) == ("keep_out", "Z1")
    assert finding.measured == pytest.approx(100.0)
    assert "hatch" in finding.text
    # at other elevations it keeps nothing out
    assert not check_route(
        scenario(keep_out=zone(box(1400, 1700), of="outlets", elevations=[0, 2999])), free
    ).breaks


@pytest.mark.parametrize(("off", "clean"), [(0.0, True), (0.05, True), (0.2, False), (20.0, False)])
def test_an_outlet_on_the_edge_is_outside(off: float, clean: bool) -> None:
    free = routed()
    polygon = box(1500 - off, 1700)
    assert check_route(scenario(keep_out=zone(polygon, of="outlets")), free).clean is clean


@pytest.mark.parametrize(("gap", "clean"), [(HALF_OD, True), (HALF_OD - 0.05, True), (HALF_OD - 0.3, False)])
def test_all_pipe_stays_out_by_its_surface(gap: float, clean: bool) -> None:
    free = routed()  # the arm of H1 runs at x = 1500
    polygon = box(1500 + gap, 1700, 100, 250)
    given = scenario(keep_out=zone(polygon, elevations=[2900, 3200]))
    assert check_route(given, free).clean is clean
    route, _ = route_scenario(given)
    assert check_route(given, route).clean
    if gap in (HALF_OD, HALF_OD - 0.3):  # the search gives way by less than the referee
        same = [p.model_dump() for p in route.pieces] == [p.model_dump() for p in free.pieces]
        assert same is clean


def test_changes_of_level_stay_out() -> None:
    free = routed()
    (change,) = free.runs[0].level_changes
    low, high = change.stations
    route = routed(keep_out=zone(box(low - 200, high + 50), of="level_changes"))
    assert route.runs[0].level_changes[0].stations != change.stations
    broken = check_route(scenario(keep_out=zone(box(high - 5, high + 50), of="level_changes")), free).breaks
    assert [f.rule for f in broken] == ["keep_out"]
    assert check_route(scenario(keep_out=zone(box(high, high + 50), of="level_changes")), free).clean


def test_a_range_without_offsets() -> None:
    free = routed()
    (change,) = free.runs[0].level_changes
    low, high = change.stations
    pins = {"runs": {"B1": {"no_offset": [[low - 300, high + 20]]}}}
    route = routed(pins=pins)
    assert all(c.stations[1] <= low - 300 or c.stations[0] >= high + 20 for c in route.runs[0].level_changes)
    assert [f.rule for f in check_route(scenario(pins=pins), free).breaks] == ["pins"]
    just = {"runs": {"B1": {"no_offset": [[low - 300, low]]}}}
    assert check_route(scenario(pins=just), free).clean


def test_a_level_between_stations() -> None:
    free = routed()
    pins = {"runs": {"B1": {"levels": [{"stations": [5650, 5800], "level": 3160}]}}}
    route = routed(pins=pins)
    profile = [(p.station, p.level) for p in route.runs[0].profile]
    assert any(a[0] <= 5650 and b[0] >= 5800 and a[1] == b[1] == 3160 for a, b in pairwise(profile))
    assert [f.rule for f in check_route(scenario(pins=pins), free).breaks] == ["pins"]


def test_units_of_zones_and_pins() -> None:
    given = parse_scenario(
        {
            "name": "inches", "units": "in",
            "runs": [{"id": "B1", "plan": [[0, 0], [400, 0]], "elevation": 120}],
            "heads": [{"id": "H1", "at": [100, 10, 96]}],
            "pins": {"runs": {"B1": {"no_offset": [[10, 20]],
                                     "levels": [{"stations": [1, 2], "level": 121}]}}},
            "keep_out": [{"id": "Z", "polygon": box(1, 2, 1, 2), "elevations": [100, 110]}],
        },
        "inches",
    )  # fmt: skip
    pin = given.pins.runs["B1"]
    assert pin.no_offset == [(254.0, 508.0)]
    assert (pin.levels[0].stations, pin.levels[0].level) == ((25.4, 50.8), 3073.4)
    assert given.keep_out[0].elevations == (2540.0, 2794.0)
    assert given.keep_out[0].polygon[1] == (50.8, 25.4)


@pytest.mark.parametrize(
    ("more", "says"),
    [
        ({"keep_out": zone(box(0, 1), elevations=[5, 5])}, "keep-out zone Z1: [5, 5] mm: no height"),
        ({"keep_out": zone([[0, 0], [1, 1]])}, "keep-out zone Z1: 2 points: a polygon needs at least 3"),
        ({"keep_out": zone(box(0, 9)) * 2}, "duplicate id"),
        ({"keep_out": zone(box(0, 9), of="doors")}, "'all', 'outlets' or 'level_changes'"),
        ({"pins": {"runs": {"B9": {"no_offset": True}}}}, "run B9"),
        ({"pins": {"runs": {"B1": {"no_offset": [[9500, 9600]]}}}},
         "[9500, 9600] mm: not on the run (0 to 9000 mm)"),
        ({"pins": {"runs": {"B1": {"no_offset": [[300, 200]]}}}}, "[300, 200] mm: reversed"),
        ({"pins": {"runs": {"B1": {"levels": [{"stations": [0, 9], "level": 2999}]}}}},
         "outside the run's band"),
        ({"pins": {"runs": {"B1": {"level": 3100}}}}, "contradicts supply_elevation 3000 mm"),
        ({"pins": {"runs": {"B1": {"level": 3000, "levels": [{"stations": [0, 9], "level": 3100}]}}}},
         "contradicts the pin level 3000 mm"),
        ({"pins": {"runs": {"B1": {"levels": [{"stations": [0, 90], "level": 3100},
                                              {"stations": [50, 99], "level": 3000}]}}}}, "they overlap"),
        ({"pins": {"runs": {"B1": {"no_offset": True, "levels": [{"stations": [0, 90], "level": 3100},
                                              {"stations": [500, 990], "level": 3000}]}}}},
         "no_offset allows no"),
        ({"pins": {"heads": {"H1": {"style": "straight_drop", "side": "left"}}}},
         "contradicts the pinned style straight_drop, whose outlet points bottom"),
        ({"pins": {"heads": {"H1": {"style": "side_arm", "styles": ["return_bend"]}}}},
         "contradicts the pin styles, which has only return_bend"),
    ],
)  # fmt: skip
def test_what_is_wrong_is_named(more: dict[str, Any], says: str) -> None:
    assert any(says in fault for fault in faults(**more)), faults(**more)


def test_a_pinned_head_that_cannot_be_served_names_its_pin() -> None:
    given = scenario(
        pins={"heads": {"H2": {"stations": [3000, 3100]}}}, keep_out=zone(box(2900, 3200), of="outlets")
    )
    route, _ = route_scenario(given)
    (head,) = [h for h in route.heads if not h.served]
    assert head.id == "H2"
    assert head.stopped_by[0].rule == "pins"
    assert "pinned to stations 3,000 to 3,100: it leaves no takeoff that fits" in head.stopped_by[0].text


def test_a_pinned_station_is_met_exactly() -> None:
    route = routed(pins={"heads": {"H2": {"stations": [2877.5, 2877.5]}}})
    assert next(t.station for t in route.takeoffs if t.heads == ["H2"]) == 2877.5


def test_the_plan_shows_the_zone() -> None:
    given = scenario(keep_out=zone(box(1400, 1700), of="outlets"))
    svg = draw_svg(given, route_scenario(given)[0])
    assert "Z1: keep out outlets" in svg
    assert "keep-out zone" in svg


@pytest.mark.parametrize("up", [0.0, 503_000.0, -900_000.0])
def test_a_zone_without_elevations_holds_at_any_height(up: float) -> None:
    given = scenario(
        runs=[{"id": "B1", "plan": [[0, 0], [9000, 0]], "elevation": 3000 + up, "size": 25}],
        heads=[{**head, "at": [*head["at"][:2], head["at"][2] + up]} for head in GIVEN["heads"]],
        keep_out=zone(box(1400, 1700), of="outlets"),
        obstructions=[],
    )
    route, _ = route_scenario(given)
    assert check_route(given, route).clean
    assert not any(1400 <= t.station <= 1700 for t in route.takeoffs)
    free = given.model_copy(update={"keep_out": []})
    assert any(1400 <= t.station <= 1700 for t in route_scenario(free)[0].takeoffs)
