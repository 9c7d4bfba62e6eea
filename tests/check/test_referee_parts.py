"""Small parts of the referee, each by hand: grades, hanging lengths, exit codes, tiny pipes."""

from __future__ import annotations

from math import cos, radians, sin
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest
from build import IN, WAYS, Draft, dry_line, line, welded
from build_more import PRICES
from hung import FT, Line
from pydantic import ValidationError

from router.check import check_route, rules_in_force
from router.check.distances import Prisms, between_segments
from router.check.hanging import Hanging
from router.check.joints import take_out, worse
from router.check.money import price_of
from router.check.network import Network
from router.check.survey import Survey
from router.route.model import Hanger

if TYPE_CHECKING:
    from numpy.typing import NDArray


@pytest.mark.parametrize(
    ("a", "b", "found"),
    [
        ("A", "C", "C"),
        ("D", "B", "D"),
        ("B", "B", "B"),
        ("none", "B", "B"),
        ("C", "none", "C"),
        ("none", "none", "none"),
    ],
)
def test_the_less_sure_of_two_grades(a: str, b: str, found: str) -> None:
    assert worse(a, b) == found


def test_a_broken_rule_ends_with_1_and_a_near_miss_does_not() -> None:
    draft = line()
    assert check_route(draft.scenario(), draft.route()).exit_code == 0
    beam = {"id": "beam", "polygon": [(1800, -200), (2200, -200), (2200, 200), (1800, 200)]}
    under = 3000 + 1.660 * 25.4 / 2  # half the outside diameter of 1-1/4 in. pipe (ASME B36.10M)
    for gap, code in ((27.0, 0), (24.0, 1)):
        draft = line(obstructions=[{**beam, "elevations": (under + gap, 3500)}])
        verdict = check_route(draft.scenario(), draft.route())
        assert verdict.by_rule("clearance")
        assert (verdict.exit_code, verdict.number("near")) == (code, 1 - code)


def test_what_is_found_cannot_be_changed() -> None:
    draft = line()
    verdict = check_route(draft.scenario(), draft.route())
    with pytest.raises(ValidationError):
        verdict.findings[0].severity = "note"  # type: ignore[misc]


@pytest.mark.parametrize(("standard", "words"), [("inch", "24 in. (600 mm)"), ("metric", "printed metric")])
def test_the_limit_of_an_arm_names_the_table_it_is_from(standard: str, words: str) -> None:
    scenario = line(system={"standard": standard}).scenario()
    (rule,) = [rule for rule in rules_in_force(scenario) if rule.id == "unsupported_arm"]
    assert words in rule.source
    assert rule.grade == "A"


# -- developed length: hangers 12 ft apart on 1-1/4 in. pipe (NFPA 13, 2019 Table 17.4.2.1(a)) -----------


def hanging(draft: Draft) -> Hanging:
    survey = Survey(draft.scenario(), draft.route())
    return Hanging(survey, Network(survey))


@pytest.mark.parametrize(("rise", "counts"), [(12 * FT - 0.01, True), (12 * FT + 0.01, False)])
def test_a_riser_longer_than_hangers_may_be_apart_is_held_by_itself(rise: float, counts: bool) -> None:
    draft = line()
    ends: list[Any] = [(5000.0, 0.0, 3000.0), (5000.0, 0.0, 3000.0 + rise)]
    draft.pipe("R/riser", "run", (ends[0], ends[1]), 32, "R", "R")
    found = hanging(draft)
    assert [s.piece.id for s in found.stretches("R")] == ["R/0", "R/1", "R/2", "R/riser"]
    assert found.length("R") == pytest.approx(5000.0 + (rise if counts else 0.0), abs=1e-9)


def test_a_run_without_pipe_has_no_length() -> None:
    assert hanging(line()).length("nowhere") == 0.0
    assert hanging(dry_line()).held("nowhere") == 0.0


@pytest.mark.parametrize(("apart", "broken"), [(6 * FT, 0), (6 * FT - 0.5, 1)])
def test_heads_exactly_6_ft_apart_are_not_close(apart: float, broken: int) -> None:
    # NFPA 13, from memory: hangers 12 ft apart where heads are under 6 ft apart; 2 in. pipe may have 15 ft
    made = Line([2000.0, 2000.0 + apart, 2000.0 + 2 * apart, 2000.0 + 3 * apart], [50] * 4)
    hangers = []
    for k, x in enumerate((1900.0, 1900.0 + 15 * FT - 0.01)):
        piece = next(p for p in made.pieces if p.kind == "run" and p.start[0] <= x <= p.end[0])
        at = (x, 0.0, 3000.0)
        hangers.append(Hanger(id=f"HG{k}", kind="run", run="R", piece=piece.id, at=at, why=""))
    route = made.route().model_copy(update={"hangers": hangers})
    found = check_route(made.scenario(), route).by_rule("hangers")
    assert [round(f.limit or 0.0, 1) for f in found] == [round(12 * FT, 1)] * broken


