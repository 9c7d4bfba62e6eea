"""Pipe dimensions against the fluids package (ASME B36.10M in rounded mm) and EN 10255."""

from __future__ import annotations

from fractions import Fraction
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
