"""Faults: what is wrong, where, on which item, with which value and unit."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterable

Path = tuple[str | int, ...]
"""Where something stands in the file: keys and list positions from the top."""


@dataclass(frozen=True)
class Fault:
    """One thing that is wrong in a file.

    Parameters
    ----------
    place
        Where in the file, as ``heads[3].at`` (list positions count from 0) or,
        in a table, ``heads.csv row 4, column z``.
    item
        The thing that is meant: ``head H4``, ``run B1``; empty for the whole file.
    value
        The value found, as text; empty when something is missing.
    unit
        Unit of ``value``: ``mm``, ``m``, ``in``, ``ft``, ``deg``, ``mm/m`` or empty.
    message
        What is wrong and what would be accepted.
    line
        Line in the file, counted from 1; ``None`` where it is not known.
    """

    place: str
    item: str
    value: str
    unit: str
    message: str
    line: int | None = None

    def __str__(self) -> str:
        """One line: place, item, value with unit, message."""
        found = f"{shown(self.value, 120)} {shown(self.unit, 20)}".strip() if self.value else ""
        parts = [
            f"line {self.line}" if self.line else "",
            shown(self.place, 200),
            shown(self.item, 90),
            found,
            shown(self.message, 700),
        ]
        return ": ".join(part for part in parts if part)


_UNSEEN = re.compile("[\x00-\x1f\x7f-\x9f\u2028\u2029\u202a-\u202e\u2066-\u2069\ud800-\udfff\ufffe\uffff]")


def shown(text: str, limit: int) -> str:
    r"""Make text from a file fit for a message: short, and nothing in it that a terminal obeys.

    Returns
    -------
    str
        Characters that do not show (controls, turning marks, halves of characters) as ``\u202e``.
    """
    if len(text) > limit:
        text = text[: limit - 3] + "..."
    return _UNSEEN.sub(lambda found: f"\\u{ord(found[0]):04x}", text)


MOST_SHOWN = 100
"""The message of a file with more faults than this ends with how many more there are."""


class ScenarioError(ValueError):
    """A file that cannot be used; holds every fault found in it.

    Parameters
    ----------
    faults
        All faults, in the order of the file.
    source
        The file's name, for the message.
    """

    def __init__(self, faults: Iterable[Fault], source: str = "") -> None:
        self.faults = list(faults)
        self.source = source
        count = len(self.faults)
        head = f"{shown(source, 2000)}: " if source else ""
        lines = [f"{head}{count} fault{'' if count == 1 else 's'}"]
        lines += [f"  {fault}" for fault in self.faults[:MOST_SHOWN]]
        if count > MOST_SHOWN:
            lines.append(f"  and {count - MOST_SHOWN} more")
        super().__init__("\n".join(lines))


def place_text(path: Path) -> str:
    """Spell a path as ``heads[3].at``.

    Returns
    -------
    str
        Keys joined by dots, list positions in brackets; ``(file)`` for the top.
    """
    text = ""
    for part in path:
        if isinstance(part, int):
            text += f"[{part}]"
        else:
            text += f".{part}" if text else part
    return text or "(file)"


def number_text(value: float) -> str:
    """Spell a number without a needless fraction: ``3000``, ``12.5``.

    Returns
    -------
    str
        At most three digits behind the point.
    """
    if abs(value) >= 1e15:
        return f"{value:g}"
    text = f"{value:.3f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


def value_text(value: object, limit: int = 60) -> str:
    """Spell any value from a file for a message, shortened to ``limit`` characters.

    Returns
    -------
    str
        Numbers and points bare, text in quotes.
    """
    if value is None:
        text = "null"
    elif isinstance(value, bool):
        text = "true" if value else "false"
    elif isinstance(value, (int, float)):
        text = f"{value:.12g}" if isinstance(value, float) else str(value)
    elif isinstance(value, str):
        text = f'"{value}"'
    elif isinstance(value, (list, tuple)):
        text = (
            "["
            + ", ".join(value_text(part) for part in value[:6])
            + (", ..." if len(value) > 6 else "")
            + "]"
        )
    elif isinstance(value, dict):
        text = "{" + ", ".join(str(key) for key in list(value)[:6]) + "}"
    else:
        text = str(value)
    return text if len(text) <= limit else text[: limit - 3] + "..."
