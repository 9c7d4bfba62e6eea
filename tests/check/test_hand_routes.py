"""The routes by hand hold what they are made for, by figures worked out here."""

from __future__ import annotations

from math import pi

import pytest
from build import said
from build_more import cheapest, priced, stepped, sunk

from router.check import check_route

BORE_32 = 1.380 * 25.4
"""Inside diameter of 1-1/4 in. schedule 40 pipe, mm (ASME B36.10M)."""


def litres(length_mm: float) -> float:
    return pi / 4 * BORE_32**2 * length_mm / 1e6


def test_the_sunk_branch_holds_water_up_to_the_main() -> None:
    draft = sunk()
    route = draft.route()
    (low,) = route.low_sections
    assert (low.run, low.stations, low.drain) == ("B", None, "nipple_and_cap")
    assert low.volume_l == pytest.approx(litres(150.0 + 2000.0), rel=0.001)
    verdict = check_route(draft.scenario(), route)
    assert said(verdict) == []
    assert (verdict.counts.drains, verdict.counts.wet_drains) == (0, 1)
    # 3.65 m at 5.50, 0.25 m at 7.00, three elbows at 4.00, a reducer 1.50, the drain 8.00
    assert verdict.counts.price == pytest.approx(3.65 * 5.5 + 0.25 * 7.0 + 3 * 4.0 + 1.5 + 8.0)


def test_a_dip_that_holds_much_needs_two_valves_and_costs_more() -> None:
    draft = cheapest()
    route = draft.route()
    (low,) = route.low_sections
    assert (low.run, low.drain, low.counts_as) == ("R", "two_valves_and_condensate_nipple", "large_drain")
    verdict = check_route(draft.scenario(), route)
    assert said(verdict) == []
    assert (verdict.counts.drains, verdict.counts.large_drains) == (1, 1)
    pipe = sum(piece.length for piece in route.pieces if piece.kind == "run") / 1000.0 * 5.5
    # two 45 degree elbows at 7.00, two tees at 11.00, a drain at 30.00 and 27.50 on top; plugs unpriced
    assert verdict.counts.price == pytest.approx(pipe + 2 * 7.0 + 2 * 11.0 + 30.0 + 27.5)
    assert verdict.value == pytest.approx(100.0 * verdict.counts.price + 10.0)  # and one style


def test_the_coupling_steps_the_line_down() -> None:
    draft = stepped()
    route = draft.route()
    assert said(check_route(draft.scenario(), route)) == []
    assert {p.id: p.dn for p in route.pieces if p.kind == "run"} == {"R/0": 32, "R/1": 25}
    assert route.counts.fittings["reducing_coupling"] == 1


def test_hangers_of_the_routes_by_hand_are_judged_clean() -> None:
    for make in (priced, stepped, sunk):
        draft = make()
        route = draft.route()
        assert route.hangers
        assert check_route(draft.scenario(), route).findings == []
