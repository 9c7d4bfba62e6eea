"""Small parts of the referee, each by hand: grades, hanging lengths, exit codes, tiny pipes."""

from __future__ import annotations

from math import cos, radians, sin
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest
from build import IN, WAYS, Draft, dry_line, line, tree, welded
from build_more import PRICES, sunk
from hung import FT, Line
from pydantic import ValidationError
from test_referee_shapes import bent

from router.check import check_route, rules_in_force
from router.check.distances import Prisms, between_segments
from router.check.hanging import Hanging
from router.check.joints import take_out, worse
from router.check.money import price_of
from router.check.network import Network
from router.check.rules import make_up, outlet_spacing
from router.check.survey import Survey
from router.route.model import Hanger, Route

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
        verdict.findings[0].severity = "note"


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


@pytest.mark.parametrize(("off", "broken"), [(0.0, 0), (0.09, 0), (0.2, 1), (-0.2, 1)])
def test_a_takeoff_leaves_at_its_runs_level(off: float, broken: int) -> None:
    draft = line()
    draft.takeoffs["T1"]["level"] += off
    found = check_route(draft.scenario(), draft.route()).by_rule("counts")
    assert sum("mm from it there" in f.text for f in found) == broken


@pytest.mark.parametrize(
    ("stations", "level", "broken"),
    [
        ((2000.0, 3500.0), 2800.0, 0),
        ((0.0, 2000.0), 3000.0, 0),
        ((1999.7, 3500.0), 2800.0, 1),
        ((0.0, 2000.3), 3000.0, 1),
        ((500.0, 900.0), 3000.2, 1),
    ],
)
def test_a_level_pinned_up_to_a_step(stations: tuple[float, float], level: float, broken: int) -> None:
    # `bent` goes from 3000 down to 2800 at station 2000
    draft = bent(200.0, pins={"runs": {"R": {"levels": [{"stations": stations, "level": level}]}}})
    assert len(check_route(draft.scenario(), draft.route()).by_rule("pins")) == broken


def test_spacing_over_a_joint_counts_from_an_outlet_on_the_pipe() -> None:
    # on `tree` the main's last pipe goes from 1500 to the joint at 3000, the branch's to its elbow 2000 on
    draft = tree()
    draft.fit("TX/o", "outlet", (2800.0, 0.0, 3000.0), ["+y"], [25], "TX", "M")
    survey = Survey(draft.scenario(), draft.route())
    ((one, other),) = [pair for pair in Network(survey).joints.items() if pair[0] < pair[1]]
    seated = {"M/1": [(1300.0, survey.fittings["TX/o"])]}
    stops = {key: outlet_spacing._stops(survey, pieces, seated) for key, pieces in survey.run_pieces.items()}
    for first, second in ((one, other), (other, one)):
        pair = outlet_spacing._over_joint(survey, stops, first, second)
        assert pair is not None
        assert {pair.first.id, pair.second.id} == {"TX/o", "TH2/e"}
        assert pair.apart == pytest.approx(200.0 + 2000.0)


def short_end_line() -> Draft:
    """`sunk` with a branch of 1500 at the main's end; the main has a hanger."""
    draft = sunk()
    draft.given["runs"][1]["plan"] = [(1500, 0), (1500, 1500)]
    draft.given["heads"][0]["at"] = draft.heads["H1"]["inlet"] = (1500, 1500, 3100)
    for part in (draft.fittings["T1/e"], draft.fittings["T1/r"]):
        part["at"] = (1500.0, 1500.0, part["at"][2])
    draft.pieces["B/0"]["end"] = draft.pieces["T1/sprig"]["start"] = draft.fittings["T1/e"]["at"]
    draft.pieces["T1/sprig"]["end"] = draft.fittings["T1/r"]["at"]
    draft.measure("B/0")
    draft.takeoffs["T1"]["station"] = 1500.0
    draft.build("B", [(0.0, 2850.0), (1500.0, 2850.0)])
    draft.hang = False
    return draft


