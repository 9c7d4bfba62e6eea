"""What mutation testing found untried: odd elbows, barrels in the way, figures and names in findings."""

from __future__ import annotations

from math import cos, radians, sin

import pytest
from build import line
from hung import FT, Line
from test_referee_shapes import bent

from router.check import check_route
from router.route.model import Hanger


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
    assert (finding.measured, finding.limit) == (pytest.approx(abs(off)), 0.0)


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
