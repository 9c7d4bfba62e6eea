"""Totals: weight and water against a reference library, and everything adds up."""

from __future__ import annotations

from collections import Counter
from math import pi
from pathlib import Path

import pytest
from fluids.piping import nearest_pipe
from shop_made import Shop, scenario

from router.building.route import route_scenario
from router.cutlist import CutList, cut_list
from router.cutlist.lengths import to_mm
from router.route.model import Hanger, LowSection
from router.scenario import read_scenario

SCENARIOS = Path(__file__).parents[2] / "scenarios"


@pytest.fixture(scope="module", params=["minimal", "loading_dock", "reading_room"])
def real(request: pytest.FixtureRequest) -> CutList:
    """The cut list of a routed scenario."""
    given = read_scenario(SCENARIOS / f"{request.param}.json")
    route, _ = route_scenario(given)
    found = cut_list(given, route)
    pipes = [piece for piece in route.pieces if piece.kind not in ("barrel", "hose")]
    assert Counter(cut.piece for cut in found.cuts) == Counter(piece.id for piece in pipes)
    assert [cut.exact for cut in found.cuts] == [piece.make_up for piece in pipes]
    assert sum(line.quantity for line in found.fittings) == len(route.fittings)
    return found


def amount(found: CutList, what: str, size: str = "") -> float:
    (line,) = [line for line in found.totals if line.what == what and line.size == size]
    return line.quantity


def test_every_cut_in_exactly_one_bar(real: CutList) -> None:
    assert not [remark for remark in real.remarks if remark.startswith("piece ")]
    nested = Counter(cut.tag for bar in real.bars for cut in bar.cuts)
    assert nested == Counter(cut.tag for cut in real.cuts)
    for bar in real.bars:
        used = sum(cut.units for cut in bar.cuts) + real.saw_units * bar.saw_cuts
        assert used + bar.left_units == bar.stock_units or (used > bar.stock_units and not bar.left_units)
        assert {cut.dn for cut in bar.cuts} == {bar.dn}
    for size in real.stock:
        own = [bar for bar in real.bars if bar.dn == size.dn]
        assert len(own) == size.bars
        assert sum(bar.stock_units for bar in own) == size.bought_units
        assert sum(cut.units for cut in real.cuts if cut.dn == size.dn) == size.cut_units
        assert size.fewest <= size.bars


def test_groups_hold_every_cut_once(real: CutList) -> None:
    assert Counter(tag for group in real.groups for tag in group.tags) == Counter(
        cut.tag for cut in real.cuts
    )
    cuts = {cut.tag: cut for cut in real.cuts}
    for group in real.groups:
        assert {(cuts[tag].mark, cuts[tag].dn, cuts[tag].units) for tag in group.tags} == {
            (group.mark, group.dn, group.units)
        }
    assert len({group.mark for group in real.groups}) == len(real.groups)


def test_totals_are_sums(real: CutList) -> None:
    nested = sum(cut.units for bar in real.bars for cut in bar.cuts)
    assert amount(real, "pipe as cut", "all") == pytest.approx(to_mm(nested, real.standard) / 1000, abs=1e-3)
    for what in ("pipe as cut", "weight of pipe", "water in pipe"):
        parts = sum(t.quantity for t in real.totals if t.what == what and t.size != "all")
        assert amount(real, what, "all") == pytest.approx(parts, abs=0.05)
    ends = sum(t.quantity for t in real.totals if t.unit == "ends")
    assert ends == 2 * len(real.cuts)
    assert amount(real, "saw cuts") == sum(bar.saw_cuts for bar in real.bars)


@pytest.mark.parametrize(("dn", "inches"), [(25, 1.315), (32, 1.660), (50, 2.375), (65, 2.875), (80, 3.5)])
def test_weight_and_water_of_ten_metres(dn: int, inches: float) -> None:
    """ASME B36.10M pipe of the library fluids, Schedule 40; steel at 7850 kg/m3 (from memory)."""
    shop = Shop(scenario())
    shop.pipe("run", ((0.0, 0.0, 0.0), (5000.0, 0.0, 0.0)), dn)
    shop.pipe("run", ((0.0, 0.0, 900.0), (5000.0, 0.0, 900.0)), dn)
    found = cut_list(shop.given, shop.route())
    _, inside, outside, _ = nearest_pipe(Do=inches * 0.0254 - 5e-4, schedule="40")
    assert amount(found, "weight of pipe", "all") == pytest.approx(
        10 * 7850 * pi / 4 * (outside**2 - inside**2), rel=0.01
    )
    assert amount(found, "water in pipe", "all") == pytest.approx(10_000 * pi / 4 * inside**2, rel=0.006)


