"""On which line of a JSON text something stands: looked for when it is asked, and only on the way there."""

from __future__ import annotations

import json
import re
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from router.scenario.errors import Path

_BLANK = re.compile(r"[ \t\n\r]*")


@dataclass
class _Parts:
    """What an object or list holds: keys (or positions), the line of each and where its value begins."""

    keys: list[str | int] = field(default_factory=list)
    lines: list[int] = field(default_factory=list)
    starts: list[tuple[int, int]] = field(default_factory=list)

    def at(self, part: str | int, which: int) -> int | None:
        """Give where a key or position is among them; ``which`` of several same keys, else the last."""
        if isinstance(part, int):  # lists are long
            return part if self.keys[part : part + 1] == [part] else None
        found = [k for k, key in enumerate(self.keys) if key == part]
        return found[: max(which, 1)][-1] if found else None


class JsonLines:
    """Lines of a text that is valid JSON.

    What is not on the way is passed over by the compiled scanner, so that a
    file of tens of megabytes is no slower to ask than to read.
    """

    def __init__(self, text: str) -> None:
        self.text = text
        # texts of numbers are of no interest here, and some are too long to become numbers
        self._decoder = json.JSONDecoder(parse_int=len, parse_float=len, parse_constant=len)
        self._known: dict[Path, _Parts] = {}

    def line(self, path: Path, which: int = 1) -> int | None:
        """Give the line of a path, or of the nearest thing around it.

        Parameters
        ----------
        path
            Keys and list positions from the top.
        which
            Which of several same keys in one object is meant at the path's end: 1 the first.

        Returns
        -------
        int or None
            From 1; ``None`` for the whole text.
        """
        start = self._blank(0)
        found, here = None, (start, 1 + self.text.count("\n", 0, start))
        for k, part in enumerate(path):
            inside = self._inside(path[:k], *here)
            wanted = which if k == len(path) - 1 else 1
            at = inside.at(part, wanted)
            if at is None:
                break
            found, here = inside.lines[at], inside.starts[at]
        return found

    def _inside(self, path: Path, at: int, line: int) -> _Parts:
        if path not in self._known:
            self._known[path] = self._parts(at, line)
        return self._known[path]

    def _parts(self, at: int, line: int) -> _Parts:
        text, parts = self.text, _Parts()
        opening = text[at : at + 1]
        if opening not in ("{", "["):
            return parts
        seen = at
        at = self._blank(at + 1)
        while text[at : at + 1] not in ("}", "]", ""):
            line += text.count("\n", seen, at)
            seen, own = at, line
            key: str | int = len(parts.keys)
            if opening == "{":
                key, end = self._decoder.raw_decode(text, at)
                at = self._blank(self._blank(end) + 1)  # past the colon
                line += text.count("\n", seen, at)
                seen = at
            parts.keys.append(key)
            parts.lines.append(own)
            parts.starts.append((at, line))
            at = self._blank(self._decoder.raw_decode(text, at)[1])
            if text[at : at + 1] == ",":
                at = self._blank(at + 1)
        return parts

    def _blank(self, at: int) -> int:
        return _BLANK.match(self.text, at).end()  # type: ignore[union-attr]
