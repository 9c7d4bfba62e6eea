"""Faults of a price table. All prices are invented."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pytest

from router.scenario import Fault, parse_scenario

if TYPE_CHECKING:
    from collections.abc import Callable

    FaultsOf = Callable[[Any], list[Fault]]

FULL: dict[str, Any] = {
    "currency": "EUR",
    "minute": 0.6,
    "pipe": {"1": {"price": 4, "minutes": 5}, "DN32": {"price": 5}},
    "fittings": {
        "tee": {"1-1/4": {"price": 3, "minutes": 12}, "other": {"price": 8}},
        "bushing": {"1-1/2": {"price": 2}},
    },
    "hanger": {"price": 4},
    "drain": {"price": 20, "minutes": 30},
    "as_objective": True,
}

CASES = [
    # what is put in; place, value, unit, part of the message
    ({"pipe": {"5/8": {"price": 1}}}, "prices.pipe.5/8", '"5/8"', "", "not a nominal pipe size"),
    ({"pipe": {"": {"price": 1}}}, "prices.pipe.", '""', "", "not a nominal pipe size"),
    ({"pipe": {"other": {"price": 1}}}, "prices.pipe.other", '"other"', "", "not a nominal pipe size"),
    ({"pipe": {"25": {}, "1 in": {}}}, "prices.pipe.1 in", '"1 in"', "", 'the same size as "25"'),
    ({"pipe": {"25": {"price": -1}}}, "prices.pipe.25.price", "-1", "EUR", "0 or more"),
    ({"pipe": {"25": {"minutes": -2}}}, "prices.pipe.25.minutes", "-2", "min", "0 or more"),
    ({"fittings": {"wye": {}}}, "prices.fittings.wye", '"wye"', "", "kinds are tee, cross"),
    ({"fittings": {"tee": {"7": {}}}}, "prices.fittings.tee.7", '"7"', "", 'or "other"'),
    (
        {"fittings": {"tee": {"other": {"price": -3}}}},
        "prices.fittings.tee.other.price",
        "-3",
        "EUR",
        "0 or more",
    ),
    ({"hose": {"price": -5}}, "prices.hose.price", "-5", "EUR", "0 or more"),
    ({"minute": -1, "currency": "CHF"}, "prices.minute", "-1", "CHF", "0 or more"),
]


@pytest.mark.parametrize(
    ("prices", "place", "value", "unit", "message"), CASES, ids=[f"{c[1]}-{c[4][:12]}" for c in CASES]
)
def test_fault_names_place_value_and_unit(
    small: dict[str, Any],
    faults_of: FaultsOf,
    prices: dict[str, Any],
    place: str,
    value: str,
    unit: str,
    message: str,
) -> None:
    small["prices"] = prices
    (fault,) = faults_of(small)
    assert (fault.place, fault.item, fault.value, fault.unit) == (place, "prices", value, unit)
    assert message in fault.message


def test_a_full_table_passes(small: dict[str, Any]) -> None:
    small["prices"] = FULL
    small["weights"] = {"price": 2}
    assert parse_scenario(small).prices is not None


def test_metric_pipe_has_no_dn90(small: dict[str, Any], faults_of: FaultsOf) -> None:
    """EN 10255 lists no DN90 (from memory)."""
    small["prices"] = {"pipe": {"3-1/2": {"price": 1}}}
    parse_scenario(small)
    small["system"] = {"standard": "metric"}
    (fault,) = faults_of(small)
    assert (fault.place, fault.value) == ("prices.pipe.3-1/2", '"3-1/2"')


@pytest.mark.parametrize(
    ("prices", "clean"),
    [
        ({}, False),
        ({"pipe": {"1": {"minutes": 5}}}, False),  # minutes without the price of one
        ({"minute": 1}, False),
        ({"pipe": {"1": {"minutes": 5}}, "minute": 0.01}, True),
        ({"hose": {"price": 0.01}}, True),
    ],
)
def test_the_least_price_needs_a_price(
    small: dict[str, Any], faults_of: FaultsOf, prices: dict[str, Any], clean: bool
) -> None:
    small["prices"] = {**prices, "as_objective": True}
    if clean:
        parse_scenario(small)
        return
    (fault,) = faults_of(small)
    assert (fault.place, fault.item, fault.value) == ("prices.as_objective", "prices", "true")
    assert "at least one price above 0" in fault.message


def test_several_faults_at_once(small: dict[str, Any], faults_of: FaultsOf) -> None:
    small["prices"] = {"pipe": {"9": {"price": -1}}, "fittings": {"bend": {"1": {"minutes": -1}}}}
    places = {fault.place for fault in faults_of(small)}
    assert places == {
        "prices.pipe.9",
        "prices.pipe.9.price",
        "prices.fittings.bend",
        "prices.fittings.bend.1.minutes",
    }
