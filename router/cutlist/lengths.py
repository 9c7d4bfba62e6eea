"""Cut lengths as the trade rounds and writes them: whole mm, or feet, inches and sixteenths.

The unit of a standard is 1 mm (metric) or 1/16 in. (inch); a rounded length is
a whole number of units. Common practice, no source.
"""

from __future__ import annotations

from math import ceil, floor, gcd
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from router.trade.sizes import Standard

SIXTEENTH_MM = 25.4 / 16
_SLACK = 1e-6
"""Of a unit: 6400.8 mm are 4032 sixteenths, not 4031, whatever the floating point says."""


def unit_mm(standard: Standard) -> float:
    """Give the unit that a standard cuts to, mm."""
    return SIXTEENTH_MM if standard == "inch" else 1.0


def to_units(mm: float, standard: Standard) -> int:
    """Round a length to whole units, halves up.

    >>> to_units(1000.4, "metric"), to_units(25.4, "inch")
    (1000, 16)
    """
    return floor(mm / unit_mm(standard) + 0.5 + _SLACK)


def units_up(mm: float, standard: Standard) -> int:
    """Round a length up to whole units (what a saw eats is never flattered)."""
    return ceil(mm / unit_mm(standard) - _SLACK)


def units_down(mm: float, standard: Standard) -> int:
    """Round a length down to whole units (a stock length is never flattered)."""
    return floor(mm / unit_mm(standard) + _SLACK)


def to_mm(units: int, standard: Standard) -> float:
    """Give a length in units back in mm, to 0.1 micrometre."""
    return round(units * unit_mm(standard), 4)


def feet_inches(sixteenths: int) -> str:
    """Write a length in sixteenths of an inch as the trade does.

    >>> print(feet_inches(645), feet_inches(192), feet_inches(8))
    3'-4 5/16" 1'-0" 0'-0 1/2"
    """
    sign = "-" if sixteenths < 0 else ""
    feet, rest = divmod(abs(sixteenths), 192)
    inches, part = divmod(rest, 16)
    fraction = f" {part // gcd(part, 16)}/{16 // gcd(part, 16)}" if part else ""
    return f"{sign}{feet}'-{inches}{fraction}\""


def length_text(units: int, standard: Standard) -> str:
    """Write a rounded length as it goes on the pipe: ``3'-4 5/16"`` or ``1024 mm``."""
    return feet_inches(units) if standard == "inch" else f"{units} mm"
