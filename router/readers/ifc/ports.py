"""Ports: which elements are connected, and where; pipe axes lengthened to their fittings' centres."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import numpy as np

from router.readers.ifc.found import Unusable

if TYPE_CHECKING:
    import numpy.typing as npt

    from router.readers.ifc.axes import Axis
    from router.readers.ifc.source import Source

    Vector = npt.NDArray[np.float64]

NEAR_AXIS_MM = 15.0
"""A fitting's origin that lies farther from an axis is not its centre."""
LONGEST_MM = 250.0
"""Longest way from a pipe's end to a fitting's centre, besides four times its diameter."""
PARALLEL = 1e-3


@dataclass
class Ports:
    """Ports of one file.

    ``at``: element to its ports and their places (mm; ``None`` where not given).
    ``across``: port to the ports connected with it. ``owner``: port to element.
    """

    at: dict[int, list[tuple[int, Vector | None]]] = field(default_factory=dict)
    across: dict[int, list[int]] = field(default_factory=dict)
    owner: dict[int, int] = field(default_factory=dict)

    def neighbours(self, element: int) -> list[int]:
        """Give the elements that an element's ports are connected with."""
        found = [
            self.owner[other]
            for port, _ in self.at.get(element, ())
            for other in self.across.get(port, ())
            if other in self.owner
        ]
        return list(dict.fromkeys(found))


def ports(source: Source) -> Ports:
    """Read all ports of a file, nested ones (IFC4) and connected ones (IFC2X3).

    Returns
    -------
    Ports
    """
    result = Ports()

    def add(element: Any, port: Any) -> None:
        if element is None or port is None or not port.is_a("IfcPort") or port.id() in result.owner:
            return
        place = None
        if port.ObjectPlacement is not None:
            try:
                place = np.array(source.placements.of(port.ObjectPlacement)[:3, 3])
            except Unusable:
                place = None
        result.owner[port.id()] = element.id()
        result.at.setdefault(element.id(), []).append((port.id(), place))

    def nested(link: Any) -> None:
        for each in link.RelatedObjects or ():
            add(link.RelatingObject, each)

    def across(link: Any) -> None:
        one, other = link.RelatingPort, link.RelatedPort
        if one is not None and other is not None:
            result.across.setdefault(one.id(), []).append(other.id())
            result.across.setdefault(other.id(), []).append(one.id())

    source.each("IfcRelConnectsPortToElement", lambda link: add(link.RelatedElement, link.RelatingPort))
    if source.model.schema != "IFC2X3":
        source.each("IfcRelNests", nested)
    source.each("IfcRelConnectsPorts", across)
    return result


@dataclass
class _Joint:
    """Where pipes end in one fitting: pipe and which end."""

    ends: list[tuple[int, int]] = field(default_factory=list)


def lengthened(
    axes: dict[int, Axis], fittings: dict[int, Vector | None], found: Ports
) -> dict[int, list[Vector]]:
    """Let pipes reach to the centres of the fittings that they are connected with.

    Parameters
    ----------
    axes
        Pipe (its number in the file) to its axis.
    fittings
        Fitting to its placement's origin, ``None`` where that cannot be read.
    found
        The file's ports.

    Returns
    -------
    dict
        Pipe to its two ends; pipes whose fittings have no clear centre keep theirs.
    """
    ends = {pipe: [np.array(axis.a), np.array(axis.b)] for pipe, axis in axes.items()}
    for fitting, origin in fittings.items():
        joint = _Joint()
        for port, place in found.at.get(fitting, ()):
            for other in found.across.get(port, ()):
                pipe = found.owner.get(other)
                if pipe in axes and pipe is not None:
                    there = next((at for each, at in found.at[pipe] if each == other), None)
                    joint.ends.append((pipe, _which(axes[pipe], there, place, origin)))
        centre = _centre(axes, joint.ends, origin)
        if centre is None:
            continue
        for pipe, end in joint.ends:
            axis = axes[pipe]
            if axis.bent:
                continue
            if _reached(axis, end, centre):
                ends[pipe][end] = centre
    return ends


def _which(axis: Axis, *places: Vector | None) -> int:
    """Tell which end of a pipe lies at the first place that is known."""
    for place in places:
        if place is not None:
            return int(np.linalg.norm(place - axis.b) < np.linalg.norm(place - axis.a))
    return 0


def _reached(axis: Axis, end: int, centre: Vector) -> bool:
    """Tell whether a centre lies on the axis, near that end and not beyond the other."""
    tip, other = (axis.b, axis.a) if end else (axis.a, axis.b)
    length = float(np.linalg.norm(tip - other))
    way = (tip - other) / length
    along = float((centre - tip) @ way)
    aside = float(np.linalg.norm(centre - tip - along * way))
    return aside <= NEAR_AXIS_MM and -0.5 * length < along <= LONGEST_MM + 8 * axis.radius


def _centre(axes: dict[int, Axis], ends: list[tuple[int, int]], origin: Vector | None) -> Vector | None:
    """Give a fitting's centre: its origin if that lies on the axes, else where these meet."""
    straight = [(axes[pipe], end) for pipe, end in ends if not axes[pipe].bent]
    if not straight:
        return None
    if origin is not None and all(_reached(axis, end, origin) for axis, end in straight):
        return origin
    return _meeting(straight)


def _meeting(ends: list[tuple[Axis, int]]) -> Vector | None:
    """Give the place nearest to all axes; the middle of the ends where they are in one line."""
    if len(ends) < 2:
        return None
    tips = np.array([axis.b if end else axis.a for axis, end in ends])
    ways = np.array([(axis.b - axis.a) / np.linalg.norm(axis.b - axis.a) for axis, _ in ends])
    system = np.zeros((3, 3))
    right = np.zeros(3)
    for tip, way in zip(tips, ways, strict=True):
        across = np.eye(3) - np.outer(way, way)
        system += across
        right += across @ tip
    values = np.linalg.eigvalsh(system)
    if values[0] < PARALLEL * values[-1]:
        return np.asarray(tips.mean(axis=0))
    return np.asarray(np.linalg.solve(system, right))
