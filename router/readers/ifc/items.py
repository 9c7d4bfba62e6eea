"""The shape of an element taken apart: its representations and their single items."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from router.readers.ifc.found import Unusable
from router.readers.ifc.placement import axis_placement, operator

if TYPE_CHECKING:
    from router.readers.ifc.placement import Matrix

BODIES = ("Body", "Body-FallBack", "Facetation", "Tessellation", "Mesh", "", "Box", "BoundingBox")
"""Identifiers of representations that are bodies, best first."""

MOST_NESTED = 100


def bodies(element: Any) -> list[Any]:
    """Give the representations that are an element's body, of the best identifier there is.

    Returns
    -------
    list
        Empty if it has none.
    """
    shape = getattr(element, "Representation", None)
    found: dict[str, list[Any]] = {}
    for one in getattr(shape, "Representations", None) or ():
        if one is not None and one.Items:
            found.setdefault(one.RepresentationIdentifier or "", []).append(one)
    for name in BODIES:
        if name in found:
            return found[name]
    return []


def axis_of(element: Any) -> Any | None:
    """Give the representation ``Axis`` of an element, or ``None``.

    Returns
    -------
    entity or None
    """
    shape = getattr(element, "Representation", None)
    for one in getattr(shape, "Representations", None) or ():
        if one is not None and one.RepresentationIdentifier == "Axis" and one.Items:
            return one
    return None


class Counter:
    """Counts the parts of shapes, mapped ones each time, without building them."""

    def __init__(self, most: int) -> None:
        self.most = most
        self._known: dict[int, int] = {}
        self._open: set[int] = set()

    def check(self, representation: Any) -> None:
        """Refuse a representation of too many parts.

        Raises
        ------
        Unusable
            If there are more than allowed, they are nested too deeply, or contain themselves.
        """
        count = self._count(representation, 0)
        if count > self.most:
            raise Unusable(f"its shape has more than {self.most} parts")

    def _count(self, item: Any, depth: int) -> int:
        key = item.id()
        if key in self._known:
            return self._known[key]
        if key in self._open:
            raise Unusable("its shape contains itself")
        if depth > MOST_NESTED:
            raise Unusable("its shape is nested too deeply")
        self._open.add(key)
        try:
            count = sum(self._count(child, depth + 1) for child in _children(item)) or 1
        finally:
            self._open.discard(key)
        self._known[key] = min(count, 10**12)
        return self._known[key]


def _children(item: Any) -> list[Any]:
    if item.is_a("IfcRepresentation"):
        return list(item.Items or ())
    if item.is_a("IfcMappedItem"):
        return [item.MappingSource.MappedRepresentation]
    if item.is_a("IfcBooleanResult"):
        return [item.FirstOperand, item.SecondOperand]
    if item.is_a("IfcCsgSolid"):
        return [item.TreeRootExpression]
    return []


def leaves(representation: Any, scale: float) -> list[tuple[Matrix, Any, bool]]:
    """Give the single items of a representation that :class:`Counter` allowed.

    Returns
    -------
    list of (matrix, item, cut)
        ``matrix``: from the item's coordinates (mm) to the element's. ``cut``:
        the body is what is left of the item when others are taken away.
    """
    result: list[tuple[Matrix, Any, bool]] = []
    work = [(np.eye(4), item, False) for item in reversed(representation.Items)]
    while work:
        matrix, item, cut = work.pop()
        if item.is_a("IfcMappedItem"):
            source = item.MappingSource
            inner = matrix @ operator(item.MappingTarget, scale) @ axis_placement(source.MappingOrigin, scale)
            work += [(inner, each, cut) for each in reversed(source.MappedRepresentation.Items)]
        elif item.is_a("IfcBooleanResult"):
            work.append((matrix, item.FirstOperand, True))
        elif item.is_a("IfcCsgSolid"):
            work.append((matrix, item.TreeRootExpression, True))
        else:
            result.append((matrix, item, cut))
    return result
