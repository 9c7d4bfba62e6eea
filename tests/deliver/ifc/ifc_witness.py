"""The outside witness: IfcOpenShell's own clash detection on exported files.

Source: IfcOpenShell (LGPL), ``ifcopenshell.geom.tree``: ``clash_clearance_many`` measures
between the triangles of two meshes, ``clash_intersection_many`` finds meshes that pierce
or hold one another. Round bodies are meshed from inside: a measured gap is at most
:data:`MESH_MM` too large, and never too small.
"""

from __future__ import annotations

from dataclasses import dataclass
from inspect import signature
from math import inf
from typing import TYPE_CHECKING, Any, Final

import ifc_read
import ifcopenshell.geom as geom
import ifcopenshell.util.element

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

CHORD: Final = 0.25
"""Of a circle, rad: 0.8 % of the radius inside it (short legs are meshed by this, not by a depth)."""
MESH_MM: Final = 0.5
"""By how much a gap may be measured too large: that depth on DN80 pipe, and a ball's two ways round."""
MEET_MM: Final = -1.0
"""Stands for the gap of meshes that meet: how deep is not asked."""


@dataclass(frozen=True)
class Solid:
    """An element of a file as the witness sees it.

    ``parts``: the pieces and plugs whose axes the body belongs to: itself, or
    those that are connected with a fitting.
    """

    name: str
    guid: str
    parts: frozenset[str]


class Witness:
    """Meshes of a route, and the gaps from them to the obstructions of scenarios."""

    def __init__(self, route_text: str) -> None:
        self.route = ifc_read.opened(route_text)
        self.bodies = {solid.guid: solid for solid in bodies(self.route)}
        self._moving = [self.route.by_guid(guid) for guid in self.bodies]
        # from 0.9 on the library has several trees, and only this one measures meshes
        several = "backend" in signature(geom.tree.__init__).parameters
        self.tree: Any = geom.tree(backend="opencascade.trianglebvh") if several else geom.tree()
        self._mesh(self.route, self._moving)
        self._others: list[Any] = []

    def _mesh(self, file: Any, elements: list[Any]) -> None:
        self.tree.add_iterator(geom.iterator(ifc_read.settings(CHORD), file, 1, include=elements))

    def gaps(self, scenario_text: str, within: float) -> dict[tuple[Solid, str], float]:
        """Gaps in mm from bodies to the obstructions of a scenario's file, up to ``within`` mm.

        :data:`MEET_MM` where they pierce or hold one another. Each obstruction may be asked for once.
        """
        file = ifc_read.opened(scenario_text)
        self._others.append(file)  # the tree points into it
        names = {each.GlobalId: each.Name for each in with_set(file, "BranchRouter_Obstruction")}
        standing = [file.by_guid(guid) for guid in names]
        self._mesh(file, standing)
        found: dict[tuple[Solid, str], float] = {}
        for guids, gap in self._clashes(standing, within):
            if guids[0] in names:  # whichever sticks out stands first
                guids = (guids[1], guids[0])
            key = (self.bodies[guids[0]], names[guids[1]])
            found[key] = min(found.get(key, inf), gap)
        return found

    def own_gaps(self, within: float) -> dict[frozenset[Solid], float]:
        """Gaps in mm between two bodies of the route."""
        found: dict[frozenset[Solid], float] = {}
        for guids, gap in self._clashes(self._moving, within):
            key = frozenset(self.bodies[guid] for guid in guids)
            if len(key) == 2:
                found[key] = min(found.get(key, inf), gap)
        return found

    def _clashes(self, others: list[Any], within: float) -> Iterator[tuple[tuple[str, str], float]]:
        near = self.tree.clash_clearance_many(self._moving, others, within / 1000, True)
        meet = self.tree.clash_intersection_many(self._moving, others, 0.0, True)
        for clashes, met in ((near, False), (meet, True)):
            for clash in clashes:
                guids = (clash.a.get_argument(0), clash.b.get_argument(0))
                yield guids, MEET_MM if met else clash.distance * 1000


def with_set(file: Any, name: str) -> list[Any]:
    """Elements that have a property set of a name."""
    return [
        element
        for held in file.by_type("IfcPropertySet")
        if held.Name == name
        for relation in held.DefinesOccurrence
        for element in relation.RelatedObjects
    ]


def bodies(file: Any) -> Iterable[Solid]:
    """Pieces and fittings of a route's file, and the parts that each belongs to, by the ports alone."""
    graph = ifc_read.network(file)
    names = {each.GlobalId: each.Tag for each in with_set(file, "BranchRouter_Piece")}
    fittings = with_set(file, "BranchRouter_Fitting")
    for each in fittings:
        closes = ifcopenshell.util.element.get_predefined_type(each) == "OBSTRUCTION"
        if closes and not any(other in names for other in graph[each.GlobalId]):
            names[each.GlobalId] = each.Tag
    for guid, name in names.items():
        yield Solid(name, guid, frozenset([name]))
    for each in fittings:
        if each.GlobalId not in names:
            around = frozenset(names[other] for other in graph[each.GlobalId] if other in names)
            yield Solid(each.Tag, each.GlobalId, around)
