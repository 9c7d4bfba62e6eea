"""Reads an exported model for tests, by IfcOpenShell alone: nothing of ours."""

from __future__ import annotations

import ast
from functools import cache
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import ifcopenshell
import ifcopenshell.express.rule_executor as executor
import ifcopenshell.util.element
import ifcopenshell.validate
import networkx as nx
from _pytest.assertion import rewrite


def opened(text: str) -> Any:
    """Open a file's text."""
    return ifcopenshell.file.from_string(text)


@cache
def _rules(schema: str) -> Any:
    path = Path(executor.__file__).parent / "rules" / f"{schema}.py"
    source = path.read_bytes()
    tree = ast.parse(source)
    rewrite.rewrite_asserts(tree, source)
    return compile(tree, str(path), "exec")


def complaints(path: Path, monkeypatch: Any) -> list[str]:
    """Everything that IfcOpenShell's validator says of a file, its EXPRESS rules included.

    The library compiles the rules of the schema (2 s) for every file; here that is done once.
    """
    code = _rules("IFC4")
    monkeypatch.setattr(executor, "ast", SimpleNamespace(parse=lambda _: ast.Module([], [])))
    monkeypatch.setattr(executor, "compile", lambda *_: code, raising=False)
    logger = ifcopenshell.validate.json_logger()
    ifcopenshell.validate.validate(str(path), logger, express_rules=True)
    return [str(statement) for statement in logger.statements]


def sets(element: Any) -> dict[str, dict[str, Any]]:
    """Property sets and quantities of an element, its type's included."""
    return dict(ifcopenshell.util.element.get_psets(element))


def with_set(file: Any, entity: str, name: str) -> list[Any]:
    """Elements of a class that have a property set."""
    return [element for element in file.by_type(entity) if name in sets(element)]


def network(file: Any) -> nx.Graph:
    """Elements by GlobalId, joined where IfcRelConnectsPorts joins their ports."""
    graph = nx.Graph()
    owner = {}
    for nests in file.by_type("IfcRelNests"):
        for port in nests.RelatedObjects:
            if port.is_a("IfcDistributionPort"):
                owner[port.id()] = nests.RelatingObject.GlobalId
                graph.add_node(nests.RelatingObject.GlobalId)
    for joined in file.by_type("IfcRelConnectsPorts"):
        graph.add_edge(owner[joined.RelatingPort.id()], owner[joined.RelatedPort.id()])
    return graph


def supplies(file: Any) -> set[str]:
    """Elements that water enters from outside: a port with flow in, connected with nothing."""
    connected = set()
    for joined in file.by_type("IfcRelConnectsPorts"):
        connected |= {joined.RelatingPort.id(), joined.RelatedPort.id()}
    return {
        nests.RelatingObject.GlobalId
        for nests in file.by_type("IfcRelNests")
        for port in nests.RelatedObjects
        if port.is_a("IfcDistributionPort") and port.FlowDirection == "SINK" and port.id() not in connected
    }
