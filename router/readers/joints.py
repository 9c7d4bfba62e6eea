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
import numpy.typing as npt
from shapely import STRtree
from shapely.geometry import LineString, Point

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
LEAST_PLAN_MM = 10.0
"""A pipe with less plan length is vertical."""


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


@dataclass(frozen=True)
class _Link:
    gap: float
    near: Port
    far: Port
    at: Xyz


class _Joiner:
    def __init__(self, pipes: list[DrawnPipe]) -> None:
        self.pipes = pipes
        self.a = [np.array(pipe.a, dtype=float) for pipe in pipes]
        self.length = [dist(pipe.a, pipe.b) for pipe in pipes]
        self.way = [
            (np.array(pipe.b, dtype=float) - a) / length
            for pipe, a, length in zip(pipes, self.a, self.length, strict=True)
        ]
        self.upright = [dist(pipe.a[:2], pipe.b[:2]) < LEAST_PLAN_MM for pipe in pipes]
        self.inside: dict[int, list[float]] = {}
        self.tree = STRtree([LineString([pipe.a[:2], pipe.b[:2]]) for pipe in pipes])

    def network(self) -> Network:
        """Link ports, then make nodes and edges of them."""
        points: dict[Port, list[Xyz]] = {}
        group: dict[Port, set[Port]] = {}
        for i, length in enumerate(self.length):
            for port in ((i, 0.0), (i, length)):
                group[port] = {port}
        for link in sorted(self._links(), key=lambda one: (one.gap, one.near, one.far)):
            port = self._snapped(link.far, group)
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
                points.setdefault(each, []).append(link.at)
        return self._assemble(group, points)

    def _snapped(self, port: Port, group: dict[Port, set[Port]]) -> Port:
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
        for i, length in enumerate(self.length):
            for position, sign in ((0.0, -1.0), (length, 1.0)):
                tip = self.a[i] + position * self.way[i]
                found = self._meets(i, (i, position), tip, sign * self.way[i])
                if not found:
                    continue
                best = min(found, key=lambda one: (one.gap, one.far))
                # What lies beyond the nearest meeting place belongs to another fitting.
                links += [one for one in found if dist(one.at, best.at) <= SAME_FITTING_MM]
        return links

    def _meets(self, i: int, port: Port, tip: Vector, out: Vector) -> list[_Link]:
        result = []
        around = Point(tip[0], tip[1]).buffer(reach_of(150))
        for j in sorted(int(k) for k in self.tree.query(around)):
            if j == i:
                continue
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
            return _Link(abs(gap) / 2, port, (j, position), _xyz(middle))
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
        return _Link(abs(gap), port, (j, position), _xyz(theirs))

    def _assemble(self, group: dict[Port, set[Port]], points: dict[Port, list[Xyz]]) -> Network:
        numbers: dict[int, int] = {}
        node_of: dict[Port, int] = {}
        members: list[list[Port]] = []
        for port in sorted(group):
            owner = group[port]
            if id(owner) not in numbers:
                numbers[id(owner)] = len(members)
                members.append(sorted(owner))
            node_of[port] = numbers[id(owner)]
        joints = sum(1 for ports in members if len({port[0] for port in ports}) > 1)
        stops_of: dict[int, list[Port]] = {}
        for port in sorted(node_of):
            stops_of.setdefault(port[0], []).append(port)
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
                p, q = (self.a[i] + port[1] * self.way[i] for port in (first, second))
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
            for port, z in (((i, 0.0), pipe.a[2]), ((i, self.length[i]), pipe.b[2])):
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
                    end = _xyz(self.a[port[0]] + port[1] * self.way[port[0]])
                    own.setdefault(merged[number], []).append(end)
        result = {}
        for node in sorted(met):
            chosen = met[node] or own.get(node) or []
            if not chosen:
                chosen = [self.pipes[members[node][0][0]].a]
            result[node] = (float(np.mean([p[0] for p in chosen])), float(np.mean([p[1] for p in chosen])))
        return result


def _xyz(vector: Vector) -> Xyz:
    return (float(vector[0]), float(vector[1]), float(vector[2]))
