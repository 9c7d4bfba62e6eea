"""Bodies that are one upright prism, read straight from what they are extruded of."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
import shapely
from shapely.geometry import Polygon

from router.readers.ifc.footprint import corners
from router.readers.ifc.items import bodies, leaves
from router.readers.ifc.placement import axis_placement, moved, numbers
from router.readers.ifc.profiles import polygon

if TYPE_CHECKING:
    from router.readers.ifc.found import Part
    from router.readers.ifc.items import Counter
    from router.readers.ifc.placement import Matrix

UPRIGHT = 1e-9
DIGITS = 6


def prism(element: Any, matrix: Matrix, scale: float, counter: Counter, *, as_drawn: bool) -> Part | None:
    """Give plan polygon and elevations of an upright extrusion of straight edges.

    Parameters
    ----------
    element, matrix, scale, counter
        As for :func:`router.readers.ifc.axes.axis`.
    as_drawn
        Take the corners as they are, in their order, and pass over openings: it is one of ours.

    Returns
    -------
    Part or None
        ``None`` if the body is anything else.

    Raises
    ------
    Unusable
        If it is not finite.
    """
    found = bodies(element)
    if len(found) != 1 or (getattr(element, "HasOpenings", None) and not as_drawn):
        return None
    counter.check(found[0])
    items = leaves(found[0], scale)
    if len(items) != 1:
        return None
    inner, item, cut = items[0]
    if cut or item.is_a() != "IfcExtrudedAreaSolid":
        return None
    points = polygon(item.SweptArea, scale)
    if points is None or len(points) < 3:
        return None
    direction = numbers(item.ExtrudedDirection.DirectionRatios, 3, "the direction of its sweep")
    length = float(np.linalg.norm(direction))
    if length < 1e-12:
        return None
    way = direction / length * float(item.Depth) * scale
    whole = matrix @ inner @ axis_placement(item.Position, scale)
    base = moved(whole, points)
    top = moved(whole, points + way)
    shift = (top - base)[0]
    flat = (
        float(np.ptp(base[:, 2])) < 1e-6
        and float(np.hypot(shift[0], shift[1])) < UPRIGHT * abs(shift[2]) + 1e-9
    )
    if not flat or abs(float(shift[2])) < 0.1:
        return None
    low, high = sorted((round(float(base[0, 2]), DIGITS), round(float(top[0, 2]), DIGITS)))
    plan = [(round(float(x), DIGITS), round(float(y), DIGITS)) for x, y, _ in base]
    if as_drawn:
        return plan, low, high
    shape = Polygon(plan)
    if not shapely.is_valid(shape) or shape.area < 1.0:
        return None
    return corners(shape), low, high
