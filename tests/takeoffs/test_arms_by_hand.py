"""Arms, drops and sprigs at the last millimetre, by arithmetic from ASME B16.3 take-outs."""

from __future__ import annotations

import pytest
from small_lines import (
    ARM,
    ARM_RADIUS,
    BIT,
    DROP,
    ELBOW,
    FIRST,
    IN,
    RISE,
    RUN_RADIUS,
    STRAIGHT,
    TEE_OUTLET,
    Z,
    box,
    candidates,
    clean_route,
    fails,
    line,
    made_up,
    works,
)


def test_the_lengths_that_everything_below_uses() -> None:
    # by hand: 1.67 + 1.50 + 2 - 2 x 0.661 = 3.848 in., and so on
    assert pytest.approx(97.739, abs=1e-3) == RISE
    assert pytest.approx(93.421, abs=1e-3) == ARM
    assert pytest.approx(98.247, abs=1e-3) == DROP
    assert pytest.approx(102.565, abs=1e-3) == STRAIGHT


def test_return_bend_rises_by_its_make_up() -> None:
    made, route = works(line("return_bend", (1500, 400, 2600)))
    assert made.arm_z - Z == pytest.approx(RISE, abs=0.01)
    assert (made.side, made.fittings) == ("top", 3)
    assert made.axes()[0][0] == (1500, 0, Z)
    assert made.axes()[0][1] == pytest.approx((1500, 0, Z + RISE), abs=0.01)
    assert made.pipe == pytest.approx(RISE + 400 + (Z + RISE - 2600), abs=0.1)
    assert route.counts.fittings_counted == 3


@pytest.mark.parametrize(
    ("style", "least"), [("return_bend", ARM), ("side_arm", FIRST), ("lowered_arm", ARM)]
)
def test_least_arm(style: str, least: float) -> None:
    works(line(style, (1500, least + BIT, 2600)))
    works(line(style, (1500, -least - BIT, 2600)))
    fails(line(style, (1500, least - BIT, 2600)))


@pytest.mark.parametrize(
    ("style", "lateral", "highest"),
    [
        ("return_bend", 400, Z + RISE - DROP),
        ("side_arm", 400, Z - DROP),
        ("lowered_arm", 400, Z - RISE - DROP),
        ("straight_drop", 0, Z - STRAIGHT),
    ],
)
def test_least_drop(style: str, lateral: float, highest: float) -> None:
    made, _ = works(line(style, (1500, lateral, highest - BIT)))
    assert made.arm_z == pytest.approx(highest + (STRAIGHT if style == "straight_drop" else DROP), abs=0.01)
    fails(line(style, (1500, lateral, highest + BIT)))


def test_drop_without_reducer_for_a_full_size_thread() -> None:
    # no reducer: elbow 1.50, the nipple 2 less one engagement 0.661; 72.1 mm
    least = (ELBOW + 2.0 - 0.661) * IN
    works(line("side_arm", (1500, 400, Z - least - BIT), head={"thread": 25}))
    fails(line("side_arm", (1500, 400, Z - least + BIT), head={"thread": 25}))


def test_sprig() -> None:
    made, _ = works(line("sprig", (1500, 0, Z + STRAIGHT + BIT)))
    assert (made.side, made.fittings, made.reducers) == ("top", 1, 1)
    assert made.pipe == pytest.approx(STRAIGHT + BIT, abs=0.01)
    fails(line("sprig", (1500, 0, Z + STRAIGHT - BIT)))


@pytest.mark.parametrize(("style", "z"), [("straight_drop", 2600), ("sprig", 3400)])
def test_alignment_under_or_over_the_line(style: str, z: float) -> None:
    works(line(style, (1500, 3.0, z)))
    fails(line(style, (1500, 3.0 + BIT, z)))
    works(line(style, (1500, -8.0, z), rules={"alignment": 8.0}))


@pytest.mark.parametrize("style", ["side_arm", "return_bend", "lowered_arm"])
def test_reach(style: str) -> None:
    works(line(style, (1500, 700, 2600), rules={"reach": 700.0}))
    fails(line(style, (1500, 700 + BIT, 2600), rules={"reach": 700.0}))


@pytest.mark.parametrize("style", ["return_bend", "lowered_arm"])
def test_rise(style: str) -> None:
    works(line(style, (1500, 400, 2600), rules={"rise": RISE + BIT}))
    fails(line(style, (1500, 400, 2600), rules={"rise": RISE - BIT}))


