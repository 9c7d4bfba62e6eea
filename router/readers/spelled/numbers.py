"""Numbers as people write them in tables: decimal point or comma, thousands in groups.

What one cell leaves open (``1.234``: a thousand or a bit more than one?) the clear
cells of the same table decide, or the person does (``decimal`` in the file of
columns). It is never guessed where a wrong guess would be a thousandfold.
"""

from __future__ import annotations

import math
import re
import unicodedata
from collections import Counter
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Literal

if TYPE_CHECKING:
    from collections.abc import Iterable

Mark = Literal[".", ","]
MARKS: tuple[Mark, Mark] = (".", ",")
NUMBER = r"(?:[0-9][0-9., ]*|[.,][0-9]+)(?:[eE][+-]?[0-9]+)?"
"""Whatever may be meant as one number without a sign; :func:`spelling` says whether it is one."""

_PLAIN = re.compile(r"[0-9]+")
_BY_BLANKS = re.compile(r"([0-9]{1,3}(?: [0-9]{3})+)(?:([.,])([0-9]+))?")
_EXPONENT = re.compile(r"(.*?)(?:[eE]([+-]?[0-9]{1,3}))?")
_ALIKE = (
    ("\N{FRACTION SLASH}", "/"),
    ("\N{MINUS SIGN}", "-"),
    ("\N{EN DASH}", "-"),
    ("\N{PRIME}", "'"),
    ("\N{RIGHT SINGLE QUOTATION MARK}", "'"),
    ("''", '"'),
)
_UNSEEN = re.compile("[\u200b-\u200f\u2060\ufeff]")
"""Marks without width, as pages and other programs leave them in copied text."""

_FRACTIONS = re.compile("[¼½¾⅐-⅞]")


class Unclear(ValueError):
    """A cell that cannot be read; the message says what would be accepted."""


def tidy(text: str) -> str:
    """Write alike characters one way: full-width digits, hard blanks, true minus, primes, ``½``.

    Returns
    -------
    str
        In NFKC, blanks single, none at the ends.
    """
    if text.isascii():
        return " ".join(text.replace("''", '"').split())
    text = _UNSEEN.sub("", text)
    text = _FRACTIONS.sub(lambda found: " " + unicodedata.normalize("NFKC", found[0]), text)
    text = text.replace("″", '"').replace("”", '"').replace("“", '"')
    text = unicodedata.normalize("NFKC", text)
    for other, one in _ALIKE:
        text = text.replace(other, one)
    return " ".join(text.split())


@dataclass(frozen=True)
class Spelling:
    """How a number is written. ``mark`` divides ``left`` from ``right``; ``groups`` divides thousands.

    ``open``: ``mark`` may as well divide thousands.
    """

    left: str
    right: str = ""
    mark: Mark | None = None
    groups: Mark | None = None
    open: bool = False
    exponent: str = ""

    def value(self, grouped: bool = False) -> float:
        """Give the number; ``grouped``: what is open divides thousands."""
        text = f"{self.left}{self.right}" if grouped else f"{self.left or 0}.{self.right or 0}"
        return float(text + (f"e{self.exponent}" if self.exponent else ""))


def spelling(text: str) -> Spelling:
    """Read digits and marks (no sign, no unit).

    Raises
    ------
    Unclear
        If it is no number however it is read.
    """
    match = _EXPONENT.fullmatch(text.strip())
    body, exponent = (match[1], match[2] or "") if match else (text, "")
    if _PLAIN.fullmatch(body):
        return Spelling(body, exponent=exponent)
    blanks = _BY_BLANKS.fullmatch(body)
    if blanks:
        mark = _mark(blanks[2]) if blanks[2] else None
        return Spelling(blanks[1].replace(" ", ""), blanks[3] or "", mark, exponent=exponent)
    found = [mark for mark in body if mark in MARKS]
    if not found or not re.fullmatch(r"[0-9.,]*[0-9][0-9.,]*", body):
        raise Unclear("a number expected")
    last = _mark(found[-1])
    if len(set(found)) == 2:
        other = MARKS[1 - MARKS.index(last)]
        left, _, right = body.rpartition(last)
        if found.count(last) == 1 and _grouped(left, other):
            return Spelling(left.replace(other, ""), right, last, other, exponent=exponent)
        raise Unclear("points and commas in no order that a number has")
    if len(found) > 1:
        if _grouped(body, last):
            return Spelling(body.replace(last, ""), groups=last, exponent=exponent)
        raise Unclear("more than one decimal mark")
    left, _, right = body.partition(last)
    either = not exponent and len(right) == 3 and re.fullmatch(r"[1-9][0-9]{0,2}", left) is not None
    return Spelling(left, right, last, open=either, exponent=exponent)


def _mark(text: str) -> Mark:
    return "." if text == "." else ","


def _grouped(text: str, mark: str) -> bool:
    return re.fullmatch(rf"[1-9][0-9]{{0,2}}(?:\{mark}[0-9]{{3}})+", text) is not None


@dataclass
class Marks:
    """What points and commas mean in one table.

    ``decimal``, ``groups``: how often each is so in a clear cell. ``leaning``: marks in open cells.
    ``said``: the decimal mark as the person gave it, in ``file``. ``delimiter``: of the table, empty in a
    workbook.
    """

    delimiter: str = ""
    said: Mark | None = None
    decimal: Counter[str] = field(default_factory=Counter)
    groups: Counter[str] = field(default_factory=Counter)
    leaning: Counter[str] = field(default_factory=Counter)
    file: str = "the file of columns"

    def learn(self, numbers: Iterable[str]) -> None:
        """Take the clear ones among numbers as evidence; what is no number is passed over."""
        for text in numbers:
            try:
                found = spelling(text)
            except Unclear:
                continue
            if found.groups:
                self.groups[found.groups] += 1
            if found.mark:
                (self.leaning if found.open else self.decimal)[found.mark] += 1

    def read(self, text: str, coarse: bool) -> float:
        """Read a number without a sign.

        Parameters
        ----------
        text
            As :func:`tidy` gives it.
        coarse
            Thousands are not to be expected: metres, feet, degrees. There an open
            mark that nothing speaks against is the decimal mark; in mm it is refused.

        Raises
        ------
        Unclear
            If it is no number, or two numbers are possible and nothing decides.
        """
        found = spelling(text)
        if self.said:
            self._as_said(found)
        grouped = found.open and found.mark is not None and self._grouping(found, found.mark, coarse)
        value = found.value(grouped)
        if not math.isfinite(value):
            raise Unclear("a finite number expected")
        return value

    def _as_said(self, found: Spelling) -> None:
        word = "comma" if self.said == "," else "point"
        if found.groups == self.said or (found.mark and found.mark != self.said and not found.open):
            raise Unclear(f"a number with a decimal {word} expected, as {self.file} says")

    def _grouping(self, found: Spelling, mark: Mark, coarse: bool) -> bool:
        """Decide what an open mark is."""
        if self.said:
            return mark != self.said
        other = MARKS[1 - MARKS.index(mark)]
        if self.decimal[mark] and not self.groups[mark]:
            return False
        if self.groups[mark] and not self.decimal[mark]:
            return True
        unknown = not (self.decimal[mark] or self.groups[mark] or self.decimal[other])
        if unknown and self.groups[other]:
            return False
        quoted = mark == "," and self.delimiter == ","
        if unknown and coarse and not quoted and not self.leaning[other]:
            return False
        raise Unclear(
            f"{found.left}{found.right} or {found.left}.{found.right}? write it so that it is clear, or say "
            f'"decimal: point" or "decimal: comma" in {self.file}'
        )
