"""What mutation testing found untried: odd elbows, barrels in the way, figures and names in findings."""

from __future__ import annotations

from math import cos, radians, sin
from typing import TYPE_CHECKING

import numpy as np
import pytest
from build import line, shared, tree
from hung import FT, Line
from test_referee_shapes import bent, cross

from router.check import check_route
from router.check.changes import _goes_past
from router.check.survey import Survey
from router.check.vectors import along, angle
from router.route.model import Hanger

if TYPE_CHECKING:
    from collections.abc import Callable

    from build import Draft


@pytest.mark.parametrize(
    ("turn", "broken"), [(60.0, 0), (30.0, 0), (87.0, 0), (87.2, 1), (90.0, 1), (46.0, 1), (49.0, 0)]
)
def test_an_odd_elbow_is_one_that_is_not_made(turn: float, broken: int) -> None:
    # elbows are stock ones at 45 and 90 degrees, within 3 (common practice, no source) less 0.1
    draft = bent(0.0)
    x, y = cos(radians(turn)), sin(radians(turn))
    draft.fittings["R/a"].update(kind="elbow_odd", directions=[(-1.0, 0.0, 0.0), (x, y, 0.0)])
    found = check_route(draft.scenario(), draft.route()).by_rule("square")
    assert [f.element for f in found] == ["R/a"] * broken


def test_a_barrel_ends_at_its_head() -> None:
    draft = line()
    draft.pieces["T2/nipple"]["kind"] = "barrel"
    found = check_route(draft.scenario(), draft.route()).by_rule("style_shape")
    assert sum("does not end at the head" in f.text for f in found) == 1


@pytest.mark.parametrize("off", [0.2, 7.0, -7.0])
def test_how_far_an_inlet_is_lifted(off: float) -> None:
    draft = line()
    draft.given["heads"][1]["at"] = (3000, 500, 2600 - off)
    (finding,) = check_route(draft.scenario(), draft.route()).by_rule("served")
    assert finding.measured == pytest.approx(abs(off))
    assert finding.limit == 0.0


def test_a_gap_is_told_of_what_begins_it() -> None:
    # 12 ft on 1 in. pipe: from the run's start, then from the hanger before
    made = Line([5000.0, 10000.0], [25, 25])
    spots = [(12 * FT + 1, "P1"), (24 * FT + 3, "P2"), (9700.0, "P2")]
    hangers = [
        Hanger(id=f"HG{k}", kind="run", run="R", piece=piece, at=(x, 0.0, 3000.0), why="")
        for k, (x, piece) in enumerate(spots)
    ]
    route = made.route().model_copy(update={"hangers": hangers})
    found = [f for f in check_route(made.scenario(), route).by_rule("hangers") if "distance" in f.text]
    assert [f.element for f in found] == ["R", "HG0"]
    assert [f.measured for f in found] == pytest.approx([12 * FT + 1, 12 * FT + 2])


@pytest.mark.parametrize(("over", "broken"), [(-0.05, 0), (0.05, 0), (0.2, 2)])
def test_a_sprig_of_4_ft_within_the_tolerance(over: float, broken: int) -> None:
    made = Line([2000.0, 5000.0], [25, 25], kind="upright", sprig=4 * FT + over)
    hangers = [
        Hanger(id=f"HG{k}", kind="run", run="R", piece=f"P{k}", at=(x, 0.0, 3000.0), why="")
        for k, x in ((1, 1800.0), (2, 4700.0))
    ]
    route = made.route().model_copy(update={"hangers": hangers})
    assert len(check_route(made.scenario(), route).by_rule("hangers")) == broken


@pytest.mark.parametrize(
    ("stations", "limit"), [((3000.2, 3400), 3000.2), ((2600, 2999.8), 2999.8), ((3000, 3400), None)]
)
def test_the_nearer_end_of_pinned_stations_is_the_limit(
    stations: tuple[float, float], limit: float | None
) -> None:
    draft = line(pins={"heads": {"H2": {"stations": stations}}})
    found = check_route(draft.scenario(), draft.route()).by_rule("pins")
    assert [f.limit for f in found] == ([] if limit is None else [limit])


