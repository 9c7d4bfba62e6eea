"""A network of pipes becomes trees of runs, each grown straight on from its supply end."""

from __future__ import annotations

import heapq
from dataclasses import dataclass, field
from math import atan2, degrees, dist
from typing import TYPE_CHECKING

import networkx as nx

from router.scenario.errors import number_text

if TYPE_CHECKING:
    from collections import Counter

    from router.readers.joints import Edge, Network

LEVEL_MM = 20.0
"""Elevations closer than this are one level."""

STEP_MM = 1000.0
"""A line that steps up or down by more than this becomes a new run."""

STRAIGHT_DEG = 20.0

Xy = tuple[float, float]


@dataclass
class Chain:
    """Pipes in a row: one run.

    ``plan`` starts at the supply end, in mm; ``levels`` are all its
    elevations, first the supply end's. ``parent`` is the number of the chain
    it leaves. ``dn``: at its supply end; ``sizes``: of all its pipes.
    """

    number: int
    role: str
    line: str
    dn: int
    parent: int | None
    start: int
    plan: list[Xy] = field(default_factory=list)
    levels: list[float] = field(default_factory=list)
    nodes: list[int] = field(default_factory=list)
    edges: list[int] = field(default_factory=list)
    sizes: set[int] = field(default_factory=set)


@dataclass
class Forest:
    """All chains, parents before children, and what was decided on the way."""

    chains: list[Chain]
    notes: list[str]


def grow(network: Network, heads_on: Counter[str]) -> Forest:
    """Cut the network into chains.

    Parameters
    ----------
    network
        Joined pipes.
    heads_on
        Heads by line; parts of the network without any are passed over.

    Returns
    -------
    Forest
    """
    return _Grower(network, heads_on).forest()


