"""The surface of an element as triangles, by the geometry library, in the element's own frame."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import ifcopenshell
import numpy as np

from router.readers.ifc.found import Unusable
from router.readers.ifc.items import bodies

if TYPE_CHECKING:
    import numpy.typing as npt

    from router.readers.ifc.items import Counter

    Mesh = tuple[npt.NDArray[np.float64], npt.NDArray[np.int64]]

MM_PER_M = 1000.0
FINEST_MM = 0.2
"""How far a triangle may lie off a curved surface."""

LOST = ("Failed to convert", "Self-intersections")
"""What the library says when it leaves out a part of a shape and hands out the rest."""


def said() -> list[str]:
    """Give what the library logged since it was asked last.

    Returns
    -------
    list of str
    """
    log: Any = ifcopenshell.get_log  # without types
    return list(log().splitlines())


class Mesher:
    """Makes meshes one element at a time and keeps none of them."""

    def __init__(self, counter: Counter) -> None:
        import ifcopenshell.geom

        self._geom = ifcopenshell.geom
        self._counter = counter
        settings: Any = ifcopenshell.geom.settings()  # type: ignore[no-untyped-call]
        settings.set("mesher-linear-deflection", FINEST_MM / MM_PER_M)
        settings.set("weld-vertices", True)
        settings.set("apply-default-materials", False)
        settings.set("no-normals", True)
        self._settings = settings
        self.partial = False
        """Whether something in the last shapes could not be made, and the rest was."""

    def mesh(self, element: Any) -> Mesh:
        """Give the triangles of an element's body, openings taken out.

        Returns
        -------
        vertices : ndarray
            n x 3, mm, in the element's own frame.
        triangles : ndarray
            m x 3, numbers of vertices.

        Raises
        ------
        Unusable
            If it has no body, or the library can make nothing of it.
        """
        found = bodies(element)
        if not found:
            raise Unusable("no body")
        for each in found:
            self._counter.check(each)
        vertices: list[npt.NDArray[np.float64]] = []
        triangles: list[npt.NDArray[np.int64]] = []
        start = 0
        said()  # what was said of others before
        for each in found:
            try:
                shape: Any = self._geom.create_shape(self._settings, element, each)
                points = np.array(shape.geometry.verts, dtype=np.float64).reshape(-1, 3) * MM_PER_M
                faces = np.array(shape.geometry.faces, dtype=np.int64).reshape(-1, 3)
            except (RuntimeError, ValueError, TypeError, AttributeError) as error:
                raise Unusable("the geometry library can make nothing of its shape") from error
            vertices.append(points)
            triangles.append(faces + start)
            start += len(points)
        self.partial = any(text in line for line in said() for text in LOST)
        all_points, all_faces = np.concatenate(vertices), np.concatenate(triangles)
        if not len(all_faces):
            raise Unusable("its shape has no surface")
        if not np.all(np.isfinite(all_points)):
            raise Unusable("its shape has coordinates that are not finite")
        return all_points, all_faces
