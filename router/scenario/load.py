"""A file becomes plain data with the line of every value. No meaning yet.

JSON and YAML both end as dicts, lists, text, numbers, booleans and nulls.
YAML is read by the core schema (``no`` is text, ``1e3`` a number), safely:
no tags, and no way to blow a small file up by aliases.
"""

from __future__ import annotations

import json
import math
import re
import sys
from dataclasses import dataclass, field
from functools import partial
from typing import TYPE_CHECKING, Any

import yaml

from router.scenario.errors import Fault, Path, ScenarioError, place_text
from router.scenario.letters import letter_faults

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path as FilePath

MAX_BYTES = 128 * 1024 * 1024
MAX_DEPTH = 40
MAX_VALUES = 1_000_000

_TOKEN = re.compile(r'"(?:[^"\\\n]|\\.)*"|[{}\[\],:]|[^\s{}\[\],:"]+|\n')


@dataclass
class Document:
    """A file as plain data.

    ``lines`` gives the line (from 1) of each path; ``faults`` what was wrong
    already at this stage (doubled keys, numbers that are no numbers), with its path.
    ``scan``: finds the lines, if that has been put off till one is asked for.
    ``spoilt``: some text holds what no text may; a fault says so.
    """

    data: Any
    lines: dict[Path, int] = field(default_factory=dict)
    faults: list[tuple[Path, Fault]] = field(default_factory=list)
    scan: Callable[[], None] | None = None
    spoilt: bool = False

    def spell(self) -> None:
        """Note texts that hold control characters; see :mod:`router.scenario.letters`."""
        found = letter_faults(self.data, self.line)
        self.faults += found
        self.spoilt = bool(found)

    def line(self, path: Path) -> int | None:
        """Give the line of a path, or of the nearest thing around it.

        Returns
        -------
        int or None
        """
        if self.scan is not None:
            scan, self.scan = self.scan, None
            scan()
        while path and path not in self.lines:
            path = path[:-1]
        return self.lines.get(path)


def load(path: FilePath) -> Document:
    """Read a JSON or YAML file.

    The suffix decides (``.json``, ``.yaml``, ``.yml``); any other file is taken
    for JSON if it starts with a brace.

    Raises
    ------
    ScenarioError
        If it cannot be read, is no text, too large, or has a syntax error.
    """
    name = str(path)
    try:
        if path.is_file() and path.stat().st_size > MAX_BYTES:
            size = f"{path.stat().st_size / 1024 / 1024:.0f}"
            raise _stop(name, size, "MB", f"the file is too large; at most {MAX_BYTES // 1024 // 1024} MB")
        raw = path.read_bytes()
    except OSError as error:
        reason = error.strerror or str(error)
        raise _stop(name, "", "", f"cannot be read: {reason}") from error
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        message = f"is not UTF-8 text (byte {error.start})"
        raise _stop(name, f"0x{raw[error.start]:02x}", "", message) from error
    return load_text(text, path.suffix.lower(), name)


def load_text(text: str, suffix: str = "", name: str = "") -> Document:
    """Read JSON or YAML text; see :func:`load`.

    Raises
    ------
    ScenarioError
        If it is empty or has a syntax error.
    """
    if not text.strip():
        raise _stop(name, "", "", "the file is empty; a scenario in JSON or YAML is expected")
    as_json = suffix == ".json" or (suffix not in {".yaml", ".yml"} and text.lstrip().startswith("{"))
    document = _load_json(text, name) if as_json else _load_yaml(text, name)
    document.spell()
    return document


def _stop(name: str, value: str, unit: str, message: str, line: int | None = None) -> ScenarioError:
    return ScenarioError([Fault("(file)", "", value, unit, message, line)], name)


@dataclass
class _Frame:
    is_list: bool
    key: str | int | None
    seen: set[str] = field(default_factory=set)


