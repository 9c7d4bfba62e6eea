"""Where pipe ends meet: links across the gaps that fittings leave, ports that belong together.

Two graphs stand on this: ``router.readers.joints`` (in plan, for runs) and
``router.readers.pipe_graph`` (in space, for roles).
"""

from __future__ import annotations

from dataclasses import dataclass
from math import dist
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt
from shapely import STRtree, box, points
from shapely.geometry import LineString

if TYPE_CHECKING:
    from router.readers.drawn import DrawnPipe, Xyz

Vector = npt.NDArray[np.float64]
Port = tuple[int, float]
"""A place on a pipe: its number, and the distance from its first end in mm."""

ASIDE_MM = 12.0
"""How far two axes that meet may pass each other; drawn positions are good to a few mm."""

BACK_MM = 20.0
"""How far a pipe may be drawn past the axis that it meets."""

SAME_FITTING_MM = 40.0
"""Meeting places closer than this are one fitting."""

PARALLEL_SINE = 0.05


def reach_of(dn: int) -> float:
    """Give the longest gap, in mm, that a fitting leaves from a pipe's end to its own centre.

    Half a tee is about its nominal size and some more; drawn gaps are up to
    130 mm at DN100. Common practice, no source.

    Returns
    -------
    float
    """
    return 50.0 + 1.2 * dn


@dataclass(frozen=True)
class _Link:
    gap: float
    near: Port
    far: Port
    at: Xyz


@dataclass(frozen=True)
class Joined:
    """Places where ports meet.

    Parameters
    ----------
    members
        Place to its ports.
    node_of
        Port to its place.
    stops_of
        Pipe to its ports, from its first end on.
    points
        Port to the points where axes meet there, mm; none for a free end.
    """

    members: list[list[Port]]
    node_of: dict[Port, int]
    stops_of: dict[int, list[Port]]
    points: dict[Port, list[Xyz]]


