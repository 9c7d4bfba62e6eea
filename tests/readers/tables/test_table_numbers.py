"""Numbers and lengths: a number written in the style of a country is read as that number, or refused."""

from __future__ import annotations

import math
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from router.readers.spelled.lengths import length, number
from router.readers.spelled.numbers import Marks, Unclear

# International yard and pound agreement of 1959: 1 in. is 25.4 mm, 1 ft is 12 in. exactly.
INCH = Fraction(254, 10)

SPELLINGS = [
    ("12'-6\"", 150),
    ("12' - 6\"", 150),
    ("12 ft 6 1/2 in", Fraction(301, 2)),
    ("12'6.5\"", Fraction(301, 2)),
    ("12\N{PRIME} 6½\N{DOUBLE PRIME}", Fraction(301, 2)),
    ("12ft 6-1/2in.", Fraction(301, 2)),
    ("-1'-6\"", -18),
    ("−1' 6\"", -18),  # noqa: RUF001
    ('6 1/2"', Fraction(13, 2)),
    ("6-1/2 in", Fraction(13, 2)),
    ("1/2 inch", Fraction(1, 2)),
    ('¾"', Fraction(3, 4)),
    ("5'", 60),
    ("5 feet", 60),
    ("0'-7 15/16\"", Fraction(127, 16)),
    ("2,5 in", Fraction(5, 2)),
]


@pytest.mark.parametrize(("text", "inches"), SPELLINGS)
def test_feet_and_inches(text: str, inches: Fraction) -> None:
    assert length(text, "mm", Marks()) == pytest.approx(float(inches * INCH), abs=1e-6)


METRIC = [
    ("3,5 m", 3500),
    ("3.5m", 3500),
    ("350 cm", 3500),
    ("\u00a03500\u00a0mm ", 3500),
    ("3 500 mm", 3500),
    ("3\u202f500,25", 3500.25),
    ("1.234.567,5", 1234567.5),
    ("1,234,567.5", 1234567.5),
    ("1.234,5", 1234.5),
    ("1,234.5", 1234.5),
    ("0,125", 0.125),
    (".5", 0.5),
    ("5.", 5),
    ("+12", 12),
    ("１２,５", 12.5),  # noqa: RUF001
    ("1e3", 1000),
    ("1.250e3", 1250),
    ("1234,567", 1234.567),
    ("12,3456", 12.3456),
]


@pytest.mark.parametrize(("text", "mm"), METRIC)
def test_metric_lengths_and_groups(text: str, mm: float) -> None:
    # groups of three divided by a blank, point or comma on the line as decimal sign: ISO 80000-1, from memory
    assert length(text, "mm", Marks()) == pytest.approx(mm, abs=1e-6)


BAD = ["", "abc", "1,2,3", "1.2.3", "1,23,456", "1.234,5.6", "1,234.567,8", "12 34", "1 2345", "--5", "5-",
       "1e999", "nan", "inf", "3 km", "5 m 30 cm", "12'-13\"", "1'234.5", "1/0\"", "1/2", "0x10", "1_000",
       "٣", "3;5", "1..5", "'", "\"", "6'6'", "1'-0\" 3", "e5", ","]  # fmt: skip


@pytest.mark.parametrize("text", BAD)
def test_what_is_no_length_is_refused(text: str) -> None:
    with pytest.raises(Unclear):
        length(text, "mm", Marks())


@pytest.mark.parametrize(
    ("text", "seen", "unit", "value"),
    [
        ("1.234", ["2.5"], "mm", 1.234),
        ("1.234", ["2.345,6"], "mm", 1234),
        ("1,234", ["1,234,567"], "mm", 1234),
        ("1,234", ["2,5"], "mm", 1.234),
        ("1,234", ["1.234.567"], "mm", 1.234),
        ("1.234", [], "m", 1234),
        ("1,234", [], "m", 1234),
        ("1.234", [], "mm", None),
        ("1,234", [], "mm", None),
        ("1.234", ["2,5"], "mm", None),
        ("1.234", ["2,5"], "m", None),
        ("1.234", ["2,5", "2.5"], "mm", 1.234),
        ("1.234", ["1.5", "1.234,5"], "mm", None),
        ("1.234", ["2,345"], "m", None),
    ],
)
def test_an_open_cell_is_decided_by_clear_ones(
    text: str, seen: list[str], unit: str, value: float | None
) -> None:
    marks = Marks(";")
    marks.learn([*seen, text])
    if value is None:
        with pytest.raises(Unclear, match=r"1234 or 1\.234"):
            length(text, unit, marks)
    else:
        assert length(text, unit, marks) == pytest.approx(value, abs=1e-6)


