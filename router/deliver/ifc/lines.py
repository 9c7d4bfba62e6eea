"""The file: entities, what stands once in it, and its text."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

import router
from router.deliver.files import OutputError
from router.deliver.guids import guid_of

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

Entity = Any
"""An entity instance of the library, which types none of its attributes."""
Xyz = tuple[float, float, float]

_STAMP: Final = "2000-01-01T00:00:00"
"""The same in every file, so that the same route gives the same bytes."""
_LONGEST: Final = 255
"""Characters of an IfcLabel or IfcIdentifier."""
_UP: Final = (0.0, 0.0, 1.0)
_EAST: Final = (1.0, 0.0, 0.0)
_UNITS: Final = (
    ("LENGTHUNIT", "MILLI", "METRE"),
    ("AREAUNIT", None, "SQUARE_METRE"),
    ("VOLUMEUNIT", None, "CUBIC_METRE"),
    ("PLANEANGLEUNIT", None, "RADIAN"),
    ("MASSUNIT", "KILO", "GRAM"),
)


class Lines:
    """A file of the standard that is being written, and its one project, storey and context.

    Parameters
    ----------
    scenario
        Name of the scenario: part of every identity.
    title
        Name of the project.
    about
        What the header says that the file holds.

    Raises
    ------
    OutputError
        If the library is not installed.
    """

    def __init__(self, scenario: str, title: str, about: str) -> None:
        try:
            import ifcopenshell
        except ImportError as error:
            message = "an IFC file needs the extra ifc: pip install 'branch-drop-router[ifc]'"
            raise OutputError(message) from error
        self.scenario = scenario
        self.file: Any = ifcopenshell.file(schema="IFC4")
        self._header(about)
        self._guids: set[str] = set()
        self._points: dict[tuple[float, ...], Entity] = {}
        self._directions: dict[Xyz, Entity] = {}
        self._placements: dict[tuple[Xyz, Xyz, Xyz], Entity] = {}
        self._circles: dict[float, Entity] = {}
        self.members: list[Entity] = []
        """What the storey contains."""
        world = self.placement((0.0, 0.0, 0.0))
        context = self.add("IfcGeometricRepresentationContext", None, "Model", 3, 1e-5, world, None)
        self.body = self._view(context, "Body", "MODEL_VIEW")
        self.axis = self._view(context, "Axis", "GRAPH_VIEW")
        units = [self.add("IfcSIUnit", None, kind, prefix, unit) for kind, prefix, unit in _UNITS]
        assigned = self.add("IfcUnitAssignment", units)
        self.project = self.root("IfcProject", "project", "", label(title), None, None, None, None,
                                 [context], assigned)  # fmt: skip
        self._rooms()

    def _header(self, about: str) -> None:
        ours = f"branch-drop-router {router.__version__}"
        header = self.file.header
        header.file_description.description = (about,)
        header.file_name.name = ""
        header.file_name.time_stamp = _STAMP
        header.file_name.author = ("",)
        header.file_name.organization = ("",)
        header.file_name.preprocessor_version = ours
        header.file_name.originating_system = ours
        header.file_name.authorization = ""

    def _view(self, context: Entity, name: str, target: str) -> Entity:
        return self.add("IfcGeometricRepresentationSubContext", name, "Model", None, None, None, None,
                        context, None, target, None)  # fmt: skip

    def _rooms(self) -> None:
        """One site, one building, one storey: a scenario has elevations, no storeys of its own."""
        at = self.local((0.0, 0.0, 0.0))
        rest: list[Any] = [None, None, "ELEMENT"]
        site = self.root("IfcSite", "site", "", "Site", None, None, at, *rest)
        at = self.local((0.0, 0.0, 0.0), at)
        building = self.root("IfcBuilding", "building", "", "Building", None, None, at, *rest)
        self.ground = self.local((0.0, 0.0, 0.0), at)
        rest.append(0.0)
        self.storey = self.root("IfcBuildingStorey", "storey", "", "Storey", None, None, self.ground, *rest)
        self.building = building
        for whole, part in ((self.project, site), (site, building), (building, self.storey)):
            self.root("IfcRelAggregates", "aggregates", part.is_a(), None, None, whole, [part])

    # -- entities ---------------------------------------------------------------------------

    def add(self, kind: str, *values: Any) -> Entity:
        """Add an entity by its attributes in the standard's order; ``None`` leaves one out."""
        last = len(values)
        while last and values[last - 1] is None:  # setting nothing takes as long as setting something
            last -= 1
        return self.file.create_entity(kind, *values[:last])

    def root(self, entity: str, kind: str, name: str, *values: Any, guid: str | None = None) -> Entity:
        """Add an entity with an identity, made of the scenario's name, ``kind`` and ``name``.

        ``values``: the attributes after GlobalId and OwnerHistory. ``guid``: the identity to take instead,
        if nothing has it yet. A route of another hand may give an id twice: the second thing of that id
        gets an identity of its own.
        """
        turn = 1
        if guid is None or guid in self._guids:
            guid = guid_of(self.scenario, kind, name)
        while guid in self._guids:
            turn += 1
            guid = guid_of(self.scenario, kind, f"{name}\x1f{turn}")
        self._guids.add(guid)
        return self.add(entity, guid, None, *values)

    def element(
        self, entity: str, kind: str, name: str, shape: Entity | None, at: Xyz, *more: Any,
        title: str | None = None, object_type: str | None = None, tag: str | None = None,
        guid: str | None = None,
    ) -> Entity:  # fmt: skip
        """Add an element in the storey.

        Parameters
        ----------
        entity
            Class of the standard.
        kind, name
            Its identity.
        shape
            Its representation.
        at
            Its origin, mm; its axes are the world's.
        more
            The class's own attributes after Tag.
        title
            Its name, by default ``name``.
        object_type, tag
            As the standard calls them.
        guid
            Its identity in the model that it came from.
        """
        title = name if title is None else title
        made = self.root(
            entity, kind, name, label(title), None, None if object_type is None else label(object_type),
            self.local(at, self.ground), shape, None if tag is None else label(tag), *more,
            guid=guid,
        )  # fmt: skip
        self.members.append(made)
        return made

    # -- geometry that is shared ------------------------------------------------------------

    def point(self, *at: float) -> Entity:
        """Give a point of two or three coordinates, mm."""
        found = self._points.get(at)
        if found is None:
            found = self._points[at] = self.add("IfcCartesianPoint", tuple(value + 0.0 for value in at))
        return found

    def direction(self, way: Xyz) -> Entity:
        """Give a direction."""
        found = self._directions.get(way)
        if found is None:
            found = self._directions[way] = self.add("IfcDirection", tuple(value + 0.0 for value in way))
        return found

    def placement(self, at: Xyz, up: Xyz = _UP, east: Xyz = _EAST) -> Entity:
        """Give axes at a place: ``up`` is the third of them, ``east`` the first."""
        key = (at, up, east)
        found = self._placements.get(key)
        if found is None:
            plain = up == _UP and east == _EAST
            ways = (None, None) if plain else (self.direction(up), self.direction(east))
            found = self._placements[key] = self.add("IfcAxis2Placement3D", self.point(*at), *ways)
        return found

    def local(self, at: Xyz, within: Entity | None = None, up: Xyz = _UP, east: Xyz = _EAST) -> Entity:
        """Add a placement relative to another one."""
        return self.add("IfcLocalPlacement", within, self.placement(at, up, east))

    def circle(self, radius: float) -> Entity:
        """Give a round profile."""
        found = self._circles.get(radius)
        if found is None:
            found = self._circles[radius] = self.add("IfcCircleProfileDef", "AREA", None, None, radius)
        return found

    # -- relations --------------------------------------------------------------------------

    def type(self, entity: str, kind: str, key: str, name: str, predefined: str) -> Entity:
        """Add a type of elements."""
        rest: list[Any] = [None, None, None, None, None, None]
        return self.root(entity, kind, key, label(name), *rest, predefined)

    def typed(self, kind: str, name: str, made: Entity, members: Sequence[Entity]) -> None:
        """Say that elements are of a type."""
        self.root("IfcRelDefinesByType", f"{kind}_of", name, None, None, list(members), made)

    def system(self, long_name: str, members: Iterable[Entity]) -> Entity:
        """Add the fire protection system of so many elements."""
        names = (label(self.scenario), None, None, label(long_name))
        made = self.root("IfcDistributionSystem", "system", "", *names, "FIREPROTECTION")
        self.root("IfcRelServicesBuildings", "services", "", None, None, made, [self.building])
        held = list(members)
        if held:
            self.root("IfcRelAssignsToGroup", "assigns", "", None, None, held, None, made)
        return made

    def text(self) -> str:
        """Put what there is into the storey and give the file's text.

        Returns
        -------
        str
            ASCII only.
        """
        if self.members:
            self.root(
                "IfcRelContainedInSpatialStructure", "contains", "", None, None, self.members, self.storey
            )
        return str(self.file.to_string())


def label(text: str) -> str:
    """Cut a text to what the standard allows a name; whole ids stand in our own sets."""
    return text[:_LONGEST]