@pytest.mark.parametrize("make", [shared, cross])
@pytest.mark.parametrize(("degrees", "broken"), [(0.0, 0), (2.9, 0), (3.1, 1), (-3.1, 1)])
def test_two_arms_are_opposite(make: Callable[[], Draft], degrees: float, broken: int) -> None:
    draft = make()
    (takeoff,) = [t for t in draft.takeoffs.values() if len(t["heads"]) == 2]
    arm = next(p for p in draft.pieces.values() if p["owner"] == takeoff["id"] and p["kind"] == "arm")
    (ax, ay, z), (bx, by, _) = arm["start"], arm["end"]
    c, s = cos(radians(degrees)), sin(radians(degrees))
    end = (ax + c * (bx - ax) - s * (by - ay), ay + s * (bx - ax) + c * (by - ay), z)
    arm["end"] = end
    elbow = draft.fittings[arm["fittings"][1]]
    elbow["at"] = end
    for piece in draft.pieces.values():
        if piece["start"] == (bx, by, z) and piece is not arm:
            piece["start"] = end
    found = check_route(draft.scenario(), draft.route()).by_rule("square")
    assert sum("from opposite" in f.text for f in found) == broken


@pytest.mark.parametrize("said", [True, False])
def test_a_dogleg_that_is_said_is_there(said: bool) -> None:
    draft = line()
    draft.takeoffs["T2"]["dogleg"] = said
    found = check_route(draft.scenario(), draft.route()).by_rule("style_shape")
    assert [(f.measured, f.limit) for f in found if f.unit == "arms"] == [(0.0, 1.0)] * said


@pytest.mark.parametrize(("degrees", "broken"), [(0.0, 0), (2.9, 0), (3.1, 1)])
def test_the_branches_of_a_cross_are_in_line(degrees: float, broken: int) -> None:
    # both lean the same way, each half as much: square to the run within 3 degrees
    draft = cross()
    x, y = sin(radians(degrees / 2)), cos(radians(degrees / 2))
    draft.fittings["T/x"]["directions"][2:] = [(x, y, 0.0), (x, -y, 0.0)]
    found = check_route(draft.scenario(), draft.route()).by_rule("square")
    assert [f.measured for f in found if f.element == "T/x"] == [pytest.approx(degrees)] * broken


@pytest.mark.parametrize(("kind", "broken"), [("pendent", 0), ("upright", 1)])
def test_an_upright_is_fed_from_below(kind: str, broken: int) -> None:
    draft = line()
    draft.given["heads"][2]["kind"] = kind
    found = check_route(draft.scenario(), draft.route()).by_rule("style_shape")
    assert [(f.element, f.against) for f in found] == [("H3", "T3")] * broken


def test_the_longest_arm_is_told() -> None:
    # 600 and 450 mm, both longer than may hang free
    draft = shared(rules={"arm_unsupported": 400})
    (note,) = check_route(draft.scenario(), draft.route()).by_rule("unsupported_arm")
    assert note.measured == pytest.approx(600.0)


@pytest.mark.parametrize("dn", [0, -5, 33])
def test_a_size_that_is_not_made_has_a_radius_all_the_same(dn: int) -> None:
    draft = line()
    survey = Survey(draft.scenario(), draft.route())
    assert survey.radius_of(dn) == pytest.approx((1.1 * max(dn, 0) + 6) / 2)
    # near that of real pipe: 1-1/4 in. is 1.660 in. outside (ASME B36.10M)
    assert survey.radius_of(33) == pytest.approx(1.660 * 25.4 / 2, abs=0.1)


def test_a_piece_without_length_is_a_point() -> None:
    assert along((1.0, 2.0, 3.0), (1.0, 2.0, 3.0), (4.0, 6.0, 15.0)) == (0.0, 13.0)


@pytest.mark.parametrize(("y", "past"), [(900.0, True), (1999.0, True), (2000.5, False)])
def test_whether_a_branch_goes_past_an_old_offset(y: float, past: bool) -> None:
    # branch B of `tree` goes along +y for 2000; whether it passes the middle between two elbows
    draft = tree()
    survey = Survey(draft.scenario(), draft.route())
    assert _goes_past(survey, "B", (1500.0, y - 200, 3000.0), (1500.0, y + 200, 3000.0)) is past
    assert not _goes_past(survey, "B", (1501.0, y, 3000.0), (1501.0, y, 3000.0))


def test_opposite_and_equal_directions_whatever_the_rounding() -> None:
    # cosines of a hair over 1 come about: numpy's own of the same vectors say so
    rng = np.random.default_rng(1)
    vectors = rng.uniform(-1, 1, (3000, 3))
    units = vectors / np.linalg.norm(vectors, axis=1)[:, None]
    assert ((units * units).sum(axis=1) > 1.0).any()
    for x, y, z in vectors.tolist():
        assert angle((x, y, z), (-x, -y, -z)) == pytest.approx(180.0, abs=1e-5)
        assert angle((x, y, z), (3 * x, 3 * y, 3 * z)) == pytest.approx(0.0, abs=1e-5)
