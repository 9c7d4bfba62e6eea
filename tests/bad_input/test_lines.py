"""The line that a message names is where the thing stands, however the file is laid out."""

from __future__ import annotations

import json
import random
from typing import TYPE_CHECKING, Any

import pytest

from router.scenario.json_lines import JsonLines

if TYPE_CHECKING:
    from router.scenario.errors import Path


class Writer:
    """Writes JSON with line ends anywhere, and notes where everything comes to stand."""

    def __init__(self, seed: int) -> None:
        self.rng = random.Random(seed)
        self.text = ""
        self.lines: dict[Path, int] = {}

    def blank(self) -> None:
        self.text += self.rng.choice(["", "", " ", "\n", "\r\n\t", "  \n\n "])

    def here(self) -> int:
        return self.text.count("\n") + 1

    def value(self, path: Path, depth: int) -> None:
        kind = self.rng.randrange(2, 6) if 0 < depth < 4 else 4 + self.rng.randrange(2) if not depth else 0
        if kind < 4:
            values: list[Any] = [1.5, -3, True, 'a "[{,:" b', "\u00fc\\", None]
            self.text += json.dumps(self.rng.choice(values))
            return
        self.text += "{" if kind == 4 else "["
        for k in range(self.rng.randrange(4)):
            self.text += "," if k else ""
            self.blank()
            part: str | int = f"k{k}" if kind == 4 else k
            self.lines[(*path, part)] = self.here()
            if kind == 4:
                self.text += json.dumps(part)
                self.blank()
                self.text += ":"
                self.blank()
            self.value((*path, part), depth + 1)
            self.blank()
        self.blank()
        self.text += "}" if kind == 4 else "]"


@pytest.mark.parametrize("seed", range(200))
def test_lines_of_any_layout(seed: int) -> None:
    writer = Writer(seed)
    writer.blank()
    writer.value((), 0)
    json.loads(writer.text)
    found = JsonLines(writer.text)
    for path, line in writer.lines.items():
        assert found.line(path) == line, (path, writer.text)
        assert found.line((*path, "gone", 3)) == line
    assert found.line(()) is None


def test_the_layouts_are_not_all_alike() -> None:
    counts = []
    for seed in range(200):
        writer = Writer(seed)
        writer.value((), 0)
        counts.append(len(writer.lines))
    assert sum(counts) > 300


def test_the_second_of_two_same_keys() -> None:
    lines = JsonLines('{"a": 1,\n"b": {"a": 2},\n"a": 3}')
    assert [lines.line(("a",), which) for which in (1, 2)] == [1, 3]
