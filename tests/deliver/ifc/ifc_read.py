"""Reads an exported model for tests, by IfcOpenShell alone: nothing of ours."""

from __future__ import annotations

import ast
from functools import cache
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import ifcopenshell
import ifcopenshell.express.rule_executor as executor
import ifcopenshell.geom
import ifcopenshell.util.element
import ifcopenshell.validate
import networkx as nx
import numpy as np
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
    validator: Any = ifcopenshell.validate
    logger = validator.json_logger()
    validator.validate(str(path), logger, express_rules=True)
    return [str(statement) for statement in logger.statements]


def settings(chord: float = 0.1) -> Any:
    """Settings of the library's geometry: the world's axes, chords of round bodies of so many rad."""
    geometry: Any = ifcopenshell.geom
    made = geometry.settings()
    made.set("use-world-coords", True)
    made.set("mesher-linear-deflection", 1e-4)
    made.set("mesher-angular-deflection", chord)
    return made


def mesh(element: Any, chord: float = 0.1) -> Any:
    """Triangles of an element's body, in metres."""
    geometry: Any = ifcopenshell.geom
    return geometry.create_shape(settings(chord), element).geometry


def corners(element: Any, chord: float = 0.1) -> Any:
    """Corners of an element's mesh, shape (n, 3), mm."""
    return np.array(mesh(element, chord).verts).reshape(-1, 3) * 1000


def sets(element: Any) -> dict[str, dict[str, Any]]:
    """Property sets and quantities of an element, its type's included."""
    return dict(ifcopenshell.util.element.get_psets(element))


def with_set(file: Any, entity: str, name: str) -> list[Any]:
    """Elements of a class that have a property set."""
    return [element for element in file.by_type(entity) if name in sets(element)]


def network(file: Any) -> nx.Graph[str]:
    """Elements by GlobalId, joined where IfcRelConnectsPorts joins their ports."""
    graph: nx.Graph[str] = nx.Graph()
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
