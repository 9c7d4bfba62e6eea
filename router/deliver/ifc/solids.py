"""Shapes: round bars, balls, upright prisms, and what an element shows of them."""

from __future__ import annotations

from math import sqrt, tau
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Sequence

    from router.deliver.ifc.lines import Entity, Lines, Xyz

_UP: Xyz = (0.0, 0.0, 1.0)


def minus(a: Xyz, b: Xyz) -> Xyz:
    """Give the vector from ``b`` to ``a``."""
    return (a[0] - b[0], a[1] - b[1], a[2] - b[2])


def plus(a: Xyz, way: Xyz, far: float) -> Xyz:
    """Give the place ``far`` mm from ``a`` in a direction."""
    return (a[0] + way[0] * far, a[1] + way[1] * far, a[2] + way[2] * far)


def unit(way: Xyz) -> Xyz:
    """Give a vector of length 1; a vector without length points up."""
    size = sqrt(way[0] ** 2 + way[1] ** 2 + way[2] ** 2)
    return (way[0] / size, way[1] / size, way[2] / size) if size > 1e-9 else _UP


def beside(way: Xyz) -> Xyz:
    """Give a direction square to another: level, but +x for what stands upright."""
    flat = sqrt(way[0] ** 2 + way[1] ** 2)
    return (1.0, 0.0, 0.0) if flat < 1e-6 else (-way[1] / flat, way[0] / flat, 0.0)


class Solids:
    """Makes solids of a file, in mm, in the element's own axes."""

    def __init__(self, lines: Lines) -> None:
        self.lines = lines
        self._discs: dict[float, Entity] = {}

    def bar(self, start: Xyz, way: Xyz, depth: float, radius: float) -> Entity:
        """Make a round bar from ``start``, ``depth`` mm in the direction ``way``."""
        place = self.lines.placement(start, way, beside(way))
        return self.lines.add(
            "IfcExtrudedAreaSolid", self.lines.circle(radius), place, self.lines.direction(_UP), depth
        )

    def ball(self, radius: float) -> Entity:
        """Make a ball at the origin: half a disc turned once, which most programs read."""
        add, origin = self.lines.add, (0.0, 0.0, 0.0)
        profile = self._discs.get(radius)
        if profile is None:
            points = add("IfcCartesianPointList2D", [(0.0, -radius), (radius, 0.0), (0.0, radius)])
            around = [add("IfcArcIndex", (1, 2, 3)), add("IfcLineIndex", (3, 1))]
            curve = add("IfcIndexedPolyCurve", points, around, False)
            profile = self._discs[radius] = add("IfcArbitraryClosedProfileDef", "AREA", None, curve)
        about = add("IfcAxis1Placement", self.lines.point(*origin), self.lines.direction((0.0, 1.0, 0.0)))
        return add("IfcRevolvedAreaSolid", profile, self.lines.placement(origin), about, tau)

    def prism(self, corners: Sequence[tuple[float, float]], height: float) -> Entity:
        """Make an upright prism from level 0 up; ``corners`` may be closed or not."""
        points = list(corners)
        if len(points) > 1 and points[0] == points[-1]:
            points.pop()
        ring = [self.lines.point(float(x), float(y)) for x, y in points]
        curve = self.lines.add("IfcPolyline", [*ring, ring[0]])
        profile = self.lines.add("IfcArbitraryClosedProfileDef", "AREA", None, curve)
        place = self.lines.placement((0.0, 0.0, 0.0))
        return self.lines.add("IfcExtrudedAreaSolid", profile, place, self.lines.direction(_UP), height)

    def shape(self, solids: Sequence[Entity], axis: tuple[Xyz, Xyz] | None = None) -> Entity | None:
        """Give what an element shows: its body, and its axis if it is a pipe; ``None`` for nothing."""
        lines, views = self.lines, []
        if axis is not None and axis[0] != axis[1]:
            curve = lines.add("IfcPolyline", [lines.point(*axis[0]), lines.point(*axis[1])])
            views.append(lines.add("IfcShapeRepresentation", lines.axis, "Axis", "Curve3D", [curve]))
        if solids:
            views.append(lines.add("IfcShapeRepresentation", lines.body, "Body", "SweptSolid", list(solids)))
        return lines.add("IfcProductDefinitionShape", None, None, views) if views else None
