"""Lengths on the page: in mm as written, with the value beside it, so that a script can switch units.

A switched length is ``<span class="len" data-mm="1234.5" data-d="1">``; ``data-d``: decimals in mm.
``data-k``: ``l`` a long one (m or ft), ``b`` bare, its unit in the column's head, ``c`` a cut. Short lengths
with decimals become decimal inches (but cuts), others feet, inches and sixteenths.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from router.deliver.report.html import Html, el, join, safe

if TYPE_CHECKING:
    from collections.abc import Sequence

_IN_TEXT = re.compile(r"(?<![\w.,-])(-?\d[\d,]*(?:\.\d+)?) mm\b(?! (?:per|in each|a) m)(?!/)")
"""A length within a sentence; ``2 mm per m`` is a slope."""
_ROW = re.compile(r"\((-?[\d,.]+), (-?[\d,.]+), (-?[\d,.]+)\) mm")
"""A place within a sentence."""


def mm(value: float | None, digits: int = 0, *, bare: bool = False, cut: bool = False) -> Html:
    """Write a length given in mm; ``cut``: what is cut or made, never in decimal inches."""
    if value is None:
        return Html("")
    text = f"{value:,.{digits}f}"
    text = text[1:] if text.startswith("-") and not text.strip("-0.,") else text
    return el(
        "span",
        text if bare else f"{text} mm",
        class_="len",
        data_mm=f"{value:.4f}".rstrip("0").rstrip("."),
        data_d=digits or None,
        data_k=f"{'b' if bare else ''}{'c' if cut else ''}" or None,
    )


def long(metres: float, digits: int = 1, *, bare: bool = False) -> Html:
    """Write a length given in m; feet are its other unit."""
    text = f"{metres:,.{digits}f}"
    value = f"{metres * 1000:.1f}".rstrip("0").rstrip(".")
    return el(
        "span",
        text if bare else f"{text} m",
        class_="len",
        data_mm=value,
        data_d=digits,
        data_k="lb" if bare else "l",
    )


def signed(value: float) -> Html:
    """Write a difference in level, without its unit: ``+326``."""
    return join(["+" if round(value) > 0 else None, mm(value, bare=True)])


def unit() -> Html:
    """Write the unit of a column's head."""
    return el("span", "mm", class_="unit")


def head(words: str) -> Html:
    """Write a column's head with the unit of its lengths."""
    return join([words, ", ", unit()])


def place(at: Sequence[float] | None) -> Html:
    """Write a place in the scenario's frame."""
    if at is None:
        return Html("")
    return el("span", join((mm(part, bare=True) for part in at), ", "), class_="place")


def prose(text: str) -> Html:
    """Escape a sentence and make its lengths switchable."""
    done, last = [], 0
    for match in re.finditer(f"{_ROW.pattern}|{_IN_TEXT.pattern}", text):
        done.append(safe(text[last : match.start()]))
        row, single = match.groups()[:3], match.group(4)
        if single is not None:
            done.append(_number(single, bare=False))
        else:
            done.append(join(["(", join((_number(n, bare=True) for n in row), ", "), ") ", unit()]))
        last = match.end()
    done.append(safe(text[last:]))
    return Html("".join(done))


def _number(text: str, *, bare: bool) -> Html:
    digits = len(text.partition(".")[2])
    return mm(float(text.replace(",", "")), digits, bare=bare)
