"""A scenario's own table values, and where every value says it comes from."""

from __future__ import annotations

from typing import Any

import pytest

from router.trade.published import load
from router.trade.sizes import SIZES
from router.trade.tables import Tables


def test_an_override_changes_that_row_only() -> None:
    tables = Tables(overrides={"threaded_90": {"1": 1.625}})
    assert tables.take_out("tee", "run", 25, joining="threaded") == pytest.approx(1.625 * 25.4)
    assert tables.take_out("tee", "run", 32, joining="threaded") == pytest.approx(1.75 * 25.4)
    # and leaves the published tables alone
    assert Tables().take_out("tee", "run", 25, joining="threaded") == pytest.approx(1.50 * 25.4)


def test_rows_are_named_by_any_spelling_of_the_size() -> None:
    for row in ("1-1/4", "DN32", "32", 32):
        tables = Tables(overrides={"nipple_shouldered": {row: 3.0}})
        assert tables.shortest_nipple(32, joining="threaded") == pytest.approx(3.0 * 25.4)


def test_a_missing_row_may_be_given() -> None:
    tables = Tables(overrides={"reducing_tee_run": {"2-1/2x1": 1.9}})
    found = tables.found("tee", "run", 65, 25, joining="threaded")
    assert found.mm == pytest.approx(1.9 * 25.4)
    assert "given in the scenario" in found.source


def test_an_override_says_so_at_its_source() -> None:
    text, grade = Tables(overrides={"threaded_90": {"1": 1.625}}).source("threaded_90")
    assert "ASME B16.3" in text
    assert "given in the scenario: 1" in text
    assert grade == "B"


def test_the_numbers_of_every_kind_of_table() -> None:
    tables = Tables(
        overrides={
            "schedule_light": {"25": 1},
            "pitch_dry": {"branch": 5},
            "hose_lengths": {"stock": [30, 20]},
            "hose_max_bends": {"24": 2},
            "arm_unsupported": {"steel": 12},
            "grooved_gap": {"gap": 0.125},
        }
    )
    assert tables.size_for_heads(2, "light") == 32
    assert tables.hose_lengths() == pytest.approx([20 * 25.4, 30 * 25.4])
    assert [tables.hose_max_bends(length * 25.4) for length in (24, 36)] == [2, 3]
    assert tables.arm_unsupported() == pytest.approx(304.8)
    assert tables.shortest_nipple(50, joining="grooved") == pytest.approx(0.125 * 25.4)


FAULTS: list[tuple[dict[str, Any], str]] = [
    ({"threaded_91": {"1": 1.5}}, "no table 'threaded_91'; tables: arm_unsupported"),
    ({"threaded_90": {"7": 1.5}}, "threaded_90: row '7' is not a size"),
    ({"reducing_tee_run": {"2x": 1.5}}, "reducing_tee_run: row '2x' is not a run x outlet"),
    ({"grooved_gap": {"slot": 1}}, "grooved_gap: no row 'slot'; rows: 'gap'"),
    ({"hose_max_bends": {"long": 1}}, "hose_max_bends: row 'long' is not a length"),
    ({"threaded_90": {"1": "1.5"}}, "threaded_90.1: '1.5' is not a number of 0 or more \\(unit: in\\)"),
    ({"threaded_90": {"1": -1}}, "threaded_90.1: -1 is not a number"),
    ({"threaded_90": {"1": True}}, "threaded_90.1: True is not a number"),
    ({"threaded_90": {"1": float("nan")}}, "threaded_90.1: nan is not a number"),
    ({"threaded_90": 1.5}, "threaded_90: 1.5 is not a set of rows"),
    ({"hose_lengths": {"stock": 30}}, "hose_lengths.stock: 30 is not a list of numbers"),
    ({"hose_lengths": {"stock": []}}, "hose_lengths.stock: \\[\\] is not a list of numbers"),
]


@pytest.mark.parametrize(("overrides", "says"), FAULTS)
def test_faults_name_table_row_and_value(overrides: dict[str, Any], says: str) -> None:
    with pytest.raises(ValueError, match=says):
        Tables(overrides=overrides)


def test_unknown_names() -> None:
    with pytest.raises(ValueError, match="no table 'elbows'"):
        Tables().source("elbows")
    with pytest.raises(ValueError, match="standard 'imperial' is not one of inch, metric"):
        Tables("imperial")  # type: ignore[arg-type]


UNITS = ("in", "mm", "ft", "mm/m", "heads", "bends", "gal", "DN", "kg/m3", "made", "sizes")


def test_every_table_says_where_it_comes_from_and_how_sure_it_is() -> None:
    for name, table in load().items():
        assert table.unit in UNITS, name
        assert table.sure in "ABCD", name
        if table.sure in "CD":
            assert "from memory" in table.source, name
        assert set(table.sure_rows) <= set(table.values), name


def test_assumptions_are_listed_until_the_scenario_gives_them() -> None:
    listed = dict(Tables().assumptions())
    assert {"welded_outlet_height", "mechanical_tee_side", "nipple_shouldered"} <= set(listed)
    given = Tables(overrides={"mechanical_tee_side": {"side": 1.0}})
    assert "mechanical_tee_side" not in dict(given.assumptions())
    assert given.found("outlet", "run", 50, 25, joining="grooved").sure == "A"


def test_every_size_can_be_built() -> None:
    # a route may ask for any size that its standard's pipe is made in
    for tables in (Tables("inch"), Tables("metric")):
        for dn in tables.sizes:
            for outlet in (size for size in tables.sizes if size <= dn):
                for joining in ("threaded", "butt_weld"):
                    for fitting in ("tee", "cross", "elbow_90"):
                        for port in ("run", "outlet"):
                            assert tables.take_out(fitting, port, dn, outlet, joining=joining) > 0
                assert tables.take_out("outlet", "outlet", dn, outlet, joining="welded") > 0
        assert set(tables.sizes) <= set(SIZES)