# -- pipes shorter than 1 mm ------------------------------------------------------------------------


@pytest.mark.parametrize("length", [0.9, 0.3, 1e-3])
def test_a_tiny_pipe_is_no_point(length: float) -> None:
    axis = np.array([[[0.0, 0.0, 0.0], [0.0, 0.0, length]]])
    beside = np.array([[[40.0, 0.0, length], [90.0, 0.0, length]]])
    for one, other in ((axis, beside), (beside, axis)):
        assert between_segments(one, other)[0] == pytest.approx([40.0], abs=1e-9)


def test_a_tiny_wall_is_no_point() -> None:
    # a sliver 0.8 wide: past its far corner the distance is to that corner
    prisms = Prisms([[(0.0, 0.0), (0.8, 0.0), (0.8, 500.0), (0.0, 500.0)]], [(0.0, 100.0)])
    axes: NDArray[np.float64] = np.array([[[30.8, -40.0, 50.0], [30.8, -90.0, 50.0]]])
    assert prisms.distance(axes, np.array([0]))[0] == pytest.approx([50.0], abs=1e-9)


# -- which fitting a plug closes: one along whose opening it stands, no further than 200 mm -----------------


@pytest.mark.parametrize("way", ["+x", "-x", "+y", "-y", "+z", "-z"])
@pytest.mark.parametrize(
    ("out", "beside", "closes"),
    [(0.0, 0.0, True), (40.0, 0.0, True), (200.0, 0.0, True), (200.3, 0.0, False), (40.0, 0.3, False)],
)
def test_a_plug_closes_the_opening_that_it_stands_before(
    way: str, out: float, beside: float, closes: bool
) -> None:
    draft = dry_line()
    x, y, z = WAYS[way]
    host = draft.fittings["T2/tee"]["at"]
    draft.fittings["T2/tee"]["directions"] = [WAYS[way]]
    # one of the two other axes
    aside = (y, z, x)
    at = tuple(host[k] + out * (x, y, z)[k] + beside * abs(aside[k]) for k in range(3))
    draft.fittings["T2/plug"]["at"] = at
    net = Network(Survey(draft.scenario(), draft.route()))
    assert net.hosts == ({"T2/plug": "T2/tee"} if closes else {})


@pytest.mark.parametrize(("side", "words"), [(0, "its start meets no"), (1, "its end meets no")])
def test_a_pipe_end_that_meets_nothing_is_named(side: int, words: str) -> None:
    draft = line()
    arm = draft.pieces["T2/arm"]
    arm["fittings"][side] = None
    found = [f for f in check_route(draft.scenario(), draft.route()).breaks if f.element == "T2/arm"]
    assert [f.place for f in found if f.rule == "connected" and words in f.text] == [
        arm["start"] if side == 0 else arm["end"]
    ]


@pytest.mark.parametrize("sizes", [[32, 32, 25, 25], [32, 32, 25, 15], [32, 32, 15, 25]])
def test_the_larger_branch_makes_the_body_of_a_cross(sizes: list[int]) -> None:
    # 1-1/4 x 1 in. reducing cross: 1.58 in. along the run (ASME B16.3 class 150, from memory)
    draft = line()
    draft.fittings["T1/tee"].update(kind="cross", sizes=sizes)
    draft.fittings["T1/tee"]["directions"] = [WAYS[way] for way in ("-x", "+x", "+y", "-y")]
    survey = Survey(draft.scenario(), draft.route())
    fitting = survey.fittings["T1/tee"]
    for way in ("-x", "+x"):
        assert take_out(survey, fitting, WAYS[way]).mm == pytest.approx(1.58 * IN)


def test_hoses_are_paid_by_the_piece_and_no_pipe() -> None:
    # the sum is added up apart, in build.py; a hose of several pieces is one
    hose = {"price": 12.0, "minutes": 20.0}
    draft = line(prices={**PRICES, "hose": hose})
    before = draft.price(draft.counts())
    for name in ("T2/arm", "T2/drop"):
        draft.pieces[name]["kind"] = "hose"
    survey = Survey(draft.scenario(), draft.route())
    price = price_of(survey, [], 0)
    assert price == pytest.approx(draft.price(draft.counts()))
    metres = 0.5 + 0.52  # of 1 in. pipe: 4.00 and 6 minutes at 0.50 a metre
    assert price == pytest.approx(before - metres * (4.0 + 6 * 0.5) + 12.0 + 20 * 0.5)


