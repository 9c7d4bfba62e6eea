"""Where hangers are put, against NFPA 13's values.

Spacing 12 ft for 1 and 1-1/4 in., 15 ft from 1-1/2 in. on (2019 Table 17.4.2.1(a); that it is 12 to
15 ft: grade A, the step: from memory). Last hanger to end head 36, 48, 60 in. (2016 9.2.3.4, A); 12 in.
for pendents below a ceiling over 100 psi (A). One hanger for each section of pipe (A), none for a
starter under 6 ft, 12 ft apart where heads are under 6 ft apart (from memory). Unsupported arm-over
24 in. (A). 3 in. from an upright head (2025 17.4.3.3, A). Sprigs of 4 ft restrained (from memory).
"""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from hung import FT, IN, Line, beam, on_run

from router.hangers.place import place_hangers
from router.hangers.structure import Overhead
from router.scenario.model import Obstruction
from router.trade.hangers import HangerLimits
from router.trade.tables import Tables

SIX = [6 * FT, 18 * FT, 30 * FT, 42 * FT, 54 * FT, 66 * FT]
SIX_SIZES = [50, 40, 40, 32, 25, 25]
"""Light hazard schedule for 6, 5, 4, 3, 2, 1 heads: 2, 1-1/2, 1-1/2, 1-1/4, 1, 1 in. (A)."""


def test_the_worked_line_of_six_heads_at_12_feet() -> None:
    # By hand, from the end: the last hanger is at least at 66 - 3 = 63 ft; 1 in. pipe, so the one before
    # it at 51 ft or further, then (1-1/4 in., 12 ft) 39, then 27; then 15 ft: 12. The starter is 6 ft
    # long, which is not under 6 ft. Each section holds exactly one: six hangers.
    xs = on_run(Line(SIX, SIX_SIZES).hung())
    assert len(xs) == 6
    for x, low, high in zip(xs, (0, 12, 27, 39, 51, 63), (6, 18, 30, 42, 54, 66), strict=True):
        assert low * FT - 0.01 <= x <= high * FT


def test_six_heads_under_joists() -> None:
    centres = [4.0, 15.0, 28.0, 40.0, 52.0, 64.0]
    joists = [beam(f"J{k}", x * FT - 40, x * FT + 40, "Steel JOIST") for k, x in enumerate(centres)]
    route = Line(SIX, SIX_SIZES, obstructions=joists).hung()
    assert on_run(route) == pytest.approx([x * FT for x in centres], abs=0.01)
    assert [h.structure for h in route.hangers] == [f"J{k}" for k in range(6)]
    assert {h.rod for h in route.hangers} == {200.0}


def test_structure_costs_no_hanger() -> None:
    # joists where seven hangers would be needed to use them all: still six, as many below them as can be
    centres = [3.0, 12.5, 20.0, 31.0, 44.0, 60.0]
    joists = [beam(f"J{k}", x * FT - 40, x * FT + 40) for k, x in enumerate(centres)]
    route = Line(SIX, SIX_SIZES, obstructions=joists).hung()
    assert len(on_run(route)) == 6
    assert [h.structure for h in route.hangers if h.structure] == ["J0", "J1"]


@pytest.mark.parametrize(("length", "hangers"), [(72, 1), (71.9, 1), (36, 0), (36.5, 1)])
def test_a_single_head(length: float, hangers: int) -> None:
    # a starter under 6 ft needs none for itself, but the end head does from 36 in. of 1 in. pipe on
    assert len(on_run(Line([length * IN], [25]).hung())) == hangers