class Links:
    """Pipes with length, and how their ends meet.

    ``a``: first end, mm; ``way``: unit vector to the second; ``length`` in mm, all by number.
    ``inlets``: of heads, mm. A pipe that ends at one does not look for a pipe beyond it.
    """

    def __init__(self, pipes: list[DrawnPipe], inlets: list[Xyz] | None = None) -> None:
        self.pipes = pipes
        self.a = [np.array(pipe.a, dtype=float) for pipe in pipes]
        self.length = [dist(pipe.a, pipe.b) for pipe in pipes]
        self.way = [
            (np.array(pipe.b, dtype=float) - a) / length
            for pipe, a, length in zip(pipes, self.a, self.length, strict=True)
        ]
        self.inside: dict[int, list[float]] = {}
        self.tree = STRtree([LineString([pipe.a[:2], pipe.b[:2]]) for pipe in pipes])
        self.inlets = inlets or []

    def joined(self) -> Joined:
        """Bring linked ports together.

        Returns
        -------
        Joined
        """
        met: dict[Port, list[Xyz]] = {}
        group: dict[Port, set[Port]] = {}
        for i, length in enumerate(self.length):
            for port in ((i, 0.0), (i, length)):
                group[port] = {port}
        for link in sorted(self._links(), key=lambda one: (one.gap, one.near, one.far)):
            port = self._snapped(link.far)
            far = group.setdefault(port, {port})
            near = group[link.near]
            if far is near:
                continue
            # A short pipe between two fittings must not be swallowed by them.
            if {port[0] for port in near} & {port[0] for port in far}:
                continue
            near |= far
            for each in far:
                group[each] = near
            for each in (link.near, port):
                met.setdefault(each, []).append(link.at)
        numbers: dict[int, int] = {}
        node_of: dict[Port, int] = {}
        members: list[list[Port]] = []
        for port in sorted(group):
            owner = group[port]
            if id(owner) not in numbers:
                numbers[id(owner)] = len(members)
                members.append(sorted(owner))
            node_of[port] = numbers[id(owner)]
        stops_of: dict[int, list[Port]] = {}
        for port in sorted(node_of):
            stops_of.setdefault(port[0], []).append(port)
        return Joined(members, node_of, stops_of, met)

    def _snapped(self, port: Port) -> Port:
        """Give the port already known at (nearly) that place of a pipe, or the port itself."""
        pipe, position = port
        if position in {0.0, self.length[pipe]}:
            return port
        known = self.inside.setdefault(pipe, [])
        for other in known:
            if abs(other - position) <= SAME_FITTING_MM:
                return (pipe, other)
        known.append(position)
        return port

    def _links(self) -> list[_Link]:
        links: list[_Link] = []
        near, at_head = self._near(), self._at_heads()
        for i, length in enumerate(self.length):
            for position, sign in ((0.0, -1.0), (length, 1.0)):
                tip = self.a[i] + position * self.way[i]
                found = self._meets(i, (i, position), tip, sign * self.way[i], near[2 * i + (sign > 0)])
                if 2 * i + (sign > 0) in at_head:
                    found = [one for one in found if one.gap <= BACK_MM]
                if not found:
                    continue
                best = min(found, key=lambda one: (one.gap, one.far))
                # What lies beyond the nearest meeting place belongs to another fitting.
                links += [one for one in found if dist(one.at, best.at) <= SAME_FITTING_MM]
        return links

    def _near(self) -> list[list[int]]:
        """For each end (two a pipe, in order) the pipes around it; floors above each other are told apart."""
        result: list[list[int]] = [[] for _ in range(2 * len(self.pipes))]
        if not self.pipes:
            return result
        tips = np.array([end for pipe in self.pipes for end in (pipe.a, pipe.b)], dtype=float)
        low, high = tips[:, 2].reshape(-1, 2).min(axis=1), tips[:, 2].reshape(-1, 2).max(axis=1)
        around = reach_of(150)
        x, y, z = tips.T
        pairs = self.tree.query(box(x - around, y - around, x + around, y + around))
        beyond = 2 * reach_of(max(pipe.dn for pipe in self.pipes))
        end, other = pairs
        kept = (z[end] >= low[other] - beyond) & (z[end] <= high[other] + beyond) & (end // 2 != other)
        for one, two in sorted(zip(end[kept].tolist(), other[kept].tolist(), strict=True)):
            result[one].append(two)
        return result

    def _at_heads(self) -> set[int]:
        """Give the ends (two a pipe, in order) that are drawn to a head's inlet."""
        if not self.inlets or not self.pipes:
            return set()
        tips = np.array([end for pipe in self.pipes for end in (pipe.a, pipe.b)], dtype=float)
        inlets = np.array(self.inlets, dtype=float)
        x, y = inlets[:, 0], inlets[:, 1]
        pairs = STRtree(points(tips[:, :2])).query(box(x - BACK_MM, y - BACK_MM, x + BACK_MM, y + BACK_MM))
        away = np.linalg.norm(inlets[pairs[0]] - tips[pairs[1]], axis=1)
        return {int(end) for end in pairs[1][away <= BACK_MM]}

    def _meets(self, i: int, port: Port, tip: Vector, out: Vector, near: list[int]) -> list[_Link]:
        result = []
        for j in near:
            link = self._meet(port, tip, out, j, reach_of(max(self.pipes[i].dn, self.pipes[j].dn)))
            if link is not None:
                result.append(link)
        return result

    def _meet(self, port: Port, tip: Vector, out: Vector, j: int, reach: float) -> _Link | None:
        """Find where the line out of an end meets the axis of pipe ``j``."""
        start, way, length = self.a[j], self.way[j], self.length[j]
        between = start - tip
        along = float(out @ way)
        sine2 = 1.0 - along * along
        if sine2 < PARALLEL_SINE**2:
            position = 0.0 if along > 0 else length
            other = start + position * way
            gap = float((other - tip) @ out)
            aside = float(np.linalg.norm(other - tip - gap * out))
            # Both ends' gaps add up in one fitting, so twice the reach.
            if aside > ASIDE_MM or not -BACK_MM <= gap <= 2 * reach:
                return None
            middle = (tip + other) / 2
            return _Link(abs(gap) / 2, port, (j, position), xyz_of(middle))
        gap = float((between @ out) - along * (between @ way)) / sine2
        position = float(along * (between @ out) - (between @ way)) / sine2
        if not -BACK_MM <= gap <= reach or not -reach <= position <= length + reach:
            return None
        mine, theirs = tip + gap * out, start + position * way
        if float(np.linalg.norm(mine - theirs)) > ASIDE_MM:
            return None
        if position <= BACK_MM:
            position = 0.0
        elif position >= length - BACK_MM:
            position = length
        return _Link(abs(gap), port, (j, position), xyz_of(theirs))


def xyz_of(vector: Vector) -> Xyz:
    """Give a vector as plain numbers.

    Returns
    -------
    Xyz
    """
    return (float(vector[0]), float(vector[1]), float(vector[2]))
