"""Where things are: placements of the standard as 4 x 4 matrices in mm."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from router.readers.ifc.found import DAMAGED, Unusable

if TYPE_CHECKING:
    import numpy.typing as npt

    Matrix = npt.NDArray[np.float64]

MOST_NESTED = 200
BEYOND_MM = 1e12
"""Farther out numbers are too coarse to tell a shape."""


class Placements:
    """Placements of one file, each computed once; ``scale``: mm per unit of length."""

    def __init__(self, scale: float) -> None:
        self.scale = scale
        self._known: dict[int, Matrix | str] = {}

    def of(self, placement: Any) -> Matrix:
        """Give the matrix from an object's own coordinates (mm) to the world's.

        Raises
        ------
        Unusable
            If it refers to itself, is not finite, or is of a kind that is not read.
        """
        try:
            return self._of(placement)
        except DAMAGED as error:
            raise Unusable("its placement is damaged") from error

    def _of(self, placement: Any) -> Matrix:
        chain: list[Any] = []
        here = placement
        while here is not None and here.id() not in self._known:
            if any(here.id() == other.id() for other in chain) or len(chain) > MOST_NESTED:
                for each in chain:
                    self._known[each.id()] = "its placement refers to itself or is nested too deeply"
                break
            chain.append(here)
            here = getattr(here, "PlacementRelTo", None)
        for each in reversed(chain):
            if each.id() not in self._known:
                self._known[each.id()] = self._one(each)
        found = np.eye(4) if placement is None else self._known[placement.id()]
        if isinstance(found, str):
            raise Unusable(found)
        return found

    def _one(self, placement: Any) -> Matrix | str:
        if not placement.is_a("IfcLocalPlacement"):
            return f"placed by {placement.is_a()}, which is not read"
        outer: Matrix | str = np.eye(4)
        if placement.PlacementRelTo is not None:
            outer = self._known[placement.PlacementRelTo.id()]
        if isinstance(outer, str):
            return outer
        try:
            return outer @ axis_placement(placement.RelativePlacement, self.scale)
        except Unusable as error:
            return str(error)
        except DAMAGED:
            return "its placement is damaged"


def numbers(values: Any, count: int, what: str) -> npt.NDArray[np.float64]:
    """Give some numbers of the file as a vector, missing ones 0.

    Raises
    ------
    Unusable
        If one is not finite.
    """
    vector = np.zeros(count)
    given = [float(value) for value in list(values)[:count]]
    vector[: len(given)] = given
    if not np.all(np.isfinite(vector)):
        raise Unusable(f"{what} is not finite")
    return vector


def _unit(vector: npt.NDArray[np.float64], what: str) -> npt.NDArray[np.float64]:
    length = float(np.linalg.norm(vector))
    if not 1e-12 < length < 1e12:
        raise Unusable(f"{what} has no direction")
    return np.asarray(vector / length, dtype=np.float64)


def frame(z: npt.NDArray[np.float64], x: npt.NDArray[np.float64]) -> npt.NDArray[np.float64]:
    """Give the rotation whose third axis is ``z`` and whose first lies nearest to ``x``.

    Raises
    ------
    Unusable
        If one has no length, or both are parallel.
    """
    third = _unit(z, "an axis of its placement")
    first = _unit(x - (x @ third) * third, "an axis of its placement")
    return np.column_stack([first, np.cross(third, first), third])


def axis_placement(placement: Any, scale: float) -> Matrix:
    """Give the matrix of an IfcAxis2Placement2D or 3D (``None``: identity).

    Raises
    ------
    Unusable
        If it is not finite or has no directions.
    """
    matrix = np.eye(4)
    if placement is None:
        return matrix
    if not (placement.is_a("IfcAxis2Placement3D") or placement.is_a("IfcAxis2Placement2D")):
        raise Unusable(f"placed by {placement.is_a()}, which is not read")
    coordinates = getattr(placement.Location, "Coordinates", None)
    if coordinates is None:
        raise Unusable("its placement has no location")
    matrix[:3, 3] = numbers(coordinates, 3, "its placement") * scale
    given_axis = getattr(placement, "Axis", None)
    given_ref = placement.RefDirection
    if given_axis is None and given_ref is None:
        return matrix
    axis = np.array([0.0, 0.0, 1.0])
    if given_axis is not None:
        axis = numbers(given_axis.DirectionRatios, 3, "its placement")
    if given_ref is not None:
        ref = numbers(given_ref.DirectionRatios, 3, "its placement")
    else:
        ref = np.array([1.0, 0.0, 0.0])
        if abs(float(axis @ ref)) > (1 - 1e-9) * float(np.linalg.norm(axis)):
            ref = np.array([0.0, 0.0, 1.0])
    matrix[:3, :3] = frame(axis, ref)
    return matrix


def operator(given: Any, scale: float) -> Matrix:
    """Give the matrix of an IfcCartesianTransformationOperator3D.

    Raises
    ------
    Unusable
        If it is not finite, or scales to nothing.
    """
    origin = numbers(given.LocalOrigin.Coordinates, 3, "a mapping of its shape") * scale
    factor = 1.0 if given.Scale is None else float(given.Scale)
    factors = [factor, getattr(given, "Scale2", None), getattr(given, "Scale3", None)]
    scales = np.array([factor if each is None else float(each) for each in factors])
    if not np.all(np.isfinite(scales)) or float(np.abs(scales).min()) < 1e-9:
        raise Unusable("a mapping of its shape scales to nothing")
    axes = []
    for k, each in enumerate((given.Axis1, given.Axis2, getattr(given, "Axis3", None))):
        axes.append(
            None if each is None else _unit(numbers(each.DirectionRatios, 3, "a mapping"), "a mapping")
        )
        if axes[k] is None and k < 2:
            axes[k] = None
    first, second, third = axes
    z = third if third is not None else np.array([0.0, 0.0, 1.0])
    if third is None and first is not None and second is not None:
        z = np.cross(first, second)
    x = first if first is not None else np.array([1.0, 0.0, 0.0])
    rotation = frame(z, x)
    if second is not None and float(second @ rotation[:, 1]) < 0:
        rotation[:, 1] *= -1.0
    matrix = np.eye(4)
    matrix[:3, :3] = rotation * scales
    matrix[:3, 3] = origin
    return matrix


def moved(matrix: Matrix, points: npt.NDArray[np.float64]) -> npt.NDArray[np.float64]:
    """Give points (n x 3) in the outer frame of a matrix.

    Raises
    ------
    Unusable
        If one is not finite.
    """
    with np.errstate(all="ignore"):
        result = points @ matrix[:3, :3].T + matrix[:3, 3]
    if not np.all(np.isfinite(result)):
        raise Unusable("its shape has coordinates that are not finite")
    if len(result) and float(np.abs(result).max()) > BEYOND_MM:
        raise Unusable(f"its coordinates are beyond {BEYOND_MM / 1e6:g} km")
    return np.asarray(result, dtype=np.float64)
