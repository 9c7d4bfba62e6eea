"""Lengths as people write them: ``3,5 m``, ``12'-6"``, ``12 ft 6 1/2 in``, ``850``."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import TYPE_CHECKING

from router.readers.spelled.numbers import NUMBER, Unclear, tidy

if TYPE_CHECKING:
    from router.readers.spelled.numbers import Marks

TO_MM = {"mm": 1.0, "cm": 10.0, "m": 1000.0, "in": 25.4, "ft": 304.8}
"""Millimetres in one unit; inch and foot are exact by definition (international yard, 1959)."""

WORDS = {
    **{name: name for name in TO_MM},
    **dict.fromkeys(("inch", "inches", '"'), "in"),
    **dict.fromkeys(("foot", "feet", "'"), "ft"),
    **dict.fromkeys(("millimetre", "millimetres", "millimeter", "millimeters"), "mm"),
    **dict.fromkeys(("metre", "metres", "meter", "meters"), "m"),
}
"""Spellings of units, in lower case."""

ANGLE_WORDS = ("degrees", "deg", "°")
K_WORDS = ("k",)
"""What may stand beside an angle, beside a K-factor."""

_FEET = r"(?:ft\.?|feet|foot|')"
_INCHES = r"(?:in\.?|inches|inch|\")"
_FRACTION = r"(?:(?P<whole>[0-9]+)[ -]+)?(?P<top>[0-9]+)/(?P<bottom>[1-9][0-9]*)"
_ONE = re.compile(rf"(?P<sign>[+-])? ?(?P<number>{NUMBER}) ?(?P<unit>[a-z]+\.?|['\"])?", re.IGNORECASE)
_PART = re.compile(rf"(?P<sign>[+-])? ?{_FRACTION} ?(?P<unit>{_INCHES}|{_FEET})?", re.IGNORECASE)
_BOTH = re.compile(
    rf"(?P<sign>[+-])? ?(?P<feet>[0-9]+) ?{_FEET}[ -]*(?:{_FRACTION}|(?P<inches>{NUMBER})) ?{_INCHES}?",
    re.IGNORECASE,
)


@dataclass(frozen=True)
class Spelled:
    """A length in parts: ``number`` (with a mark, maybe) or ``exact``, in ``unit`` (empty: the column's)."""

    sign: float
    number: str = ""
    exact: float = 0.0
    unit: str = ""
    feet: int = 0


def unit_word(text: str) -> str | None:
    """Give the unit that a word names: ``mm``, ``cm``, ``m``, ``in``, ``ft``; ``None`` if it names none."""
    return WORDS.get(tidy(text).casefold().removesuffix("."))


def spelled(text: str) -> Spelled:
    """Take a length apart.

    Raises
    ------
    Unclear
        If it is no length.
    """
    text = tidy(text)
    for pattern in (_BOTH, _PART, _ONE):
        match = pattern.fullmatch(text)
        if match is None:
            continue
        found = match.groupdict()
        sign = -1.0 if found["sign"] == "-" else 1.0
        exact = 0.0
        if found.get("top"):
            exact = int(found["whole"] or 0) + int(found["top"]) / int(found["bottom"])
        if pattern is _BOTH:
            return Spelled(sign, found["inches"] or "", exact, "in", int(found["feet"]))
        unit = found["unit"] or ""
        if unit and unit_word(unit) is None:
            raise Unclear(f"the unit {unit} is not known; mm, cm, m, in or ft expected")
        return Spelled(sign, found.get("number") or "", exact, unit_word(unit) or "")
    raise Unclear("a length expected")


def length(text: str, unit: str, marks: Marks) -> float:
    """Read a length.

    Parameters
    ----------
    text
        A cell; a unit in it is obeyed.
    unit
        Unit of the column: a key of :data:`TO_MM`.
    marks
        What points and commas mean in the table.

    Returns
    -------
    float
        Millimetres, rounded to 1e-6.

    Raises
    ------
    Unclear
        If it is no length, or may be two.
    """
    found = spelled(text)
    own = found.unit or unit
    if not found.number and own not in ("in", "ft"):
        raise Unclear(f"a decimal number in {own} expected, not a fraction")
    # 1,234 in. or ft is a thousand where commas group, as those who measure in feet mostly write
    coarse = own == "m" or (own in ("in", "ft") and "," not in found.number)
    value = marks.read(found.number, coarse) if found.number else found.exact
    if found.feet and value >= 12.0:
        raise Unclear("fewer than 12 inches expected beside the feet")
    mm = found.feet * TO_MM["ft"] + value * TO_MM[own]
    return round(found.sign * mm, 6)


def number(text: str, marks: Marks, words: tuple[str, ...] = ()) -> float:
    """Read a number that is no length; ``words`` may stand before or after it (``deg``, ``K``).

    Raises
    ------
    Unclear
        If it is no number.
    """
    text = bare(text, words)
    match = re.fullmatch(rf"([+-])? ?({NUMBER})", text)
    if match is None:
        raise Unclear("a number expected")
    return (-1.0 if match[1] == "-" else 1.0) * marks.read(match[2], coarse=True)


def bare(text: str, words: tuple[str, ...]) -> str:
    """Take words off both ends of a cell."""
    text = tidy(text)
    for word in words:
        if text.casefold().endswith(word):
            text = text[: -len(word)].strip()
        if text.casefold().startswith(word):
            text = text[len(word) :].strip()
    return text