def test_the_person_decides() -> None:
    assert length("1.234", "mm", Marks(said=".")) == 1.234
    assert length("1.234", "mm", Marks(said=",")) == 1234
    assert length("1.234,5", "mm", Marks(said=",")) == 1234.5
    for text in ("1.234,5", "2,5", "1.234.567"):
        with pytest.raises(Unclear, match="decimal point"):
            length(text, "mm", Marks(said="."))


def test_a_quoted_comma_where_commas_divide_the_cells() -> None:
    marks = Marks(",")
    marks.learn(["1,234"])
    with pytest.raises(Unclear):
        length("1,234", "m", marks)
    assert length("1,5", "m", marks) == 1500


def test_other_numbers() -> None:
    assert number("K 5,6", Marks(), ("k",)) == 5.6
    assert number("-90°", Marks(), ("deg", "°")) == -90
    assert number("90 deg", Marks(), ("deg", "°")) == 90
    with pytest.raises(Unclear):
        number("90 m", Marks(), ("deg",))


def styled(value: int, decimals: int, decimal: str, groups: str) -> str:
    """Write ``value`` / 10**decimals as a spreadsheet set to a country does."""
    sign, digits = "-" if value < 0 else "", f"{abs(value):0{decimals + 1}d}"
    whole, part = (digits[:-decimals], digits[-decimals:]) if decimals else (digits, "")
    head = len(whole) % 3 or 3
    whole = groups.join([whole[:head], *(whole[k : k + 3] for k in range(head, len(whole), 3))])
    return sign + whole + (decimal + part if decimals else "")


# decimal mark and groups as in Unicode CLDR for en, de, fr, sv; and none grouped (from memory)
STYLES = [(".", ","), (",", "."), (",", "\u202f"), (",", "\u00a0"), (".", ""), (",", "")]


@given(
    st.lists(st.integers(-(10**9), 10**9), min_size=1, max_size=8),
    st.integers(0, 4),
    st.sampled_from(STYLES),
    st.sampled_from([";", "\t", ""]),
)
def test_a_column_in_one_style_is_read_as_written_or_refused(
    values: list[int], decimals: int, style: tuple[str, str], delimiter: str
) -> None:
    texts = [styled(value, decimals, *style) for value in values]
    marks = Marks(delimiter)
    marks.learn([text.lstrip("-") for text in texts])
    for value, text in zip(values, texts, strict=True):
        try:
            found = length(text, "mm", marks)
        except Unclear:
            # only what may be two numbers, and nothing clearer in the column
            assert len(text.lstrip("-").replace(",", ".").partition(".")[2]) == 3
            continue
        assert found == pytest.approx(value / 10**decimals, abs=1e-6)


@given(st.lists(st.integers(0, 10**9), min_size=1, max_size=8), st.integers(0, 4), st.sampled_from(STYLES))
def test_nothing_is_refused_once_the_mark_is_said(
    values: list[int], decimals: int, style: tuple[str, str]
) -> None:
    marks = Marks(";", said="." if style[0] == "." else ",")
    for value in values:
        text = styled(value, decimals, *style)
        assert length(text, "mm", marks) == pytest.approx(value / 10**decimals, abs=1e-6)


@given(st.integers(0, 500), st.integers(0, 11), st.integers(0, 15), st.booleans())
def test_feet_inches_and_sixteenths(feet: int, inches: int, sixteenths: int, minus: bool) -> None:
    exact = (feet * 12 + inches + Fraction(sixteenths, 16)) * INCH * (-1 if minus else 1)
    sign = "-" if minus else ""
    for text in (f"{feet}'-{inches} {sixteenths}/16\"", f"{feet} ft {inches}-{sixteenths}/16 in"):
        assert length(sign + text, "m", Marks()) == pytest.approx(float(exact), abs=1e-6)


@given(st.text(max_size=12), st.sampled_from(["mm", "m", "in", "ft"]))
def test_any_text_is_a_number_or_unclear(text: str, unit: str) -> None:
    marks = Marks()
    marks.learn([text])
    try:
        value = length(text, unit, marks)
    except Unclear:
        return
    assert math.isfinite(value)
    assert any(mark.isnumeric() for mark in text)
