"""Uncut pipe: where its outlets are drilled; pipe longer than stock: where it is joined."""

from __future__ import annotations

from math import cos, radians, sin
from typing import TYPE_CHECKING

import pytest
from shop_made import IN, Shop, scenario

from router.cutlist import cut_list
from router.cutlist.couplings import gap, split
from router.cutlist.outlets import clock, direction
from router.route.model import Piece
from router.trade.tables import Tables

if TYPE_CHECKING:
    from router.cutlist import CutList
    from router.cutlist.records import Cut
    from router.route.model import Xyz

WELDED = {"standard": "inch", "joining": "welded"}


def piece(start: Xyz, end: Xyz) -> Piece:
    return Piece(id="P", kind="run", owner="R", run="R", start=start, end=end, dn=50, length=1, make_up=1,
                 fittings=(None, None))  # fmt: skip


def pipe_with_outlets(length: float, outlets: list[tuple[float, Xyz]]) -> CutList:
    """A welded 2-1/2 in. run along +x from an elbow, 1 in. outlets at stations."""
    shop = Shop(scenario(system=WELDED))
    elbow = shop.fit("elbow_90", (0.0, 0.0, 3000.0), "welded")
    shop.pipe("run", ((0.0, -900.0, 3000.0), elbow), 65, joining="welded")
    shop.pipe("run", (elbow, (length, 0.0, 3000.0)), 65, joining="welded")
    for station, (dx, dy, dz) in outlets:
        at = (station, 0.0, 3000.0)
        outlet = shop.fit("outlet", at, "welded", seat=65)
        shop.pipe("arm", (outlet, (station + 400 * dx, 400 * dy, 3000 + 400 * dz)), 25, ("outlet", "run"))
    return cut_list(shop.given, shop.route())


def run_cuts(found: CutList) -> list[Cut]:
    return [cut for cut in found.cuts if cut.kind == "run"][1:]


def test_outlets_are_measured_from_the_bare_end() -> None:
    """Butt weld 90 degree elbow of 2-1/2 in., long radius: 3.75 in. centre to end (ASME B16.9)."""
    found = pipe_with_outlets(5000.0, [(4000.0, (0, -1, 0)), (1000.0, (0, 0, 1)), (2500.0, (0, 1, 0))])
    (cut,) = run_cuts(found)
    off = 3.75 * IN
    assert cut.exact == pytest.approx(5000 - off, abs=0.01)
    assert [(o.dn, o.direction, o.clock) for o in cut.outlets] == [
        (25, "top", 0.0), (25, "left", 270.0), (25, "right", 90.0)
    ]  # fmt: skip
    assert [o.station for o in cut.outlets] == pytest.approx([1000 - off, 2500 - off, 4000 - off], abs=0.01)
    assert [end.preparation for end in cut.ends] == ["bevel", "bevel"]
    arms = [c for c in found.cuts if c.kind == "arm"]
    assert {end.preparation for c in arms for end in c.ends} == {"threaded"}
    assert arms[0].ends[0].stands.startswith("outlet ")


@pytest.mark.parametrize(("angle", "word"), [(0, "top"), (90, "right"), (180, "bottom"), (270, "left"),
                                             (4, "top"), (356, "top"), (60, "2 o'clock"), (315, "10 o'clock"),
                                             (352, "12 o'clock")])  # fmt: skip
def test_directions_by_the_clock(angle: float, word: str) -> None:
    """Looking along +x from the start, the left hand is at +y: a clock's nine."""
    way = (0.0, -sin(radians(angle)), cos(radians(angle)))
    found = clock(piece((0, 0, 0), (1000, 0, 0)), way)
    assert found == pytest.approx(angle, abs=0.1)
    assert found is not None
    assert direction(found) == word
    # the other way round, left and right change places
    back = clock(piece((1000, 0, 0), (0, 0, 0)), way)
    assert back == pytest.approx((360 - angle) % 360, abs=0.1)


