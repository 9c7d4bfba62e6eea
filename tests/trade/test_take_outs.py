"""Centre-to-end lengths against the values of the standards, typed here by hand.

Those of ASME B16.3, B16.9 (45s, tees) and EN 10242 are from memory, as in the tables.
"""

from __future__ import annotations

import pytest

from router.trade.sizes import SIZES, parse_size
from router.trade.tables import Tables

INCH = 25.4

# ASME B16.3 class 150, in.: size, 90 degree elbow / tee, 45 degree elbow
B16_3 = [
    ("1/2", 1.12, 0.88),
    ("3/4", 1.31, 0.98),
    ("1", 1.50, 1.12),
    ("1-1/4", 1.75, 1.29),
    ("1-1/2", 1.94, 1.43),
    ("2", 2.25, 1.68),
    ("2-1/2", 2.70, 1.95),
    ("3", 3.08, 2.17),
    ("4", 3.79, 2.61),
]
# ASME B16.3 class 150 reducing tees, in.: run, outlet, centre to run end, centre to outlet end
B16_3_REDUCING = [
    ("3/4", "1/2", 1.20, 1.22),
    ("1", "1/2", 1.26, 1.36),
    ("1", "3/4", 1.37, 1.45),
    ("1-1/4", "1", 1.58, 1.67),
    ("1-1/2", "1", 1.65, 1.80),
    ("2", "1", 1.73, 2.02),
    ("2", "1-1/2", 2.02, 2.16),
]
# EN 10242, mm: DN, a of elbow and tee, z, a of the 45
EN_10242 = [(15, 28, 15, 22), (20, 33, 18, 25), (25, 38, 21, 28), (32, 45, 26, 33), (40, 50, 31, 36)]
EN_10242 += [(50, 58, 34, 43)]


@pytest.mark.parametrize(("size", "centre_90", "centre_45"), B16_3)
def test_threaded_inch(size: str, centre_90: float, centre_45: float) -> None:
    tables, dn = Tables("inch"), parse_size(size)
    for fitting in ("tee", "cross", "elbow_90"):
        for port in ("run", "outlet"):
            assert tables.take_out(fitting, port, dn, joining="threaded") == pytest.approx(centre_90 * INCH)
    assert tables.take_out("elbow_45", "run", dn, joining="threaded") == pytest.approx(centre_45 * INCH)


@pytest.mark.parametrize(("run", "outlet", "run_end", "outlet_end"), B16_3_REDUCING)
def test_reducing_tee_inch(run: str, outlet: str, run_end: float, outlet_end: float) -> None:
    tables, dn, outlet_dn = Tables("inch"), parse_size(run), parse_size(outlet)
    assert tables.take_out("tee", "run", dn, outlet_dn, joining="threaded") == pytest.approx(run_end * INCH)
    assert tables.take_out("tee", "outlet", dn, outlet_dn, joining="threaded") == pytest.approx(
        outlet_end * INCH
    )
    assert tables.found("tee", "run", dn, outlet_dn, joining="threaded").sure == "B"
    # reducing elbows and crosses use the same pairs: from memory
    for other in ("elbow_90", "cross"):
        found = tables.found(other, "outlet", dn, outlet_dn, joining="threaded")
        assert found.mm == pytest.approx(outlet_end * INCH)
        assert found.sure == "C"
        assert "from memory" in found.source


@pytest.mark.parametrize(("dn", "a", "z", "a_45"), EN_10242)
def test_threaded_metric(dn: int, a: float, z: float, a_45: float) -> None:
    tables = Tables("metric")
    assert tables.take_out("tee", "run", dn, joining="threaded") == a
    assert tables.take_out("elbow_45", "run", dn, joining="threaded") == a_45
    # EN 10242: z = a - engagement
    assert tables.take_out("elbow_90", "run", dn, joining="threaded") - tables.engagement(
        dn, joining="threaded"
    ) == pytest.approx(z)


def test_reducing_tee_metric() -> None:
    # EN 10242, 1-1/4 x 1: 40 / 42 mm
    tables = Tables("metric")
    assert tables.take_out("tee", "run", 32, 25, joining="threaded") == 40
    assert tables.take_out("tee", "outlet", 32, 25, joining="threaded") == 42


def test_without_a_row_the_full_size_is_taken_and_said_to_be_doubtful() -> None:
    found = Tables().found("tee", "run", 65, 25, joining="threaded")
    assert found.mm == pytest.approx(2.70 * INCH)  # ASME B16.3, 2-1/2 in.
    assert found.sure == "D"
    assert "no row for this reducing size" in found.source
    metric = Tables("metric").found("tee", "run", 125, joining="threaded")
    assert metric.sure == "D"
    assert "no EN 10242 row" in metric.source


def test_a_bull_head_tee_takes_the_larger_size() -> None:
    found = Tables().found("tee", "run", 25, 40, joining="threaded")
    assert found.mm == pytest.approx(1.94 * INCH)
    assert found.sure == "D"


