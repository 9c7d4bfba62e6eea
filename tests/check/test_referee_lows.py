"""Where water stays and how much, by hand: bores of Schedule 40 pipe (ASME B36.10M), volumes in closed form.

That a wet section which a pendent empties needs no drain is NFPA 13 from memory; that water stands up
to the lower of two brims and behind a closed end up to its only one is hydrostatics.
"""

from __future__ import annotations

from dataclasses import replace
from math import hypot, pi
from typing import TYPE_CHECKING, Any

import pytest
from build import IN, Draft, dry_line, tree
from build_more import sunk

from router.check.drains import dips, low_sections
from router.check.lines import Line
from router.check.rules import trapped
from router.check.survey import Survey
from router.route.model import ProfilePoint

if TYPE_CHECKING:
    from router.check.drains import Low

BORE = {25: 1.049 * IN, 32: 1.380 * IN}
"""1 in. and 1-1/4 in. Schedule 40: 1.315 - 2 x 0.133, 1.660 - 2 x 0.140 in. (ASME B36.10M)."""


def litres(dn: int, length: float) -> float:
    return pi / 4 * BORE[dn] ** 2 * length / 1e6


def lows(draft: Draft) -> list[Low]:
    return low_sections(Survey(draft.scenario(), draft.route()))


def flat(*corners: tuple[float, float]) -> Line:
    """A run along +x without pitch; ``corners`` as (station, level)."""
    points = [ProfilePoint(station=s, level=level) for s, level in corners]
    return Line([(0.0, 0.0), (9000.0, 0.0)], points, 0.0)


def test_two_falls_and_one_rise_are_one_hollow() -> None:
    falls = [(0.0, 3000.0), (1000.0, 3000.0), (1100.0, 2900.0), (2000.0, 2900.0), (2200.0, 2700.0)]
    rises = [(3000.0, 2700.0), (3150.0, 2850.0), (5000.0, 2850.0)]
    # the far brim is the lower one
    assert dips(flat(*falls, *rises), 5000.0) == [(1000.0, 3150.0, 2850.0, 2200.0, 3000.0)]
    # the near brim is: the far one rises to 3100
    high = [(3000.0, 2700.0), (3400.0, 3100.0), (5000.0, 3100.0)]
    assert dips(flat(*falls, *high), 5000.0) == [(1000.0, 3400.0, 3000.0, 2200.0, 3000.0)]
    # nothing rises again: up to the near brim, to where the run ends
    assert dips(flat(*falls, (5000.0, 2700.0)), 5000.0) == [(1000.0, 5000.0, 3000.0, 2200.0, 5000.0)]


def dry_volume(draft: Draft) -> float:
    (low,) = lows(draft)
    assert low.stations == pytest.approx((1000.0, 4000.0))
    return low.litres


RUN = litres(32, hypot(300.0, 300.0 - 1.2) + 2700.0 * hypot(1.0, 0.004))
"""The slope of the dip and all the run after it, at 4 mm/m."""


def test_water_of_a_dry_dip() -> None:
    assert dry_volume(dry_line()) == pytest.approx(RUN, rel=1e-9)


@pytest.mark.parametrize(
    ("station", "counts"), [(4000.0, True), (2500.0, True), (1000.0, True), (999.8, False)]
)
def test_pipe_that_leaves_a_dip_holds_water_too(station: float, counts: bool) -> None:
    # an arm of 600 below the brim, from a takeoff at the dip's ends or in it
    draft = dry_line()
    draft.pipe("T2/arm", "arm", ((4000.0, 0.0, 2716.0), (4000.0, 600.0, 2716.0)), 25, "T2", "R")
    draft.takeoffs["T2"]["station"] = station
    assert dry_volume(draft) == pytest.approx(RUN + (litres(25, 600.0) if counts else 0.0), rel=1e-9)


@pytest.mark.parametrize(
    ("x", "inside"), [(500.0, 0.0), (999.8, 0.0), (1000.0, 100.0), (3000.0, 100.0), (4000.0, 100.0)]
)
def test_upright_run_pipe_counts_where_the_dip_is(x: float, inside: float) -> None:
    draft = dry_line()
    draft.pipe("R/up", "run", ((x, 0.0, 2800.0), (x, 0.0, 2900.0)), 32, "R", "R")
    assert dry_volume(draft) == pytest.approx(RUN + litres(32, inside), rel=1e-9)