def test_a_direction_along_the_pipe_is_none() -> None:
    assert clock(piece((0, 0, 0), (0, 900, 0)), (0.0, -1.0, 0.0)) is None
    assert clock(piece((0, 0, 0), (0, 0, 900)), (0.0, 1.0, 0.0)) == 0.0
    # looking up with north at the top, east is at the left hand; looking down, at the right
    assert clock(piece((0, 0, 0), (0, 0, 900)), (1.0, 0.0, 0.0)) == pytest.approx(270.0)
    assert clock(piece((0, 0, 900), (0, 0, 0)), (1.0, 0.0, 0.0)) == pytest.approx(90.0)


def test_pieces_with_other_outlets_are_not_alike() -> None:
    shop = Shop(scenario(system=WELDED))
    for y, station in ((0.0, 1000.0), (500.0, 1000.0), (1000.0, 1400.0)):
        shop.pipe("run", ((0.0, y, 3000.0), (3000.0, y, 3000.0)), 65, joining="welded")
        outlet = shop.fit("outlet", (station, y, 3000.0), "welded", seat=65)
        shop.pipe("sprig", (outlet, (station, y, 3400.0)), 25, ("outlet", "run"))
    marks = [cut.mark for cut in cut_list(shop.given, shop.route()).cuts if cut.kind == "run"]
    assert marks[0] == marks[1] != marks[2]


def test_threaded_pipe_longer_than_stock_by_hand() -> None:
    """EN 10242: tee DN50 z = 34 mm, socket 65 mm long, 24 mm of thread go in at either side (from memory).

    10000 - 2 x 34 = 9932 bare = 6000 + gap of 65 - 2 x 24 = 17 + 3915.
    """
    shop = Shop(scenario(system={"standard": "metric"}))
    a, b = shop.fit("elbow_90", (0.0, 0.0, 3000.0)), shop.fit("elbow_90", (10000.0, 0.0, 3000.0))
    shop.pipe("run", (a, b), 50)
    found = cut_list(shop.given, shop.route())
    assert [(cut.tag, cut.units) for cut in found.cuts] == [("P0001a", 6000), ("P0001b", 3915)]
    assert [cut.ends[1].stands for cut in found.cuts] == ["coupling", "elbow 90 F0002"]
    assert [(c.kind, c.dn) for c in found.couplings] == [("coupling", 50)]
    assert sum(line.quantity for line in found.fittings) == 2
    # a whole length needs no cut
    assert [(len(bar.cuts), bar.saw_cuts) for bar in found.bars] == [(1, 0), (1, 1)]


def test_a_joint_keeps_clear_of_outlets() -> None:
    """21 ft is 6400.8 mm, from the elbow's end at 95.25: an outlet there pushes the joint back."""
    free = run_cuts(pipe_with_outlets(9000.0, [(2000.0, (0, 0, 1))]))
    assert free[0].exact == pytest.approx(6400.8)
    room = Tables("inch").take_out("outlet", "run", 65, 25, joining="welded") + 25.0
    at = 6490.0
    found = pipe_with_outlets(9000.0, [(at, (0, 0, 1)), (2000.0, (0, 0, 1))])
    pushed = run_cuts(found)
    assert pushed[0].exact == pytest.approx(at - 3.75 * IN - room, abs=0.01)
    assert pushed[0].exact + pushed[1].exact == pytest.approx(9000 - 3.75 * IN, abs=0.01)
    assert [len(cut.outlets) for cut in pushed] == [1, 1]
    assert pushed[1].outlets[0].station == pytest.approx(room, abs=0.01)
    assert [c.kind for c in found.couplings] == ["girth weld"]
    assert "between P0002a and P0002b" in found.couplings[0].at


def test_outlets_so_dense_that_no_joint_fits() -> None:
    found = pipe_with_outlets(9000.0, [(150.0 + 50 * k, (0, 0, 1)) for k in range(170)])
    (cut,) = found.not_nested
    assert "no place for a joint" in cut.note
    assert any("no place for a joint" in remark for remark in found.remarks)