def test_slide() -> None:
    pins = {"heads": {"H1": {"stations": [1250, 1350]}}}
    made, route = works(
        line("side_arm", (1500, 400, 2600), rules={"slide": 200, "station_step": 200}, pins=pins)
    )
    assert made.station == pytest.approx(1300)
    assert made.dogleg
    assert route.counts.fittings_counted == 3  # one elbow more
    fails(line("side_arm", (1500, 400, 2600), rules={"slide": 199, "station_step": 199}, pins={
        "heads": {"H1": {"stations": [1250, 1300.9]}}}))  # fmt: skip


@pytest.mark.parametrize("style", ["side_arm", "return_bend", "lowered_arm"])
def test_both_legs_of_a_dogleg(style: str) -> None:
    pins = {"heads": {"H1": {"stations": [1000, 1450]}}}

    def leg(length: float, lateral: float = 400) -> dict[str, float]:
        return {"slide": length, "station_step": length, "lateral": lateral}

    for sizes, good in (
        (leg(ARM + BIT), True),
        (leg(ARM - BIT), False),
        (leg(300, (FIRST if style == "side_arm" else ARM) + BIT), True),
        (leg(300, (FIRST if style == "side_arm" else ARM) - BIT), False),
    ):
        lateral = sizes.pop("lateral")
        scenario = line(style, (1500, lateral, 2600), rules=sizes, pins=pins)
        if not good:
            fails(scenario)
            continue
        made, _ = works(scenario)
        assert made.dogleg
        corner = made.branches[0].points[0]
        assert corner == pytest.approx((made.station, lateral, made.arm_z))
        assert made.pipe == pytest.approx(
            lateral + 1500 - made.station + abs(made.arm_z - Z) + made.arm_z - 2600, abs=0.05
        )


def test_arm_of_a_head_under_the_line_runs_along_it() -> None:
    pins = {"heads": {"H1": {"stations": [1000, 1450]}}}
    for length, good in ((ARM + BIT, True), (ARM - BIT, False)):
        sizes = {"slide": length, "station_step": length}
        scenario = line("return_bend", (1500, 0, Z + RISE - 300), rules=sizes, pins=pins)
        # the drop would pass through the line itself: never
        fails(scenario)
        lowered = line("lowered_arm", (1500, 0, 2600), rules=sizes, pins=pins)
        if good:
            made, _ = works(lowered)
            assert not made.dogleg
            assert made.fittings == 3
        else:
            fails(lowered)


def test_raised_arm_passes_over_a_duct_at_the_exact_millimetre() -> None:
    top = 3080.0
    duct = box("duct", (1300, 1700), (200, 500), (2900, top))
    over = top + 25 + ARM_RADIUS  # 3121.70
    assert over == pytest.approx(3121.70, abs=0.01)
    fails(line("return_bend", (1500, 800, 2600), obstructions=[duct]))
    made, _ = works(line("raised_arm", (1500, 800, 2600), obstructions=[duct]))
    assert made.arm_z == pytest.approx(over, abs=0.011)
    works(line("raised_arm", (1500, 800, 2600), obstructions=[duct], rules={"rise": over - Z + BIT}))
    fails(line("raised_arm", (1500, 800, 2600), obstructions=[duct], rules={"rise": over - Z - BIT}))


def test_a_low_duct_leaves_the_return_bend_as_it_is() -> None:
    low = Z + RISE - ARM_RADIUS - 25  # the return bend just clears this
    for top, good in ((low - BIT, True), (low + BIT, False)):
        scenario = line(
            "return_bend", (1500, 800, 2600), obstructions=[box("d", (1300, 1700), (200, 500), (2900, top))]
        )
        works(scenario) if good else fails(scenario)


def test_lowered_arm_passes_under_a_duct_at_the_exact_millimetre() -> None:
    bottom = 2880.0
    duct = box("duct", (1300, 1700), (200, 500), (bottom, 3200))
    under = bottom - 25 - ARM_RADIUS
    made, _ = works(line("lowered_arm", (1500, 800, 2600), obstructions=[duct]))
    assert made.arm_z == pytest.approx(under, abs=0.011)
    works(line("lowered_arm", (1500, 800, under - DROP - BIT), obstructions=[duct]))
    fails(line("lowered_arm", (1500, 800, under - DROP + BIT), obstructions=[duct]))


def test_clearance_of_the_last_vertical_and_of_the_arm() -> None:
    for gap, good in ((BIT, True), (-BIT, False)):
        beside = 500 + ARM_RADIUS + 25 + gap  # the drop stands at y = 500
        column = box("column", (1400, 1600), (beside, beside + 200), (2500, 2900))
        scenario = line("side_arm", (1500, 500, 2600), obstructions=[column])
        works(scenario) if good else fails(scenario)
        above = Z + ARM_RADIUS + 60 + gap  # over the arm, with a clearance of its own
        tray = box("tray", (1400, 1600), (200, 300), (above, above + 100)) | {"clearance": 60}
        scenario = line("side_arm", (1500, 500, 2600), obstructions=[tray])
        works(scenario) if good else fails(scenario)