def _load_json(text: str, name: str) -> Document:
    document = Document(None)
    if _load_sound(text, document):
        document.scan = partial(_scan_json, text, name, document)
        return document
    _scan_json(text, name, document)
    try:
        document.data = json.loads(text, object_pairs_hook=_first_of_each)
    except json.JSONDecodeError as error:
        found = text[error.pos : error.pos + 20].split("\n")[0] or "end of file"
        message = f"not valid JSON at column {error.colno}: {error.msg[0].lower()}{error.msg[1:]}"
        raise _stop(name, found, "", message, error.lineno) from error
    except (ValueError, RecursionError) as error:
        raise _stop(name, "", "", f"not valid JSON: {error}") from error
    document.data = finite(document.data, (), document)
    return document


def _load_sound(text: str, document: Document) -> bool:
    """Read JSON in which nothing is wrong at this stage; tell whether it is such.

    Lines are then wanted only if something turns out to be wrong later on: to
    find them takes several times as long as all the rest.
    """
    doubled: list[None] = []

    def once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
        found = dict(pairs)
        if len(found) != len(pairs):
            doubled.append(None)
        return found

    try:
        document.data = json.loads(text, object_pairs_hook=once)
    except (ValueError, RecursionError):
        return False
    return not doubled and sound(document.data)


def sound(data: Any) -> bool:
    """Tell whether all numbers are finite and nothing is nested too deep."""
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
            elif isinstance(value, int) and abs(value) > sys.float_info.max:
                return False
        level = below
    return True


