"""Nominal sizes: every spelling, and what is none."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from router.trade.sizes import SIZES, label, nps, parse_size


@pytest.mark.parametrize(
    ("value", "dn"),
    [
        ("1-1/4", 32),
        ("1 1/4 in", 32),
        ("1-1/4 in.", 32),
        ('1-1/4"', 32),
        ("1¼", 32),
        ("½", 15),
        ("DN32", 32),
        ("dn 32", 32),
        ("32", 32),
        (32, 32),
        (32.0, 32),
        ('3/4"', 20),
        ("1/2", 15),
        ("2", 50),
        ("2.5", 65),
        (2, 50),
        (1.25, 32),
        ("6 inch", 150),
    ],
)
def test_spellings(value: object, dn: int) -> None:
    assert parse_size(value) == dn


@pytest.mark.parametrize(
    "value",
    [
        "",
        "in",
        "DN",
        "7",
        "DN33",
        "DN1",
        "1-1/3",
        "1/0",
        "32 in",
        "1 1",
        "-1",
        "1-1/4 mm",
        33,
        0,
        -25,
        0.3,
        True,
        None,
        [25],
        float("nan"),
    ],
)
def test_what_is_no_size_is_named(value: object) -> None:
    with pytest.raises(ValueError, match="nominal pipe size; accepted: an NPS") as fault:
        parse_size(value)
    assert repr(value) in str(fault.value)


@pytest.mark.parametrize("dn", SIZES)
def test_written_sizes_are_read_back(dn: int) -> None:
    assert parse_size(nps(dn)) == dn
    assert parse_size(label(dn, "inch")) == dn
    assert parse_size(label(dn, "metric")) == dn


def test_labels() -> None:
    assert label(32, "inch") == "1-1/4 in."
    assert label(32, "metric") == "DN32"
    with pytest.raises(ValueError, match="DN33"):
        nps(33)


@given(st.text(max_size=12))
def test_any_text_is_a_size_or_a_fault(text: str) -> None:
    try:
        dn = parse_size(text)
    except ValueError:
        return
    assert dn in SIZES
