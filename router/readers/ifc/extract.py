"""All elements of one file become plain records (in the reading process)."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Any

import numpy as np

from router.readers.ifc.axes import axis
from router.readers.ifc.footprint import footprint
from router.readers.ifc.found import (
    DAMAGED,
    FileFound,
    FoundHead,
    FoundPipe,
    FoundSolid,
    Part,
    Thing,
    Unusable,
)
from router.readers.ifc.items import bodies
from router.readers.ifc.kinds import kind_of, why_skipped
from router.readers.ifc.mapping import Mapping, has_word
from router.readers.ifc.placement import moved
from router.readers.ifc.ports import lengthened, ports
from router.readers.ifc.prism import prism
from router.readers.ifc.sizes import of_text
from router.readers.ifc.told import is_head, k_factor, size

if TYPE_CHECKING:
    from router.readers.ifc.axes import Axis
    from router.readers.ifc.placement import Matrix
    from router.readers.ifc.source import Source

Said = Callable[[int, int, str], None]
MOST_SEEN = 50
OURS_SOLID = {"Obstruction": "obstructions", "Ceiling": "ceilings", "KeepOut": "keep_out"}


class Extract:
    """Takes the elements of one file one by one.

    Parameters
    ----------
    source
        The open file.
    mapping
        What is meant.
    name
        The file's name.
    said
        Called before each element: number, of how many, label.
    """

    def __init__(self, source: Source, mapping: Mapping, name: str, said: Said) -> None:
        self.source, self.mapping, self.said = source, mapping, said
        self.found = FileFound(name, source.model.schema_identifier, source.unit)
        self.ports = ports(source)
        self.axes: dict[int, Axis] = {}
        self.pipes: dict[int, FoundPipe] = {}
        self.fittings: dict[int, Any] = {}
        self.guids: dict[int, str] = {}
        self.others: dict[int, FoundHead | FoundSolid] = {}
        self._guids: set[str] = set()

    def all(self) -> FileFound:
        """Take all elements.

        Returns
        -------
        FileFound
        """
        self._project()
        products = sorted(self.source.model.by_type("IfcProduct"), key=lambda one: one.id())
        for number, element in enumerate(products):
            reason = why_skipped(element)
            if reason:
                self.found.skip(reason, "")
                continue
            self.guids[element.id()] = self._once(element)
            label = self._thing(element, "")
            self.said(number, len(products), label.label())
            try:
                self._take(element)
            except Unusable as problem:
                self.found.skip(str(problem), label.label())
            except DAMAGED as problem:
                self.found.skip(f"its description is damaged ({type(problem).__name__})", label.label())
        self._connect()
        if self.source.damaged:
            self.found.notes.append(
                f"{self.found.file}: {self.source.damaged} relations are damaged and passed over"
            )
        return self.found

    def _project(self) -> None:
        ours = self.source.ours
        for project in self.source.model.by_type("IfcProject"):
            self.found.settings = ours.get(project.id(), {}).get("Scenario", {}).get("Settings")
        if not self.source.unit:
            self.found.notes.append(f"{self.found.file}: no unit of length given, taken as metre")
        self.source.each("IfcBuildingStorey", lambda one: self.found.storeys.append(str(one.Name or "")))
        if self.source.model.schema != "IFC2X3":
            self.source.each("IfcMapConversion", self._map)

    def _map(self, one: Any) -> None:
        values = (one.Eastings, one.Northings, one.OrthogonalHeight)
        self.found.map_conversion = ", ".join(f"{float(each or 0):g}" for each in values)

    def _once(self, element: Any) -> str:
        """Give an element's GlobalId, made unique where the file uses it twice."""
        guid = str(element.GlobalId)
        if guid in self._guids:
            self.found.notes.append(
                f"{self.found.file}: GlobalId {guid} is used twice, again by #{element.id()}"
            )
            guid = f"{guid} #{element.id()}"
        self._guids.add(guid)
        return guid

    def _thing(self, element: Any, words: str) -> Thing:
        return Thing(
            self.guids[element.id()],
            self.found.file,
            element.id(),
            element.is_a(),
            _line(element.Name)[:80],
            _line(getattr(element, "Tag", None))[:40],
            words,
        )

    def _take(self, element: Any) -> None:
        source, mapping = self.source, self.mapping
        ours = source.ours.get(element.id(), {})
        for name, which in OURS_SOLID.items():
            if name in ours:
                self._our_solid(element, which, ours[name])
                return
        of_type = source.type_of(element)
        kind = kind_of(element, of_type)
        words = source.words(element, of_type)
        if mapping.storeys and not ours:
            storey = source.storey(element)
            if storey not in mapping.storeys:
                raise Unusable(f"on storey {storey or '(none)'}, which is not kept")
        if "Fitting" in ours:
            kind = "fitting"
        if kind == "fitting":
            self.fittings[element.id()] = element
            self.found.fittings += 1
            if "Fitting" in ours:
                return
            self._solid(element, words, "pipe")
        elif "Head" in ours or is_head(element, of_type, kind, words, mapping):
            self._head(element, words, ours.get("Head"))
        elif kind == "pipe" or "Run" in ours or "Piece" in ours:
            self._pipe(element, of_type, words, ours)
        elif kind == "covering":
            self._covering(element, of_type, words)
        else:
            self._seen(element, of_type, kind)
            self._solid(element, words, kind)

    def _seen(self, element: Any, of_type: Any, kind: str) -> None:
        """Note the type of what would be a head if one of the words were there."""
        names = {"terminal": self.found.terminals, "other": self.found.unclassified}.get(kind)
        name = _line(getattr(of_type, "Name", None) or element.ObjectType or element.Name)[:80]
        if names is not None and name and name not in names and len(names) < MOST_SEEN:
            names.append(name)

    # -- heads ------------------------------------------------------------------------------

    def _head(self, element: Any, words: str, ours: dict[str, Any] | None) -> None:
        matrix = self.source.matrix(element)
        props = self.source.properties(element)
        head = FoundHead(
            **vars(self._thing(element, words)), at=_xyz(matrix[:3, 3]), front=_xyz(matrix[:3, 0])
        )
        if ours is not None:
            head.ours = str(ours.get("Beside") or "")
        else:
            places = [place for _, place in self.ports.at.get(element.id(), ()) if place is not None]
            head.port = _xyz(places[0]) if places else None
            told = f"{words} | {props.get('SprinklerType', '')}"
            for kind in ("sidewall", "upright", "pendent"):
                if not head.kind and has_word(told, getattr(self.mapping.kind_words, kind)):
                    head.kind = kind
            head.dry = has_word(words, self.mapping.kind_words.dry)
            head.thread = (
                size(props, self.mapping.thread_properties, self.source.scale) or of_text(words) or None
            )
            head.k_factor = k_factor(props, self.mapping.k_properties)
        self._keep(np.array([head.at]))
        self.others[element.id()] = head
        self.found.heads.append(head)

    # -- pipes ------------------------------------------------------------------------------

    def _pipe(self, element: Any, of_type: Any, words: str, ours: dict[str, dict[str, Any]]) -> None:
        matrix = self.source.matrix(element)
        pipe = FoundPipe(**vars(self._thing(element, words)), run=ours.get("Run"), piece=ours.get("Piece"))
        self._system(element, pipe)
        found = axis(
            element,
            matrix,
            self.source.scale,
            self.source.counter,
            lambda: self.source.mesher.mesh(element),
        )
        if found is None:
            if ours:
                raise Unusable("a pipe of ours without a straight axis")
            pipe.parts = self._parts(element, matrix)
            self._keep(_corners(pipe.parts))
        else:
            self._keep(np.array([found.a, found.b]))
            self.axes[element.id()] = found
            pipe.radius, pipe.hollow = found.radius, found.hollow
            pipe.flexible = found.bent or "FLEXIBLESEGMENT" in words
            pipe.a, pipe.b = _xyz(found.a), _xyz(found.b)
            pipe.drawn = (pipe.a, pipe.b)
            if not (found.whole or pipe.fire or ours):
                pipe.parts = self._around(element, matrix)
            if pipe.piece is None:
                props = self.source.properties(element)
                pipe.size = size(props, self.mapping.size_properties, self.source.scale) or of_text(words)
        self.pipes[element.id()] = pipe
        self.found.pipes.append(pipe)

    def _around(self, element: Any, matrix: Matrix) -> list[Part]:
        """Give the whole body of what may be another trade's pipe: bends, insulation, valves."""
        try:
            return self._parts(element, matrix)
        except Unusable:
            return []

    def _system(self, element: Any, thing: FoundPipe | FoundSolid) -> None:
        systems = self.source.systems(element)
        names = [
            " ".join(
                str(each)
                for each in (
                    one.Name,
                    getattr(one, "LongName", None),
                    one.ObjectType,
                    getattr(one, "PredefinedType", None),
                )
                if each
            )
            for one in systems
        ]
        thing.systems = " | ".join(names)[:200]
        thing.fire = has_word(f"{thing.systems} | {thing.words}", self.mapping.system_words)

    def _connect(self) -> None:
        """Lengthen pipes to their fittings' centres, and note what hangs together by ports."""
        origins: dict[int, Any] = {}
        for number, element in self.fittings.items():
            try:
                origins[number] = np.array(self.source.matrix(element)[:3, 3])
            except Unusable:
                origins[number] = None
        for number, (a, b) in lengthened(self.axes, origins, self.ports).items():
            self.pipes[number].a, self.pipes[number].b = _xyz(a), _xyz(b)
        for number, thing in {**self.pipes, **self.others}.items():
            thing.linked = [self.guids[each] for each in self.ports.neighbours(number) if each in self.guids]

    # -- bodies -----------------------------------------------------------------------------

    def _parts(self, element: Any, matrix: Matrix) -> list[Part]:
        upright = prism(element, matrix, self.source.scale, self.source.counter, as_drawn=False)
        if upright is not None:
            return [upright]
        points, faces = self.source.mesher.mesh(element)
        if self.source.mesher.partial:
            label = self._thing(element, "").label()
            self.found.notes.append(
                f"{self.found.file}: {label}: a part of its body cannot be made and is missing"
            )
        return footprint(moved(matrix, points), faces, self.source.limits.triangles)

    def _solid(self, element: Any, words: str, kind: str) -> None:
        if not bodies(element) and element.IsDecomposedBy:
            raise Unusable("assemblies without a body (their parts are taken)")
        if kind not in self.mapping.obstructions:
            if kind == "pipe" and element.id() in self.fittings:
                # no obstruction, but pipes hang together by its ports
                thing = FoundSolid(**vars(self._thing(element, "")), kind=kind, fitting=True)
                self.others[element.id()] = thing
                self.found.solids.append(thing)
                return
            raise Unusable(f"{kind}, not chosen as obstruction")
        thing = FoundSolid(**vars(self._thing(element, words)), kind=kind)
        if element.id() in self.fittings:
            thing.fitting = True
            self._system(element, thing)
            self.others[element.id()] = thing
            if thing.fire:
                # a fitting of ours: what it connects is all that is wanted
                self.found.solids.append(thing)
                return
        thing.parts = self._parts(element, self.source.matrix(element))
        self._keep(_corners(thing.parts))
        self.found.solids.append(thing)

    def _covering(self, element: Any, of_type: Any, words: str) -> None:
        said = [getattr(each, "PredefinedType", None) for each in (element, of_type) if each is not None]
        if "CEILING" not in said:
            raise Unusable("coverings that are no ceilings")
        if not self.mapping.ceilings:
            raise Unusable("ceilings, not chosen in the mapping")
        thing = FoundSolid(**vars(self._thing(element, words)), kind="ceiling", which="ceilings")
        thing.parts = self._parts(element, self.source.matrix(element))
        self._keep(_corners(thing.parts))
        self.found.solids.append(thing)

    def _our_solid(self, element: Any, which: str, values: dict[str, Any]) -> None:
        matrix = self.source.matrix(element)
        part = prism(element, matrix, self.source.scale, self.source.counter, as_drawn=True)
        thing = FoundSolid(
            **vars(self._thing(element, "")), which=which, ours=str(values.get("Beside") or "")
        )
        thing.parts = [part] if part is not None else self._parts(element, matrix)
        self.found.solids.append(thing)

    def _keep(self, points: Any) -> None:
        """Refuse what lies wholly outside the box to keep."""
        for axis_number, span in enumerate((self.mapping.box.x, self.mapping.box.y, self.mapping.box.z)):
            if span is None:
                continue
            values = points[:, axis_number]
            if float(values.max()) < span[0] or float(values.min()) > span[1]:
                raise Unusable("outside the box that is kept")


def _line(text: Any) -> str:
    """Give a text in one line of printable characters."""
    return " ".join("".join(each if each.isprintable() else " " for each in str(text or "")).split())


def _xyz(vector: Any) -> tuple[float, float, float]:
    return (float(vector[0]), float(vector[1]), float(vector[2]))


def _corners(parts: list[Part]) -> Any:
    return np.array([(x, y, z) for corners, low, high in parts for x, y in corners for z in (low, high)])
