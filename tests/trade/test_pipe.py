"""Pipe dimensions against the fluids package (ASME B36.10M in rounded mm) and EN 10255."""

from __future__ import annotations

from fractions import Fraction
from math import pi
from typing import Any

import pytest
from fluids.piping import nearest_pipe

from router.trade.published import load
from router.trade.sizes import SIZES, nps
from router.trade.tables import Tables

INCH = 25.4


def inches(dn: int) -> float:
    """The nominal size in inches."""
    return float(sum(Fraction(part) for part in nps(dn).split("-")))


def fluids_pipe(dn: int, schedule: str) -> tuple[float, float]:
    """Outside and inside diameter, mm. (fluids annotates NPS as int, and takes 1.25.)"""
    size: Any = inches(dn)
    found, inside, outside, _ = nearest_pipe(NPS=size, schedule=schedule)
    assert found == size
    return outside * 1000, inside * 1000


@pytest.mark.parametrize("dn", SIZES)
def test_inch_pipe_agrees_with_fluids(dn: int) -> None:
    outside, inside = fluids_pipe(dn, "40")
    tables = Tables("inch")
    # fluids keeps diameters to 0.1 mm and walls to 0.01 mm, so bores agree within rounding
    assert tables.od(dn) == pytest.approx(outside, abs=0.06)
    assert tables.bore(dn) == pytest.approx(inside, abs=0.08)
    assert load()["pipe_inch_bore_schedule_10"].mm(dn) == pytest.approx(fluids_pipe(dn, "10")[1], abs=0.08)


# EN 10255 medium series, outside diameter x wall, mm (published sheet to DN50, from memory above)
EN_10255_MEDIUM = {
    15: (21.3, 2.6),
    20: (26.9, 2.6),
    25: (33.7, 3.2),
    32: (42.4, 3.2),
    40: (48.3, 3.2),
    50: (60.3, 3.6),
    65: (76.1, 3.6),
    80: (88.9, 4.0),
    100: (114.3, 4.5),
    125: (139.7, 5.0),
    150: (165.1, 5.0),
}


@pytest.mark.parametrize("dn", EN_10255_MEDIUM)
def test_metric_pipe_is_en_10255_medium(dn: int) -> None:
    outside, wall = EN_10255_MEDIUM[dn]
    tables = Tables("metric")
    assert tables.od(dn) == outside
    assert tables.bore(dn) == pytest.approx(outside - 2 * wall, abs=1e-9)


def test_en_10255_has_no_dn90() -> None:
    tables = Tables("metric")
    assert 90 not in tables.sizes
    assert set(tables.sizes) == set(EN_10255_MEDIUM)
    with pytest.raises(ValueError, match="no metric pipe of size DN90; there is DN15"):
        tables.od(90)


def test_inch_pipe_is_made_in_every_size() -> None:
    assert Tables("inch").sizes == SIZES


def test_one_inch_in_inches() -> None:
    # ASME B36.10M: NPS 1, Schedule 40: 1.315 x 0.133 in.
    tables = Tables()
    assert tables.od(25) / INCH == pytest.approx(1.315)
    assert tables.bore(25) / INCH == pytest.approx(1.315 - 2 * 0.133)


@pytest.mark.parametrize("dn", SIZES)
def test_weight_and_volume_agree_with_fluids(dn: int) -> None:
    # ASME B36.10M, Schedule 40, as fluids keeps it in rounded mm; steel 7850 kg/m3 (common practice)
    outside, inside = fluids_pipe(dn, "40")
    tables = Tables("inch")
    # a bore 0.08 mm off changes a thin ring's weight by up to 2 %
    assert tables.weight_per_m(dn) == pytest.approx(7850 * pi / 4 * (outside**2 - inside**2) / 1e6, rel=0.02)
    assert tables.litres_per_m(dn) == pytest.approx(pi / 4 * inside**2 / 1000, rel=0.012)


def test_volume_in_closed_form() -> None:
    # 2 in. Schedule 40, bore 2.067 in.: a foot holds pi/4 x 2.067^2 x 12 cubic inches, a gallon 231
    gallons_per_foot = pi / 4 * 2.067**2 * 12 / 231
    assert Tables().litres_per_m(50) * 0.3048 / 3.785411784 == pytest.approx(gallons_per_foot, rel=1e-12)
    assert gallons_per_foot == pytest.approx(0.1743, abs=5e-5)


@pytest.mark.parametrize(
    ("dn", "gallons_per_foot", "feet"),
    # Schedule 40: contents of a foot of pipe, and whole feet that hold 5 gal (handbook table, from memory)
    [
        (25, 0.0449, 111),
        (32, 0.0777, 64),
        (40, 0.1058, 47),
        (50, 0.1743, 29),
        (65, 0.2487, 20),
        (80, 0.384, 13),
        (100, 0.6613, 8),
    ],
)
def test_feet_that_hold_five_gallons(dn: int, gallons_per_foot: float, feet: int) -> None:
    found = Tables().litres_per_m(dn) * 0.3048 / 3.785411784
    assert found == pytest.approx(gallons_per_foot, abs=6e-5)
    assert round(5 / found) == feet


def test_the_density_may_be_given() -> None:
    tables = Tables(overrides={"steel_density": {"steel": 8000}, "pipe_inch_od": {"2": 2.5}})
    od, bore = 2.5 * INCH, 2.067 * INCH
    assert tables.weight_per_m(50) == pytest.approx(8000 * pi / 4 * (od**2 - bore**2) / 1e6)
    with pytest.raises(ValueError, match="no metric pipe of size DN90"):
        Tables("metric").weight_per_m(90)
