"""Look-ups in a scenario's own prices. All prices here are invented."""

from __future__ import annotations

from typing import get_args

import pytest

from router.route.model import FittingKind
from router.scenario.model import PriceTable
from router.trade.prices import EACH, FITTING_KINDS, PriceBook

TABLE = PriceTable.model_validate(
    {
        "currency": "EUR",
        "minute": 0.5,
        "pipe": {"1": {"price": 4, "minutes": 6}, "1-1/4": {"price": 5}},
        "fittings": {
            "tee": {"DN25": {"price": 2, "minutes": 10}, "other": {"price": 9, "minutes": 20}},
            "elbow_90": {"1 in.": {"price": 1.5}},
        },
        "hanger": {"price": 3, "minutes": 8},
        "drain": {"price": 20},
        "large_drain": {"price": 60, "minutes": 40},
        "wet_drain": {"minutes": 4},
        "hose": {"price": 30},
    }
)


def test_prices_include_the_labour() -> None:
    book = PriceBook.of(TABLE)
    assert book.pipe(25) == pytest.approx(4 + 6 * 0.5)
    assert book.pipe(32) == pytest.approx(5)
    assert book.fitting("tee", 25) == pytest.approx(2 + 10 * 0.5)
    assert book.hanger == pytest.approx(7)
    assert book.drain == pytest.approx(20)
    assert book.large_drain == pytest.approx(80)
    assert book.wet_drain == pytest.approx(2)
    assert book.hose == pytest.approx(30)


def test_size_then_other_then_nothing() -> None:
    book = PriceBook.of(TABLE)
    assert book.fitting("tee", 50) == pytest.approx(9 + 20 * 0.5)
    assert book.fitting("elbow_90", 32) == 0
    assert book.fitting("cross", 25) == 0
    assert book.pipe(50) == 0
    assert [book.knows_fitting("tee", 50), book.knows_fitting("elbow_90", 32)] == [True, False]
    assert [book.knows_pipe(25), book.knows_pipe(50)] == [True, False]


def test_minutes() -> None:
    book = PriceBook.of(TABLE)
    assert book.minutes_of_pipe(25) == 6
    assert book.minutes_of_fitting("tee", 25) == 10
    assert book.minutes_of_fitting("tee", 40) == 20
    assert [book.minutes_of(name) for name in EACH] == [8, 0, 40, 4, 0]


def test_the_dearest_thing() -> None:
    # 50 m of 1 in. pipe at 7 against 20 + 80 for the larger drain
    assert PriceBook.of(TABLE).dearest() == pytest.approx(350)
    assert PriceBook.of(PriceTable.model_validate({"drain": {"price": 5}})).dearest() == 5
    assert PriceBook.of(PriceTable()).dearest() == 0


def test_an_empty_table_costs_nothing() -> None:
    book = PriceBook.of(PriceTable())
    assert book.pipe(25) == book.fitting("tee", 25) == book.hanger == book.hose == 0


def test_a_key_that_is_no_size_is_named() -> None:
    with pytest.raises(ValueError, match="'5/8' is not a nominal pipe size"):
        PriceBook.of(PriceTable.model_validate({"pipe": {"5/8": {"price": 1}}}))


def test_kinds_are_those_of_a_route() -> None:
    assert set(FITTING_KINDS) == set(get_args(FittingKind))
