"""Weight and water of pipe against published figures and a general-purpose reference library."""

from __future__ import annotations

from math import pi

import pytest
from fluids.piping import nearest_pipe

from router.compare.quantities import sources, totals
from router.trade.tables import Tables

INCH = Tables("inch")
STEEL_KG_M3 = 7850.0  # common practice, no source


@pytest.mark.parametrize(
    ("dn", "kg_per_m"),
    [(15, 1.27), (20, 1.69), (25, 2.50), (32, 3.39), (40, 4.05), (50, 5.44), (65, 8.63), (80, 11.29),
     (100, 16.07), (150, 28.26)],
)  # fmt: skip
def test_plain_end_weight_of_schedule_40(dn: int, kg_per_m: float) -> None:
    """ASME B36.10M, plain end weights of Schedule 40 (published to 0.01 kg/m; from memory)."""
    assert INCH.weight_per_m(dn) == pytest.approx(kg_per_m, abs=0.015)


@pytest.mark.parametrize(("dn", "kg_per_m"), [(25, 2.41), (32, 3.10), (40, 3.56), (50, 5.03)])
def test_plain_end_weight_of_medium_pipe(dn: int, kg_per_m: float) -> None:
    """EN 10255 medium series, plain end masses (from memory)."""
    assert Tables("metric").weight_per_m(dn) == pytest.approx(kg_per_m, rel=0.02)


@pytest.mark.parametrize(
    ("dn", "od_inch"), [(25, 1.315), (32, 1.660), (40, 1.900), (50, 2.375), (65, 2.875), (100, 4.500)]
)
def test_against_the_pipe_tables_of_fluids(dn: int, od_inch: float) -> None:
    """The library fluids has ASME B36.10M: the first pipe that is at least so wide, its diameters in m."""
    _, inside, outside, _ = nearest_pipe(Do=od_inch * 0.0254 - 5e-4, schedule="40")
    kg = STEEL_KG_M3 * pi / 4 * (outside**2 - inside**2)
    assert INCH.weight_per_m(dn) == pytest.approx(kg, rel=0.005)
    assert INCH.litres_per_m(dn) == pytest.approx(1000.0 * pi / 4 * inside**2, rel=0.005)


def test_water_by_hand() -> None:
    # 1 in. Schedule 40: bore 1.049 in. = 26.6446 mm, so 557.6 mm2: 0.5576 l a metre
    assert INCH.litres_per_m(25) == pytest.approx(0.5576, abs=1e-4)


def test_totals_add_up_and_skip_sizes_that_are_not_made() -> None:
    kg, litres = totals(INCH, {"25": 10.0, "50": 2.0, "77": 5.0})
    assert kg == pytest.approx(10 * 2.50 + 2 * 5.44, abs=0.1)
    assert litres == pytest.approx(10 * 0.5576 + 2 * pi / 4 * (2.067 * 25.4) ** 2 / 1000, abs=1e-3)


def test_sources_carry_their_grades() -> None:
    assert all("grade" in line for line in sources(INCH)[1:])
    changed = Tables("inch", {"pipe_inch_od": {"1": 1.4}})
    assert any("given in the scenario" in line for line in sources(changed))
