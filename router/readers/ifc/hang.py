"""Which pipes hang together with heads: by ports where there are some, else by geometry."""

from __future__ import annotations

from math import dist
from typing import TYPE_CHECKING

import networkx as nx
import numpy as np
from shapely import STRtree
from shapely.geometry import LineString, Point

from router.readers.joints import ASIDE_MM, BACK_MM, reach_of

if TYPE_CHECKING:
    from collections.abc import Sequence

    from router.readers.drawn import Xyz
    from router.readers.ifc.found import FoundHead, FoundPipe, FoundSolid

HEAD_MM = 300.0
"""A pipe's end farther than this from a head's origin does not serve it."""


class Ends:
    """Ends of pipes, to be asked for the nearest one."""

    def __init__(self, pipes: Sequence[FoundPipe]) -> None:
        self.pipes = [pipe for pipe in pipes if pipe.a is not None and pipe.b is not None]
        self.places: list[tuple[FoundPipe, Xyz, Xyz]] = []
        for pipe in self.pipes:
            for a, b in ((pipe.a, pipe.b), (pipe.b, pipe.a)):
                if a is not None and b is not None:
                    self.places.append((pipe, a, b))
        self.tree = STRtree([Point(tip[:2]) for _, tip, _ in self.places])

    def nearest(self, at: Xyz, within: float = HEAD_MM) -> tuple[FoundPipe, Xyz, Xyz] | None:
        """Give the pipe whose end is nearest, that end and its other one.

        Returns
        -------
        tuple or None
        """
        found = self.tree.query(Point(at[:2]), predicate="dwithin", distance=within)
        near = [self.places[int(k)] for k in sorted(found)]
        near = [one for one in near if dist(one[1], at) <= within]
        return min(near, key=lambda one: round(dist(one[1], at), 6)) if near else None


def systems_with_heads(
    pipes: Sequence[FoundPipe], heads: Sequence[FoundHead], fittings: Sequence[FoundSolid]
) -> set[str]:
    """Give the systems of pipes that are connected with a head by ports, directly or through fittings.

    Parameters
    ----------
    pipes, heads, fittings
        All.

    Returns
    -------
    set of str
        As ``FoundPipe.systems``.
    """
    system = {pipe.guid: pipe.systems for pipe in pipes}
    passed = {fitting.guid for fitting in fittings}
    graph: nx.Graph[str] = nx.Graph()
    linked = [(thing.guid, thing.linked) for thing in pipes]
    linked += [(thing.guid, thing.linked) for thing in fittings]
    linked += [(thing.guid, thing.linked) for thing in heads]
    for guid, others in linked:
        graph.add_edges_from((guid, other) for other in others)
    reached: set[str] = set()
    waiting = [head.guid for head in heads if head.guid in graph]
    while waiting:
        near = set(graph[waiting.pop()]) - reached
        reached |= near
        waiting += sorted(near & passed)
    return {system[guid] for guid in reached if system.get(guid)}


def with_heads(
    pipes: Sequence[FoundPipe],
    heads: Sequence[FoundHead],
    fittings: Sequence[FoundSolid],
    sizes: dict[str, int],
) -> set[str]:
    """Tell which pipes lead to a head.

    Parameters
    ----------
    pipes
        Those that may be sprinkler pipes, with axes.
    heads, fittings
        All.
    sizes
        DN by GlobalId.

    Returns
    -------
    set of str
        GlobalIds.
    """
    graph: nx.Graph[str] = nx.Graph()
    graph.add_nodes_from(pipe.guid for pipe in pipes)
    allowed = set(graph.nodes)
    bodies = {fitting.guid for fitting in fittings}
    linked = [(thing.guid, thing.linked) for thing in (*pipes,)]
    linked += [(thing.guid, thing.linked) for thing in fittings]
    linked += [(thing.guid, thing.linked) for thing in heads]
    for guid, others in linked:
        graph.add_edges_from((guid, other) for other in others if other in allowed or other in bodies)
    _by_geometry(graph, pipes, sizes)
    ends = Ends(pipes)
    for head in heads:
        found = ends.nearest(head.port or head.at)
        if found is not None:
            graph.add_edge(head.guid, found[0].guid)
    served: set[str] = set()
    names = {head.guid for head in heads}
    for part in nx.connected_components(graph):
        if part & names:
            served |= part & allowed
    return served


def _by_geometry(graph: nx.Graph[str], pipes: Sequence[FoundPipe], sizes: dict[str, int]) -> None:
    with_axis = [(pipe, pipe.a, pipe.b) for pipe in pipes if pipe.a is not None and pipe.b is not None]
    if not with_axis:
        return
    tree = STRtree([LineString([a[:2], b[:2]]) for _, a, b in with_axis])
    starts = np.array([a for _, a, _ in with_axis])
    stops = np.array([b for _, _, b in with_axis])
    reaches = np.array([reach_of(sizes.get(pipe.guid, 0)) for pipe, _, _ in with_axis])
    for i, (pipe, a, b) in enumerate(with_axis):
        for tip, other in ((a, b), (b, a)):
            length = dist(tip, other)
            way = (np.array(tip) - np.array(other)) / length
            reach = float(reaches[i])
            first, last = np.array(tip) - BACK_MM * way, np.array(tip) + reach * way
            around = LineString([first[:2], last[:2]]).buffer(2 * reach)
            for j in sorted(int(k) for k in tree.query(around)):
                if j == i or graph.has_edge(pipe.guid, with_axis[j][0].guid):
                    continue
                # where one has its connections by ports, what has none is only near it
                if bool(pipe.linked) != bool(with_axis[j][0].linked):
                    continue
                line = stops[j] - starts[j]
                more = line / float(np.linalg.norm(line)) * max(reach, float(reaches[j]))
                if _apart(first, last, starts[j] - more, stops[j] + more) <= ASIDE_MM:
                    graph.add_edge(pipe.guid, with_axis[j][0].guid)


def _apart(p: object, q: object, r: object, s: object) -> float:
    """Give the distance of two segments in space."""
    p, q, r, s = (np.asarray(each, dtype=float) for each in (p, q, r, s))
    u, v, w = q - p, s - r, p - r
    a, b, c, d, e = float(u @ u), float(u @ v), float(v @ v), float(u @ w), float(v @ w)
    below = a * c - b * b
    t = min(1.0, max(0.0, (b * e - c * d) / below)) if below > 1e-9 * a * c else 0.0
    x = min(1.0, max(0.0, (b * t + e) / c))
    t = min(1.0, max(0.0, (b * x - d) / a))
    return float(np.linalg.norm(w + t * u - x * v))
