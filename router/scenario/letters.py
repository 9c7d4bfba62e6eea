"""Characters that no name may hold: they steer terminals, end lines and cannot be written to files.

An escape sequence in a head's id could clear the screen of whoever reads the
findings, a line feed could make one finding look like two, half a surrogate pair is no text at all.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Any, Final

from router.scenario.errors import Fault, place_text

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from router.scenario.errors import Path

_STEERING: Final = re.compile(r"[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f\ud800-\udfff]")
_LINE: Final = re.compile(r"[\n\r]")
_ONE_LINE: Final = frozenset({"id", "name", "kind"})
"""Fields whose text is one line."""


def letter_faults(data: Any, line: Callable[[Path], int | None]) -> list[tuple[Path, Fault]]:
    """Find control characters and half surrogates in all texts, and breaks of line in names.

    Parameters
    ----------
    data
        A file as plain data.
    line
        Gives the line of a path.

    Returns
    -------
    list of (path, Fault)
    """
    found = []
    for path, text, message in _bad(data, ()):
        value = text.encode("unicode_escape").decode("ascii")
        shown = f'"{value[:40]}..."' if len(value) > 40 else f'"{value}"'
        found.append((path, Fault(place_text(path), "", shown, "", message, line(path))))
    return found


def _bad(value: Any, path: Path) -> Iterator[tuple[Path, str, str]]:
    if isinstance(value, dict):
        for key, part in value.items():
            if isinstance(key, str) and (_STEERING.search(key) or _LINE.search(key)):
                yield path, key, f"a field named with {_called(key)}; plain letters expected"
            else:
                yield from _bad(part, (*path, key))
    elif isinstance(value, list):
        for k, part in enumerate(value):
            yield from _bad(part, (*path, k))
    elif isinstance(value, str) and not value.isprintable():
        one_line = bool(path) and path[-1] in _ONE_LINE
        if _STEERING.search(value) or (one_line and _LINE.search(value)):
            yield path, value, f"holds {_called(value)}; plain letters expected"


def _called(text: str) -> str:
    found = _STEERING.search(text) or _LINE.search(text)
    code = ord(found[0]) if found else 0
    what = "half a character" if 0xD800 <= code < 0xE000 else "a control character"
    return f"{what} (U+{code:04X})"
