"""Nominal pipe sizes: reading and writing them.

Behind the reader a size is its DN as an int (25 for 1 in.). NPS and DN are two
names of the same nominal sizes (ISO 6708 and ASME B36.10M, from memory).
"""

from __future__ import annotations

import re
from typing import Literal

Standard = Literal["inch", "metric"]

_NPS: dict[int, str] = {
    15: "1/2",
    20: "3/4",
    25: "1",
    32: "1-1/4",
    40: "1-1/2",
    50: "2",
    65: "2-1/2",
    80: "3",
    90: "3-1/2",
    100: "4",
    125: "5",
    150: "6",
}
SIZES: tuple[int, ...] = tuple(_NPS)
"""Every size the tables know, as DN, smallest first."""

_INCHES: dict[float, int] = {
    0.5: 15,
    0.75: 20,
    1.0: 25,
    1.25: 32,
    1.5: 40,
    2.0: 50,
    2.5: 65,
    3.0: 80,
    3.5: 90,
    4.0: 100,
    5.0: 125,
    6.0: 150,
}
_FRACTIONS = {"¼": " 1/4", "½": " 1/2", "¾": " 3/4"}
_SPELLING = re.compile(
    r"(?P<dn>dn\s*)?(?:(?P<whole>\d+(?:\.\d+)?)(?:[\s-]+(?=\d+/))?)?(?:(?P<top>\d+)/(?P<bottom>\d+))?"
    r"\s*(?P<inch>\"|''|in\.?|inch|inches)?"
)
ACCEPTED = "an NPS such as 1/2, 3/4, 1, 1-1/4 ... 6 (in.), or a DN: " + ", ".join(str(dn) for dn in SIZES)


def parse_size(value: object) -> int:
    """Read a nominal size.

    Parameters
    ----------
    value : object
        ``"1-1/4"``, ``"1 1/4 in."``, ``'3/4"'``, ``"DN32"``, ``32``, ``1.25``.
        A bare number is a DN if there is such a DN, else an NPS in inches (no
        number is both).

    Returns
    -------
    int
        The DN.

    Raises
    ------
    ValueError
        Names the value and what is accepted.
    """
    found: int | None = None
    if isinstance(value, int | float) and not isinstance(value, bool):
        found = _number(float(value))
    elif isinstance(value, str):
        found = _text(value)
    if found is None:
        raise ValueError(f"{value!r} is not a nominal pipe size; accepted: {ACCEPTED}")
    return found


def nps(dn: int) -> str:
    """Return the NPS of a DN, in inches without a unit: ``nps(32) == "1-1/4"``.

    Raises
    ------
    ValueError
        If the tables have no such DN.
    """
    try:
        return _NPS[dn]
    except KeyError:
        raise ValueError(f"DN{dn} is not in the tables; accepted: {ACCEPTED}") from None


def label(dn: int, standard: Standard) -> str:
    """Return a size as a reader of that standard writes it: ``1-1/4 in.`` or ``DN32``."""
    name = nps(dn)
    return f"{name} in." if standard == "inch" else f"DN{dn}"


def _number(value: float) -> int | None:
    if value in _NPS:
        return int(value)
    return _INCHES.get(value)


def _text(value: str) -> int | None:
    text = value.strip().lower()
    for mark, spelled in _FRACTIONS.items():
        text = text.replace(mark, spelled)
    match = _SPELLING.fullmatch(text.strip())
    if match is None or not (match["whole"] or match["top"]):
        return None
    number = float(match["whole"] or 0)
    if match["top"]:
        if float(match["bottom"]) == 0:
            return None
        number += float(match["top"]) / float(match["bottom"])
    if match["dn"]:
        return int(number) if number in _NPS and not match["top"] and not match["inch"] else None
    if match["inch"]:
        return _INCHES.get(number)
    return _number(number)
