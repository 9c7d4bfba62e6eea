"""Which way the water goes: heads on their pipe ends, a supply for each part of the network, a tree from it."""

from __future__ import annotations

import heapq
from dataclasses import dataclass
from math import dist
from typing import TYPE_CHECKING

import numpy as np
from shapely import STRtree, box
from shapely.geometry import LineString

from router.readers.links import ASIDE_MM, reach_of
from router.readers.pipe_graph import dot

if TYPE_CHECKING:
    from router.readers.drawn import DrawnHead, Xyz
    from router.readers.pipe_graph import PipeGraph

OFF_AXIS_MM = 1000.0
"""A pipe end that does not point at an inlet is taken only where no other does."""
MID_PIPE_MM = 2000.0
"""A head that stands on a pipe between its ends is taken so only where it is at no node."""
RISER_MM = 1000.0
"""A riser comes from at least this far below the pipes that it feeds."""
OUTLET_DN = 32
"""No larger upright pipe end is an outlet for a head that is not there."""


@dataclass(frozen=True)
class Stand:
    """Where a head hangs: at a node, or on a part between its nodes. ``out``: the way towards its inlet."""

    node: int | None
    part: int
    out: Xyz


@dataclass
class PipeTree:
    """The pipes from their supply ends on.

    ``up``: node to the part that feeds it (-1 at a supply end, or where no pipe is).
    ``order``: nodes, each after the one that feeds it. ``far``: mm of pipe from the supply.
    ``below``: heads and outlets beyond each part; 0 for one that is in no tree (``loops``).
    ``to_loop``: parts that lead to one of these. ``root``: node to the supply end of its tree.
    """

    up: list[int]
    order: list[int]
    far: list[float]
    below: list[int]
    loops: set[int]
    to_loop: set[int]
    root: list[int]

    def on_loop(self, key: int) -> bool:
        """Tell whether a part belongs to a loop or leads to one.

        Returns
        -------
        bool
        """
        return key in self.loops or key in self.to_loop

    def feeds(self, key: int) -> bool:
        """Tell whether a part leads to a head, or round to other pipe.

        Returns
        -------
        bool
        """
        return self.below[key] > 0 or self.on_loop(key)


def stands(graph: PipeGraph, heads: list[DrawnHead]) -> dict[str, Stand]:
    """Find the pipe of each head.

    Parameters
    ----------
    graph
        All pipes.
    heads
        With their inlets.

    Returns
    -------
    dict
        By head id; heads that are near no pipe are left out. Free ends take one head each.
    """
    if not graph.parts or not heads:
        return {}
    lines = [LineString([graph.at[node][:2] for node in part.nodes]) for part in graph.parts]
    x, y = np.array([head.at[:2] for head in heads], dtype=float).T
    around = reach_of(max(max(part.dn for part in graph.parts), max(head.thread for head in heads)))
    found: list[tuple[float, str, int, int, Stand]] = []
    pairs = STRtree(lines).query(box(x - around, y - around, x + around, y + around))
    for number, key in pairs.T.tolist():
        found += _offers(graph, heads[number], key)
    found.sort(key=lambda one: one[:4])
    result: dict[str, Stand] = {}
    taken: set[int] = set()
    for _, name, node, _, stand in found:
        if name in result or node in taken:
            continue
        if stand.node is not None and len(graph.of[stand.node]) == 1:
            taken.add(stand.node)
        result[name] = stand
    return result


def _offers(graph: PipeGraph, head: DrawnHead, key: int) -> list[tuple[float, str, int, int, Stand]]:
    """Give the places of a part at which a head may hang, the likeliest with the least number."""
    part = graph.parts[key]
    reach = reach_of(max(part.dn, head.thread))
    result = []
    for node in part.nodes:
        off = (
            head.at[0] - graph.at[node][0],
            head.at[1] - graph.at[node][1],
            head.at[2] - graph.at[node][2],
        )
        gap = dist(head.at, graph.at[node])
        if gap > reach:
            continue
        along = -dot(off, part.out(node))
        aside = max(gap * gap - along * along, 0.0) ** 0.5
        free = len(graph.of[node]) == 1
        score = gap if free and aside <= ASIDE_MM else gap + OFF_AXIS_MM
        out = (off[0] / gap, off[1] / gap, off[2] / gap) if gap > 1.0 else (0.0, 0.0, 0.0)
        result.append((round(score, 3), head.id, node, key, Stand(node, key, out)))
    start = graph.at[part.nodes[0]]
    off = (head.at[0] - start[0], head.at[1] - start[1], head.at[2] - start[2])
    along = dot(off, part.way)
    if not result and 0.0 < along < part.length:
        gap = max(dot(off, off) - along * along, 0.0) ** 0.5
        if gap <= reach:
            result.append((round(gap + MID_PIPE_MM, 3), head.id, -1, key, Stand(None, key, (0.0, 0.0, 0.0))))
    return result