def _first_of_each(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    result: dict[str, Any] = {}
    for key, value in pairs:
        result.setdefault(key, value)
    return result


def _scan_json(text: str, name: str, document: Document) -> None:
    """Note lines and doubled keys; a plain loop, so that depth cannot hurt."""
    stack: list[_Frame] = []
    line = 1

    def path() -> Path:
        return tuple(frame.key for frame in stack if frame.key is not None)

    for match in _TOKEN.finditer(text):
        token = match.group()
        top = stack[-1] if stack else None
        if token == "\n":
            line += 1
        elif token in "}]":
            if stack:
                stack.pop()
        elif token == ",":
            if top is not None:
                top.key = top.key + 1 if isinstance(top.key, int) else None
        elif token == ":":
            continue
        elif top is not None and not top.is_list and top.key is None and token.startswith('"'):
            try:
                key = str(json.loads(token))
            except ValueError:
                continue
            top.key = key
            if key in top.seen:
                document.faults.append((path(), _doubled(path(), key, line)))
            else:
                document.lines[path()] = line
            top.seen.add(key)
        else:
            if top is not None and top.is_list:
                document.lines[path()] = line
            if token in "{[":
                stack.append(_Frame(token == "[", 0 if token == "[" else None))
                if len(stack) > MAX_DEPTH:
                    raise _stop(
                        name, str(len(stack)), "levels", f"nested too deep; at most {MAX_DEPTH}", line
                    )


def _doubled(path: Path, key: str, line: int | None) -> Fault:
    return Fault(place_text(path), "", f'"{key}"', "", "this key stands twice; each key once", line)


def finite(value: Any, path: Path, document: Document) -> Any:
    """Take out NaN and infinities, each with a fault.

    Returns
    -------
    Any
        The same data, with null in their place.
    """
    if isinstance(value, dict):
        return {key: finite(part, (*path, key), document) for key, part in value.items()}
    if isinstance(value, list):
        return [finite(part, (*path, i), document) for i, part in enumerate(value)]
    if isinstance(value, (int, float)) and not isinstance(value, bool):
        try:
            usable = math.isfinite(float(value))
        except OverflowError:
            usable = False
        if not usable:
            shown = str(value) if isinstance(value, float) else f"{str(value)[:12]}..."
            message = "not a usable number; a finite number is expected"
            fault = Fault(place_text(path), "", shown, "", message, document.line(path))
            document.faults.append((path, fault))
            return None
    return value


class _CoreLoader(getattr(yaml, "CSafeLoader", yaml.SafeLoader)):  # type: ignore[misc]
    """Safe loader with the core schema's few implicit types."""

    yaml_implicit_resolvers: dict[str, Any] = {}  # noqa: RUF012


for _tag, _pattern, _first in (
    ("bool", r"^(?:true|True|TRUE|false|False|FALSE)$", "tTfF"),
    ("null", r"^(?:~|null|Null|NULL|)$", ["~", "n", "N", ""]),
    ("int", r"^[-+]?[0-9]+$", "-+0123456789"),
    (
        "float",
        r"^(?:[-+]?(?:\.[0-9]+|[0-9]+(?:\.[0-9]*)?)(?:[eE][-+]?[0-9]+)?"
        r"|[-+]?\.(?:inf|Inf|INF)|\.(?:nan|NaN|NAN))$",
        "-+.0123456789",
    ),
):
    _CoreLoader.add_implicit_resolver(f"tag:yaml.org,2002:{_tag}", re.compile(_pattern), list(_first))


def _load_yaml(text: str, name: str) -> Document:
    document = Document(None)
    try:
        loader = _CoreLoader(text)
        try:
            node = loader.get_single_node()
        finally:
            loader.dispose()
        document.data = _Yaml(document, name).value(node, ())
    except yaml.MarkedYAMLError as error:
        mark = error.problem_mark or error.context_mark
        line = mark.line + 1 if mark else None
        column = f" at column {mark.column + 1}" if mark else ""
        raise _stop(name, "", "", f"not valid YAML{column}: {error.problem or error}", line) from error
    except (yaml.YAMLError, RecursionError) as error:
        raise _stop(name, "", "", f"not valid YAML: {str(error).splitlines()[0]}") from error
    document.data = finite(document.data, (), document)
    return document


_PLAIN = ("tag:yaml.org,2002:map", "tag:yaml.org,2002:seq")


class _Yaml:
    """Nodes become plain data; counts values, so that aliases stay harmless."""

    def __init__(self, document: Document, name: str) -> None:
        self.document = document
        self.name = name
        self.left = MAX_VALUES

    def value(self, node: yaml.Node | None, path: Path) -> Any:
        """Give the plain value of a node.

        Returns
        -------
        Any
            dict, list, text, number, boolean or None.
        """
        if node is None:
            return None
        line = node.start_mark.line + 1
        self.document.lines.setdefault(path, line)
        self.left -= 1
        if self.left < 0:
            raise _stop(
                self.name, str(MAX_VALUES), "values", "too many values; the aliases may multiply", line
            )
        if len(path) > MAX_DEPTH:
            raise _stop(self.name, str(len(path)), "levels", f"nested too deep; at most {MAX_DEPTH}", line)
        if not isinstance(node, yaml.ScalarNode) and node.tag not in _PLAIN:
            self._tagged(node, path)
        if isinstance(node, yaml.MappingNode):
            return self._mapping(node, path)
        if isinstance(node, yaml.SequenceNode):
            return [self.value(part, (*path, i)) for i, part in enumerate(node.value)]
        return self._scalar(node, path)

    def _mapping(self, node: yaml.MappingNode, path: Path) -> dict[str, Any]:
        result: dict[str, Any] = {}
        for key_node, part in node.value:
            key = str(key_node.value) if isinstance(key_node, yaml.ScalarNode) else "(a list or mapping)"
            line = key_node.start_mark.line + 1
            if key in result:
                self.document.faults.append(((*path, key), _doubled((*path, key), key, line)))
                continue
            self.document.lines[(*path, key)] = line
            result[key] = self.value(part, (*path, key))
        return result

    def _scalar(self, node: yaml.Node, path: Path) -> Any:
        text = str(node.value)
        kind = str(node.tag).rpartition(":")[2]
        try:
            if kind == "int":
                return int(text)
            if kind == "float":
                return float(text.lower().replace(".inf", "inf").replace(".nan", "nan"))
        except ValueError:
            return text
        if kind == "bool":
            return text.lower() == "true"
        if kind == "null":
            return None
        if kind != "str":
            self._tagged(node, path)
        return text

    def _tagged(self, node: yaml.Node, path: Path) -> None:
        message = "tags are not accepted; plain values only"
        fault = Fault(place_text(path), "", str(node.tag), "", message, node.start_mark.line + 1)
        self.document.faults.append((path, fault))
