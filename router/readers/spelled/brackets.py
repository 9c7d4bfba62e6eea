"""A name with its unit: ``Höhe (mm)``, ``x [m]``, ``width_mm``, ``K [l/min/bar^0.5]``."""

from __future__ import annotations

import re

_BRACKETS = re.compile(r"(?P<base>.*\S)\s*[\[(]\s*(?P<unit>[^\[\]()]*?)\s*[\])]\s*")
_NESTED = re.compile(
    r"(?P<base>[^\[(]*[^\[(\s])\s*[\[(]\s*(?P<unit>[^\[\]()]*[\[(][^\[\]()]*[\])][^\[\]()]*)[\])]\s*"
)
_BEHIND = re.compile(
    r"(?P<base>.*?[^\s_,/])[\s_,/]+(?:in[\s_]+)?(?P<unit>mm|cm|m|in|ft|feet|inch|inches)", re.IGNORECASE
)


def in_brackets(name: str) -> tuple[str, str]:
    """Divide a name from the unit in brackets behind it; the unit is empty where there is none."""
    match = _NESTED.fullmatch(name) or _BRACKETS.fullmatch(name)
    return (match["base"], match["unit"]) if match else (name, "")


def parted(name: str) -> tuple[str, str]:
    """Divide a name from its unit, in brackets or behind a blank or ``_``."""
    base, unit = in_brackets(name)
    if unit:
        return base, unit
    match = _BEHIND.fullmatch(name)
    return (match["base"], match["unit"]) if match else (base, unit)
