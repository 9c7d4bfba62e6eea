"""Property sets and quantities of elements and types."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from router.deliver.ifc.lines import label

if TYPE_CHECKING:
    from collections.abc import Mapping

    from router.deliver.ifc.lines import Entity, Lines

Value = tuple[str, Any]
"""Measure of the standard, and the value."""


def identifier(text: str) -> Value:
    """Give an id; one that is longer than the standard's identifiers stays whole as text."""
    return ("IfcIdentifier", text) if label(text) == text else ("IfcText", text)


def word(text: str) -> Value:
    """Give a short text."""
    return ("IfcLabel", label(text))


def whole(number: int) -> Value:
    """Give a whole number."""
    return ("IfcInteger", number)


def length(mm: float) -> Value:
    """Give a length, mm."""
    return ("IfcLengthMeasure", float(mm))


def diameter(mm: float) -> Value:
    """Give a length that is never 0, mm."""
    return ("IfcPositiveLengthMeasure", float(mm))


def one_of(text: str) -> Value:
    """Give a value that the standard takes from a list."""
    return ("", text)


class Sets:
    """Writes sets; each stands once for each thing that it belongs to.

    Parameters
    ----------
    lines
        The file.
    """

    def __init__(self, lines: Lines) -> None:
        self.lines = lines

    def properties(self, owner: Entity, name: str, values: Mapping[str, Value | None]) -> None:
        """Give an element (or project, or system) a property set; values that are ``None`` are left out."""
        made = self.bare(owner, name, values)
        self._relate(owner, name, made)

    def bare(self, owner: Entity, name: str, values: Mapping[str, Value | None]) -> Entity:
        """Make a property set that a type is to hold."""
        given = [self._property(key, value) for key, value in values.items() if value is not None]
        return self.lines.root("IfcPropertySet", "set", f"{owner.GlobalId}/{name}", name, None, given)

    def _property(self, name: str, value: Value) -> Entity:
        measure, given = value
        add = self.lines.add
        if not measure:
            return add("IfcPropertyEnumeratedValue", name, None, [add("IfcLabel", given)], None)
        return add("IfcPropertySingleValue", name, None, add(measure, given), None)

    def quantities(self, owner: Entity, name: str, values: Mapping[str, tuple[str, float]]) -> None:
        """Give an element quantities: name -> class of the quantity, and the value (0 or more)."""
        given = [
            self.lines.add(kind, key, None, None, max(float(value), 0.0), None)
            for key, (kind, value) in values.items()
        ]
        made = self.lines.root(
            "IfcElementQuantity", "set", f"{owner.GlobalId}/{name}", name, None, None, given
        )
        self._relate(owner, name, made)

    def _relate(self, owner: Entity, name: str, made: Entity) -> None:
        self.lines.root(
            "IfcRelDefinesByProperties", "set_of", f"{owner.GlobalId}/{name}", None, None, [owner], made
        )