@pytest.mark.parametrize("dn", [dn for dn in SIZES if dn >= 25])
def test_long_radius_elbow_is_one_and_a_half_diameters(dn: int) -> None:
    # ASME B16.9: centre to end of a long-radius elbow = 1.5 x NPS from 1 in. up (rounded to 0.01 in.)
    nominal = {25: 1, 32: 1.25, 40: 1.5, 50: 2, 65: 2.5, 80: 3, 90: 3.5, 100: 4, 125: 5, 150: 6}[dn]
    for joining in ("butt_weld", "welded"):
        found = Tables().found("elbow_90", "run", dn, joining=joining)
        assert found.mm / INCH == pytest.approx(1.5 * nominal, abs=0.006)
        assert found.sure == "A"


@pytest.mark.parametrize("dn", [80, 90, 100, 125, 150])
def test_45_is_the_same_bend_cut_short(dn: int) -> None:
    # geometry: centre to end = radius x tan(22.5 deg), radius = 1.5 x NPS; B16.9 rounds to 1/8 in. or so
    tables = Tables()
    radius = tables.take_out("elbow_90", "run", dn, joining="butt_weld")
    assert tables.take_out("elbow_45", "run", dn, joining="butt_weld") == pytest.approx(
        radius * 0.41421356, abs=0.14 * INCH
    )


def test_butt_weld_tees() -> None:
    tables = Tables()
    # ASME B16.9, from memory: 2 in. tee C 2.50 in., 2 x 1 outlet M 2.00 in.
    assert tables.take_out("tee", "run", 50, 25, joining="butt_weld") == pytest.approx(2.50 * INCH)
    assert tables.take_out("tee", "outlet", 50, 25, joining="butt_weld") == pytest.approx(2.00 * INCH)
    assert tables.found("tee", "outlet", 150, 25, joining="butt_weld").sure == "D"
    assert "metric pipe" in Tables("metric").found("tee", "run", 50, joining="butt_weld").source


def test_reducer() -> None:
    tables = Tables()
    # ASME B16.3 reducing coupling, from memory: M 1.69 in. at 1 in.
    assert tables.take_out("reducer", "run", 25, 15, joining="threaded") == pytest.approx(1.69 * INCH)
    assert tables.take_out("reducer", "outlet", 25, 20, joining="threaded") == pytest.approx(1.69 * INCH)
    longer = tables.found("reducer", "run", 90, 80, joining="threaded")
    assert longer.sure == "D"
    assert longer.mm > tables.take_out("reducer", "run", 80, 65, joining="threaded")


def test_grooved() -> None:
    tables = Tables()
    # published sheet: 2 in. grooved elbow 3.25 in., 45 degrees 2.00 in.
    assert tables.take_out("elbow_90", "run", 50, joining="grooved") == pytest.approx(3.25 * INCH)
    assert tables.take_out("elbow_45", "run", 50, joining="grooved") == pytest.approx(2.00 * INCH)
    with pytest.raises(ValueError, match="no row DN20"):
        tables.take_out("elbow_90", "run", 20, joining="grooved")


@pytest.mark.parametrize("joining", ["welded", "grooved"])
@pytest.mark.parametrize("run", [50, 100])
@pytest.mark.parametrize("outlet", [25, 50])
def test_outlets_on_an_uncut_run_are_assumptions(joining: str, run: int, outlet: int) -> None:
    tables = Tables()
    end = tables.found("outlet", "outlet", run, outlet, joining=joining)
    room = tables.found("outlet", "run", run, outlet, joining=joining)
    for found in (end, room):
        assert found.sure == "D"
        assert "assumed, doubtful" in found.source
    assert end.mm > tables.od(run) / 2  # geometry: outside the run
    assert room.mm > tables.od(outlet) / 2  # geometry: clear of the outlet's own pipe


def test_two_welded_outlets_keep_the_house_rule_gap() -> None:
    # by hand, all assumed: boss 1.64 in., two fillets of 1/4 in., 50 mm toe to toe
    tables = Tables()
    room = tables.take_out("outlet", "run", 50, 25, joining="welded")
    centres = tables.least_centres(room, room, 50, joining="welded")
    assert centres == pytest.approx((1.64 + 0.5) * INCH + 50, abs=1e-9)
    assert centres == pytest.approx(104.4, abs=0.05)


def test_an_odd_bend_takes_the_90s_length() -> None:
    found = Tables().found("elbow_odd", "run", 25, joining="threaded")
    assert found.mm == pytest.approx(1.50 * INCH)
    assert found.sure == "D"


@pytest.mark.parametrize(
    ("fitting", "port", "outlet", "joining", "says"),
    [
        ("wye", "run", None, "threaded", "fitting 'wye' is not one of tee"),
        ("tee", "side", None, "threaded", "port 'side' is not one of run, outlet"),
        ("tee", "run", None, "glued", "joining 'glued' is not one of threaded"),
        ("outlet", "run", None, "threaded", "takes a tee"),
        ("elbow_45", "run", 20, "threaded", "no 45 degree elbow reduces: 1 x 3/4 in."),
    ],
)
def test_faults(fitting: str, port: str, outlet: int | None, joining: str, says: str) -> None:
    with pytest.raises(ValueError, match=says):
        Tables().take_out(fitting, port, 25, outlet, joining=joining)