@pytest.mark.parametrize(("children", "hung", "broken"), [(1, False, 1), (1, True, 0), (2, False, 0)])
def test_the_starter_of_an_end_line_has_a_hanger(children: int, hung: bool, broken: int) -> None:
    # from memory, NFPA 13: a starter under 6 ft needs none, unless it is that of the end line
    draft = short_end_line()
    if children == 2:
        draft.takeoffs["TB"]["child_runs"] = ["B", "B2"]
    hangers = [Hanger(id="HM", kind="run", run="M", piece="M/0", at=(1300.0, 0.0, 3000.0), why="")]
    if hung:
        hangers.append(Hanger(id="HB", kind="run", run="B", piece="B/0", at=(1500.0, 900.0, 2850.0), why=""))
    route = draft.route().model_copy(update={"hangers": hangers})
    found = check_route(draft.scenario(), route).by_rule("hangers")
    assert sum("first section of the end line" in f.text for f in found) == broken


@pytest.mark.parametrize(
    ("given", "measured"), [((900.0, 1000.05), None), ((900.0, 1100.0), 100.0), ((1200.0, 2000.0), 100.0)]
)
def test_how_far_an_offset_is_in_a_stretch_without(
    given: tuple[float, float], measured: float | None
) -> None:
    # the offset of `dry_line` goes from 1000 to 1300
    draft = dry_line(pins={"runs": {"R": {"no_offset": [given]}}})
    found = check_route(draft.scenario(), draft.route()).by_rule("pins")
    assert [f.measured for f in found] == ([] if measured is None else [pytest.approx(measured)])


def test_what_a_given_outlet_spacing_is_between() -> None:
    # outlets of one run: not the elbow by which a branch begins, nor a bend's
    draft = tree(rules={"outlet_spacing": 1000})
    survey = Survey(draft.scenario(), draft.route())
    assert not make_up._spacing_given(survey, survey.pieces["B/0"])
    own = [outlet_spacing._outlet(survey, survey.fittings[name], "M") for name in ("TB/tee", "TB/e", "TH1/e")]
    assert own == [True, False, False]
    assert not outlet_spacing._outlet(survey, survey.fittings["TB/e"], "B")
    draft = line(rules={"outlet_spacing": 1000})
    survey = Survey(draft.scenario(), draft.route())
    assert [make_up._spacing_given(survey, survey.pieces[f"R/{k}"]) for k in range(3)] == [False, True, True]
    assert not make_up._spacing_given(survey, survey.pieces["T2/arm"])
    bend = bent(0.0)
    survey = Survey(bend.scenario(), bend.route())
    assert not outlet_spacing._outlet(survey, survey.fittings["R/a"], "R")


def test_a_head_that_the_scenario_has_not() -> None:
    draft = line()
    draft.heads["HX"] = {"id": "HX", "served": False, "inlet": (0.0, 900.0, 2600.0)}
    found = check_route(draft.scenario(), draft.route()).by_rule("served")
    assert [(f.severity, f.element) for f in found] == [("breaks", "HX")]


@pytest.mark.parametrize(("more", "notes"), [(-1.0, 1), (1.0, 0)])
def test_an_open_weight_is_more_than_all_else(more: float, notes: int) -> None:
    # one head is not served: its own cost is no part of what all else costs
    draft = line()
    draft.given["heads"].append({"id": "H4", "at": (2000, 900, 2600)})
    draft.heads["H4"] = {"id": "H4", "served": False, "inlet": (2000.0, 900.0, 2600.0)}
    draft.given["weights"] = {}
    record = draft.record()
    terms = record["objective"]["terms"]
    rest = sum(term["cost"] for term in terms if term["name"] != "unserved")
    for term in terms:
        if term["name"] == "unserved":
            term["weight"] = rest + more
    found = check_route(draft.scenario(), Route.model_validate(record)).by_rule("objective")
    assert [f.element for f in found if f.severity == "note"] == ["unserved"] * notes


@pytest.mark.parametrize(("opening", "against"), [(0, "T2/nipple"), (1, "T2/arm")])
def test_an_opening_has_the_size_of_its_pipe(opening: int, against: str) -> None:
    draft = line()
    draft.fittings["T2/e1"]["sizes"][opening] = 32
    found = [f for f in check_route(draft.scenario(), draft.route()).by_rule("sizes") if f.element == "T2/e1"]
    assert [(f.severity, f.against, f.measured, f.limit) for f in found] == [("breaks", against, 32.0, 25.0)]
