"""Profiles of swept solids: circles, and polygons of straight edges."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from router.readers.ifc.found import Unusable
from router.readers.ifc.placement import axis_placement, moved, numbers

if TYPE_CHECKING:
    import numpy.typing as npt

    from router.readers.ifc.placement import Matrix

ROUND = 0.02
"""A closed profile is a circle if its corners are at one distance from their middle, to this part of it."""


def circle(profile: Any, scale: float) -> tuple[npt.NDArray[np.float64], float, bool] | None:
    """Give centre (in the profile's plane, mm), radius and whether it is surely the outer one.

    Returns
    -------
    tuple or None
        ``None`` if the profile is no circle.
    """
    if profile.is_a("IfcCircleProfileDef"):
        centre = _position(profile, scale)[:3, 3]
        return centre, float(profile.Radius) * scale, profile.is_a("IfcCircleHollowProfileDef")
    if not profile.is_a("IfcArbitraryClosedProfileDef"):
        return None
    curve = profile.OuterCurve
    if curve is not None and curve.is_a("IfcCircle"):
        return axis_placement(curve.Position, scale)[:3, 3], float(curve.Radius) * scale, False
    corners = polyline(curve, scale)
    if corners is None or len(corners) < 8:
        return None
    middle = corners.mean(axis=0)
    away = np.linalg.norm(corners - middle, axis=1)
    radius = float(away.max())
    if radius <= 0 or float(away.min()) < (1 - ROUND) * radius:
        return None
    return middle, radius, profile.is_a("IfcArbitraryProfileDefWithVoids")


def polygon(profile: Any, scale: float) -> npt.NDArray[np.float64] | None:
    """Give the corners (n x 3, mm, z 0, not closed) of a profile of straight edges without voids.

    Returns
    -------
    ndarray or None
        ``None`` if it is another one.
    """
    if profile.is_a() == "IfcRectangleProfileDef":
        x, y = float(profile.XDim) * scale / 2, float(profile.YDim) * scale / 2
        corners = np.array([[-x, -y, 0.0], [x, -y, 0.0], [x, y, 0.0], [-x, y, 0.0]])
        return moved(_position(profile, scale), corners)
    if profile.is_a() == "IfcArbitraryClosedProfileDef":
        return polyline(profile.OuterCurve, scale)
    return None


def polyline(curve: Any, scale: float) -> npt.NDArray[np.float64] | None:
    """Give the corners (n x 3, mm) of a curve of straight edges, a repeated last one left out.

    Returns
    -------
    ndarray or None
        ``None`` if it is another one.
    """
    if curve is None:
        return None
    if curve.is_a("IfcPolyline"):
        rows = [numbers(point.Coordinates, 3, "a point of its shape") for point in curve.Points]
    elif curve.is_a("IfcIndexedPolyCurve"):
        rows = _indexed(curve)
    elif curve.is_a("IfcCompositeCurve") and len(curve.Segments) == 1:
        return polyline(getattr(curve.Segments[0], "ParentCurve", None), scale)
    elif curve.is_a("IfcTrimmedCurve") and curve.BasisCurve.is_a("IfcLine"):
        ends = [_trim(each) for each in (curve.Trim1, curve.Trim2)]
        rows = [end for end in ends if end is not None]
    else:
        return None
    if len(rows) < 2:
        return None
    points = np.array(rows) * scale
    if len(points) > 2 and np.array_equal(points[0], points[-1]):
        points = points[:-1]
    return points


def _indexed(curve: Any) -> list[npt.NDArray[np.float64]]:
    points = [numbers(row, 3, "a point of its shape") for row in curve.Points.CoordList]
    if curve.Segments is None:
        return points
    order: list[int] = []
    for segment in curve.Segments:
        if segment.is_a() != "IfcLineIndex":
            return []
        indices = list(segment.wrappedValue)
        order += indices[1:] if order and order[-1] == indices[0] else indices
    if any(not 1 <= index <= len(points) for index in order):
        raise Unusable("its shape names a point that there is not")
    return [points[index - 1] for index in order]


def _trim(values: Any) -> npt.NDArray[np.float64] | None:
    for value in values:
        if value.is_a("IfcCartesianPoint"):
            return numbers(value.Coordinates, 3, "a point of its shape")
    return None


def _position(profile: Any, scale: float) -> Matrix:
    return axis_placement(getattr(profile, "Position", None), scale)
