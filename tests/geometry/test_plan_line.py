"""Stations and frames of a plan line, against shapely's linear referencing."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from router.geometry.plan import PlanLine

COORDINATE = st.integers(-20000, 20000).map(lambda v: v / 2.0)
POINTS = st.lists(st.tuples(COORDINATE, COORDINATE), min_size=2, max_size=6).filter(
    lambda pts: all(np.hypot(a[0] - b[0], a[1] - b[1]) > 20 for a, b in itertools.pairwise(pts))
)


@settings(max_examples=80, deadline=None, derandomize=True)
@given(POINTS, st.floats(0, 1))
def test_point_at_a_station_is_shapelys(vertices: list[tuple[float, float]], share: float) -> None:
    line, plan = shapely.LineString(vertices), PlanLine(vertices)
    assert plan.length == pytest.approx(line.length)
    want = line.interpolate(share, normalized=True)
    assert plan.point(share * plan.length) == pytest.approx([want.x, want.y], abs=1e-6)
    section = plan.section_at(share * plan.length)
    assert section.start - 1e-6 <= share * plan.length <= section.end + 1e-6


@settings(max_examples=120, deadline=None, derandomize=True)
@given(POINTS, COORDINATE, COORDINATE)
def test_nearest_station_is_shapelys(vertices: list[tuple[float, float]], x: float, y: float) -> None:
    line, plan = shapely.LineString(vertices), PlanLine(vertices)
    station, distance = plan.nearest((x, y))
    assert distance == pytest.approx(line.distance(shapely.Point(x, y)), abs=1e-6)
    # equal distances (a line that comes back) may name either station, so the place is compared
    assert np.hypot(*(plan.point(station) - [x, y])) == pytest.approx(distance, abs=1e-6)
    located = line.line_locate_point(shapely.Point(x, y))
    assert station <= located + 1e-5 or np.hypot(*(plan.point(located) - [x, y])) == pytest.approx(
        distance, abs=1e-5
    )


@settings(max_examples=80, deadline=None, derandomize=True)
@given(POINTS, COORDINATE, COORDINATE)
def test_local_frame_round_trip(vertices: list[tuple[float, float]], x: float, y: float) -> None:
    for section in PlanLine(vertices).sections:
        station, lateral = section.local(np.array([x, y]))[0]
        assert section.point(station) + lateral * section.left == pytest.approx([x, y], abs=1e-6)
        assert abs(section.along @ section.left) < 1e-12
        # left is a quarter turn anticlockwise
        assert section.along[0] * section.left[1] - section.along[1] * section.left[0] == pytest.approx(1)


def test_turns_and_sides_by_hand() -> None:
    plan = PlanLine([(0, 0), (1000, 0), (1000, 1000), (2000, 2000), (1000, 1000.0001)])
    assert plan.turn_at(1) == pytest.approx(90)
    assert plan.turn_at(2) == pytest.approx(45)
    assert plan.turn_at(3) == pytest.approx(180, abs=1e-4)
    assert plan.section_at(1000.0) is plan.sections[0]
    assert plan.sections[0].local(np.array([300.0, 50.0]))[0] == pytest.approx([300, 50])
    assert plan.sections[1].local(np.array([700.0, 400.0]))[0] == pytest.approx([1400, 300])
    assert plan.nearest((1200.0, -100.0)) == pytest.approx((1000.0, np.hypot(200, 100)))


@settings(max_examples=60, deadline=None, derandomize=True)
@given(POINTS, st.floats(-0.999, 0.999))
def test_stations_beside_a_bend_are_on_their_own_side_of_it(
    vertices: list[tuple[float, float]], beside: float
) -> None:
    line, plan = shapely.LineString(vertices), PlanLine(vertices)
    for bend in plan.stations[1:-1].tolist():
        want = line.interpolate(bend + beside)
        assert plan.point(bend + beside) == pytest.approx([want.x, want.y], abs=1e-6)


@settings(max_examples=80, deadline=None, derandomize=True)
@given(POINTS, st.floats(-0.1, 1.1))
def test_a_place_as_plain_numbers_is_the_point(vertices: list[tuple[float, float]], share: float) -> None:
    plan = PlanLine(vertices)
    station = share * plan.length
    # before the first and beyond the last vertex both go straight on
    assert plan.place(station) == pytest.approx(plan.point(station).tolist(), abs=1e-6)
