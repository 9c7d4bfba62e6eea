"""Pipes as drawn become a graph: where axes meet across the gaps that fittings leave.

A node is a place in plan, an edge a pipe with plan length. Vertical pipes have
none: they bring the two places that they connect together into one node.
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass
from math import dist
from typing import TYPE_CHECKING

import networkx as nx
import numpy as np

from router.readers.links import (
    ASIDE_MM,
    BACK_MM,
    PARALLEL_SINE,
    SAME_FITTING_MM,
    Links,
    reach_of,
    xyz_of,
)

if TYPE_CHECKING:
    from router.readers.drawn import DrawnPipe, Xyz
    from router.readers.links import Port

__all__ = [
    "ASIDE_MM",
    "BACK_MM",
    "PARALLEL_SINE",
    "SAME_FITTING_MM",
    "Edge",
    "Network",
    "join",
    "reach_of",
]

LEAST_PLAN_MM = 10.0
"""A pipe with less plan length is vertical."""


@dataclass(frozen=True)
class Edge:
    """A pipe, or a part of one, between two nodes.

    ``levels`` gives its elevation at its two nodes, ``ends`` the drawn ends of
    its axis in plan, both in the order of ``nodes``.
    """

    key: int
    pipe: DrawnPipe
    nodes: tuple[int, int]
    levels: tuple[float, float]
    ends: tuple[tuple[float, float], tuple[float, float]]


@dataclass(frozen=True)
class Network:
    """All pipes with plan length, joined.

    Parameters
    ----------
    graph
        Multigraph of nodes and edges; an edge's key is its number in ``edges``.
    edges
        By number.
    places
        Node to plan place in mm.
    risers
        Node to its vertical pipes that end in nothing: (DN, elevation of that end).
    joints
        Number of places where pipes were joined.
    """

    graph: nx.MultiGraph[int]
    edges: list[Edge]
    places: dict[int, tuple[float, float]]
    risers: dict[int, list[tuple[int, float]]]
    joints: int


def join(pipes: list[DrawnPipe]) -> Network:
    """Join pipes whose axes meet.

    Parameters
    ----------
    pipes
        With their axes in mm.

    Returns
    -------
    Network
    """
    return _Joiner([pipe for pipe in pipes if dist(pipe.a, pipe.b) > 1.0]).network()


class _Joiner:
    def __init__(self, pipes: list[DrawnPipe]) -> None:
        self.pipes = pipes
        self.links = Links(pipes)
        self.upright = [dist(pipe.a[:2], pipe.b[:2]) < LEAST_PLAN_MM for pipe in pipes]

    def network(self) -> Network:
        """Make nodes and edges of the linked ports."""
        joined = self.links.joined()
        members, node_of, stops_of, points = joined.members, joined.node_of, joined.stops_of, joined.points
        joints = sum(1 for ports in members if len({port[0] for port in ports}) > 1)
        merged = self._stand_together(node_of, stops_of, len(members))
        risers = self._risers(members, node_of, merged)
        places = self._places(members, merged, points)
        graph: nx.MultiGraph[int] = nx.MultiGraph()
        graph.add_nodes_from(sorted(set(merged.values())))
        edges: list[Edge] = []
        for i, pipe in enumerate(self.pipes):
            if self.upright[i]:
                continue
            stops = stops_of[i]
            for first, second in itertools.pairwise(stops):
                nodes = (merged[node_of[first]], merged[node_of[second]])
                if nodes[0] == nodes[1]:
                    continue
                p, q = (self.links.a[i] + port[1] * self.links.way[i] for port in (first, second))
                ends = ((float(p[0]), float(p[1])), (float(q[0]), float(q[1])))
                edge = Edge(len(edges), pipe, nodes, (float(p[2]), float(q[2])), ends)
                graph.add_edge(*nodes, key=edge.key)
                edges.append(edge)
        return Network(graph, edges, places, risers, joints)

    def _stand_together(
        self, node_of: dict[Port, int], stops_of: dict[int, list[Port]], count: int
    ) -> dict[int, int]:
        """Bring the nodes along each vertical pipe together."""
        together: nx.Graph[int] = nx.Graph()
        together.add_nodes_from(range(count))
        for i, upright in enumerate(self.upright):
            if upright:
                stops = stops_of[i]
                together.add_edges_from((node_of[stops[0]], node_of[port]) for port in stops[1:])
        return {node: min(part) for part in nx.connected_components(together) for node in part}

    def _risers(
        self, members: list[list[Port]], node_of: dict[Port, int], merged: dict[int, int]
    ) -> dict[int, list[tuple[int, float]]]:
        risers: dict[int, list[tuple[int, float]]] = {}
        for i, pipe in enumerate(self.pipes):
            if not self.upright[i]:
                continue
            for port, z in (((i, 0.0), pipe.a[2]), ((i, self.links.length[i]), pipe.b[2])):
                if len(members[node_of[port]]) == 1:
                    risers.setdefault(merged[node_of[port]], []).append((pipe.dn, z))
        return risers

    def _places(
        self, members: list[list[Port]], merged: dict[int, int], points: dict[Port, list[Xyz]]
    ) -> dict[int, tuple[float, float]]:
        """Place each node where its axes meet; a free end at the pipe's own end."""
        met: dict[int, list[Xyz]] = {}
        own: dict[int, list[Xyz]] = {}
        for number, ports in enumerate(members):
            for port in ports:
                met.setdefault(merged[number], []).extend(points.get(port, []))
                if not self.upright[port[0]]:
                    end = xyz_of(self.links.a[port[0]] + port[1] * self.links.way[port[0]])
                    own.setdefault(merged[number], []).append(end)
        result = {}
        for node in sorted(met):
            chosen = met[node] or own.get(node) or []
            if not chosen:
                chosen = [self.pipes[members[node][0][0]].a]
            result[node] = (float(np.mean([p[0] for p in chosen])), float(np.mean([p[1] for p in chosen])))
        return result
