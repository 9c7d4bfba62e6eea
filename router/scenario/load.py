"""A file becomes plain data with the line of every value. No meaning yet.

JSON and YAML both end as dicts, lists, text, numbers, booleans and nulls.
YAML is read by the core schema (``no`` is text, ``1e3`` a number), safely:
no tags, and no way to blow a small file up by aliases.
"""

from __future__ import annotations

import json
import re
from typing import TYPE_CHECKING, Any

from router.scenario.json_lines import JsonLines
from router.scenario.plain import MAX_DEPTH, UNSEEN, Document, clean, doubled_key, stop, whole
from router.scenario.yaml_text import load_yaml

if TYPE_CHECKING:
    from pathlib import Path as FilePath

    from router.scenario.errors import Path

MAX_BYTES = 64 * 1024 * 1024
MAX_PARTS = 6_000_000
"""Values of a JSON file at most, by its commas and brackets. A route takes some 170 for each head."""
MOST_DOUBLED = 100

_MAY_BE_UNSEEN = re.compile(UNSEEN.pattern + r"|\\[ubfntr]")


def load(path: FilePath, most: int = MAX_BYTES) -> Document:
    """Read a JSON or YAML file of at most so many bytes.

    The suffix decides (``.json``, ``.yaml``, ``.yml``); any other file is taken
    for JSON if it starts with a brace.

    Raises
    ------
    ScenarioError
        If it cannot be read, is no text, too large, or has a syntax error.
    """
    name = str(path)
    try:
        if path.exists() and not path.is_file() and not path.is_dir():
            raise stop(name, "", "", "is not a plain file")  # it might never end
        if path.is_file() and path.stat().st_size > most:
            size = f"{path.stat().st_size / 1024 / 1024:.0f}"
            raise stop(name, size, "MB", f"the file is too large; at most {most // 1024 // 1024} MB")
        raw = path.read_bytes()
    except OSError as error:
        reason = error.strerror or str(error)
        raise stop(name, "", "", f"cannot be read: {reason}") from error
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        message = f"is not UTF-8 text (byte {error.start})"
        if raw.startswith((b"\xff\xfe", b"\xfe\xff")):
            message += ", but UTF-16 or UTF-32; save it as UTF-8"
        line = raw.count(b"\n", 0, error.start) + 1
        raise stop(name, f"0x{raw[error.start]:02x}", "", message, line) from error
    return load_text(text, path.suffix.lower(), name)


def load_text(text: str, suffix: str = "", name: str = "") -> Document:
    """Read JSON or YAML text; see :func:`load`.

    Raises
    ------
    ScenarioError
        If it is empty or has a syntax error.
    """
    if not text.strip():
        raise stop(name, "", "", "the file is empty; a scenario in JSON or YAML is expected")
    as_json = suffix == ".json" or (suffix not in {".yaml", ".yml"} and text.lstrip().startswith("{"))
    return _load_json(text, name) if as_json else load_yaml(text, name)


def _load_json(text: str, name: str) -> Document:
    parts = text.count(",") + text.count("[") + text.count("{")
    if parts > MAX_PARTS:
        raise stop(name, str(parts), "values", f"the file holds too many values; at most {MAX_PARTS}")
    lines = JsonLines(text)
    document = Document(None, find=lines.line)
    doubled: list[_Doubled] = []

    def once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
        found = dict(pairs)
        if len(found) == len(pairs):
            return found
        doubled.append(_Doubled(pairs))
        return doubled[-1]

    try:
        try:
            document.data = json.loads(text, object_pairs_hook=once)
        except json.JSONDecodeError:
            raise
        except ValueError:  # a number with thousands of digits
            doubled.clear()
            document.data = json.loads(text, object_pairs_hook=once, parse_int=whole)
    except json.JSONDecodeError as error:
        found = text[error.pos : error.pos + 20].split("\n")[0] or "end of file"
        message = f"not valid JSON at column {error.colno}: {error.msg[0].lower()}{error.msg[1:]}"
        raise stop(name, found, "", message, error.lineno) from error
    except RecursionError as error:
        line, column = _first_deep(text)
        message = f"nested too deep; at most {MAX_DEPTH} (column {column})"
        raise stop(name, f"over {MAX_DEPTH}", "levels", message, line) from error
    if doubled:
        _tell_doubled(document, lines)
    clean(document, name, _MAY_BE_UNSEEN.search(text) is not None)
    return document


class _Doubled(dict[str, Any]):
    """An object in which keys stand more than once: the first of each counts."""

    def __init__(self, pairs: list[tuple[str, Any]]) -> None:
        super().__init__()
        self.again: dict[str, None] = {}
        for key, value in pairs:
            if key in self:
                self.again[key] = None
            self.setdefault(key, value)


def _tell_doubled(document: Document, lines: JsonLines) -> None:
    """Note keys that stand more than once, in the order of the file."""
    left: list[tuple[Path, Any]] = [((), document.data)]
    while left and len(document.faults) < MOST_DOUBLED:
        path, value = left.pop()
        if isinstance(value, _Doubled):
            for key in value.again:
                at = (*path, key)
                document.faults.append((at, doubled_key(at, key, lines.line(at, 2))))
        if len(path) > MAX_DEPTH:
            continue
        if isinstance(value, dict):
            left += [((*path, key), part) for key, part in reversed(value.items())]
        elif isinstance(value, list):
            left += [((*path, i), value[i]) for i in reversed(range(len(value)))]


def _first_deep(text: str) -> tuple[int, int]:
    """Give line and column of the first bracket that is too deep; texts may hold any."""
    depth = 0
    for match in re.finditer(r'"(?:[^"\\]|\\.)*"|[{}\[\]]', text):
        token = match.group()
        depth += 1 if token in "{[" else -1 if token in "}]" else 0
        if depth > MAX_DEPTH:
            before = text.rfind("\n", 0, match.start())
            return text.count("\n", 0, match.start()) + 1, match.start() - before
    return 1, 1


__all__ = ["MAX_BYTES", "Document", "load", "load_text"]
