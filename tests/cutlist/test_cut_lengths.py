"""Cut lengths worked by hand from published take-outs and threads.

ASME B16.3 class 150, centre to end, 1 in.: 90 degree elbow and tee 1.50, 45
degree elbow 1.12; 2 in. x 1 in. tee: run end 1.73, outlet end 2.02 (from memory).
ASME B1.20.1 NPT, 1 in.: hand-tight 0.400 plus three wrench turns at 11-1/2
threads an inch, 0.2609: 0.661 in. a joint (L1 from the standard, L3 from memory).
EN 10242, z-lengths: tee and elbow DN25 21, DN50 34 mm; 45 degree elbow DN25 11.
"""

from __future__ import annotations

from math import sqrt

import pytest
from shop_made import IN, Shop, scenario

from router.cutlist import cut_list
from router.cutlist.lengths import feet_inches, length_text, to_units, units_down, units_up

THREAD = 0.661


def test_a_45_degree_offset_in_one_inch_pipe() -> None:
    """Travel = 1.414 x set; cut = travel - 2 take-outs + 2 engagements (the handbook's arithmetic)."""
    shop = Shop(scenario())
    rise = 12 * IN
    low, high = (
        shop.fit("elbow_45", (1000.0, 0.0, 3000.0)),
        shop.fit("elbow_45", (1000 + rise, 0.0, 3000 + rise)),
    )
    shop.pipe("run", ((0.0, 0.0, 3000.0), low), 25)
    shop.pipe("run", (low, high), 25)
    shop.pipe("run", (high, (3000.0, 0.0, 3000 + rise)), 25)
    before, travel, after = cut_list(shop.given, shop.route()).cuts
    by_hand = sqrt(2) * 12 - 2 * 1.12 + 2 * THREAD  # 16.053 in.
    assert travel.exact == pytest.approx(by_hand * IN, abs=0.02)
    assert feet_inches(travel.units) == "1'-4 1/16\""
    assert before.exact == pytest.approx(1000 - (1.12 - THREAD) * IN, abs=0.01)
    assert after.exact == pytest.approx(3000 - 1000 - rise - (1.12 - THREAD) * IN, abs=0.01)
    assert [end.preparation for end in travel.ends] == ["threaded", "threaded"]
    assert [end.stands for end in travel.ends] == ["elbow 45 F0001", "elbow 45 F0002"]
    assert before.ends[0].stands == "supply"


def test_tee_to_tee_and_the_drop_from_a_reducing_tee() -> None:
    shop = Shop(scenario())
    a, b = shop.fit("tee", (0.0, 0.0, 3000.0)), shop.fit("tee", (36 * IN, 0.0, 3000.0))
    for tee, x in ((a, 0.0), (b, 36 * IN)):
        elbow = shop.fit("elbow_90", (x, 0.0, 3000.0 - 20 * IN))
        shop.pipe("drop", (tee, elbow), 25, ("outlet", "run"))
        shop.pipe("arm", (elbow, (x, 500.0, 3000.0 - 20 * IN)), 25)
    shop.pipe("run", ((-900.0, 0.0, 3000.0), a), 50)
    shop.pipe("run", (a, b), 50)
    shop.pipe("run", (b, (2000.0, 0.0, 3000.0)), 50)
    cuts = {cut.tag: cut for cut in cut_list(shop.given, shop.route()).cuts}
    # 2 in. NPT: 0.436 + 0.2609 = 0.697 in. a joint
    assert cuts["P0006"].exact == pytest.approx((36 - 2 * 1.73 + 2 * 0.697) * IN, abs=0.02)  # 33.934 in.
    assert length_text(cuts["P0006"].units, "inch") == "2'-9 15/16\""
    assert cuts["P0001"].exact == pytest.approx((20 - 2.02 - 1.50 + 2 * THREAD) * IN, abs=0.02)  # 17.802
    assert length_text(cuts["P0001"].units, "inch") == "1'-5 13/16\""
    assert cuts["P0001"].mark == cuts["P0003"].mark != cuts["P0006"].mark