def outlets(graph: PipeGraph, hung: dict[str, Stand]) -> list[int]:
    """Find pipe ends like those on which heads hang, on which none does (its head is in another file).

    Parameters
    ----------
    graph
        All pipes.
    hung
        The heads' places.

    Returns
    -------
    list of int
        Nodes: free lower or upper ends of upright pipes, of a size that carries a head elsewhere.
    """
    taken = {stand.node for stand in hung.values()}
    like = set()
    for stand in hung.values():
        part = graph.parts[stand.part]
        if stand.node is not None and part.is_upright and len(graph.of[stand.node]) == 1:
            like.add((part.dn, part.out(stand.node)[2] > 0))
    result = []
    for node, keys in enumerate(graph.of):
        if len(keys) != 1 or node in taken:
            continue
        part = graph.parts[keys[0]]
        if part.is_upright and part.dn <= OUTLET_DN and (part.dn, part.out(node)[2] > 0) in like:
            result.append(node)
    return result


def pipe_tree(graph: PipeGraph, weights: dict[int, int]) -> PipeTree:
    """Grow a tree over each connected part from its supply end: over the largest pipe first, then the nearest.

    Parameters
    ----------
    graph
        All pipes.
    weights
        Node to the heads and outlets at it.

    Returns
    -------
    PipeTree
    """
    count = len(graph.at)
    tree = PipeTree([-1] * count, [], [0.0] * count, [0] * len(graph.parts), set(), set(), [-1] * count)
    for group in _connected(graph):
        start = _supply(graph, group, weights)
        heap = [(0, 0.0, start, -1)]
        while heap:
            _, far, node, key = heapq.heappop(heap)
            if tree.root[node] >= 0:
                continue
            tree.root[node], tree.far[node], tree.up[node] = start, far, key
            tree.order.append(node)
            for onward in graph.of[node]:
                part = graph.parts[onward]
                if tree.root[part.other(node)] < 0:
                    heapq.heappush(heap, (-part.dn, far + part.length, part.other(node), onward))
    used = {key for key in tree.up if key >= 0}
    tree.loops = {part.key for part in graph.parts if part.key not in used}
    looped = {node for key in tree.loops for node in graph.parts[key].nodes}
    heads = [weights.get(node, 0) for node in range(count)]
    for node in reversed(tree.order):
        key = tree.up[node]
        if key >= 0:
            tree.below[key] = heads[node]
            before = graph.parts[key].other(node)
            heads[before] += heads[node]
            if node in looped:
                tree.to_loop.add(key)
                looped.add(before)
    return tree


def _connected(graph: PipeGraph) -> list[list[int]]:
    seen = [False] * len(graph.at)
    groups = []
    for first, keys in enumerate(graph.of):
        if seen[first] or not keys:
            continue
        seen[first] = True
        group = [first]
        for node in group:
            for key in graph.of[node]:
                other = graph.parts[key].other(node)
                if not seen[other]:
                    seen[other] = True
                    group.append(other)
        groups.append(group)
    return groups


def _supply(graph: PipeGraph, group: list[int], weights: dict[int, int]) -> int:
    """Choose where the water comes in, as ``router.readers.chains`` does.

    The lowest of the largest pipe's risers that come up from below; else the free
    end of the largest pipe, of these the one with the longest way to the next tee.
    """
    parts = {key for node in group for key in graph.of[node]}
    largest = max(graph.parts[key].dn for key in parts)
    lowest = (
        min(
            graph.at[node][2] for key in parts if graph.parts[key].is_level for node in graph.parts[key].nodes
        )
        if any(graph.parts[key].is_level for key in parts)
        else None
    )
    ends = [node for node in group if len(graph.of[node]) == 1 and not weights.get(node)]
    if lowest is not None:
        risers = [
            (graph.at[node][2], node)
            for node in ends
            if graph.parts[graph.of[node][0]].is_upright
            and graph.parts[graph.of[node][0]].dn >= largest
            and graph.at[node][2] < lowest - RISER_MM
        ]
        if risers:
            return min(risers)[1]
    if ends:
        return max(
            ends,
            key=lambda node: (graph.parts[graph.of[node][0]].dn, round(_free_length(graph, node), 1), -node),
        )
    return max(
        group,
        key=lambda node: (max(graph.parts[key].dn for key in graph.of[node]), len(graph.of[node]), -node),
    )


def _free_length(graph: PipeGraph, node: int) -> float:
    """Length of pipe from a free end to the first place where more than two meet."""
    total, key = 0.0, graph.of[node][0]
    while True:
        total += graph.parts[key].length
        node = graph.parts[key].other(node)
        onward = [other for other in graph.of[node] if other != key]
        if len(onward) != 1:
            return total
        key = onward[0]
