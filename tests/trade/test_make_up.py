"""Make-up arithmetic: two take-outs, the nipple and two engagements, worked by hand."""

from __future__ import annotations

import math

import pytest

from router.trade.sizes import SIZES, parse_size
from router.trade.tables import Tables

INCH = 25.4

# ASME B1.20.1: threads per inch and hand-tight engagement L1, in. (published)
B1_20_1 = {
    "1/2": (14, 0.320),
    "3/4": (14, 0.339),
    "1": (11.5, 0.400),
    "1-1/4": (11.5, 0.420),
    "1-1/2": (11.5, 0.420),
    "2": (11.5, 0.436),
    "2-1/2": (8, 0.682),
    "3": (8, 0.766),
    "3-1/2": (8, 0.821),
    "4": (8, 0.844),
    "5": (8, 0.937),
    "6": (8, 0.958),
}


@pytest.mark.parametrize("size", B1_20_1)
def test_engagement_is_hand_tight_plus_wrench_turns(size: str) -> None:
    # wrench make-up L3: three turns to 2 in., two above (from memory)
    threads, hand_tight = B1_20_1[size]
    dn = parse_size(size)
    turns = 3 if dn <= 50 else 2
    expected = hand_tight + turns / threads
    assert Tables().engagement(dn, joining="threaded") / INCH == pytest.approx(expected, abs=0.001)


def test_only_threads_engage() -> None:
    for joining in ("welded", "butt_weld", "grooved"):
        assert Tables().engagement(50, joining=joining) == 0


def test_tee_to_tee_one_inch_shouldered() -> None:
    # by hand: 2 x 1.50 + 2.00 - 2 x 0.661 = 3.678 in.
    tables = Tables()
    tee = tables.take_out("tee", "run", 25, joining="threaded")
    assert tables.least_centres(tee, tee, 25, joining="threaded") == pytest.approx(3.678 * INCH)


def test_tee_to_tee_one_inch_close() -> None:
    # by hand: 2 x 1.50 + 1.50 - 2 x 0.661 = 3.178 in.
    tables = Tables()
    tee = tables.take_out("tee", "run", 25, joining="threaded")
    assert tables.least_centres(tee, tee, 25, joining="threaded", close=True) == pytest.approx(3.178 * INCH)


def test_least_rise_of_a_return_bend() -> None:
    # by hand, 1-1/4 x 1 tee, 1 in. elbow, close nipple: 1.67 + 1.50 + 1.50 - 2 x 0.661 = 3.348 in.
    tables = Tables()
    tee = tables.take_out("tee", "outlet", 32, 25, joining="threaded")
    elbow = tables.take_out("elbow_90", "run", 25, joining="threaded")
    assert tables.least_centres(tee, elbow, 25, joining="threaded", close=True) == pytest.approx(3.348 * INCH)


def test_least_set_of_a_45_offset() -> None:
    # trade arithmetic: travel = 1.414 x set. By hand at 1 in. with a close nipple:
    # (2 x 1.12 + 1.50 - 2 x 0.661) / 1.41421 = 1.710 in.
    tables = Tables()
    elbow = tables.take_out("elbow_45", "run", 25, joining="threaded")
    travel = tables.least_centres(elbow, elbow, 25, joining="threaded", close=True)
    assert travel / math.sqrt(2) / INCH == pytest.approx(1.710, abs=0.0005)


def test_cut_length_of_a_45_offset() -> None:
    # by hand: 1-1/4 in., set 10 in.: 14.142 - 2 x 1.29 + 2 x 0.681 = 12.924 in. of pipe
    tables = Tables()
    elbow = tables.take_out("elbow_45", "run", 32, joining="threaded")
    travel = math.hypot(10 * INCH, 10 * INCH)
    pipe = travel - 2 * elbow + 2 * tables.engagement(32, joining="threaded")
    assert pipe / INCH == pytest.approx(12.924, abs=0.001)


def test_butt_weld_tees_touch() -> None:
    # ASME B16.9 tee, from memory: 2 in. C 2.50 in.
    tables = Tables()
    tee = tables.take_out("tee", "run", 50, joining="butt_weld")
    assert tables.least_centres(tee, tee, 50, joining="butt_weld") == pytest.approx(5.00 * INCH)


def test_grooved_tees_keep_the_gap() -> None:
    # published sheet 3.25 in. each, gap 0.06 in. from memory
    tables = Tables()
    tee = tables.take_out("tee", "run", 50, joining="grooved")
    assert tables.least_centres(tee, tee, 50, joining="grooved") == pytest.approx(6.56 * INCH)


@pytest.mark.parametrize("close", [True, False])
@pytest.mark.parametrize("standard", ["inch", "metric"])
def test_fittings_never_overlap(standard: str, close: bool) -> None:
    # physics: ends of two fittings cannot pass each other, so a nipple is two engagements at least
    tables = Tables("inch" if standard == "inch" else "metric")
    for dn in tables.sizes:
        nipple = tables.shortest_nipple(dn, joining="threaded", close=close)
        assert nipple >= 2 * tables.engagement(dn, joining="threaded")


def test_a_close_nipple_is_the_lower_limit() -> None:
    tables = Tables()
    for dn in SIZES:
        close = tables.shortest_nipple(dn, joining="threaded", close=True)
        assert close <= tables.shortest_nipple(dn, joining="threaded")
    # ASTM A733 close nipples, in. (published)
    for dn, length in {40: 1.75, 50: 2.0, 80: 2.625, 100: 2.875}.items():
        assert tables.shortest_nipple(dn, joining="threaded", close=True) == pytest.approx(length * INCH)


def test_metric_nipple_shows_bare_thread() -> None:
    # EN 10242 at DN25: engagement 17 mm; two of them and 2 (close) or 5 mm of bare thread (assumed)
    tables = Tables("metric")
    assert tables.shortest_nipple(25, joining="threaded", close=True) == 2 * 17 + 2
    assert tables.shortest_nipple(25, joining="threaded") == 2 * 17 + 5
    tee = tables.take_out("tee", "run", 25, joining="threaded")
    assert tables.least_centres(tee, tee, 25, joining="threaded") == 2 * 38 + 5


def test_unknown_joining_is_named() -> None:
    for look_up in (Tables().engagement, Tables().shortest_nipple):
        with pytest.raises(ValueError, match="joining 'glued' is not one of threaded"):
            look_up(25, joining="glued")
