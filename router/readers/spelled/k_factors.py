"""K-factors in either unit: US gpm/psi^0.5, as scenarios have them, or metric l/min/bar^0.5."""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from math import sqrt
from typing import TYPE_CHECKING, Final, Literal

from router.readers.spelled.numbers import Unclear, tidy
from router.scenario.errors import number_text

if TYPE_CHECKING:
    from collections.abc import Iterator

KUnit = Literal["gpm/psi^0.5", "l/min/bar^0.5"]
US: Final[KUnit] = "gpm/psi^0.5"
METRIC: Final[KUnit] = "l/min/bar^0.5"

_LITRES = 231 * 0.0254**3 * 1000
"""In one US gallon: 231 cubic inches (NIST Handbook 44, appendix C)."""
_BAR = 0.45359237 * 9.80665 / 0.0254**2 / 1e5
"""In one psi: the pound's weight at standard gravity (NIST SP 811, appendix B) on a square inch."""
METRIC_IN_US: Final = _LITRES / sqrt(_BAR)
"""Metric K in one US K: 14.416."""

LARGEST_US: Final = 30.0
LEAST_METRIC: Final = 37.0
"""No usual head has a larger US K, none a metric one from 30 to 37. Common practice, no source."""

NOMINAL: Final = (1.4, 1.9, 2.8, 4.2, 5.6, 8.0, 11.2, 14.0, 16.8, 19.6, 22.4, 25.2, 28.0)
"""US K-factors of NFPA 13's table of discharge characteristics (from memory)."""
_NEAR = 0.02
"""Metric names of the nominal K are rounded by up to this share (160 for 11.2). Worked out from the table."""

_FLOW_METRIC = r"(?:l|litres?|liters?|dm3)[ ./*·]*(?:min|mn)[^a-z]*|lpm[^a-z]*"
_FLOW_US = r"(?:us[ -]*)?(?:gpm|gal(?:lons?)?[ ./*·]*min)[^a-z]*"


def k_unit(text: str) -> KUnit | None:
    """Give the unit that a header's remark names; ``None`` if it names none.

    Raises
    ------
    Unclear
        If it names a unit that is not read.
    """
    word = tidy(text).casefold()
    if word in ("metric", "si"):
        return METRIC
    if word in ("us", "imperial"):
        return US
    if re.fullmatch(rf"(?:{_FLOW_METRIC})(?:sqrt[^a-z]*)?bar[^a-z]*", word):
        return METRIC
    if re.fullmatch(rf"(?:{_FLOW_US})(?:sqrt[^a-z]*)?psi[^a-z]*", word):
        return US
    if re.search(r"bar|psi|pa\b|gpm|lpm|/", word):
        raise Unclear(f"the unit {text} of a K-factor is not known; {US} or {METRIC} expected")
    return None


def from_metric(k: float) -> float:
    """Give the US K of a metric one: the nominal one where it is near, else to 0.01."""
    exact = k / METRIC_IN_US
    nearest = min(NOMINAL, key=lambda nominal: abs(nominal - exact))
    return nearest if abs(nearest - exact) <= _NEAR * nearest else round(exact, 2)


@dataclass
class KFactors:
    """Reads the K-factors of one file and counts those that it converts, by value."""

    converted: dict[tuple[float, float], int] = field(default_factory=dict)

    def us(self, k: float, unit: KUnit | None) -> float:
        """Give a K-factor in gpm/psi^0.5.

        Raises
        ------
        Unclear
            If it is not above 0, or no unit is said and it may be either.
        """
        if not k > 0:
            raise Unclear(f"a K-factor of more than 0 expected ({unit or US})")
        if unit == US or (unit is None and k <= LARGEST_US):
            return k
        if unit is None and k < LEAST_METRIC:
            raise Unclear(f"{US} or {METRIC}? say the unit in brackets behind the name: K [{METRIC}]")
        us = from_metric(k)
        self.converted[k, us] = self.converted.get((k, us), 0) + 1
        return us

    def notes(self) -> Iterator[str]:
        """Say what was converted."""
        for (metric, us), count in sorted(self.converted.items()):
            yield (
                f"K-factor {number_text(metric)} of {count} heads is taken as {METRIC}: "
                f"{number_text(us)} {US}, as scenarios have it"
            )
