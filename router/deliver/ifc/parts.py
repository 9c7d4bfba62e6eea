"""Pieces, fittings, hangers and heads of a route as elements."""

from __future__ import annotations

from math import acos, dist
from typing import TYPE_CHECKING, Final

from router.cutlist.fittings import named_sizes, word_of
from router.deliver.ifc.given import outside
from router.deliver.ifc.sets import diameter, identifier, length, one_of, whole, word
from router.deliver.ifc.solids import minus, plus, unit

if TYPE_CHECKING:
    from router.cutlist.ends import Ends
    from router.deliver.ifc.given import Given
    from router.deliver.ifc.lines import Entity, Lines, Xyz
    from router.deliver.ifc.meets import Meets
    from router.deliver.ifc.sets import Value
    from router.route.model import Fitting, Piece

_PREDEFINED: Final = {
    "elbow_90": "BEND",
    "elbow_45": "BEND",
    "elbow_odd": "BEND",
    "tee": "JUNCTION",
    "cross": "JUNCTION",
    "outlet": "JUNCTION",
    "reducer": "TRANSITION",
    "reducing_coupling": "TRANSITION",
    "cap": "OBSTRUCTION",
    "plug": "OBSTRUCTION",
}
_ORIGIN: Final = (0.0, 0.0, 0.0)
_SHORTEST_MM: Final = 1e-3
"""Anything shorter is not drawn."""


