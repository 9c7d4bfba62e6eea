"""Commands and outputs that a Markdown page shows: found, and run as printed."""

from __future__ import annotations

import os
import re
import shlex
import subprocess
import sys
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from pathlib import Path

ENDS = re.compile(r"\s+# ends with (\d+)$")


@dataclass
class Shown:
    """A block of commands, each with the exit code that is said, and the output printed under it."""

    commands: list[tuple[str, int]]
    output: list[str] = field(default_factory=list)


def shown_in(page: str) -> list[Shown]:
    """Find every ``sh`` block, with the ``text`` block that follows it, if one does."""
    found: list[Shown] = []
    last = 0
    for block in re.finditer(r"^```(\w+)\n(.*?)^```$", page, flags=re.S | re.M):
        language, body = block.groups()
        if language == "sh":
            lines = [line.strip() for line in body.splitlines() if line.strip()]
            found.append(Shown([_command(line) for line in lines]))
            last = block.end()
        elif language == "text":
            between = page[last : block.start()]
            assert found, "an output stands before all commands"
            assert "```" not in between, "an output stands under no command"
            found[-1].output = body.splitlines()
    return found


def _command(line: str) -> tuple[str, int]:
    ends = ENDS.search(line)
    return re.sub(r"\s+#.*$", "", line), int(ends.group(1)) if ends else 0


def start(line: str, folder: Path, root: Path) -> subprocess.CompletedProcess[str]:
    """Run a command; the program is this Python's, as the project is installed in it."""
    words = shlex.split(line.replace(".venv/bin/", ""))
    assert words[0] == "branch-router", f"a command that nobody installed: {line}"
    width = {"COLUMNS": "110"}  # what is taken where the output is not a terminal
    return subprocess.run(
        [sys.executable, "-m", "router", *words[1:]],
        cwd=folder,
        env={**os.environ, **width, "PYTHONPATH": str(root)},
        capture_output=True,
        text=True,
        timeout=300,
        check=False,
    )


def missing_lines(shown: list[str], printed: str) -> list[str]:
    """Lines of a shown output that the real one has not, in this order; ``...`` stands for any lines."""
    real = [" ".join(line.split()) for line in printed.splitlines()]
    at, missing, free = 0, [], False
    for line in shown:
        wanted = " ".join(line.split())
        if wanted == "...":
            free = True
            continue
        if not wanted:
            continue
        rest = [n for n in range(at, len(real)) if real[n] == wanted]
        skipped = [text for text in real[at : rest[0]] if text] if rest else []
        if not rest or (skipped and not free):
            missing.append(line)
        else:
            at = rest[0] + 1
        free = False
    return missing
