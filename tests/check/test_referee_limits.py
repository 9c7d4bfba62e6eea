"""Each rule just inside and just outside its limit, on routes made by hand.

Just outside is 0.2 mm past the limit (the tolerance is 0.1 mm), just inside is
the limit itself: touching is allowed.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pytest
from build import IN, Draft, dry_line, line, said, shared, tree, welded

from router.check import check_route

if TYPE_CHECKING:
    from collections.abc import Callable

    from router.check import Finding

OD = {25: 1.315 * IN, 32: 1.660 * IN}
"""Outside diameters of steel pipe: ASME B36.10M."""


def breaks(draft: Draft) -> list[Finding]:
    return check_route(draft.scenario(), draft.route()).breaks


def rules(draft: Draft) -> set[str]:
    return {finding.rule for finding in breaks(draft)}


@pytest.mark.parametrize("make", [line, dry_line, shared, tree, welded])
def test_routes_made_by_hand_are_clean(make: Callable[..., Draft]) -> None:
    draft = make()
    verdict = check_route(draft.scenario(), draft.route())
    assert verdict.breaks == []
    assert verdict.clean
    written = draft.route().counts.model_dump()
    for name, have in verdict.counts.model_dump().items():
        assert have == pytest.approx(written[name]), name
    assert verdict.value == pytest.approx(draft.route().objective.value)


# -- clearance, by surfaces -----------------------------------------------------------------


def beam(gap: float, **more: Any) -> dict[str, Any]:
    """A beam over the run of `line`, its soffit ``gap`` above the top of the DN32 pipe."""
    low = 3000 + OD[32] / 2 + gap
    polygon = [(1800, -200), (2200, -200), (2200, 200), (1800, 200)]
    return {"id": "beam", "polygon": polygon, "elevations": (low, low + 300), **more}


@pytest.mark.parametrize(("gap", "clean"), [(25.0, True), (24.8, False)])
def test_clearance(gap: float, clean: bool) -> None:
    found = breaks(line(obstructions=[beam(gap)]))
    assert (found == []) is clean
    if not clean:
        (finding,) = found
        assert (finding.rule, finding.element, finding.against) == ("clearance", "R/1", "beam")
        assert finding.measured == pytest.approx(24.8, abs=1e-6)
        assert finding.limit == 25.0


@pytest.mark.parametrize(("gap", "clean"), [(60.0, True), (59.8, False)])
def test_clearance_of_the_obstruction_itself(gap: float, clean: bool) -> None:
    found = rules(line(obstructions=[beam(gap, clearance=60)]))
    assert found == (set() if clean else {"clearance"})


def test_near_a_clearance() -> None:
    draft = line(obstructions=[beam(27.0)])
    verdict = check_route(draft.scenario(), draft.route())
    assert verdict.clean
    assert [(f.rule, f.severity) for f in said(verdict)] == [("clearance", "near")]


@pytest.mark.parametrize(("past", "clean"), [(0.0, True), (0.2, False)])
def test_piece_clearance(past: float, clean: bool) -> None:
    # The drop of T2 stands 500 beside the run: that is the least distance of any two in question.
    gap = 500 - OD[32] / 2 - OD[25] / 2
    beside = line(rules={"piece_clearance": 120 - OD[32] / 2 - OD[25] / 2 + past})
    # The arm of T2, 120 over its own run, starts over it; the nipple between is free of the run.
    assert rules(beside) == (set() if clean else {"piece_clearance"})
    assert gap > 120


def test_pieces_of_one_takeoff_and_of_one_run_are_exempt() -> None:
    # 70 mm between any two pieces is far more than neighbours on one takeoff or run keep.
    assert rules(line(rules={"piece_clearance": 70})) == set()


@pytest.mark.parametrize(("past", "clean"), [(0.0, True), (0.2, False)])
def test_piece_clearance_of_two_takeoffs(past: float, clean: bool) -> None:
    # Two arms of `welded`, opposite sides, 200 along: the shortest way between them is along the run.
    gap = 200 - OD[25]
    assert rules(welded(200, rules={"piece_clearance": gap + past})) == (
        set() if clean else {"piece_clearance"}
    )


# -- ceiling ----------------------------------------------------------------------------------


@pytest.mark.parametrize(("down", "clean"), [(25.0, True), (24.8, False)])
def test_ceiling_under_the_run(down: float, clean: bool) -> None:
    square = [(-500, -100), (5500, -100), (5500, 100), (-500, 100)]
    ceiling = {"id": "C", "polygon": square, "elevation": 3000 - OD[32] / 2 - down}
    found = breaks(line(ceilings=[ceiling]))
    assert {f.rule for f in found} == (set() if clean else {"ceiling"})
    if not clean:
        assert {f.element for f in found} == {"R/0", "R/1", "R/2"}
        assert found[0].measured == pytest.approx(24.8, abs=1e-6)


def test_the_last_vertical_passes_a_ceiling_and_nothing_else_does() -> None:
    tile = [(2900, 400), (3100, 400), (3100, 600), (2900, 600)]
    assert rules(line(ceilings=[{"id": "C", "polygon": tile, "elevation": 2700}])) == set()
    high = line(ceilings=[{"id": "C", "polygon": tile, "elevation": 3110}])
    assert [(f.rule, f.element) for f in breaks(high)] == [("ceiling", "T2/arm")]


def test_a_ceiling_does_not_reach_beside_itself() -> None:
    beside = [(0, OD[32] / 2), (5000, OD[32] / 2), (5000, 100), (0, 100)]
    found = breaks(line(ceilings=[{"id": "C", "polygon": beside, "elevation": 3300}]))
    # The arm of T2 crosses it, the run only touches its edge.
    assert {f.element for f in found} == {"T2/arm"}


# -- make-up and spacing ------------------------------------------------------------------------

TEE = (1.58, 1.67)
RISE = TEE[1] + 1.50 + 2.0 - 2 * 0.661
"""Least rise of a 1 in. return bend on a 1-1/4 in. run with the shortest shouldered nipple, in."""


@pytest.mark.parametrize(("short", "clean"), [(0.0, True), (0.2, False)])
def test_shortest_nipple(short: float, clean: bool) -> None:
    draft = line()
    up = 3000 + RISE * IN - short
    _raise_t2(draft, up)
    found = breaks(draft)
    assert {f.rule for f in found} == (set() if clean else {"make_up"})
    if not clean:
        assert [f.element for f in found] == ["T2/nipple"]
        assert found[0].limit == pytest.approx(2.0 * IN)


def _raise_t2(draft: Draft, up: float) -> None:
    draft.fittings["T2/e1"]["at"] = (3000.0, 0.0, up)
    draft.fittings["T2/e2"]["at"] = (3000.0, 500.0, up)
    draft.takeoffs["T2"]["arm_level"] = up
    for name, start, end in (
        ("T2/nipple", "T2/tee", "T2/e1"),
        ("T2/arm", "T2/e1", "T2/e2"),
        ("T2/drop", "T2/e2", "T2/red"),
    ):
        draft.pieces[name]["start"] = draft.fittings[start]["at"]
        draft.pieces[name]["end"] = draft.fittings[end]["at"]
        draft.measure(name)


@pytest.mark.parametrize(("off", "clean"), [(0.09, True), (0.2, False)])
def test_make_up_and_length_are_recomputed(off: float, clean: bool) -> None:
    for field in ("make_up", "length"):
        draft = line()
        record = draft.record()
        next(p for p in record["pieces"] if p["id"] == "T2/arm")[field] += off
        from router.route.model import Route

        found = check_route(draft.scenario(), Route.model_validate(record)).breaks
        assert [f.rule for f in found] == ([] if clean else ["make_up"])


SPACING = 2 * TEE[0] + 2.0 - 2 * 0.681
"""Least centres of two 1-1/4 x 1 in. tees on 1-1/4 in. pipe: the shortest shouldered nipple, in."""


@pytest.mark.parametrize(("past", "clean"), [(0.0, True), (0.2, False)])
def test_outlet_spacing(past: float, clean: bool) -> None:
    # Nearest neighbours of `line`: 2000 apart. The allowance that just fits:
    allowance = 2000 - SPACING * IN + past
    found = breaks(line(rules={"working_allowance": allowance}))
    assert {f.rule for f in found} == (set() if clean else {"outlet_spacing"})
    if not clean:
        assert [(f.element, f.against) for f in found] == [("T1/tee", "T2/tee"), ("T2/tee", "T3/end")]


@pytest.mark.parametrize(("past", "clean"), [(0.0, True), (0.2, False)])
def test_a_given_outlet_spacing_takes_the_place_of_the_table(past: float, clean: bool) -> None:
    given = {"outlet_spacing": 1975 + past, "working_allowance": 25}
    assert rules(line(rules=given)) == (set() if clean else {"outlet_spacing"})


@pytest.mark.parametrize(("short", "clean"), [(0.0, True), (0.2, False)])
def test_welded_outlets_on_an_uncut_run(short: float, clean: bool) -> None:
    # Boss 1.64 in., a 1/4 in. fillet on either side, 50 mm toe to toe (assumed, doubtful), 25 mm allowance.
    need = (1.64 + 2 * 0.25) * IN + 50 + 25
    found = breaks(welded(need - short))
    assert {f.rule for f in found} == (set() if clean else {"outlet_spacing"})
    if not clean:
        assert (found[0].element, found[0].against, found[0].grade) == ("T1/o", "T2/o", "D")


@pytest.mark.parametrize(("past", "clean"), [(0.0, True), (0.2, False)])
def test_the_elbows_of_one_offset_need_no_allowance(past: float, clean: bool) -> None:
    # From elbow b of the dip, at 1300, to the tee at 2500; from elbow a to b there are only 424.
    slope = (1200**2 + 4.8**2) ** 0.5
    need = (1.29 + TEE[0] + 2.0 - 2 * 0.681) * IN
    draft = dry_line(rules={"working_allowance": slope - need + past})
    found = breaks(draft)
    assert [(f.element, f.against) for f in found] == ([] if clean else [("R/b", "T1/tee")])


def test_spacing_is_kept_where_a_branch_goes_straight_on() -> None:
    # On `tree` the main's tee and the end of branch C are 3500 apart, over the joint at 3000.
    need = (1.75 + 1.58 + 2.0 - 2 * 0.681) * IN
    assert rules(tree(rules={"working_allowance": 3500 - need})) == {"outlet_spacing"}
    found = breaks(tree(rules={"working_allowance": 3500 - need + 0.2}))
    assert {"TB/tee", "TH2/e"} in [{f.element, f.against} for f in found]
    within = breaks(tree(rules={"working_allowance": 3500 - need}))
    assert {"TB/tee", "TH2/e"} not in [{f.element, f.against} for f in within]


# -- reach, hangers, shift, band ----------------------------------------------------------------


@pytest.mark.parametrize(("reach", "clean"), [(500.0, True), (499.8, False)])
def test_reach(reach: float, clean: bool) -> None:
    found = breaks(line(rules={"reach": reach}))
    assert [(f.rule, f.element) for f in found] == ([] if clean else [("reach", "H2")])


@pytest.mark.parametrize(("limit", "needed"), [(500.0, 0), (499.8, 1)])
def test_unsupported_arm(limit: float, needed: int) -> None:
    draft = line(rules={"arm_unsupported": limit})
    verdict = check_route(draft.scenario(), draft.route())
    notes = [f for f in verdict.findings if f.rule == "unsupported_arm"]
    assert len(notes) == needed
    assert verdict.counts.arm_hangers == needed
    assert verdict.clean is (needed == 0)  # the figures of the route leave the hanger out
    draft.takeoffs["T2"]["hangers"] = needed
    assert said(check_route(draft.scenario(), draft.route())) == []


def test_24_in_hang_free() -> None:
    # NFPA 13: a steel arm-over of 24 in. needs no hanger; 610 mm is longer than 609.6.
    draft = shared()
    assert check_route(draft.scenario(), draft.route()).counts.arm_hangers == 0
    limit = shared(system={"standard": "inch"}, rules={"tables": {"arm_unsupported": {"steel": 600 / IN}}})
    assert check_route(limit.scenario(), limit.route()).counts.arm_hangers == 0
    less = shared(rules={"tables": {"arm_unsupported": {"steel": 599.8 / IN}}})
    assert check_route(less.scenario(), less.route()).counts.arm_hangers == 1


@pytest.mark.parametrize(("shift", "clean"), [(40.0, True), (39.8, False)])
def test_shift(shift: float, clean: bool) -> None:
    draft = line()
    draft.given["heads"][1].update(at=(3000, 460, 2600), shift=shift)
    assert rules(draft) == (set() if clean else {"served"})


def test_an_inlet_does_not_move_up() -> None:
    draft = line()
    draft.given["heads"][1].update(at=(3000, 500, 2600.2), shift=100)
    assert rules(draft) == {"served"}


@pytest.mark.parametrize(("low", "clean"), [(3000.0, True), (3000.2, False)])
def test_band(low: float, clean: bool) -> None:
    draft = line()
    draft.given["runs"][0]["band"] = (low, 3300)
    assert rules(draft) == (set() if clean else {"band"})


def test_the_band_is_300_mm_where_none_is_given() -> None:
    for elevation, clean in ((3300.0, True), (3300.2, False)):
        draft = line()
        draft.given["runs"][0]["elevation"] = elevation
        assert rules(draft) == (set() if clean else {"band"})


@pytest.mark.parametrize(("level", "clean"), [(3000.0, True), (3000.2, False)])
def test_a_fixed_supply_elevation(level: float, clean: bool) -> None:
    draft = line()
    draft.given["runs"][0]["supply_elevation"] = level
    assert rules(draft) == (set() if clean else {"band"})


def test_pitch_of_the_tables() -> None:
    # NFPA 13: branch lines of dry systems rise 1/2 in. per 10 ft (4 mm/m) away from the supply.
    draft = dry_line(system={"kind": "dry", "heated": False, "pitch_branch": 5})
    assert "band" in rules(draft)


@pytest.mark.parametrize(("off", "clean"), [(0.09, True), (0.2, False)])
def test_run_pipe_lies_on_the_profile(off: float, clean: bool) -> None:
    draft = tree()
    draft.pieces["M/0"]["start"] = (0.0, off, 3000.0)
    draft.measure("M/0")
    assert ("band" in rules(draft)) is not clean


# -- squareness ---------------------------------------------------------------------------------


@pytest.mark.parametrize(("degrees", "clean"), [(3.0, True), (3.2, False)])
def test_square(degrees: float, clean: bool) -> None:
    from math import cos, radians, sin

    draft = line()
    turn = radians(degrees)
    x, y = 3000 + 500 * sin(turn), 500 * cos(turn)
    way = (sin(turn), cos(turn), 0.0)
    draft.given["heads"][1]["at"] = (x, y, 2600)
    draft.heads["H2"]["inlet"] = (x, y, 2600.0)
    # A side arm in place of the return bend, so that the outlet itself is out of square.
    for name in ("T2/tee", "T2/e1", "T2/e2", "T2/red"):
        del draft.fittings[name]
    for name in ("T2/nipple", "T2/arm", "T2/drop"):
        del draft.pieces[name]
    draft.fit("T2/tee", "tee", (3000.0, 0.0, 3000.0), ["-x", "+x", way], [32, 32, 25], "T2", "R")
    draft.fit("T2/e2", "elbow_90", (x, y, 3000.0), [(-way[0], -way[1], 0.0), "-z"], [25, 25], "T2", "R")
    draft.fit("T2/red", "reducer", (x, y, 2600.0), ["+z", "-z"], [25, 15], "T2", "R")
    draft.pipe("T2/arm", "arm", ("T2/tee", "T2/e2"), 25, "T2", "R")
    draft.pipe("T2/drop", "drop", ("T2/e2", "T2/red"), 25, "T2", "R")
    draft.take("T2", "side_arm", 3000.0, "left", 3000.0, heads=["H2"], arm_level=3000.0)
    draft.build("R", [(0.0, 3000.0), (5000.0, 3000.0)])
    assert rules(draft) == (set() if clean else {"square"})


@pytest.mark.parametrize(("lean", "clean"), [(3.0, True), (3.2, False)])
def test_arms_are_level_or_upright(lean: float, clean: bool) -> None:
    draft = line()
    draft.fittings["T3/red"]["at"] = (5000.0, -400.0 - lean, 2600.0)
    draft.given["heads"][2]["at"] = draft.heads["H3"]["inlet"] = (5000.0, -400.0 - lean, 2600.0)
    draft.pieces["T3/drop"]["end"] = (5000.0, -400.0 - lean, 2600.0)
    draft.measure("T3/drop")
    found = rules(draft)
    assert ("square" in found) is not clean


def test_no_outlet_on_an_offset() -> None:
    draft = dry_line()
    draft.runs["R"]["profile"][2] = {"station": 2500.0, "level": 2700.0}
    assert any(f.rule == "square" and "offset" in f.text for f in breaks(draft))


# -- pins ---------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("pins", "clean"),
    [
        ({"heads": {"H2": {"style": "return_bend", "side": "top", "run": "R"}}}, True),
        ({"heads": {"H2": {"style": "raised_arm"}}}, False),
        ({"heads": {"H2": {"side": "left"}}}, False),
        ({"heads": {"H2": {"run": "S"}}}, False),
        ({"heads": {"H2": {"stations": (3000, 3400)}}}, True),
        ({"heads": {"H2": {"stations": (3000.2, 3400)}}}, False),
        ({"heads": {"H2": {"stations": (2600, 2999.8)}}}, False),
        ({"runs": {"R": {"level": 3000.0, "no_offset": True}}}, True),
        ({"runs": {"R": {"level": 3000.2}}}, False),
    ],
)
def test_pins(pins: dict[str, Any], clean: bool) -> None:
    assert rules(line(pins=pins)) == (set() if clean else {"pins"})


def test_a_run_pinned_to_no_offset() -> None:
    assert rules(dry_line(pins={"runs": {"R": {"no_offset": True}}})) == {"pins"}


# -- sizes --------------------------------------------------------------------------------------


def test_a_given_size_is_kept() -> None:
    draft = line()
    draft.given["runs"][0]["size"] = 40
    assert rules(draft) == {"sizes"}


@pytest.mark.parametrize(("hazard", "heads", "clean"), [("light", 3, True), ("light", 4, False)])
def test_schedule_sizes(hazard: str, heads: int, clean: bool) -> None:
    # NFPA 13, light hazard: 1-1/4 in. feeds 3 heads. A fourth on the same run is too many.
    draft = line(system={"hazard": hazard})
    draft.given["runs"][0]["size"] = "schedule"
    if heads == 4:
        z = 3000.0
        draft.given["heads"].append({"id": "H4", "at": (2000, 0, 2600)})
        draft.fit("T4/tee", "tee", (2000.0, 0.0, z), ["-x", "+x", "-z"], [32, 32, 25], "T4", "R")
        draft.fit("T4/red", "reducer", (2000.0, 0.0, 2600.0), ["+z", "-z"], [25, 15], "T4", "R")
        draft.pipe("T4/drop", "drop", ("T4/tee", "T4/red"), 25, "T4", "R")
        draft.take("T4", "straight_drop", 2000.0, "bottom", z, heads=["H4"])
        del draft.pieces["R/1"]
        draft.pipe("R/1a", "run", ("T1/tee", "T4/tee"), 32, "R", "R")
        draft.pipe("R/1b", "run", ("T4/tee", "T2/tee"), 32, "R", "R")
        draft.build("R", [(0.0, z), (5000.0, z)])
    found = breaks(draft)
    assert [(f.rule, f.element) for f in found] == ([] if clean else [("sizes", "R/0")])


def test_sizes_never_grow_downstream() -> None:
    draft = line()
    draft.pieces["R/0"]["dn"] = 25
    found = breaks(draft)
    assert any(f.rule == "sizes" and f.element == "R/1" and f.against == "R/0" for f in found)


def test_a_reducer_where_the_thread_differs_and_nowhere_else() -> None:
    draft = line()
    draft.given["heads"][0]["thread"] = 25
    assert rules(draft) == {"sizes"}
    draft.given["heads"][0]["thread"] = 20
    assert [(f.rule, f.element) for f in breaks(draft)] == [("sizes", "T1/red")]


def test_arms_have_the_size_of_the_rules() -> None:
    assert rules(line(rules={"arm_size": 25})) == set()
    assert rules(line(rules={"arm_size": 32})) == {"sizes"}