@pytest.mark.parametrize(("dn", "inches"), [(25, 36), (32, 48), (40, 60), (50, 60)])
def test_last_hanger_to_end_head(dn: int, inches: float) -> None:
    # the arm to the end head counts
    line = Line([3000.0, 6000.0], [dn, dn], arms={2: 600.0})
    assert line.end - max(on_run(line.hung())) + 600.0 <= inches * IN + 0.01
    # a joist just inside that distance is used, one just outside is not
    for off, used in ((1.5, True), (-1.5, False)):
        x = line.end + 600.0 - inches * IN + off
        joist = beam("J", x - 1.1, x + 1.1)
        found = Line([3000.0, 6000.0], [dn, dn], arms={2: 600.0}, obstructions=[joist]).hung()
        assert any(h.structure == "J" for h in found.hangers) is used


def test_end_head_over_100_psi() -> None:
    line = Line([3000.0, 6000.0], [25, 25], system={"pressure": 7.0})
    (*_, last) = on_run(line.hung())
    assert 6000.0 - last <= 12 * IN + 0.01
    # an arm of 11 in. leaves no room on the run: it gets a hanger itself
    line = Line([3000.0, 6000.0], [25, 25], arms={2: 11 * IN}, system={"pressure": 7.0})
    arms = [h for h in line.hung().hangers if h.kind == "arm"]
    assert [h.piece for h in arms] == ["A2"]
    assert "upward" in line.hung().hangers[1].why
    # uprights keep the longer distance
    line = Line([3000.0, 6000.0], [25, 25], kind="upright", system={"pressure": 7.0})
    assert 6000.0 - on_run(line.hung())[-1] > 12 * IN


def test_heads_under_6_feet_apart_share_hangers() -> None:
    # 5 ft apart: sections need none of their own, hangers at most 12 ft apart even on 2 in. pipe (15 ft)
    stations = [5 * FT * k for k in range(1, 9)]
    xs = on_run(Line(stations, [50] * 8).hung())
    assert all(b - a <= 12 * FT + 0.01 for a, b in pairwise(xs))
    assert len(xs) == 3  # 40 - 5 = 35 ft at least for the last, so 12, 24, 35 at most 12 ft apart
    # 6 ft apart: each section has one
    assert len(on_run(Line([6 * FT * k for k in range(1, 9)], [50] * 8).hung())) == 8


@pytest.mark.parametrize(("arm", "hangers"), [(24 * IN, 0), (24 * IN + 0.2, 1), (1800.0, 1), (4300.0, 2)])
def test_arms(arm: float, hangers: int) -> None:
    route = Line([3000.0, 6000.0, 9000.0], [25] * 3, arms={2: arm}).hung()
    ys = [h.at[1] for h in route.hangers if h.kind == "arm"]
    assert len(ys) == hangers
    if ys:
        assert arm - ys[-1] <= 24 * IN + 0.01
        assert max(b - a for a, b in zip([0.0, *ys], ys, strict=False)) <= 12 * FT + 0.01


def test_clear_of_uprights_and_fittings() -> None:
    # a joist within 3 in. of an upright is not used where there is another place
    near = beam("J", 6000.0 - 75.5, 6000.0 - 70)
    clear = beam("J", 6000.0 - 82.5, 6000.0 - 78)
    for joist, used in ((near, False), (clear, True)):
        line = Line([3000.0, 6000.0, 9000.0], [25] * 3, kind="upright", obstructions=[joist])
        assert any(h.structure == "J" for h in line.hung().hangers) is used
    # pendents: the tee's 1.5 in. (ASME B16.3, from memory, checked in part) and 25 mm
    for off, used in ((-1.5, False), (1.5, True)):
        x = 6000.0 - 1.5 * IN - 25 - off
        joist = beam("J", x - 1.1, x + 1.1)
        line = Line([3000.0, 6000.0, 9000.0], [25] * 3, obstructions=[joist])
        assert any(h.structure == "J" for h in line.hung().hangers) is used


@pytest.mark.parametrize(("sprig", "restrained"), [(4 * FT - 0.5, 0), (4 * FT, 1)])
def test_long_sprigs_are_restrained(sprig: float, restrained: int) -> None:
    route = Line([3000.0, 6000.0], [25, 25], kind="upright", sprig=sprig).hung()
    found = [h for h in route.hangers if h.kind == "sprig_restraint"]
    assert len(found) == 2 * restrained
    assert all(h.at[2] > 3000.0 + sprig / 2 for h in found)


