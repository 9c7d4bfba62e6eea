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

_NUMBER = r"-?\d[\d,]*(?<!,)(?:\.\d+)?"
_IN_TEXT = re.compile(rf"(?<![\w.,-])({_NUMBER}) mm\b(?! (?:per|in each|a) m)(?!/)")
"""A length within a sentence; ``2 mm per m`` is a slope."""
_SLOPE = re.compile(rf"(?<![\w.,-])({_NUMBER}) mm per m\b")
_BARE = re.compile(
    r"(?:(?<=\bstation )|(?<=\bstations )|(?<=\b[Ll]evel )|(?<=\blevels )|(?<=\belevation )|(?<=\bnominal )"
    r"|(?<=\bneeds )|(?<=\bhas )|(?<=\ballowed )|(?<=[<>]= )|(?<=\bbegins at )|(?<=\bends at )"
    r"|(?<=\b[Uu]p at )|(?<=\b[Dd]own at )|(?<=level here, ))"
    rf"({_NUMBER})(?![\d,.]*\d)(?! (?:mm|m\b|l\b|points?|heads?|fittings?|degrees?|per)|%|[\w/])"
)
"""A length without its unit, known by the word before it."""
_FOLLOWS = re.compile(
    rf"(?<=(?:to|en) )({_NUMBER})(?! (?:mm|m\b|l\b|points?|heads?|fittings?|degrees?)|%|[\w/])"
)
"""The second of two lengths: ``from station 6,645 to 7,155``, ``at level 3,708.2 then 4,033.9``."""
_BRACKET = re.compile(rf"(?<=\()({_NUMBER})(?=, allowed )")
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


def slope(mm_per_m: float) -> Html:
    """Write a pitch given in mm per m."""
    return el("span", f"{mm_per_m:g} mm per m", class_="slope", data_v=f"{mm_per_m:g}")


def prose(text: str) -> Html:
    """Escape a sentence and make its lengths switchable, also bare ones: ``station 7,214``."""
    done, last, second = [], 0, -1
    while True:
        found = [m for p in _KINDS if (m := p.search(text, last)) is not None]
        if second == last:
            follows = re.match(r" (?:to|then) ", text[last:])
            if follows and (m := _FOLLOWS.match(text, last + follows.end())):
                found.append(m)
        if not found:
            break
        match = min(found, key=lambda m: (m.start(), -m.end()))
        done.append(safe(text[last : match.start()]))
        if match.re is _ROW:
            done.append(
                join(["(", join((_number(n, bare=True) for n in match.groups()), ", "), ") ", unit()])
            )
        elif match.re is _SLOPE:
            done.append(slope(float(match[1].replace(",", ""))))
        else:
            done.append(_number(match[1], bare=match.re is not _IN_TEXT))
        last = match.end()
        second = last if match.re is _BARE else -1
    done.append(safe(text[last:]))
    return Html("".join(done))


_KINDS = (_ROW, _SLOPE, _IN_TEXT, _BARE, _BRACKET)


def _number(text: str, *, bare: bool) -> Html:
    digits = len(text.partition(".")[2])
    return mm(float(text.replace(",", "")), digits, bare=bare)
