"""Hangers of a route: a clip about the pipe and a rod up to the structure, as symbols."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from router.deliver.ifc.given import outside
from router.deliver.ifc.sets import identifier, length, word
from router.deliver.ifc.solids import minus, plus, unit

if TYPE_CHECKING:
    from router.deliver.ifc.given import Given
    from router.deliver.ifc.lines import Entity
    from router.deliver.ifc.sets import Value
    from router.route.model import Hanger, Piece
    from router.trade.tables import Tables

_CLIP_MM: Final = (4.0, 20.0)
"""How much larger than the pipe in radius, and how long along it, the clip is shown."""
_ROD_MM: Final = 5.0


def hanger(given: Given, tables: Tables, item: Hanger, piece: Piece | None) -> Entity:
    """Write a hanger (or a sprig's restraint) of a piece."""
    solids, bodies = given.solids, []
    if piece is not None:
        way, radius = unit(minus(piece.end, piece.start)), outside(tables, piece.dn) / 2
        more, long = _CLIP_MM
        bodies.append(solids.bar(plus((0.0, 0.0, 0.0), way, -long / 2), way, long, radius + more))
        if item.rod is not None and item.rod > radius:
            bodies.append(solids.bar((0.0, 0.0, radius), (0.0, 0.0, 1.0), item.rod - radius, _ROD_MM))
    given.colours.paint("hanger", bodies)
    kind = "hanger" if item.kind != "sprig_restraint" else "sprig restraint"
    made = given.lines.element(
        "IfcDiscreteAccessory", "hanger", item.id, solids.shape(bodies), item.at, "USERDEFINED",
        object_type=kind, tag=item.id,
    )  # fmt: skip
    values: dict[str, Value | None] = {
        "Hanger": identifier(item.id),
        "Kind": word(item.kind),
        "Run": identifier(item.run),
        "Piece": identifier(item.piece),
        "Structure": None if item.structure is None else identifier(item.structure),
        "Rod": None if item.rod is None else length(item.rod),
        "Why": ("IfcText", item.why),
    }
    given.sets.properties(made, "BranchRouter_Hanger", values)
    return made
