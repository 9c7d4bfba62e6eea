"""Plain data as a file gives it: what of it no reader may meet is taken out here, each with a fault."""

from __future__ import annotations

import math
import re
import sys
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from router.scenario.errors import Fault, Path, ScenarioError, place_text, value_text

if TYPE_CHECKING:
    from collections.abc import Callable

MAX_DEPTH = 40
MOST_DIGITS = 400
"""A number with more is none that is meant; the largest that can be calculated with has 309."""

UNSEEN = re.compile(
    "[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f\u2028\u2029\u202a-\u202e\u2066-\u2069\ud800-\udfff\ufffe\uffff]"
)
"""Characters that do not show, or turn around what stands beside them; halves of characters."""
UNSEEN_ON_A_LINE = re.compile(UNSEEN.pattern + "|[\n\r]")
"""The same for a text of one line: a line feed in an id would make one finding look like two."""
ONE_LINE = frozenset({"id", "name", "kind"})


@dataclass
class Document:
    """A file as plain data.

    ``lines`` gives the line (from 1) of each path; ``faults`` what was wrong
    already at this stage (doubled keys, numbers that are no numbers, characters
    that do not show), with its path. ``find``: finds a line instead, where that
    is better done when one is asked for.
    """

    data: Any
    lines: dict[Path, int] = field(default_factory=dict)
    faults: list[tuple[Path, Fault]] = field(default_factory=list)
    find: Callable[[Path], int | None] | None = None

    def line(self, path: Path) -> int | None:
        """Give the line of a path, or of the nearest thing around it.

        Returns
        -------
        int or None
        """
        if self.find is not None:
            return self.find(path)
        while path and path not in self.lines:
            path = path[:-1]
        return self.lines.get(path)


def stop(name: str, value: str, unit: str, message: str, line: int | None = None) -> ScenarioError:
    """Make the error of a file that cannot be read any further."""
    return ScenarioError([Fault("(file)", "", value, unit, message, line)], name)


def clean(document: Document, name: str, texts: bool) -> None:
    """Refuse what is nested too deep, take out numbers and texts that are none."""
    if sound(document.data, texts):
        return
    deep = _deep(document.data)
    if deep is not None:
        line = document.line(deep)
        message = f"nested too deep; at most {MAX_DEPTH}"
        raise ScenarioError([Fault(place_text(deep[:3]), "", str(len(deep)), "levels", message, line)], name)
    document.data = finite(document.data, (), document)


def _deep(data: Any) -> Path | None:
    """Find the first thing that is nested too deep."""
    left: list[tuple[Path, Any]] = [((), data)]
    while left:
        path, value = left.pop()
        if isinstance(value, (dict, list)) and len(path) >= MAX_DEPTH:
            return path
        if isinstance(value, dict):
            left += [((*path, key), value[key]) for key in reversed(value)]
        elif isinstance(value, list):
            left += [((*path, i), value[i]) for i in reversed(range(len(value)))]
    return None


def sound(data: Any, texts: bool = True) -> bool:
    """Tell whether all numbers are finite, all texts show, and nothing is nested too deep.

    ``texts`` false: texts are known to show.
    """
    level: list[Any] = [data]
    for depth in range(MAX_DEPTH + 1):
        below: list[Any] = []
        for value in level:
            if isinstance(value, float):
                if not math.isfinite(value):
                    return False
            elif isinstance(value, (dict, list)):
                if depth == MAX_DEPTH:
                    return False
                below += value.values() if isinstance(value, dict) else value
                if texts and isinstance(value, dict) and not _keys_show(value):
                    return False
            elif isinstance(value, str):
                if texts and UNSEEN.search(value):
                    return False
            elif isinstance(value, int) and abs(value) > sys.float_info.max:
                return False
        level = below
    return True


def _keys_show(value: dict[Any, Any]) -> bool:
    """Tell whether an object's keys, and its texts of one line, show."""
    lines = (str(part) for key, part in value.items() if key in ONE_LINE)
    return not any(UNSEEN_ON_A_LINE.search(str(text)) for text in (*value, *lines))


def finite(value: Any, path: Path, document: Document) -> Any:
    """Take out NaN, infinities and characters that do not show, each with a fault.

    Returns
    -------
    Any
        The same data, with null in place of such numbers, without such characters in texts.
    """
    if isinstance(value, dict):
        result = {}
        for key, part in value.items():
            whole = _seen(key, (*path, key), document, True) if isinstance(key, str) else key
            result[whole] = finite(part, (*path, key), document)
        return result
    if isinstance(value, list):
        return [finite(part, (*path, i), document) for i, part in enumerate(value)]
    if isinstance(value, str):
        return _seen(value, path, document, bool(path) and path[-1] in ONE_LINE)
    if isinstance(value, (int, float)) and not isinstance(value, bool):
        try:
            usable = math.isfinite(float(value))
        except OverflowError:
            usable = False
        if not usable:
            shown = (
                str(value) if isinstance(value, float) else f"{str(value)[:12]}... ({len(str(value))} digits)"
            )
            message = "not a usable number; a finite number is expected"
            fault = Fault(place_text(path), "", shown, "", message, document.line(path))
            document.faults.append((path, fault))
            return None
    return value


def _seen(text: str, path: Path, document: Document, one_line: bool) -> str:
    unseen = UNSEEN_ON_A_LINE if one_line else UNSEEN
    found = unseen.search(text)
    if found is None:
        return text
    what = "half a character" if "\ud800" <= found[0] <= "\udfff" else "a character that does not show"
    message = f"{what} (U+{ord(found[0]):04X}, character {found.start() + 1}); letters that show expected"
    fault = Fault(place_text(path), "", value_text(text), "", message, document.line(path))
    document.faults.append((path, fault))
    return unseen.sub("", text)


def doubled_key(path: Path, key: str, line: int | None) -> Fault:
    """Make the fault of a key that stands twice."""
    return Fault(place_text(path), "", f'"{key}"', "", "this key stands twice; each key once", line)


class Whole(float):
    """A whole number that is too long to be one, as far as a message shows it."""

    text = ""

    def __str__(self) -> str:
        """Its first digits, and how many there are."""
        return self.text


def whole(text: str) -> int | Whole:
    """Read a whole number; one with too many digits becomes no usable number, to be told as such."""
    digits = len(text.lstrip("+-"))
    if digits <= MOST_DIGITS:
        return int(text)
    number = Whole("-inf" if text.startswith("-") else "inf")
    number.text = f"{text[:12]}... ({digits} digits)"
    return number
