"""Ports of the elements, and which is connected with which."""

from __future__ import annotations

from typing import TYPE_CHECKING

from router.deliver.ifc.solids import beside, minus

if TYPE_CHECKING:
    from router.deliver.ifc.lines import Entity, Lines, Xyz
    from router.deliver.ifc.meets import Meets, Mouth, Part

_ORDER = {"piece": 0, "fitting": 1, "head": 2}


def connect(lines: Lines, meets: Meets, made: dict[Part, Entity], origins: dict[Part, Xyz]) -> None:
    """Give every element its ports and connect them.

    Parameters
    ----------
    lines
        The file.
    meets
        The mouths: one port for each.
    made
        The elements.
    origins
        Where each of them stands, mm.
    """
    ports: dict[int, Entity] = {}
    for part, element in made.items():
        mouths = meets.of.get(part, [])
        own = [_port(lines, mouth, element, origins[part]) for mouth in mouths]
        ports.update({id(mouth): port for mouth, port in zip(mouths, own, strict=True)})
        if own:
            lines.root("IfcRelNests", "nests", f"{part.kind}/{part.id}", None, None, element, own)
    for part in made:
        for mouth in meets.of.get(part, []):
            mate = mouth.mate
            if mate is None or id(mate) not in ports or not _first(mouth, mate):
                continue
            name = f"{part.kind}/{part.id}/{mouth.name}"
            lines.root(
                "IfcRelConnectsPorts", "connects", name, None, None, ports[id(mouth)], ports[id(mate)], None
            )


def _port(lines: Lines, mouth: Mouth, element: Entity, origin: Xyz) -> Entity:
    part = mouth.part
    place = lines.local(minus(mouth.at, origin), element.ObjectPlacement, mouth.way, beside(mouth.way))
    name = f"{part.kind}/{part.id}/{mouth.name}"
    rest = (mouth.flow, "PIPE", "FIREPROTECTION")
    return lines.root("IfcDistributionPort", "port", name, mouth.name, None, None, place, None, *rest)


def _first(mouth: Mouth, mate: Mouth) -> bool:
    """Say each connection once: from the side that the water comes from, where that is known."""
    if mouth.flow != mate.flow and "NOTDEFINED" not in (mouth.flow, mate.flow):
        return mouth.flow == "SOURCE"
    key = (_ORDER[mouth.part.kind], mouth.part.id, mouth.name)
    return key < (_ORDER[mate.part.kind], mate.part.id, mate.name)
