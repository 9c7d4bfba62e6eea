"""A cheap look at a file before anything parses it: is it whole, of which schema, how deep."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

import numpy as np

from router.readers.ifc.limits import MB, SCHEMAS, Limits
from router.scenario.errors import Fault, ScenarioError

if TYPE_CHECKING:
    from pathlib import Path

CHUNK = 2 * MB
START, END = b"ISO-10303-21", b"END-ISO-10303-21"
_SCHEMA = re.compile(rb"FILE_SCHEMA\s*\(\s*\(\s*'([^']*)'", re.IGNORECASE)
_BEGIN = re.compile(rb"#\d+\s*=")
_TEXTS = re.compile(rb"'[^']*'|/\*.*?\*/", re.DOTALL)


def stop(file: str, value: str, unit: str, message: str, item: str = "") -> ScenarioError:
    """Give the error of a file that cannot be read.

    Returns
    -------
    ScenarioError
        With one fault.
    """
    return ScenarioError([Fault("(file)", item, value, unit, message)], file)


def scan(path: Path, limits: Limits, name: str = "") -> int:
    """Look a STEP file through.

    Parameters
    ----------
    path
        The file, unpacked.
    limits
        Size, depth and length of a statement.
    name
        Name for messages; default: the path.

    Returns
    -------
    int
        Number of its statements.

    Raises
    ------
    ScenarioError
        If it is no such file, of another schema, truncated, too large or too deep.
    """
    name = name or str(path)
    try:
        if path.exists() and not path.is_file():
            raise stop(name, "", "", "is not a plain file")
        size = path.stat().st_size
        if size > limits.file_bytes:
            most = f"the file is too large; at most {limits.file_bytes // MB} MB"
            raise stop(name, f"{size / MB:.0f}", "MB", most)
        _head(path, name)
        with path.open("rb") as stream:
            stream.seek(max(0, size - 4096))
            tail = stream.read().rstrip(b"\0 \t\r\n;")
        if not tail.endswith(END):
            last = " ".join(tail[-30:].decode("latin-1").split())
            raise stop(name, f'"{last}"', "", "the file is truncated: it does not end with END-ISO-10303-21")
        return _statements(path, limits, name)
    except OSError as error:
        raise stop(name, "", "", f"cannot be read: {error.strerror or error}") from error


def _head(path: Path, name: str) -> None:
    with path.open("rb") as stream:
        head = stream.read(64 * 1024)
    text = head.removeprefix(b"\xef\xbb\xbf").lstrip()
    if not text:
        raise stop(name, "", "", "the file is empty; a model in STEP text (ISO-10303-21) is expected")
    if text.startswith(b"<"):
        raise stop(name, "", "", "is XML (ifcxml), which is not read; save the model as .ifc")
    if text.startswith(b"PK"):
        raise stop(name, "", "", "is a packed file; its name should end in .ifczip")
    if not text.startswith(START):
        found = text[:20].decode("latin-1").split("\n")[0]
        raise stop(name, f'"{found}"', "", "is no model in STEP text: it does not begin with ISO-10303-21")
    match = _SCHEMA.search(text)
    if match is None:
        raise stop(name, "", "", f"no FILE_SCHEMA in its header; one of {', '.join(SCHEMAS)} expected")
    schema = match[1].decode("latin-1").strip().upper()
    if schema not in SCHEMAS and not schema.startswith("IFC4X3"):
        raise stop(name, f'"{schema}"', "", f"schema not read; one of {', '.join(SCHEMAS)} expected")


def _statements(path: Path, limits: Limits, name: str) -> int:
    """Count statements; refuse parentheses too deep within each other, and a statement without end."""
    depth, rest, seen, count = 0, bytearray(), 0, 0
    with path.open("rb") as stream:
        while True:
            block = stream.read(CHUNK)
            new = max(0, len(rest) - 1)  # before, no statement ends
            rest += block
            # texts and comments may hold anything: cut where a statement ends
            cut = len(rest) if not block else 1 + max(rest.rfind(end, new) for end in (b";\n", b";\r", b";#"))
            if block and not cut:
                if len(rest) > limits.statement:
                    size = f"{len(rest) / MB:.0f}"
                    raise stop(name, size, "MB", f"one statement from byte {seen} on has no end")
                continue
            part = bytes(rest[:cut])
            del rest[:cut]
            bare = _TEXTS.sub(b"", part)
            count += len(_BEGIN.findall(bare))
            codes = np.frombuffer(bare, dtype=np.uint8)
            steps = (codes == ord("(")).astype(np.int32) - (codes == ord(")"))
            if len(steps):
                levels = depth + np.cumsum(steps)
                if int(levels.max()) > limits.depth:
                    message = (
                        f"parentheses within each other near byte {seen}; at most {limits.depth} are read"
                    )
                    raise stop(name, str(int(levels.max())), "levels", message)
                depth = int(levels[-1])
                if depth != 0:
                    what = "not closed" if depth > 0 else "closed but not opened"
                    raise stop(
                        name, str(abs(depth)), "", f"parentheses {what} before byte {seen + len(part)}"
                    )
            seen += len(part)
            if not block:
                return count