def test_a_reducing_elbow_has_two_take_outs() -> None:
    """Elbow 1-1/4 x 1: 1.58 in. to the larger end, 1.67 to the smaller (as the tee's pair, from memory)."""
    shop = Shop(scenario())
    elbow = shop.fit("elbow_90", (0.0, 0.0, 3000.0))
    shop.pipe("run", ((-1000.0, 0.0, 3000.0), elbow), 32)
    shop.pipe("arm", (elbow, (0.0, 1000.0, 3000.0)), 25)
    found = cut_list(shop.given, shop.route())
    run, arm = found.cuts
    assert run.ends[1].less == pytest.approx((1.58 - 0.681) * IN, abs=0.02)
    assert arm.ends[0].less == pytest.approx((1.67 - THREAD) * IN, abs=0.02)
    assert arm.exact == pytest.approx(1000 - (1.67 - THREAD) * IN, abs=0.02)
    assert not found.remarks


def test_metric_pieces_by_z_lengths() -> None:
    """EN 10242: cut = centre to centre - z - z."""
    shop = Shop(scenario(system={"standard": "metric"}))
    elbow = shop.fit("elbow_90", (0.0, 0.0, 3000.0))
    tee = shop.fit("tee", (2000.0, 0.0, 3000.0))
    shop.pipe("run", (elbow, tee), 50)
    shop.pipe("run", (elbow, (0.0, -700.0, 3000.0)), 50)
    shop.pipe("nipple", (tee, (2000.0, 0.0, 3300.0)), 50, ("outlet", "run"))
    shop.pipe("run", (tee, (2500.0, 0.0, 3000.0)), 50)
    one, two = shop.fit("elbow_45", (0.0, 5000.0, 0.0)), shop.fit("elbow_45", (300.0, 5000.0, 300.0))
    shop.pipe("arm", (one, two), 25)
    for joint, x in ((one, -400.0), (two, 900.0)):
        shop.pipe("arm", (joint, (x, 5000.0, joint.at[2])), 25)
    cuts = {cut.tag: cut for cut in cut_list(shop.given, shop.route()).cuts}
    assert cuts["P0001"].units == 2000 - 2 * 34
    assert cuts["P0003"].units == 300 - 34
    assert cuts["P0005"].exact == pytest.approx(sqrt(2) * 300 - 2 * 11, abs=0.01)
    assert length_text(cuts["P0005"].units, "metric") == "402 mm"


@pytest.mark.parametrize(
    ("sixteenths", "text"),
    [(645, "3'-4 5/16\""), (0, "0'-0\""), (192, "1'-0\""), (191, "0'-11 15/16\""), (8, "0'-0 1/2\""),
     (4032, "21'-0\""), (-10, "-0'-0 5/8\"")],
)  # fmt: skip
def test_feet_inches_and_sixteenths(sixteenths: int, text: str) -> None:
    assert feet_inches(sixteenths) == text


def test_rounding() -> None:
    # 3'-4 5/16" is 40.3125 in.
    assert to_units(40.3125 * 25.4 + 0.79, "inch") == 645
    assert to_units(40.3125 * 25.4 + 0.80, "inch") == 646
    assert (to_units(999.5, "metric"), to_units(999.49, "metric")) == (1000, 999)
    assert (units_up(3.0, "inch"), units_up(3.175, "inch"), units_up(3.2, "metric")) == (2, 2, 4)
    assert (units_down(21 * 304.8, "inch"), units_down(6000.9, "metric")) == (4032, 6000)


