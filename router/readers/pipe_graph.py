"""All pipes as a graph in space: a node where axes meet, an edge for each part of a pipe between two.

Other than in ``router.readers.joints`` vertical pipes are edges too. The numbering
follows from geometry alone, never from the order in which pipes were given.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import pairwise
from math import dist
from typing import TYPE_CHECKING

import numpy as np

from router.readers.links import Joined, Links, Port, xyz_of

if TYPE_CHECKING:
    from router.readers.drawn import DrawnPipe, Xyz

LEAST_MM = 1.0
LEVEL_SINE = 0.2
UPRIGHT_SINE = 0.95
STRAIGHT_COSINE = 0.94
"""Two ways that differ by no more than 20 degrees are one straight line."""


@dataclass(frozen=True)
class Part:
    """A pipe, or a part of one, between two nodes.

    ``pipe``: its number in ``PipeGraph.pipes``. ``way``: unit vector from its
    first node to its second, along the pipe as drawn.
    """

    key: int
    pipe: int
    nodes: tuple[int, int]
    dn: int
    way: Xyz
    length: float

    def other(self, node: int) -> int:
        """Give the node at its other end.

        Returns
        -------
        int
        """
        return self.nodes[1] if node == self.nodes[0] else self.nodes[0]

    @property
    def is_level(self) -> bool:
        """Whether it lies (a pitch of up to 1 in 5 counts as level)."""
        return abs(self.way[2]) <= LEVEL_SINE

    @property
    def is_upright(self) -> bool:
        """Whether it stands."""
        return abs(self.way[2]) >= UPRIGHT_SINE

    def out(self, node: int) -> Xyz:
        """Give the unit vector out of a node into it.

        Returns
        -------
        Xyz
        """
        x, y, z = self.way
        return self.way if node == self.nodes[0] else (-x, -y, -z)


@dataclass(frozen=True)
class PipeGraph:
    """Pipes with length, parts by number, places of nodes in mm, the parts at each node.

    ``source``: the place of each pipe in the list that was given.
    """

    pipes: list[DrawnPipe]
    source: list[int]
    parts: list[Part]
    at: list[Xyz]
    of: list[list[int]]

    def straight(self, node: int, one: int, other: int) -> float:
        """Tell how straight two parts go on through a node: 1 if exactly, -1 if they lie over each other.

        Returns
        -------
        float
        """
        return -dot(self.parts[one].out(node), self.parts[other].out(node))


def dot(one: Xyz, other: Xyz) -> float:
    """Give the scalar product.

    Returns
    -------
    float
    """
    return one[0] * other[0] + one[1] * other[1] + one[2] * other[2]


def pipe_graph(pipes: list[DrawnPipe], inlets: list[Xyz]) -> PipeGraph:
    """Join pipes in space.

    Parameters
    ----------
    pipes
        In any order, either end first; those without length take no part.
    inlets
        Of heads, mm: a pipe drawn to one ends there, however near another passes.

    Returns
    -------
    PipeGraph
    """
    turned = [pipe if pipe.a <= pipe.b else replace(pipe, a=pipe.b, b=pipe.a) for pipe in pipes]
    order = [i for i, pipe in enumerate(turned) if dist(pipe.a, pipe.b) > LEAST_MM]
    order.sort(key=lambda i: (turned[i].a, turned[i].b, turned[i].dn, turned[i].id))
    kept = [turned[i] for i in order]
    links = Links(kept, inlets)
    joined = links.joined()
    parts: list[Part] = []
    at = [_place(links, joined, ports) for ports in joined.members]
    of: list[list[int]] = [[] for _ in joined.members]
    for i, pipe in enumerate(kept):
        for first, second in pairwise(joined.stops_of[i]):
            nodes = (joined.node_of[first], joined.node_of[second])
            if nodes[0] == nodes[1]:
                continue
            part = Part(len(parts), i, nodes, pipe.dn, xyz_of(links.way[i]), second[1] - first[1])
            parts.append(part)
            for node in nodes:
                of[node].append(part.key)
    return PipeGraph(kept, order, parts, at, of)


def _place(links: Links, joined: Joined, ports: list[Port]) -> Xyz:
    """Place a node where its axes meet; a free end at the pipe's own end."""
    chosen = [point for port in ports for point in joined.points.get(port, [])]
    if not chosen:
        chosen = [xyz_of(links.a[i] + position * links.way[i]) for i, position in ports]
    return xyz_of(np.mean(np.array(chosen), axis=0))