class Parts:
    """Writes the pieces and fittings of a route, and their types.

    Parameters
    ----------
    given
        Writes what the scenario gives; its file, colours and solids are used.
    ends
        Of the route.
    meets
        How its parts meet.
    roles
        By piece id.
    """

    def __init__(self, given: Given, ends: Ends, meets: Meets, roles: dict[str, str]) -> None:
        self.given, self.ends, self.meets, self.roles = given, ends, meets, roles
        self.lines: Lines = given.lines
        self._pipe_types: dict[tuple[int, str], list[Entity]] = {}
        self._fitting_types: dict[str, list[tuple[Fitting, Entity]]] = {}

    def piece(self, piece: Piece) -> Entity:
        """Write a piece of pipe, a barrel or a hose."""
        solids, sets = self.given.solids, self.given.sets
        radius = outside(self.ends.tables, piece.dn) / 2
        along = minus(piece.end, piece.start)
        first, last = self.meets.bodies.span(piece)
        bodies = []
        if last - first > _SHORTEST_MM:
            way = unit(along)
            bodies.append(solids.bar(plus(_ORIGIN, way, first), way, last - first, radius))
        role = self.roles[piece.id]
        self.given.colours.paint(piece.kind if piece.kind in ("barrel", "hose") else role, bodies)
        shape = solids.shape(bodies, (_ORIGIN, along))
        made = self.lines.element(
            "IfcPipeSegment", "piece", piece.id, shape, piece.start, _rigid(piece.kind),
            object_type=piece.kind, tag=piece.id,
        )  # fmt: skip
        values: dict[str, Value | None] = {
            "Piece": identifier(piece.id),
            "Kind": word(piece.kind),
            "Role": word(role),
            "Owner": identifier(piece.owner),
            "Run": identifier(piece.run),
            "Size": whole(piece.dn),
            "CentreLength": length(piece.length),
            "CutLength": length(piece.make_up),
        }
        sets.properties(made, "BranchRouter_Piece", values)
        quantities = {"Length": ("IfcQuantityLength", piece.make_up)}
        if piece.kind not in ("barrel", "hose"):
            quantities["NetWeight"] = ("IfcQuantityWeight", self._weight(piece))
        sets.quantities(made, "Qto_PipeSegmentBaseQuantities", quantities)
        kind = piece.kind if piece.kind in ("barrel", "hose") else "pipe"
        self._pipe_types.setdefault((piece.dn, kind), []).append(made)
        return made

    def _weight(self, piece: Piece) -> float:
        """Give kilograms of bare steel pipe; 0 for a size that is not made."""
        try:
            return round(self.ends.tables.weight_per_m(piece.dn) * piece.make_up / 1000, 6)
        except ValueError:
            return 0.0

    def fitting(self, fitting: Fitting) -> Entity:
        """Write a fitting: a ball at its centre and a leg to every pipe that comes to it.

        An opening that is plugged is drawn with its plug: only there is nothing of the pipe's own axis.
        """
        solids, sets = self.given.solids, self.given.sets
        bodies = []
        host = self.meets.plugged.get(fitting.id)
        if host is not None:
            radius = outside(self.ends.tables, host.dn) / 2
            reach = dist(self.ends.fittings[host.part.id].at, host.at)
            if reach > _SHORTEST_MM:
                start = minus(self.ends.fittings[host.part.id].at, fitting.at)
                bodies.append(solids.bar(start, host.way, reach, radius))
        else:
            bodies += self._legs(fitting)
        self.given.colours.paint("fitting", bodies)
        made = self.lines.element(
            "IfcPipeFitting", "fitting", fitting.id, solids.shape(bodies), fitting.at,
            _PREDEFINED[fitting.kind], object_type=fitting.kind, tag=fitting.id,
        )  # fmt: skip
        values: dict[str, Value | None] = {
            "Fitting": identifier(fitting.id),
            "Kind": word(fitting.kind),
            "Owner": identifier(fitting.owner),
            "Run": identifier(fitting.run),
            "Sizes": word("x".join(str(dn) for dn in fitting.sizes)),
            "CountsAs": word(fitting.counts_as),
        }
        sets.properties(made, "BranchRouter_Fitting", values)
        self._fitting_types.setdefault(self._name(fitting), []).append((fitting, made))
        return made

    def _legs(self, fitting: Fitting) -> list[Entity]:
        solids, bodies, radii = self.given.solids, [], [0.0]
        for mouth in self.meets.openings[fitting.id]:
            if (
                mouth.mate is not None
                and mouth.mate.part.id in self.meets.plugged
                and mouth.mate.part.kind == "fitting"
            ):
                continue
            dn = mouth.mate.dn if mouth.mate is not None and mouth.mate.part.kind == "piece" else mouth.dn
            radius = outside(self.ends.tables, dn) / 2
            radii.append(radius)
            leg = minus(mouth.at, fitting.at)
            reach = dist(leg, _ORIGIN)
            if reach > _SHORTEST_MM:
                bodies.append(solids.bar(_ORIGIN, unit(leg), reach, radius))
        if max(radii) > 0.0:
            bodies.append(solids.ball(max(radii)))
        return bodies

    def _name(self, fitting: Fitting) -> str:
        joining = self.ends.fitting_joining(fitting)
        sizes = "x".join(str(dn) for dn in named_sizes(self.ends, fitting))
        how = "" if fitting.kind in ("plug", "cap") else f", {joining.replace('_', ' ')}"
        return f"{word_of(fitting, joining)} DN{sizes}{how}"

    # -- types ------------------------------------------------------------------------------

    def types(self) -> None:
        """Write the types of all pieces and fittings that were written."""
        steel = []
        for (dn, kind), members in self._pipe_types.items():
            made = self._pipe_type(dn, kind)
            self.lines.typed("pipe_type", f"{kind}/{dn}", made, members)
            if kind == "pipe":
                steel.append(made)
        if steel:
            material = self.lines.add("IfcMaterial", "Steel", None, "steel")
            self.lines.root("IfcRelAssociatesMaterial", "material", "Steel", None, None, steel, material)
        for name, both in self._fitting_types.items():
            made = self._fitting_type(name, both[0][0])
            self.lines.typed("fitting_type", name, made, [element for _, element in both])

    def _pipe_type(self, dn: int, kind: str) -> Entity:
        name = f"{'dry head barrel' if kind == 'barrel' else kind} DN{dn}"
        made = self.lines.type("IfcPipeSegmentType", "pipe_type", f"{kind}/{dn}", name, _rigid(kind))
        sizes: dict[str, Value | None] = {"Reference": identifier(name)}
        if dn > 0:
            sizes["NominalDiameter"] = diameter(dn)
        if kind == "pipe":
            try:
                sizes["InnerDiameter"] = diameter(round(self.ends.tables.bore(dn), 6))
                sizes["OuterDiameter"] = diameter(round(self.ends.tables.od(dn), 6))
            except ValueError:
                pass
        made.HasPropertySets = [self.given.sets.bare(made, "Pset_PipeSegmentTypeCommon", sizes)]
        return made

    def _fitting_type(self, name: str, fitting: Fitting) -> Entity:
        predefined = _PREDEFINED[fitting.kind]
        made = self.lines.type("IfcPipeFittingType", "fitting_type", name, name, predefined)
        bare = self.given.sets.bare
        held = [bare(made, "Pset_PipeFittingTypeCommon", {"Reference": identifier(name)})]
        if predefined == "BEND" and len(fitting.directions) == 2:
            turn = _turn(*fitting.directions)
            if turn > 1e-6:
                held.append(
                    bare(
                        made,
                        "Pset_PipeFittingTypeBend",
                        {"BendAngle": ("IfcPositivePlaneAngleMeasure", turn)},
                    )
                )
        if predefined == "JUNCTION":
            kind = {"tee": "TEE", "cross": "CROSS"}.get(fitting.kind, "OTHER")
            held.append(bare(made, "Pset_PipeFittingTypeJunction", {"JunctionType": one_of(kind)}))
        made.HasPropertySets = held
        return made


def _rigid(kind: str) -> str:
    return "FLEXIBLESEGMENT" if kind == "hose" else "RIGIDSEGMENT"


def _turn(a: Xyz, b: Xyz) -> float:
    """Give how far water is turned between two openings, rad; whole degrees for what is made so."""
    cosine = -sum(x * y for x, y in zip(unit(a), unit(b), strict=True))
    return round(acos(max(-1.0, min(1.0, cosine))), 3)
