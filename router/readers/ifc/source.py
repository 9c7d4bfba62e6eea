"""One opened file: its units, and what stands beside an element (type, sets, systems, storey)."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import ifcopenshell
import ifcopenshell.util.element as elements
import ifcopenshell.util.unit as units
import numpy as np

from router.readers.ifc.found import DAMAGED, Unusable
from router.readers.ifc.items import Counter
from router.readers.ifc.meshes import Mesher, said
from router.readers.ifc.placement import Placements

if TYPE_CHECKING:
    from collections.abc import Callable

    from router.readers.ifc.limits import Limits

OURS = "BranchRouter_"


class Source:
    """One file of a model, open.

    Parameters
    ----------
    model
        As ``ifcopenshell.open`` gives it.
    limits
        For shapes.
    """

    def __init__(self, model: Any, limits: Limits) -> None:
        self.model = model
        self.limits = limits
        self.scale, self.unit = _scale(model)
        self.placements = Placements(self.scale)
        self.counter = Counter(limits.parts)
        self.mesher = Mesher(self.counter)
        self.damaged = 0
        self.ours: dict[int, dict[str, dict[str, Any]]] = {}
        """Values of our own sets by element."""
        self._systems: dict[int, list[Any]] = {}
        self.each("IfcRelDefinesByProperties", self._our_set)
        self.each("IfcRelAssignsToGroup", self._system)

    def each(self, ifc_class: str, act: Callable[[Any], None]) -> None:
        """Do something with every record of a class; those that are damaged are counted."""
        for record in self.model.by_type(ifc_class):
            try:
                act(record)
            except DAMAGED:
                self.damaged += 1

    def _our_set(self, link: Any) -> None:
        held = link.RelatingPropertyDefinition
        if held is None or not held.is_a("IfcPropertySet") or not str(held.Name or "").startswith(OURS):
            return
        values = {}
        for one in held.HasProperties or ():
            if one.is_a("IfcPropertySingleValue"):
                value = one.NominalValue
                values[one.Name] = None if value is None else value.wrappedValue
        for element in link.RelatedObjects or ():
            self.ours.setdefault(element.id(), {})[held.Name.removeprefix(OURS)] = values

    def _system(self, link: Any) -> None:
        if link.RelatingGroup is not None and link.RelatingGroup.is_a("IfcSystem"):
            for element in link.RelatedObjects or ():
                self._systems.setdefault(element.id(), []).append(link.RelatingGroup)

    def type_of(self, element: Any) -> Any | None:
        """Give the type object of an element."""
        return elements.get_type(element)

    def systems(self, element: Any) -> list[Any]:
        """Give the systems that an element is in."""
        return self._systems.get(element.id(), [])

    def storey(self, element: Any) -> str:
        """Give the name of the storey that holds an element, by way of what it is part of."""
        found: Any = elements.get_container(element)
        for _ in range(20):
            if found is None or found.is_a("IfcBuildingStorey"):
                break
            found = elements.get_aggregate(found)
        return "" if found is None else str(found.Name or "")

    def properties(self, element: Any) -> dict[str, Any]:
        """Give all single values of an element and its type by the property's name.

        An element's own value goes before its type's. Lengths stay in the file's unit.
        """
        result: dict[str, Any] = {}
        for held in reversed(list(elements.get_psets(element, psets_only=True).values())):
            result.update({name: value for name, value in held.items() if value not in (None, "")})
        return result

    def matrix(self, element: Any) -> Any:
        """Give an element's placement as a matrix (mm)."""
        placement = getattr(element, "ObjectPlacement", None)
        matrix = self.placements.of(placement)
        if not np.all(np.isfinite(matrix)):
            raise Unusable("its placement is not finite")
        return matrix

    def words(self, element: Any, of_type: Any | None) -> str:
        """Give all short texts that may say what an element is."""
        texts = [element.Name, getattr(element, "ObjectType", None), element.Description]
        texts.append(getattr(element, "PredefinedType", None))
        if of_type is not None:
            texts += [of_type.Name, getattr(of_type, "ElementType", None), of_type.Description]
            texts.append(getattr(of_type, "PredefinedType", None))
        skipped = ("NOTDEFINED", "USERDEFINED")
        return " | ".join(str(text)[:200] for text in texts if text and text not in skipped)


def _scale(model: Any) -> tuple[float, str]:
    """Give mm per unit of length, and a word for it."""
    assignment = None
    for project in model.by_type("IfcProject"):
        assignment = getattr(project, "UnitsInContext", None)
    try:
        names = [each for each in getattr(assignment, "Units", None) or () if each is not None]
        lengths = [each for each in names if getattr(each, "UnitType", None) == "LENGTHUNIT"]
        if not lengths:
            return 1000.0, ""
        scale = float(units.calculate_unit_scale(model)) * 1000.0
    except DAMAGED as error:
        raise ValueError(f"its unit of length cannot be read ({error})") from error
    if not 1e-3 <= scale <= 1e7:
        raise ValueError(f"its unit of length is {scale:g} mm, which cannot be")
    one = lengths[0]
    word = f"{str(getattr(one, 'Prefix', None) or '').lower()}{str(one.Name).lower()}"
    return scale, word


def opened(path: str, statements: int) -> tuple[Any, list[str]]:
    """Open a file.

    Parameters
    ----------
    path
        STEP text.
    statements
        How many there are in it.

    Returns
    -------
    model
    faults : list of str
        What the parser could not read.

    Raises
    ------
    ValueError
        If nothing can be read.
    """
    try:
        model = ifcopenshell.open(path)
    except (ifcopenshell.Error, RuntimeError, OSError, ValueError) as error:
        faults = [str(error), *complaints()]
        raise ValueError("; ".join(faults[:3])) from error
    faults = complaints()
    # the same list, held by another object before version 0.9
    lost = statements - len(getattr(model, "wrapped_data", model).entity_names())
    if lost > 0 and lost > len([text for text in faults if "not found in schema" in text]):
        faults.insert(
            0, f"{lost} of {statements} statements are empty, doubled or no statement of the standard"
        )
    return model, faults


def complaints() -> list[str]:
    """Give what the parser logged as errors, without its marks and times.

    Returns
    -------
    list of str
    """
    result = []
    for line in said():
        if line.startswith("[error]"):
            text = line.rsplit("] ", 1)[-1].strip()
            result.append(text[:160])
    return result