class _Grower:
    def __init__(self, network: Network, heads_on: Counter[str]) -> None:
        self.net = network
        self.heads_on = heads_on
        self.chains: list[Chain] = []
        self.notes: list[str] = []
        self.used: set[int] = set()
        self.owner: dict[int, int] = {}
        self.queue: list[tuple[int, int, int, int, int, int | None]] = []

    def forest(self) -> Forest:
        passed_over = 0
        for part in sorted(nx.connected_components(self.net.graph), key=min):
            edges = self._edges_of(part)
            if not any(edge.pipe.role == "branch" and self.heads_on[edge.pipe.line] for edge in edges):
                passed_over += len(edges)
                continue
            root, why = self._root(part, edges)
            self._spawn(root, None)
            while self.queue:
                _, _, _, node, key, parent = heapq.heappop(self.queue)
                if key not in self.used:
                    self._grow(node, key, parent)
            lines = sorted({edge.pipe.line for edge in edges if edge.pipe.line})
            x, y = self.net.places[root]
            self.notes.append(
                f"tree of {', '.join(lines[:6])}{' ...' if len(lines) > 6 else ''}: "
                f"supply end at ({number_text(round(x))}, {number_text(round(y))}) mm, {why}"
            )
        if passed_over:
            self.notes.append(f"{passed_over} pipes belong to no tree that serves a head here")
        return Forest(self.chains, self.notes)

    def _edges_of(self, part: set[int]) -> list[Edge]:
        keys = sorted(key for _, _, key in self.net.graph.edges(part, keys=True))
        return [self.net.edges[key] for key in keys]

    def _root(self, part: set[int], edges: list[Edge]) -> tuple[int, str]:
        """Choose where the water comes in, and say why there."""
        mains = [edge for edge in edges if edge.pipe.role == "main"] or self._largest(edges)
        largest = max((edge.pipe.dn for edge in mains), default=0)
        on_main = {node for edge in mains for node in edge.nodes}
        risers = [
            (z, -dn, node)
            for node in sorted(part & on_main)
            for dn, z in self.net.risers.get(node, [])
            if dn >= largest and z < min(edge.levels[0] for edge in mains) - STEP_MM
        ]
        if risers:
            z, dn, node = min(risers)
            return node, f"at the DN{-dn} riser that comes up from {number_text(z)} mm"
        ends = [node for node in sorted(part) if self.net.graph.degree(node) == 1]
        at = {node: self._only_edge(node) for node in ends}
        main_keys = {edge.key for edge in mains}
        main_ends = [node for node in ends if at[node].key in main_keys]
        if main_ends:
            best = max(main_ends, key=lambda node: (at[node].pipe.dn, self._free_length(node), -node))
            role = "main" if at[best].pipe.role == "main" else "line"
            return (
                best,
                f"at the free end of a DN{at[best].pipe.dn} {role} (nothing says where its supply is)",
            )
        if ends:
            best = max(
                ends,
                key=lambda node: (
                    self.heads_on[at[node].pipe.line],
                    at[node].pipe.dn,
                    self._free_length(node),
                    -node,
                ),
            )
            return best, f"at a free end of line {at[best].pipe.line} (no main reaches it)"
        node = min(max(edges, key=lambda edge: (edge.pipe.dn, -edge.key)).nodes)
        return node, "somewhere on a loop (it has no end)"

    def _largest(self, edges: list[Edge]) -> list[Edge]:
        """Give the pipes of the largest size where they are larger than the line with most heads.

        A main with heads of its own counts as a line, but it is what feeds the others.
        """
        busiest = max(edges, key=lambda edge: (self.heads_on[edge.pipe.line], edge.pipe.dn, -edge.key))
        largest = max(edge.pipe.dn for edge in edges)
        return [edge for edge in edges if edge.pipe.dn == largest] if largest > busiest.pipe.dn else []

    def _only_edge(self, node: int) -> Edge:
        return self._edges_of({node})[0]

    def _free_length(self, node: int) -> float:
        """Length of pipe from a free end to the first place where more than two meet."""
        total, previous, here = 0.0, None, node
        seen = {node}
        while True:
            onward = [n for n in self.net.graph.neighbors(here) if n != previous and n not in seen]
            if len(onward) != 1 or self.net.graph.degree(here) > 2:
                return total
            total += dist(self.net.places[here], self.net.places[onward[0]])
            previous, here = here, onward[0]
            seen.add(here)

    def _spawn(self, node: int, parent: int | None) -> None:
        """Queue every pipe at a node that no chain has yet: mains first, the larger first."""
        for key in self._unused(node):
            pipe = self.net.edges[key].pipe
            rank = 0 if pipe.role == "main" else 1
            heapq.heappush(self.queue, (rank, -pipe.dn, len(self.chains), node, key, parent))

    def _unused(self, node: int) -> list[int]:
        return sorted(key for _, _, key in self.net.graph.edges(node, keys=True) if key not in self.used)

    def _grow(self, node: int, key: int, parent: int | None) -> None:
        pipe = self.net.edges[key].pipe
        chain = Chain(len(self.chains), pipe.role, pipe.line, pipe.dn, parent, node)
        self.chains.append(chain)
        chain.plan.append(self.net.places[node])
        chain.nodes.append(node)
        self.owner.setdefault(node, chain.number)
        onward: int | None = key
        while onward is not None:
            edge = self.net.edges[onward]
            self.used.add(onward)
            chain.edges.append(onward)
            chain.sizes.add(edge.pipe.dn)
            ahead = edge.nodes.index(node) == 0
            chain.levels += edge.levels if ahead else edge.levels[::-1]
            end = edge.nodes[1] if ahead else edge.nodes[0]
            if end in self.owner:
                # A loop: this side stops at its own pipe's end, just short of the other.
                chain.plan.append(edge.ends[1] if ahead else edge.ends[0])
                self.notes.append(
                    f"pipe {edge.pipe.id} closes a loop; runs form trees, so it is cut open at its far end"
                )
                break
            self.owner[end] = chain.number
            chain.plan.append(self.net.places[end])
            chain.nodes.append(end)
            onward = self._onward(chain, edge, node, end)
            node = end
        for each in chain.nodes if parent is None else chain.nodes[1:]:
            self._spawn(each, chain.number)

    def _onward(self, chain: Chain, edge: Edge, node: int, end: int) -> int | None:
        """Choose the pipe with which a chain goes on after ``end``, if any."""
        options = self._unused(end)
        level = chain.levels[-1]
        fitting = []
        for key in options:
            other = self.net.edges[key]
            same_line = other.pipe.role == chain.role and other.pipe.line == chain.line
            if not same_line:
                continue
            turn = self._turn(edge, node, end, other)
            step = abs(other.levels[other.nodes.index(end)] - level)
            fitting.append((turn, step, key))
        straight = [one for one in fitting if one[0] <= STRAIGHT_DEG and one[1] <= LEVEL_MM]
        if straight:
            return min(straight)[2]
        if len(options) == 1 and fitting and fitting[0][1] <= STEP_MM and fitting[0][0] < 150:
            return fitting[0][2]
        return None

    def _turn(self, edge: Edge, node: int, end: int, other: Edge) -> float:
        """Angle in degrees by which the way changes at ``end``, by the drawn axes."""
        p, q = edge.ends if edge.nodes.index(node) == 0 else edge.ends[::-1]
        r, s = other.ends if other.nodes.index(end) == 0 else other.ends[::-1]
        angle = degrees(atan2(s[1] - r[1], s[0] - r[0]) - atan2(q[1] - p[1], q[0] - p[0]))
        return abs((angle + 180.0) % 360.0 - 180.0)