def test_prices_and_labour_by_hand() -> None:
    """Two metres at 3.00 and 2 min, an elbow 4.00 and 6, a hanger 5.00 and 10, two drains 20 + 30 and 5."""
    prices = {
        "currency": "EUR",
        "minute": 0.8,
        "pipe": {"1": {"price": 3.0, "minutes": 2.0}},
        "fittings": {"elbow_90": {"1": {"price": 4.0, "minutes": 6.0}}},
        "hanger": {"price": 5.0, "minutes": 10.0},
        "drain": {"price": 20.0, "minutes": 0.0},
        "large_drain": {"price": 30.0, "minutes": 5.0},
    }
    shop = Shop(scenario(system={"standard": "metric"}, prices=prices))
    elbow = shop.fit("elbow_90", (0.0, 0.0, 3000.0))
    # z = 21: 1021 - 21 = 1000 to either side
    shop.pipe("run", ((-1021.0, 0.0, 3000.0), elbow), 25)
    shop.pipe("run", (elbow, (0.0, 1021.0, 3000.0)), 25)
    shop.fit("plug", (0.0, 0.0, 0.0)).ports.append(((0.0, 0.0, 1.0), 25, "run"))
    hanger = Hanger(id="S1", kind="run", run="R", piece="P0001", at=(-500.0, 0.0, 3000.0), why="spacing")
    low = LowSection(
        run="R", stations=(0.0, 900.0), lowest=(0.0, 0.0, 0.0), volume_l=25.0, drain="two_valves", text="",
        counts_as="large_drain", source="", grade="C",
    )  # fmt: skip
    found = cut_list(shop.given, shop.route(hangers=[hanger], low_sections=[low, low]))
    lines = {(t.what, t.size): (t.price, t.minutes) for t in found.totals}
    assert lines["pipe as cut", "DN25"] == (6.0, 4.0)
    assert lines["elbow 90", "DN25"] == (4.0, 6.0)
    assert lines["hanger on run", ""] == (5.0, 10.0)
    assert lines["drain with two valves", ""] == (100.0, 10.0)
    assert lines["plug", "DN25"] == (None, None)
    assert lines["all that is priced", ""] == (115.0, 30.0)
    assert lines["labour at the table's minute", ""] == (24.0, None)
    assert lines["material and labour", ""] == (139.0, 30.0)
    assert found.remarks == ["not in the price table: plug DN25"]
    assert found.hangers[0].dn == 25
    assert found.hangers[0].station == pytest.approx(521.0)


def test_stock_and_saw_of_the_scenario() -> None:
    """Three of 2000 from 6 m with 3 mm a cut do not fit one bar; with 0 they do; 6.4 m holds them."""
    for rules, bought in (
        ({}, [6000, 6000]),
        ({"saw_cut": 0}, [6000]),
        ({"stock_lengths": [6400]}, [6400]),
        ({"stock_lengths": [6400, 4100]}, [6400]),
        ({"stock_lengths": [4100, 2100]}, [2100, 4100]),
    ):
        shop = Shop(scenario(system={"standard": "metric"}, rules=rules))
        for y in (0.0, 500.0, 1000.0):
            shop.pipe("run", ((0.0, y, 3000.0), (2000.0, y, 3000.0)), 50)
        found = cut_list(shop.given, shop.route())
        assert sorted(bar.stock_units for bar in found.bars) == bought
        assert all(size.proven for size in found.stock)


@pytest.mark.parametrize(
    ("rules", "says"),
    [
        ({"stock_lengths": []}, r"rules.stock_lengths: \[\] mm"),
        ({"stock_lengths": [6000, 0]}, "rules.stock_lengths: 0 mm"),
        ({"saw_cut": -1}, "rules.saw_cut: -1 mm"),
    ],
)
def test_stock_that_cannot_be(rules: dict[str, object], says: str) -> None:
    shop = Shop(scenario(rules=rules))
    with pytest.raises(ValueError, match=says):
        cut_list(shop.given, shop.route())
