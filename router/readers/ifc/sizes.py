"""Nominal sizes as models say them: properties, names, diameters."""

from __future__ import annotations

import re
from typing import Final

from router.trade.sizes import nps, parse_size
from router.trade.tables import Tables

LARGE: Final = {200: (8.0, 219.1), 250: (10.0, 273.0), 300: (12.0, 323.9)}
"""DN to NPS and outside diameter in mm, beyond the tables (ASME B36.10M, from memory)."""

EXACT = 0.012
"""How far a length may be from a nominal or outside diameter to mean it, as part of it."""

SELDOM = 90
"""NPS 3-1/2, hardly made: 88.9 mm is meant as the outside diameter of NPS 3. Common practice, no source."""

_IN_NAME = (
    re.compile(r"\bDN\s?-?(?P<dn>\d{2,3})\b", re.IGNORECASE),
    re.compile(
        r"(?<![\d.,])(?P<inch>(?:\d+[\s-])?\d+/\d+|\d+(?:[.,]\d+)?)\s?(?:\"|″|''|-?inch\b|in\b\.?)",
        re.IGNORECASE,
    ),
    re.compile(r"\bNPS\s?(?P<inch>(?:\d+[\s-])?\d+/\d+|\d+(?:\.\d+)?)", re.IGNORECASE),
    re.compile(r"(?<![\d.,])(?P<mm>\d{2,3}(?:[.,]\d+)?)\s?mm\b", re.IGNORECASE),
    re.compile(r"[Øø⌀]\s?(?P<mm>\d{2,3}(?:[.,]\d+)?)(?![\d\"″/])"),
)


def _inches(dn: int) -> float:
    if dn in LARGE:
        return LARGE[dn][0]
    whole, _, part = nps(dn).rpartition("-")
    top, _, bottom = part.partition("/")
    return float(whole or 0) + float(top) / float(bottom or 1)


def _known() -> dict[str, dict[int, float]]:
    inch, metric = Tables("inch"), Tables("metric")
    sizes = (*inch.sizes, *LARGE)
    return {
        "outside": {dn: LARGE[dn][1] if dn in LARGE else inch.od(dn) for dn in sizes},
        "outside metric": {dn: metric.od(dn) for dn in metric.sizes},
        "nominal": {dn: float(dn) for dn in sizes},
        "nominal inches": {dn: _inches(dn) * 25.4 for dn in sizes},
        "bore": {dn: inch.bore(dn) for dn in inch.sizes},
    }


WAYS: Final = _known()
"""What a diameter may mean: way to DN to mm, likeliest first."""


def of_text(text: str) -> int:
    """Find a size in a name or other text: ``DN50``, ``2"``, ``1-1/4 in``, ``50 mm``.

    Returns
    -------
    int
        The DN; 0 if there is none.
    """
    for pattern in _IN_NAME:
        for match in pattern.finditer(text):
            found = match.groupdict()
            if found.get("mm"):
                size = of_nominal(float(found["mm"].replace(",", ".")))
            else:
                inches = str(found.get("inch")).replace(",", ".")
                size = of_value(f"DN{found['dn']}" if found.get("dn") else f'{inches}"')
            if size:
                return size
    return 0


def of_value(text: str) -> int:
    """Read a size that stands alone, as the value of a property.

    Returns
    -------
    int
        The DN; 0 if it is none.
    """
    try:
        return parse_size(text.strip())
    except ValueError:
        pass
    digits = text.strip().lower().removeprefix("dn").removesuffix("mm").strip()
    return (
        int(digits)
        if digits.isascii() and digits.isdigit() and len(digits) < 9 and int(digits) in LARGE
        else 0
    )


def of_nominal(mm: float) -> int:
    """Give the DN that a length given as nominal diameter means.

    Returns
    -------
    int
        0 if it is no size's.
    """
    found = [nearest(mm, way) for way in ("nominal", "nominal inches", "outside", "outside metric")]
    dn, off = min(found, key=lambda one: (round(one[1], 6), one[0] == SELDOM))
    return dn if off <= EXACT else 0


def nearest(mm: float, way: str) -> tuple[int, float]:
    """Give the DN whose diameter, taken that way, is nearest, and how far off it is as part of it.

    Returns
    -------
    dn : int
    off : float
    """
    return min(
        ((dn, abs(mm - value) / value) for dn, value in WAYS[way].items()), key=lambda one: (one[1], one[0])
    )


def outside(dn: int) -> float:
    """Give the outside diameter of a size, mm; 0 for none.

    Returns
    -------
    float
    """
    return WAYS["outside"].get(dn, 0.0)


def best_way(diameters: list[float]) -> str:
    """Tell what the diameters of a model's round bodies are: outside, nominal or bore.

    Parameters
    ----------
    diameters
        At least one, mm.

    Returns
    -------
    str
        One of :data:`WAYS`: the one that they fit best together.
    """
    different = sorted({round(mm, 1) for mm in diameters})
    cost = {way: sum(min(nearest(mm, way)[1], 0.1) for mm in different) for way in WAYS}
    return min(WAYS, key=lambda way: round(cost[way] / len(different), 3))
