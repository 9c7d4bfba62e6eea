"""The axis and radius of a pipe: from what it is swept of, its axis curve, or its surface."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from router.readers.ifc.found import Unusable
from router.readers.ifc.items import Counter, axis_of, bodies, leaves
from router.readers.ifc.placement import axis_placement, moved, numbers
from router.readers.ifc.profiles import circle, polyline

if TYPE_CHECKING:
    from collections.abc import Callable

    import numpy.typing as npt

    from router.readers.ifc.meshes import Mesh
    from router.readers.ifc.placement import Matrix

STRAIGHT_MM = 1.0
LEAST_MM = 1.0
UNROUND = 0.08
"""A surface whose ends are no circles within this part of the radius is no pipe."""


LEAST_RING = 6
"""The corners of every rectangle lie on a circle: a round end has more."""


@dataclass(frozen=True)
class Axis:
    """Ends (mm), outer radius (0: not known), whether it is hollow, whether it is bent between its ends.

    ``whole``: the body lies within that radius of that axis; else it is more than this pipe.
    """

    a: npt.NDArray[np.float64]
    b: npt.NDArray[np.float64]
    radius: float = 0.0
    hollow: bool = False
    bent: bool = False
    whole: bool = False


def axis(
    element: Any, matrix: Matrix, scale: float, counter: Counter, mesh: Callable[[], Mesh]
) -> Axis | None:
    """Find the axis of a pipe.

    Parameters
    ----------
    element, matrix, scale
        The element, its placement (mm), mm per unit of length.
    counter
        Allows its representations.
    mesh
        Gives its surface; called only where nothing simpler says the axis, or its body is cut.

    Returns
    -------
    Axis or None
        In the world; ``None`` if it is no round pipe.

    Raises
    ------
    Unusable
        If its shape cannot be read.
    """
    swept, cut = _swept(element, scale, counter)
    drawn = _drawn(element, scale, counter)
    if swept is not None and cut:
        swept = _trimmed(swept, mesh()[0])
    if swept is None and bodies(element):
        swept = from_mesh(mesh()[0])
    found = swept
    if drawn is not None and (swept is None or _along(swept, drawn)):
        radius, hollow = (swept.radius, swept.hollow) if swept is not None else (0.0, False)
        a, b = drawn
        if swept is not None and float((b - a) @ (swept.b - swept.a)) < 0:
            a, b = b, a
        found = Axis(a, b, radius, hollow, whole=swept is not None and swept.whole and _covers(a, b, swept))
    if found is None:
        return None
    a, b = moved(matrix, np.array([found.a, found.b]))
    if float(np.linalg.norm(b - a)) < LEAST_MM:
        raise Unusable("a pipe without length")
    return replace(found, a=a, b=b)


def _covers(a: npt.NDArray[np.float64], b: npt.NDArray[np.float64], swept: Axis) -> bool:
    """Tell whether a drawn axis reaches as far as the body."""
    way = (b - a) / float(np.linalg.norm(b - a))
    before, beyond = float((swept.a - a) @ way), float((swept.b - b) @ way)
    return before >= -STRAIGHT_MM and beyond <= STRAIGHT_MM


def _swept(element: Any, scale: float, counter: Counter) -> tuple[Axis | None, bool]:
    """Give the longest round sweep of the body; of equals (insulation around it) the thinnest."""
    best: tuple[float, float, Axis, bool] | None = None
    items = 0
    for body in bodies(element):
        counter.check(body)
        for matrix, item, cut in leaves(body, scale):
            items += 1
            found = _of_item(item, matrix, scale)
            if found is None:
                continue
            key = (-round(float(np.linalg.norm(found.b - found.a)), 1), found.radius)
            if best is None or key < best[:2]:
                best = (*key, found, cut)
    if best is None:
        return None, False
    return replace(best[2], whole=items == 1 and not best[2].bent), best[3]


def _of_item(item: Any, matrix: Matrix, scale: float) -> Axis | None:
    if item.is_a("IfcExtrudedAreaSolid"):
        around = circle(item.SweptArea, scale)
        if around is None:
            return None
        centre, radius, hollow = around
        direction = numbers(item.ExtrudedDirection.DirectionRatios, 3, "the direction of its sweep")
        length = float(np.linalg.norm(direction))
        if length < 1e-12:
            raise Unusable("its sweep has no direction")
        way = direction / length * float(item.Depth) * scale
        inner = matrix @ axis_placement(item.Position, scale)
        a, b = moved(inner, np.array([centre, centre + way]))
    elif item.is_a("IfcSweptDiskSolid"):
        points = polyline(item.Directrix, scale)
        if points is None:
            return None
        points = moved(matrix, points)
        a, b = points[0], points[-1]
        radius, hollow = float(item.Radius) * scale, item.InnerRadius is not None
        line = b - a
        length = float(np.linalg.norm(line))
        if length < LEAST_MM:
            raise Unusable("a pipe that ends where it begins")
        off = np.linalg.norm(np.cross(points - a, line / length), axis=1)
        if float(off.max()) > STRAIGHT_MM:
            return Axis(a, b, radius, hollow, bent=True)
    else:
        return None
    stretch = float(np.linalg.norm(matrix[:3, 0]))
    radius *= stretch
    if not 0.0 < radius < 1e6:
        raise Unusable(f"a pipe of radius {radius:g} mm")
    return Axis(a, b, radius, hollow)


def _drawn(element: Any, scale: float, counter: Counter) -> npt.NDArray[np.float64] | None:
    """Give the ends of a straight curve ``Axis``."""
    representation = axis_of(element)
    if representation is None or representation.RepresentationType == "Curve2D":
        return None
    counter.check(representation)
    items = leaves(representation, scale)
    if len(items) != 1:
        return None
    points = polyline(items[0][1], scale)
    if points is None or len(points) != 2 or float(np.linalg.norm(points[1] - points[0])) < LEAST_MM:
        return None
    return moved(items[0][0], points)


def _along(swept: Axis, drawn: npt.NDArray[np.float64]) -> bool:
    """Tell whether a drawn axis lies on the line of the body's own."""
    way = (swept.b - swept.a) / float(np.linalg.norm(swept.b - swept.a))
    off = np.linalg.norm(np.cross(drawn - swept.a, way), axis=1)
    return not swept.bent and float(off.max()) <= STRAIGHT_MM