@pytest.mark.parametrize(("z", "share"), [(2950.0, 1.0), (3003.8, 1.0), (3003.95, 0.0), (3100.0, 0.0)])
def test_a_level_arm_is_full_or_empty(z: float, share: float) -> None:
    # the brim is at 3004; within the tolerance of it nothing stays
    draft = dry_line()
    draft.pipe("T2/arm", "arm", ((4000.0, 0.0, z), (4000.0, 600.0, z)), 25, "T2", "R")
    assert dry_volume(draft) == pytest.approx(RUN + share * litres(25, 600.0), rel=1e-9)


@pytest.mark.parametrize("turned", [False, True])
def test_an_upright_nipple_is_full_up_to_the_brim(turned: bool) -> None:
    draft = dry_line()
    ends: list[Any] = [(4000.0, 0.0, 2904.0), (4000.0, 0.0, 3304.0)]
    draft.pipe("T2/nipple", "nipple", tuple(reversed(ends)) if turned else tuple(ends), 25, "T2", "R")
    assert dry_volume(draft) == pytest.approx(RUN + litres(25, 100.0), rel=1e-9)


@pytest.mark.parametrize(("kind", "held"), [("upright", 1), ("pendent", 0)])
def test_one_pendent_among_uprights_empties_a_lower_branch(kind: str, held: int) -> None:
    draft = sunk()
    draft.given["heads"].append({"id": "H2", "at": (1500, 2000, 3000), "kind": kind})
    draft.takeoffs["T1"]["heads"] = ["H1", "H2"]
    assert len(lows(draft)) == held


def test_water_of_a_lower_branch() -> None:
    # the nipple of 150 below the main's axis, and 2 m of the branch; the sprig is emptied at its head
    (low,) = lows(sunk())
    assert (low.run, low.stations, low.counts_as) == ("B", None, "wet_drain")
    assert low.litres == pytest.approx(litres(32, 150.0 + 2000.0), rel=1e-9)


@pytest.mark.parametrize(("lower", "held"), [(0.05, 0), (0.2, 1)])
def test_a_branch_is_lower_from_the_tolerance_on(lower: float, held: int) -> None:
    draft = tree(system={"kind": "dry", "heated": False})
    draft.runs["B"]["supply_level"] = 3200.0
    pitch = Survey(draft.scenario(), draft.route()).lines["M"].pitch
    draft.runs["C"]["supply_level"] = 3000.0 + pitch * 3.0 - lower
    assert [low.run for low in lows(draft) if low.stations is None] == ["C"] * held


@pytest.mark.parametrize(("kinds", "held"), [(["pendent", "upright"], 0), (["upright", "upright"], 1)])
def test_a_wet_hollow_that_no_pendent_empties(kinds: list[str], held: int) -> None:
    # the same dip in a wet line: nothing rises again, so it holds water up to where it begins to fall
    draft = dry_line(system={"kind": "wet"})
    for head, kind in zip(draft.given["heads"], kinds, strict=True):
        head.update(kind=kind, dry=False)
    found = lows(draft)
    assert [(low.run, low.counts_as) for low in found] == [("R", "wet_drain")] * held
    assert all(low.stations == pytest.approx((1000.0, 4000.0)) for low in found)


@pytest.mark.parametrize("order", [1, -1])
def test_low_sections_may_be_listed_in_any_order(order: int) -> None:
    route = dry_line().route()
    (one,) = route.low_sections
    listed = [one, one.model_copy(update={"stations": (5000.0, 6000.0)})]
    survey = Survey(dry_line().scenario(), route.model_copy(update={"low_sections": listed[::order]}))
    (low,) = low_sections(survey)
    survey.lows = [low, replace(low, stations=(5000.0, 6000.0))]
    assert not [f for f in trapped._sections(survey) if f.text.startswith("R: its low section is")]