def test_an_edge_beside_and_below_an_arm_counts_round() -> None:
    # 3-4-5: the arm at x = 1500 passes an edge 25 mm beside and 33.36 below
    reach = ARM_RADIUS + 25
    for gap, good in ((BIT, True), (-BIT, False)):
        x, z = 1500 + 0.6 * (reach + gap), Z - 0.8 * (reach + gap)
        scenario = line(
            "side_arm", (1500, 500, 2600), obstructions=[box("edge", (x, x + 300), (150, 350), (z - 300, z))]
        )
        works(scenario) if good else fails(scenario)


def test_ceiling_below_the_arm() -> None:
    for gap, good in ((BIT, True), (-BIT, False)):
        height = Z - ARM_RADIUS - 25 - gap
        room = {
            "id": "C",
            "polygon": [[1000, 150], [2000, 150], [2000, 900], [1000, 900]],
            "elevation": height,
        }
        scenario = line("side_arm", (1500, 500, 2600), ceilings=[room])
        works(scenario) if good else fails(scenario)


def test_own_line_is_passed_by_the_piece_clearance() -> None:
    # a return bend's drop beside its own line: half of both pipes and the clearance
    clearance = 60.0
    beside = RUN_RADIUS + ARM_RADIUS + clearance  # 97.8, above the least arm of 93.4
    rules = {"piece_clearance": clearance}
    works(line("return_bend", (1500, beside + BIT, 2600), rules=rules))
    fails(line("return_bend", (1500, beside - BIT, 2600), rules=rules))
    # and the nipple's make-up gives way to it where it is the larger: 107.8 against 97.7
    made, _ = works(line("return_bend", (1500, 400, 2600), rules={"piece_clearance": clearance + 10}))
    assert made.arm_z - Z == pytest.approx(RUN_RADIUS + ARM_RADIUS + clearance + 10, abs=0.01)


def test_welded_outlet() -> None:
    # centre of the run to the end of a welded outlet: half of 1.660 and 1.31 (assumed height)
    least = made_up(1.660 / 2 + 1.31, ELBOW)
    run = {"joining": "welded"}
    two = ((1200.0, least + BIT, 2600.0), (2200.0, -400.0, 2600.0))
    made, route = works(line("side_arm", *two, run=run))
    assert made.fittings == 2
    assert route.counts.fittings["outlet"] == 1
    assert not [c for c in candidates(line("side_arm", (1500, least - BIT, 2600), run=run))]


def test_dry_head_hangs_in_a_plugged_tee_and_its_barrel_needs_no_nipple() -> None:
    least = TEE_OUTLET * IN  # only the fitting itself
    head = {"dry": True}
    made, route = works(line("straight_drop", (1500, 0, Z - least - BIT), head=head))
    assert made.end_fittings == 2
    assert route.counts.fittings == {"plug": 1, "tee": 1}
    fails(line("straight_drop", (1500, 0, Z - least + BIT), head=head))
    made, route = works(line("side_arm", (1500, 400, Z - ELBOW * IN - BIT), head=head))
    assert route.counts.fittings == {"elbow_90": 1, "plug": 1, "tee": 1}
    fails(line("side_arm", (1500, 400, Z - ELBOW * IN + BIT), head=head))


def test_hanger_for_a_long_arm() -> None:
    # NFPA 13: an arm-over of more than 24 in. is unsupported
    for length, hangers in ((24 * IN, 0), (24 * IN + BIT, 1)):
        made, route = works(line("side_arm", (1500, length, 2600)))
        assert made.hangers == hangers
        assert route.counts.arm_hangers == hangers


def test_band_of_the_run_at_the_exact_millimetre() -> None:
    beam = box("beam", (500, 700), (-900, 900), (2990, 3400))
    under = 2990 - 25 - RUN_RADIUS
    for low, good in ((under - BIT, True), (under + BIT, False)):
        scenario = line("side_arm", (1500, 400, 2600), obstructions=[beam], run={"band": [low, 3020]})
        route = clean_route(scenario)
        assert (route.counts.served == 1) == good
        if good:
            assert route.runs[0].supply_level == pytest.approx(under, abs=BIT + 0.01)
    beam = box("beam", (500, 700), (-900, 900), (2600, 3010))
    over = 3010 + 25 + RUN_RADIUS
    for high, good in ((over + BIT, True), (over - BIT, False)):
        scenario = line("side_arm", (1500, 400, 2600), obstructions=[beam], run={"band": [2990, high]})
        assert (clean_route(scenario).counts.served == 1) == good