def _trimmed(swept: Axis, vertices: npt.NDArray[np.float64]) -> Axis:
    """Let the axis end where the body does that was left of the sweep."""
    way = (swept.b - swept.a) / float(np.linalg.norm(swept.b - swept.a))
    along = (vertices - swept.a) @ way
    a, b = swept.a + float(along.min()) * way, swept.a + float(along.max()) * way
    return replace(swept, a=a, b=b)


def from_mesh(vertices: npt.NDArray[np.float64]) -> Axis | None:
    """Give the axis of a straight pipe's surface: between the middles of the circles at its ends.

    Parameters
    ----------
    vertices
        n x 3, mm.

    Returns
    -------
    Axis or None
        ``None`` if no main axis of the points ends in two like circles.
    """
    points = np.unique(np.round(vertices, 6), axis=0)
    if len(points) < 8:
        return None
    _, _, ways = np.linalg.svd(points - points.mean(axis=0), full_matrices=False)
    tried = [_ends(points, way) for way in ways]
    good = [each for each in tried if each is not None and each[0] <= UNROUND]
    if not good:
        return None
    return min(good, key=lambda each: round(each[0], 4))[1]


def _ends(points: npt.NDArray[np.float64], way: npt.NDArray[np.float64]) -> tuple[float, Axis] | None:
    axis_found: tuple[float, Axis] | None = None
    for _ in range(3):
        along = points @ way
        span = float(along.max() - along.min())
        if span < LEAST_MM:
            return None
        near = max(0.5, 0.002 * span)
        rings = [points[along < along.min() + near], points[along > along.max() - near]]
        fits = [_circle(ring, way) for ring in rings]
        if fits[0] is None or fits[1] is None:
            return axis_found
        (a, ra, ea), (b, rb, eb) = fits[0], fits[1]
        radius = max(ra, rb)
        line = b - a
        length = float(np.linalg.norm(line))
        if length < LEAST_MM:
            return None
        off = np.linalg.norm(np.cross(points - a, line / length), axis=1)
        more = float(off.max()) - radius
        worst = max(ea, eb, abs(ra - rb), more) / radius
        axis_found = (worst, Axis(a, b, radius, whole=more <= STRAIGHT_MM))
        way = line / length
    return axis_found


def _circle(
    ring: npt.NDArray[np.float64], way: npt.NDArray[np.float64]
) -> tuple[npt.NDArray[np.float64], float, float] | None:
    """Fit a circle to points near a plane across ``way``: centre, radius, worst distance off it.

    Points inside (of a bore, or the middle of a cap) do not count.
    """
    if len(ring) < LEAST_RING:
        return None
    helper = np.eye(3)[int(np.argmin(np.abs(way)))]
    u = np.cross(way, helper)
    u /= float(np.linalg.norm(u))
    v = np.cross(way, u)
    middle = ring.mean(axis=0)
    flat = np.column_stack([(ring - middle) @ u, (ring - middle) @ v])
    centre2 = np.zeros(2)
    for _ in range(3):
        fitted = _fit(flat)
        if fitted is None:
            return None
        centre2 = fitted
        away = np.linalg.norm(flat - centre2, axis=1)
        outer = flat[away > 0.95 * float(away.max())]
        if len(outer) == len(flat) or len(outer) < LEAST_RING:
            break
        flat = outer
    away = np.linalg.norm(flat - centre2, axis=1)
    radius = float(away.mean())
    if radius <= 0:
        return None
    height = float(((ring - middle) @ way).mean())
    centre = middle + centre2[0] * u + centre2[1] * v + height * way
    return centre, radius, float(np.abs(away - radius).max())


def _fit(flat: npt.NDArray[np.float64]) -> npt.NDArray[np.float64] | None:
    system = np.column_stack([2 * flat, np.ones(len(flat))])
    solution, _, rank, _ = np.linalg.lstsq(system, (flat**2).sum(axis=1), rcond=None)
    return np.asarray(solution[:2]) if rank == 3 else None
