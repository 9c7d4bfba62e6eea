"""YAML becomes plain data: by the core schema, without tags, and aliases cannot blow a small file up."""

from __future__ import annotations

import re
from typing import Any

import yaml

from router.scenario.errors import Fault, Path, ScenarioError, place_text
from router.scenario.plain import MAX_DEPTH, Document, clean, doubled_key, stop, whole

MAX_BYTES = 4 * 1024 * 1024
"""YAML is read a hundred times as slowly as JSON."""
MAX_VALUES = 300_000
"""Values at most, aliases counted each time."""


class _CoreLoader(getattr(yaml, "CSafeLoader", yaml.SafeLoader)):  # type: ignore[misc]
    """Safe loader with the core schema's few implicit types."""

    yaml_implicit_resolvers: dict[str, Any] = {}  # noqa: RUF012


_IMPLICIT = {
    "bool": re.compile(r"^(?:true|True|TRUE|false|False|FALSE)$"),
    "null": re.compile(r"^(?:~|null|Null|NULL|)$"),
    "int": re.compile(r"^[-+]?[0-9]+$"),
    "float": re.compile(
        r"^(?:[-+]?(?:\.[0-9]+|[0-9]+(?:\.[0-9]*)?)(?:[eE][-+]?[0-9]+)?"
        r"|[-+]?\.(?:inf|Inf|INF)|\.(?:nan|NaN|NAN))$"
    ),
}
"""What is no text without quotes, by kind."""

for _tag, _first in (
    ("bool", list("tTfF")),
    ("null", ["~", "n", "N", ""]),
    ("int", list("-+0123456789")),
    ("float", list("-+.0123456789")),
):
    _CoreLoader.add_implicit_resolver(f"tag:yaml.org,2002:{_tag}", _IMPLICIT[_tag], _first)


def load_yaml(text: str, name: str) -> Document:
    """Read YAML text.

    Raises
    ------
    ScenarioError
        If it has a syntax error, is too large, too deep, or multiplies.
    """
    if len(text) > MAX_BYTES:
        most = f"too large for YAML; at most {MAX_BYTES // 1024 // 1024} MB, write it as JSON"
        raise stop(name, f"{len(text) / 1024 / 1024:.1f}", "MB", most)
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
        raise stop(name, "", "", f"not valid YAML{column}: {error.problem or error}", line) from error
    except (yaml.YAMLError, RecursionError) as error:
        raise stop(name, "", "", f"not valid YAML: {str(error).splitlines()[0]}") from error
    clean(document, name, True)
    return document


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
            raise stop(
                self.name, str(MAX_VALUES), "values", "too many values; the aliases may multiply", line
            )
        if len(path) > MAX_DEPTH:
            message = f"nested too deep; at most {MAX_DEPTH}"
            place = place_text(path[:3])
            raise ScenarioError([Fault(place, "", str(len(path)), "levels", message, line)], self.name)
        if isinstance(node, yaml.MappingNode):
            self._plain(node, path, "map")
            return self._mapping(node, path)
        if isinstance(node, yaml.SequenceNode):
            self._plain(node, path, "seq")
            return [self.value(part, (*path, i)) for i, part in enumerate(node.value)]
        return self._scalar(node, path)

    def _plain(self, node: yaml.Node, path: Path, *kinds: str) -> bool:
        """Tell whether a node has a tag of plain values; note where it has another."""
        if node.tag in {f"tag:yaml.org,2002:{kind}" for kind in kinds}:
            return True
        message = "tags are not accepted; plain values only"
        line = node.start_mark.line + 1
        self.document.faults.append((path, Fault(place_text(path), "", str(node.tag), "", message, line)))
        return False

    def _mapping(self, node: yaml.MappingNode, path: Path) -> dict[str, Any]:
        result: dict[str, Any] = {}
        for key_node, part in node.value:
            key = str(key_node.value) if isinstance(key_node, yaml.ScalarNode) else "(a list or mapping)"
            line = key_node.start_mark.line + 1
            if key in result:
                self.document.faults.append(((*path, key), doubled_key((*path, key), key, line)))
                continue
            self.document.lines[(*path, key)] = line
            result[key] = self.value(part, (*path, key))
        return result

    def _scalar(self, node: yaml.Node, path: Path) -> Any:
        text = str(node.value)
        if not self._plain(node, path, "int", "float", "bool", "null", "str"):
            return text
        kind = str(node.tag).rpartition(":")[2]
        if kind == "str" or not _IMPLICIT[kind].match(text):
            return text
        if kind == "int":
            return whole(text)
        if kind == "float":
            return float(text.lower().replace(".inf", "inf").replace(".nan", "nan"))
        return text.lower() == "true" if kind == "bool" else None
