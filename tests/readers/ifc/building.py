"""Builds IFC files (IFC2X3 and IFC4) from plain heads, pipes and solids; mm here, any unit in the file."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any, Literal, cast

import ifcopenshell
import ifcopenshell.guid
import numpy as np

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from pathlib import Path

Xyz = tuple[float, float, float]
Xy = tuple[float, float]

MM = {"mm": 1.0, "m": 1000.0, "in": 25.4, "ft": 304.8}

# class in IFC4, class in IFC2X3, class of its type (both), predefined type
CLASSES: dict[str, tuple[str, str, str, str]] = {
    "head": ("IfcFireSuppressionTerminal", "IfcFlowTerminal", "IfcFireSuppressionTerminalType", "SPRINKLER"),
    "pipe": ("IfcPipeSegment", "IfcFlowSegment", "IfcPipeSegmentType", "RIGIDSEGMENT"),
    "hose": ("IfcPipeSegment", "IfcFlowSegment", "IfcPipeSegmentType", "FLEXIBLESEGMENT"),
    "fitting": ("IfcPipeFitting", "IfcFlowFitting", "IfcPipeFittingType", "JUNCTION"),
    "duct": ("IfcDuctSegment", "IfcFlowSegment", "IfcDuctSegmentType", "RIGIDSEGMENT"),
    "tray": ("IfcCableCarrierSegment", "IfcFlowSegment", "IfcCableCarrierSegmentType", "CABLETRAYSEGMENT"),
    "light": ("IfcLightFixture", "IfcFlowTerminal", "IfcLightFixtureType", "POINTSOURCE"),
    "beam": ("IfcBeam", "IfcBeam", "", ""),
    "member": ("IfcMember", "IfcMember", "", ""),
    "column": ("IfcColumn", "IfcColumn", "", ""),
    "slab": ("IfcSlab", "IfcSlab", "", ""),
    "wall": ("IfcWall", "IfcWall", "", ""),
    "ceiling": ("IfcCovering", "IfcCovering", "", "CEILING"),
    "other": ("IfcBuildingElementProxy", "IfcBuildingElementProxy", "", ""),
    "opening": ("IfcOpeningElement", "IfcOpeningElement", "", ""),
    "terminal": ("IfcFlowTerminal", "IfcFlowTerminal", "", ""),
}


class Building:
    """A model being built.

    Parameters
    ----------
    schema
        ``IFC2X3`` or ``IFC4``.
    unit
        Of length in the file: mm, m, in, ft.
    turned, origin
        Rotation (degrees) and place (mm) of the building, under a site and a
        storey each moved too: everything given to the methods is in the world's coordinates.
    """

    def __init__(
        self, schema: str = "IFC4", unit: str = "mm", turned: float = 0.0, origin: Xyz = (0.0, 0.0, 0.0)
    ) -> None:
        self.file = ifcopenshell.file(schema=cast("Literal['IFC2X3', 'IFC4']", schema))
        self.schema, self.mm = schema, MM[unit]
        self.history: Any = None
        self.number = 0
        f = self.file
        if schema == "IFC2X3":
            person = f.create_entity("IfcPerson", FamilyName="Nobody")
            firm = f.create_entity("IfcOrganization", Name="Nobody")
            both = f.create_entity("IfcPersonAndOrganization", person, firm)
            tool = f.create_entity("IfcApplication", firm, "1", "builder of tests", "builder")
            self.history = f.create_entity("IfcOwnerHistory", both, tool, None, "ADDED", None, None, None, 0)
        zero = self.place((0.0, 0.0, 0.0))
        self.context = f.create_entity(
            "IfcGeometricRepresentationContext", None, "Model", 3, 1e-5, zero, None
        )
        self.body = self._sub("Body", "MODEL_VIEW")
        self.axis = self._sub("Axis", "GRAPH_VIEW")
        self.project = self.root("IfcProject", Name="Test")
        self.project.RepresentationContexts = [self.context]
        self.project.UnitsInContext = f.create_entity("IfcUnitAssignment", [self._unit(unit)])
        # three placements within each other; their product is `world`
        self.world = np.eye(4)
        step = np.array(origin, dtype=float) / 3
        self.placement: Any = None
        placements = []
        for angle in (turned, -2 * turned, 2 * turned):
            self.placement = self.local(self.placement, self.frame(step.tolist(), angle))
            placements.append(self.placement)
        self.site = self.root("IfcSite", Name="Site", ObjectPlacement=placements[0])
        self.building = self.root("IfcBuilding", Name="Building", ObjectPlacement=placements[1])
        for each in (self.site, self.building):
            each.CompositionType = "ELEMENT"
        self.storey = self.storey_of("Level 1")
        self.relate("IfcRelAggregates", "RelatingObject", self.project, [self.site])
        self.relate("IfcRelAggregates", "RelatingObject", self.site, [self.building])
        self.relate("IfcRelAggregates", "RelatingObject", self.building, [self.storey])
        self.held: dict[int, list[Any]] = {}
        self.types: dict[str, Any] = {}

    # -- the frame of the file --------------------------------------------------------------

    def _unit(self, unit: str) -> Any:
        f = self.file
        metre = f.create_entity("IfcSIUnit", None, "LENGTHUNIT", None, "METRE")
        if unit == "m":
            return metre
        if unit == "mm":
            metre.Prefix = "MILLI"
            return metre
        size = f.create_entity("IfcDimensionalExponents", 1, 0, 0, 0, 0, 0, 0)
        value = f.create_entity("IfcLengthMeasure", MM[unit] / 1000.0)
        factor = f.create_entity("IfcMeasureWithUnit", value, metre)
        name = {"in": "INCH", "ft": "FOOT"}[unit]
        return f.create_entity("IfcConversionBasedUnit", size, "LENGTHUNIT", name, factor)

    def _sub(self, name: str, view: str) -> Any:
        return self.file.create_entity(
            "IfcGeometricRepresentationSubContext",
            ContextIdentifier=name,
            ContextType="Model",
            ParentContext=self.context,
            TargetView=view,
        )

    def root(self, ifc_class: str, guid: str | None = None, **given: Any) -> Any:
        """Create anything with a GlobalId; these are numbered, so that the same calls give the same file."""
        self.number += 1
        text = guid or ifcopenshell.guid.compress(f"{self.number:032x}")
        return self.file.create_entity(ifc_class, GlobalId=text, OwnerHistory=self.history, **given)

    def relate(self, ifc_class: str, one: str, relating: Any, related: list[Any]) -> Any:
        """Create a relation from one to many."""
        return self.root(ifc_class, **{one: relating, "RelatedObjects": related})

    def storey_of(self, name: str) -> Any:
        """Create a storey (the first is there already)."""
        placement = self.placement
        if placement.PlacesObject:
            placement = self.file.create_entity("IfcLocalPlacement", placement, self.place((0.0, 0.0, 0.0)))
        storey = self.root("IfcBuildingStorey", Name=name, ObjectPlacement=placement)
        storey.CompositionType = "ELEMENT"
        return storey

    def point(self, xyz: Sequence[float]) -> Any:
        """Create a point, mm."""
        return self.file.create_entity("IfcCartesianPoint", [float(value) / self.mm for value in xyz])

    def way(self, xyz: Sequence[float]) -> Any:
        """Create a direction."""
        return self.file.create_entity("IfcDirection", [float(value) for value in xyz])

    def place(
        self, at: Sequence[float], z: Sequence[float] | None = None, x: Sequence[float] | None = None
    ) -> Any:
        """Create a placement, mm."""
        axis = None if z is None else self.way(z)
        ref = None if x is None else self.way(x)
        return self.file.create_entity("IfcAxis2Placement3D", self.point(at), axis, ref)

    @staticmethod
    def frame(at: Sequence[float], angle: float) -> np.ndarray[Any, np.dtype[np.float64]]:
        """Give the matrix of a turn about z and a move."""
        matrix = np.eye(4)
        c, s = np.cos(np.radians(angle)), np.sin(np.radians(angle))
        matrix[:2, :2] = [[c, -s], [s, c]]
        matrix[:3, 3] = at
        return matrix

    def local(self, parent: Any, matrix: np.ndarray[Any, np.dtype[np.float64]]) -> Any:
        """Create a local placement below another, and go on in the outermost `world`."""
        self.world = self.world @ matrix
        given = self.place(*(matrix[:3, k].tolist() for k in (3, 2, 0)))
        return self.file.create_entity("IfcLocalPlacement", parent, given)

    def inside(self, xyz: Sequence[float]) -> Xyz:
        """Give a place of the world in the storey's coordinates."""
        inverse = np.linalg.inv(self.world)
        x, y, z = inverse[:3, :3] @ np.array(xyz, dtype=float) + inverse[:3, 3]
        return (float(x), float(y), float(z))

    def turn(self, xyz: Sequence[float]) -> Xyz:
        """Give a direction of the world in the storey's coordinates."""
        x, y, z = np.linalg.inv(self.world)[:3, :3] @ np.array(xyz, dtype=float)
        return (float(x), float(y), float(z))

    # -- elements ---------------------------------------------------------------------------

    def element(
        self,
        kind: str,
        name: str,
        at: Sequence[float],
        items: Sequence[Any] = (),
        *,
        z: Sequence[float] | None = None,
        x: Sequence[float] | None = None,
        shape: str = "SweptSolid",
        tag: str | None = None,
        object_type: str | None = None,
        type_name: str = "",
        storey: Any = None,
        guid: str | None = None,
        ifc_class: str = "",
        axis: Any = None,
        predefined: str = "",
    ) -> Any:
        """Create an element at a place of the world; its items are in its own coordinates."""
        four, two, type_class, said = CLASSES[kind]
        predefined = predefined or said
        old = self.schema == "IFC2X3"
        name_of_class = ifc_class or (two if old else four)
        turned = None if z is None else self.turn(z)
        faced = None if x is None else self.turn(x)
        if turned is None and faced is None and not np.allclose(self.world[:3, :3], np.eye(3)):
            faced, turned = self.turn((1.0, 0.0, 0.0)), self.turn((0.0, 0.0, 1.0))
        placement = self.file.create_entity(
            "IfcLocalPlacement", self.placement, self.place(self.inside(at), turned, faced)
        )
        made = self.root(name_of_class, guid, Name=name, ObjectPlacement=placement)
        made.ObjectType = object_type
        if hasattr(made, "Tag"):
            made.Tag = tag
        has_own = "PredefinedType" in made.get_info()
        if predefined and has_own and not type_class:
            made.PredefinedType = predefined
        if type_class:
            self._typed(made, type_class, type_name or kind, predefined)
        reps = []
        if axis is not None:
            reps.append(
                self.file.create_entity("IfcShapeRepresentation", self.axis, "Axis", "Curve3D", [axis])
            )
        if items:
            reps.append(
                self.file.create_entity("IfcShapeRepresentation", self.body, "Body", shape, list(items))
            )
        if reps:
            made.Representation = self.file.create_entity("IfcProductDefinitionShape", None, None, reps)
        self.held.setdefault((storey or self.storey).id(), []).append(made)
        return made

    def _typed(self, made: Any, type_class: str, name: str, predefined: str) -> None:
        key = f"{type_class} {name} {predefined}"
        if key not in self.types:
            of_type = self.root(type_class, Name=name)
            of_type.PredefinedType = predefined
            self.types[key] = [of_type, []]
        self.types[key][1].append(made)

    def head(self, name: str, at: Xyz, *, port: Xyz | None = None, **given: Any) -> Any:
        """Create a head without a body; ``at`` is its origin, ``port`` its inlet."""
        made = self.element("head", name, at, **given)
        if port is not None:
            self.port(made, port)
        return made

    def pipe(
        self,
        name: str,
        a: Xyz,
        b: Xyz,
        diameter: float,
        *,
        kind: str = "pipe",
        body: str = "swept",
        **given: Any,
    ) -> Any:
        """Create a round pipe. ``body``: swept, hollow, mapped, mesh, disk, cut, axis or none."""
        line = np.array(b) - np.array(a)
        length = float(np.linalg.norm(line))
        z = (line / length).tolist()
        x = [0.0, 0.0, 1.0] if abs(z[2]) < 0.9 else [1.0, 0.0, 0.0]
        f = self.file
        flat = f.create_entity("IfcAxis2Placement2D", f.create_entity("IfcCartesianPoint", (0.0, 0.0)), None)
        radius = diameter / 2 / self.mm
        items: list[Any] = []
        shape, axis = "SweptSolid", None
        if body in ("swept", "mapped", "cut", "hollow"):
            profile = f.create_entity("IfcCircleProfileDef", "AREA", None, flat, radius)
            if body == "hollow":
                profile = f.create_entity(
                    "IfcCircleHollowProfileDef", "AREA", None, flat, radius, radius / 10
                )
            more = 100.0 if body == "cut" else 0.0
            up = self.way((0.0, 0.0, 1.0))
            solid = f.create_entity(
                "IfcExtrudedAreaSolid", profile, self.place((0, 0, 0)), up, (length + more) / self.mm
            )
            items = [solid]
            if body == "cut":
                plane = f.create_entity("IfcPlane", self.place((0, 0, length)))
                half = f.create_entity("IfcHalfSpaceSolid", plane, False)
                items = [f.create_entity("IfcBooleanClippingResult", "DIFFERENCE", solid, half)]
                shape = "Clipping"
        if body == "mapped":
            inner = f.create_entity("IfcShapeRepresentation", self.body, "Body", "SweptSolid", items)
            source = f.create_entity("IfcRepresentationMap", self.place((0, 0, -30.0)), inner)
            back = f.create_entity(
                "IfcCartesianTransformationOperator3D", None, None, self.point((0, 0, 30.0)), None, None
            )
            items, shape = [f.create_entity("IfcMappedItem", source, back)], "MappedRepresentation"
        if body == "disk":
            line3 = f.create_entity("IfcPolyline", [self.point((0, 0, 0)), self.point((0, 0, length))])
            items = [f.create_entity("IfcSweptDiskSolid", line3, radius, None, 0.0, 1.0)]
            shape = "AdvancedSweptSolid"
        if body == "mesh":
            items, shape = [self.brep(*_tube(length, diameter / 2))], "Brep"
        if body == "axis":
            axis = f.create_entity("IfcPolyline", [self.point((0, 0, 0)), self.point((0, 0, length))])
        return self.element(kind, name, a, items, z=z, x=x, shape=shape, axis=axis, **given)

    def solid(
        self, kind: str, name: str, corners: Sequence[Xy], low: float, high: float, **given: Any
    ) -> Any:
        """Create a vertical prism."""
        f = self.file
        x0, y0 = corners[0]
        points = [
            f.create_entity("IfcCartesianPoint", [(x - x0) / self.mm, (y - y0) / self.mm])
            for x, y in (*corners, corners[0])
        ]
        profile = f.create_entity(
            "IfcArbitraryClosedProfileDef", "AREA", None, f.create_entity("IfcPolyline", points)
        )
        up = self.way((0.0, 0.0, 1.0))
        body = f.create_entity(
            "IfcExtrudedAreaSolid", profile, self.place((0, 0, 0)), up, (high - low) / self.mm
        )
        return self.element(kind, name, (x0, y0, low), [body], **given)

    def mesh(
        self,
        kind: str,
        name: str,
        points: Sequence[Sequence[float]],
        faces: Sequence[Sequence[int]],
        **given: Any,
    ) -> Any:
        """Create a body of flat faces, vertices in the world's coordinates."""
        return self.element(kind, name, (0.0, 0.0, 0.0), [self.brep(points, faces)], shape="Brep", **given)

    def brep(self, points: Sequence[Sequence[float]], faces: Sequence[Sequence[int]]) -> Any:
        """Create a faceted solid."""
        f = self.file
        made = [self.point(point) for point in points]
        rows = []
        for face in faces:
            loop = f.create_entity("IfcPolyLoop", [made[k] for k in face])
            rows.append(f.create_entity("IfcFace", [f.create_entity("IfcFaceOuterBound", loop, True)]))
        return f.create_entity("IfcFacetedBrep", f.create_entity("IfcClosedShell", rows))

    def fitting(self, name: str, at: Xyz, ports: Sequence[Xyz] = (), **given: Any) -> tuple[Any, list[Any]]:
        """Create a fitting without a body; gives it and its ports."""
        made = self.element("fitting", name, at, **given)
        return made, [self.port(made, place) for place in ports]

    # -- what stands beside -----------------------------------------------------------------

    def port(self, element: Any, at: Xyz | None) -> Any:
        """Create a port of an element at a place of the world (``None``: without a placement)."""
        made = self.root("IfcDistributionPort", Name="port", FlowDirection="SOURCEANDSINK")
        if at is not None:
            placement = self.place(self.inside(at))
            made.ObjectPlacement = self.file.create_entity("IfcLocalPlacement", self.placement, placement)
        if self.schema == "IFC2X3":
            self.root("IfcRelConnectsPortToElement", RelatingPort=made, RelatedElement=element)
        else:
            self.relate("IfcRelNests", "RelatingObject", element, [made])
        return made

    def connect(self, one: Any, other: Any) -> None:
        """Connect two ports."""
        self.root("IfcRelConnectsPorts", RelatingPort=one, RelatedPort=other)

    def system(self, name: str, elements: list[Any], predefined: str = "") -> None:
        """Put elements into a system."""
        if predefined and self.schema != "IFC2X3":
            made = self.root("IfcDistributionSystem", Name=name, PredefinedType=predefined)
        else:
            made = self.root("IfcSystem", Name=name)
        self.relate("IfcRelAssignsToGroup", "RelatingGroup", made, elements)

    def sets(self, element: Any, name: str, values: Mapping[str, Any]) -> None:
        """Give an element a property set; ``(class, value)`` names the measure."""
        rows = []
        for key, value in values.items():
            kind = {str: "IfcText", int: "IfcInteger", float: "IfcReal"}.get(type(value), "")
            measured = self.file.create_entity(*value) if not kind else self.file.create_entity(kind, value)
            rows.append(self.file.create_entity("IfcPropertySingleValue", key, None, measured, None))
        held = self.root("IfcPropertySet", Name=name, HasProperties=rows)
        self.root("IfcRelDefinesByProperties", RelatedObjects=[element], RelatingPropertyDefinition=held)

    def beside(self, element: Any, name: str, record: Mapping[str, Any], **more: Any) -> None:
        """Give an element one of our own sets."""
        text = json.dumps(dict(record), separators=(",", ":"))
        self.sets(element, f"BranchRouter_{name}", {**more, "Beside": text})

    def write(self, path: Path) -> Path:
        """Write the file."""
        for storey, elements in sorted(self.held.items()):
            self.root(
                "IfcRelContainedInSpatialStructure",
                RelatingStructure=self.file.by_id(storey),
                RelatedElements=elements,
            )
        for of_type, made in self.types.values():
            self.relate("IfcRelDefinesByType", "RelatingType", of_type, made)
        self.held, self.types = {}, {}
        self.file.write(str(path))
        return path


def _tube(length: float, radius: float, sides: int = 24) -> tuple[list[Xyz], list[list[int]]]:
    points: list[Xyz] = []
    for z in (0.0, length):
        for k in range(sides):
            t = 2 * np.pi * k / sides
            points.append((float(radius * np.cos(t)), float(radius * np.sin(t)), z))
    faces = [[k, (k + 1) % sides, sides + (k + 1) % sides, sides + k] for k in range(sides)]
    faces += [list(range(sides))[::-1], list(range(sides, 2 * sides))]
    return points, faces


def box(x0: float, y0: float, x1: float, y1: float) -> list[Xy]:
    """Give the corners of a rectangle."""
    return [(x0, y0), (x1, y0), (x1, y1), (x0, y1)]


def complaints(path: Path) -> list[str]:
    """Give what the library's own check of the standard's rules says of a file."""
    import ifcopenshell.validate

    logger: Any = ifcopenshell.validate.json_logger()  # type: ignore[no-untyped-call]
    ifcopenshell.validate.validate(ifcopenshell.open(str(path)), logger)
    return [str(each.get("message", each)) for each in logger.statements]