def test_no_structure_above() -> None:
    route = Line(
        SIX, SIX_SIZES, obstructions=[beam("duct 1", 0, 30000, "duct"), beam("low", 0, 30000, under=2990)]
    )
    assert {(h.structure, h.rod) for h in route.hung().hangers} == {(None, None)}


def test_what_is_above_a_point() -> None:
    def solid(name: str, kind: str, low: float) -> Obstruction:
        return Obstruction.model_validate(beam(name, 0, 1000, kind, low))

    above = Overhead([solid("D", "duct", 3100), solid("S", "Floor slab", 3500), solid("U", "beam", 3016.7)])
    points = np.array([[500.0, 0, 3000], [500.0, 0, 3000.5], [500.0, 0, 3200], [5000.0, 0, 3000]])
    radius = np.full(4, 33.4 / 2)
    # touching the pipe's top: the beam; a little higher: the duct is in the way of the slab; above the duct
    found = above.above(points, radius)
    assert found[0] is not None
    assert found[0][0] == "U"
    assert found[1] is None
    assert found[2] == ("S", 300.0)
    assert found[3] is None


def test_structure_of_the_next_storey_holds_nothing() -> None:
    # 3 m of rod at most: common practice, no source
    near, far = (
        Line(SIX, SIX_SIZES, obstructions=[beam("slab", -100, 30000, "slab", under)]).hung().hangers
        for under in (5990.0, 6010.0)
    )
    assert {h.structure for h in near} == {"slab"}
    assert {h.structure for h in far} == {None}
    assert len(near) == len(far)


def test_own_limits_go_first() -> None:
    line = Line([3000.0], [25], rules={"hanger_spacing": 500.0, "hanger_to_end": 400.0})
    xs = [0.0, *on_run(line.hung())]
    assert max(b - a for a, b in pairwise(xs)) <= 500.01
    assert 3000.0 - xs[-1] <= 400.01
    line = Line([3000.0], [25], rules={"tables": {"hanger_spacing": {"25": 2}}})
    xs = [0.0, *on_run(line.hung())]
    assert max(b - a for a, b in pairwise(xs)) <= 2 * FT + 0.01


def test_limits_printed_in_both_units() -> None:
    rules = Line([3000.0], [25]).scenario().rules
    inch, metric = HangerLimits(Tables(), rules), HangerLimits(Tables("metric"), rules)
    assert [inch.spacing(dn).mm / FT for dn in (25, 32, 40, 150)] == pytest.approx([12, 12, 15, 15])
    assert [metric.spacing(dn).mm for dn in (25, 40)] == [3700, 4600]
    assert [metric.to_end(dn).mm for dn in (25, 32, 40)] == [900, 1200, 1500]
    assert inch.to_end(50, high=True).mm == pytest.approx(12 * IN)
    assert [inch.upright().mm, metric.upright().mm] == pytest.approx([3 * IN, 75])
    assert inch.sprig().mm == pytest.approx(4 * FT)
    assert (inch.spacing(25).grade, inch.to_end(25).grade, inch.starter().grade) == ("C", "A", "C")
    # a size without a row takes its smaller neighbour's and says that it is assumed
    assert (inch.spacing(20).mm, inch.spacing(20).grade) == (inch.spacing(25).mm, "D")


def test_the_same_twice() -> None:
    line = Line(SIX, SIX_SIZES, arms={2: 900.0, 5: 700.0}, obstructions=[beam("B", 5000, 9000, "slab")])
    assert place_hangers(line.scenario(), line.route()) == place_hangers(line.scenario(), line.route())
    assert [h.id for h in line.hung().hangers] == [f"HG{k:04d}" for k in range(1, 9)]