@pytest.mark.parametrize("bare", [6000.0, 6000.5, 6050.0, 12017.0, 12040.0, 30000.0])
def test_parts_and_gaps_make_the_whole(bare: float) -> None:
    parts = split(bare, 6000.0, 17.0, 64.0)
    assert parts is not None
    assert sum(length for _, length in parts) + 17 * (len(parts) - 1) == pytest.approx(bare)
    assert all(length <= 6000.0 + 1e-6 for _, length in parts)
    assert all(length >= 64.0 for _, length in parts)


def test_gaps() -> None:
    inch = Tables("inch")
    # ASME B16.3 coupling 1 in.: 1.67 in. long, 0.661 in. of thread from either side
    assert gap(inch, 25, "threaded") == pytest.approx((1.67 - 2 * 0.661) * IN, abs=0.02)
    assert gap(inch, 50, "welded") == gap(inch, 50, "butt_weld") == 0.0
    assert gap(inch, 50, "grooved") == pytest.approx(0.06 * IN, abs=0.01)


def test_a_coupling_is_no_longer_than_a_reducing_one() -> None:
    """Handbook fact, from memory: straight couplings W are shorter than reducing ones M of the same size."""
    tables = Tables("inch")
    for dn in (25, 32, 40, 50, 65, 80):
        straight = gap(tables, dn, "threaded") + 2 * tables.engagement(dn, joining="threaded")
        assert 0.8 * tables.take_out("reducer", "run", dn, 15, joining="threaded") < straight
        assert straight <= tables.take_out("reducer", "run", dn, 15, joining="threaded")


def test_a_run_that_goes_on_without_a_fitting_gets_a_coupling() -> None:
    first = {"id": "R", "plan": [(0, 0), (3000, 0)], "elevation": 3000}
    second = {"id": "S", "plan": [(3000, 0), (6000, 0)], "elevation": 3000, "supply": "R"}
    shop = Shop(scenario([first, second]))
    shop.pipe("run", ((0.0, 0.0, 3000.0), (3000.0, 0.0, 3000.0)), 25)
    shop.pipe("run", ((3000.0, 0.0, 3000.0), (6000.0, 0.0, 3000.0)), 25, run="S")
    found = cut_list(shop.given, shop.route())
    assert [c.at for c in found.couplings] == ["between P0001 and P0002"]
    assert [cut.exact for cut in found.cuts] == pytest.approx(
        [3000 - (1.67 - 2 * 0.661) * IN / 2] * 2, abs=0.02
    )


def test_grooved_fittings_take_a_coupling_at_every_end() -> None:
    shop = Shop(scenario(system={"joining": "grooved"}))
    elbow = shop.fit("elbow_90", (0.0, 0.0, 3000.0), "grooved")
    shop.pipe("run", ((0.0, -900.0, 3000.0), elbow), 65, joining="grooved")
    shop.pipe("run", (elbow, (2000.0, 0.0, 3000.0)), 65, joining="grooved")
    # a branch on a mechanical tee with a grooved outlet has one too, a threaded arm has none
    tee = shop.fit("outlet", (1000.0, 0.0, 3000.0), "grooved", seat=65)
    shop.pipe("run", (tee, (1000.0, 900.0, 3000.0)), 50, ("outlet", "run"), "grooved")
    arm = shop.fit("outlet", (1500.0, 0.0, 3000.0), "grooved", seat=65)
    shop.pipe("arm", (arm, (1500.0, 900.0, 3000.0)), 25, ("outlet", "run"))
    found = cut_list(shop.given, shop.route())
    assert [(c.kind, c.dn, c.at) for c in found.couplings] == [
        ("grooved coupling", 65, "P0001 to F0001"),
        ("grooved coupling", 65, "P0002 to F0001"),
        ("grooved coupling", 50, "P0003 to F0002"),
    ]
    assert {end.preparation for cut in found.cuts[:3] for end in cut.ends} == {"grooved"}
    assert {end.preparation for end in found.cuts[3].ends} == {"threaded"}