@pytest.mark.parametrize(("gap", "near"), [(27.95, 1), (28.05, 0)])
def test_near_a_clearance_is_within_3_mm_of_it(gap: float, near: int) -> None:
    # 25 mm asked for; half the outside diameter of 1-1/4 in. pipe is 0.83 in. (ASME B36.10M)
    low = 3000 + 0.83 * IN + gap
    polygon = [(1800, -200), (2200, -200), (2200, 200), (1800, 200)]
    draft = line(obstructions=[{"id": "beam", "polygon": polygon, "elevations": (low, low + 300)}])
    found = check_route(draft.scenario(), draft.route()).by_rule("clearance")
    assert [f.severity for f in found] == ["near"] * near


@pytest.mark.parametrize(("short", "clean"), [(0.0, True), (0.2, False)])
def test_pitched_pipe_counts_where_it_is_over_the_ceiling(short: float, clean: bool) -> None:
    # from the tee at 2500 on the pipe rises 4 mm/m; it is over the ceiling from its own radius before 3000 on
    radius = 0.83 * IN
    lowest = 2700 + 0.004 * (3000 - radius) - radius
    tile = [(3000, -100), (3900, -100), (3900, 100), (3000, 100)]
    draft = dry_line(ceilings=[{"id": "C", "polygon": tile, "elevation": lowest - 25 + short}])
    found = check_route(draft.scenario(), draft.route()).by_rule("ceiling")
    assert [f.severity for f in found] == ["near" if clean else "breaks"]
    assert found[0].measured == pytest.approx(25 - short, abs=1e-3)


@pytest.mark.parametrize(("on_pipe", "broken"), [(True, 0), (False, 1)])
def test_a_cap_may_end_a_pipe(on_pipe: bool, broken: int) -> None:
    draft = line()
    draft.fit("R/cap", "cap", (0.0, 0.0, 3000.0), ["+x"], [32], "R", "R")
    draft.pieces["R/0"]["fittings"][0] = "R/cap" if on_pipe else None
    found = check_route(draft.scenario(), draft.route()).by_rule("connected")
    assert sum("closes no opening" in f.text for f in found) == broken


@pytest.mark.parametrize("way", ["+x", "+y", "-y", "+z"])
@pytest.mark.parametrize("sign", [1.0, -1.0])
@pytest.mark.parametrize("matches", [True, False])
def test_a_plug_at_a_centre_closes_the_opening_of_its_direction(way: str, sign: float, matches: bool) -> None:
    # a plug may be written with its own opening's direction, or with that of the one it closes
    draft = dry_line()
    x, y, z = WAYS[way]
    draft.fittings["T2/tee"]["directions"] = [WAYS["-x"], WAYS[way], WAYS["-z"]]
    draft.fittings["T2/plug"]["directions"] = [
        (sign * x, sign * y, sign * z) if matches else (sign * y, sign * z, sign * x)
    ]
    found = check_route(draft.scenario(), draft.route()).by_rule("connected")
    assert sum("is open" in f.text for f in found) == (not matches)


@pytest.mark.parametrize(("degrees", "is_open"), [(0.0, 0), (2.9, 0), (3.1, 2)])
def test_the_run_takes_the_openings_of_an_outlet_that_are_in_line_with_it(
    degrees: float, is_open: int
) -> None:
    # an outlet on an uncut run may be written with the run's own two openings; square within 3 degrees
    draft = welded()
    x, y = cos(radians(degrees)), sin(radians(degrees))
    draft.fittings["T1/o"].update(directions=[(-x, -y, 0.0), (x, y, 0.0), WAYS["+y"]], sizes=[32, 32, 25])
    found = check_route(draft.scenario(), draft.route()).by_rule("connected")
    assert sum("is open" in f.text for f in found) == is_open


@pytest.mark.parametrize("what", ["fittings", "pieces"])
def test_what_an_offset_names_is_there(what: str) -> None:
    draft = dry_line()
    draft.runs["R"]["level_changes"][0][what].append("R/none")
    found = check_route(draft.scenario(), draft.route()).by_rule("counts")
    assert [(f.severity, f.element, f.against) for f in found] == [("breaks", "R/dip", "R/none")]