def test_the_grade_is_that_of_the_weakest_take_out() -> None:
    """A tee of 2-1/2 in. with a 2 in. outlet has no row: the full size's is taken, graded D."""
    shop = Shop(scenario())
    tee = shop.fit("tee", (1000.0, 0.0, 3000.0))
    shop.pipe("run", ((0.0, 0.0, 3000.0), tee), 65)
    shop.pipe("run", (tee, (2000.0, 0.0, 3000.0)), 65)
    shop.pipe("nipple", (tee, (1000.0, 0.0, 3400.0)), 50, ("outlet", "run"))
    assert [cut.grade for cut in cut_list(shop.given, shop.route()).cuts] == ["D", "D", "D"]


def test_a_make_up_that_the_tables_do_not_give_is_remarked_and_kept() -> None:
    shop = Shop(scenario())
    a, b = shop.fit("elbow_90", (0.0, 0.0, 3000.0)), shop.fit("elbow_90", (1000.0, 0.0, 3000.0))
    shop.pipe("run", (a, b), 25)
    route = shop.route()
    piece = route.pieces[0]
    good = 1000 - 2 * (1.50 - THREAD) * IN
    assert piece.make_up == pytest.approx(good, abs=0.02)
    assert not cut_list(shop.given, route).remarks
    spoiled = route.model_copy(update={"pieces": [piece.model_copy(update={"make_up": 940.0})]})
    found = cut_list(shop.given, spoiled)
    assert found.cuts[0].exact == 940.0
    assert len(found.remarks) == 1
    assert "P0001" in found.remarks[0]
    assert "940.0 mm" in found.remarks[0]
    assert f"{good:.1f} mm" in found.remarks[0]


def test_fittings_too_near_leave_nothing_to_cut() -> None:
    shop = Shop(scenario())
    a, b = shop.fit("elbow_90", (0.0, 0.0, 3000.0)), shop.fit("elbow_90", (40.0, 0.0, 3000.0))
    shop.pipe("run", (a, b), 25)
    found = cut_list(shop.given, shop.route())
    assert found.bars == []
    assert [cut.tag for cut in found.not_nested] == ["P0001"]
    assert "leave no pipe" in found.not_nested[0].note


@pytest.mark.parametrize(("radius", "stock"), [(100.0, 600.0), (240.0, 500.0), (10.0, None)])
def test_barrels_and_hoses_are_ordered_not_cut(radius: float, stock: float | None) -> None:
    """A bend of radius r saves (2 - pi/2) r: 43 mm of 600 at 100 mm, 103 mm at 240, 4 mm at 10."""
    given = scenario(
        heads=[{"id": "D1", "at": (0, 0, 2000), "dry": True}, {"id": "H2", "at": (900, 300, 2700)}],
        rules={"hose_lengths": [600, 500] if stock else [590, 500], "hose_bend_radius": radius},
    )
    shop = Shop(given)
    dry, wet = shop.fit("tee", (0.0, 0.0, 3000.0)), shop.fit("tee", (900.0, 0.0, 3000.0))
    shop.pipe("run", (dry, wet), 25)
    shop.pipe("barrel", (dry, (0.0, 0.0, 2000.0)), 25, ("outlet", "run"))
    shop.pipe("hose", (wet, (900.0, 300.0, 3000.0)), 25, ("outlet", "run"))
    shop.pipe("hose", ((900.0, 300.0, 3000.0), (900.0, 300.0, 2700.0)), 25)
    route = shop.route(
        heads=[
            {"id": "D1", "served": True, "inlet": (0.0, 0.0, 2000.0)},
            {"id": "H2", "served": True, "inlet": (900.0, 300.0, 2700.0)},
        ]
    )
    found = cut_list(given, route)
    assert [cut.tag for cut in found.cuts] == ["P0001"]
    barrel, hose = found.ordered
    assert (barrel.head, barrel.centres) == ("D1", 1000.0)
    # from the face of the 1 in. tee, 1.50 in. off its centre
    assert barrel.face == pytest.approx(1000 - 1.50 * IN, abs=0.01)
    assert (hose.head, hose.stock) == ("H2", stock)
    assert hose.centres == pytest.approx(600.0, abs=0.01)
