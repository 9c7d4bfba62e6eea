"""Bounds of our own plain tables: what is larger is no table of pipes, and is refused before it is read."""

from __future__ import annotations

from typing import TYPE_CHECKING

from router.scenario.errors import Fault

if TYPE_CHECKING:
    from pathlib import Path

MAX_BYTES = 64 * 1024 * 1024
MAX_ROWS = 200_000
MOST_FAULTS = 1_000
"""So many are noted; a file with more is broken in one way."""
MOST_DIGITS = 9


def is_whole(text: str) -> bool:
    """Tell whether a text is a whole number of plain digits, not longer than any size."""
    return text.isascii() and text.isdigit() and len(text) <= MOST_DIGITS


def too_large(file: Path) -> list[Fault]:
    """Find that a file is no plain file or too large to be one of ours.

    Returns
    -------
    list of Fault
        At most one. A file that is not there is left to the reader.
    """
    if file.exists() and not file.is_file():
        return [Fault(file.name, "", "", "", "is not a plain file")]
    size = file.stat().st_size if file.exists() else 0
    if size > MAX_BYTES:
        most = f"the file is too large; at most {MAX_BYTES // 1024 // 1024} MB"
        return [Fault(file.name, "", f"{size / 1024 / 1024:.0f}", "MB", most)]
    return []


def too_many(file: str, row: int, rows: int, faults: list[Fault]) -> bool:
    """Tell whether to read no further; note it where rows are too many."""
    if rows > MAX_ROWS:
        faults.append(Fault(f"{file} row {row}", "", str(rows), "rows", f"at most {MAX_ROWS} are read", row))
        return True
    return len(faults) > MOST_FAULTS
