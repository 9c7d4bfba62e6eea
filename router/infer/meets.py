"""Pipes as drawn become a graph: a node where pipe ends meet, an edge for each pipe between two.

Three ways to meet: two ends at one place; an end on another pipe's axis; and,
in a drawing whose pipes stop at the faces of their fittings, an end whose axis
goes on to meet another axis within a fitting's length. Which manner a drawing
has is read off the drawing: where most ends meet exactly, a pipe that stops
short is a gap, not a fitting.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from itertools import pairwise
from typing import TYPE_CHECKING, Literal

import networkx as nx
import numpy as np
from numpy.typing import NDArray
from shapely import STRtree
from shapely.geometry import LineString, Point

from router.readers.joints import ASIDE_MM, BACK_MM, PARALLEL_SINE, SAME_FITTING_MM, reach_of
from router.trade.sizes import SIZES

if TYPE_CHECKING:
    from router.infer.remarks import Remarks
    from router.readers.segments import Segment, Xyz

Vector = NDArray[np.float64]
Port = tuple[int, float]
"""A place on a pipe: its number, and the distance from its first end in mm."""
Manner = Literal["centres", "faces"]

GRAINS_MM = (10.0, 5.0, 1.0, 0.5, 0.1, 0.01, 0.001)
"""Steps that a drawing may be rounded to."""
BESIDE_MM = 60.0
EXACT_SHARE = 0.5
"""A drawing in which at least this part of all meeting ends meet exactly is drawn to centres."""
GAP_REPORT_MM = 400.0
"""An unconnected end so near to another pipe's axis or end is reported with that gap."""


@dataclass(frozen=True)
class Pipe:
    """A pipe, or a part of one, between two nodes (in the order as drawn)."""

    key: int
    segment: Segment
    nodes: tuple[int, int]
    dn: int

    def other(self, node: int) -> int:
        """Give the node at its other end."""
        return self.nodes[1] if node == self.nodes[0] else self.nodes[0]


@dataclass
class Drawing:
    """The graph. ``at``: node to place, mm; ``drawn``: node to the drawn ends that meet in it."""

    graph: nx.MultiGraph[int]
    pipes: dict[int, Pipe]
    at: dict[int, Vector]
    drawn: dict[int, list[Vector]]
    manner: Manner
    accuracy: float
    """How exactly the drawing is drawn, mm: half of its last digit, or how far apart ends are that meet."""
    nearest_gap: dict[int, tuple[float, str]] = field(default_factory=dict)
    """Free end -> how far in mm from the nearest other pipe, and that pipe's id."""

    def of(self, node: int) -> list[Pipe]:
        """Pipes at a node, in the order of their numbers."""
        keys = {key for _, _, key in self.graph.edges(node, keys=True)}
        return [self.pipes[key] for key in sorted(keys)]

    def way(self, pipe: Pipe, node: int) -> Vector:
        """Give the unit vector from a node into a pipe."""
        v = self.at[pipe.other(node)] - self.at[node]
        length = float(np.linalg.norm(v))
        return v / length if length > 0 else v

    def xyz(self, node: int) -> Xyz:
        """Place of a node as plain numbers."""
        x, y, z = (float(v) for v in self.at[node])
        return (x, y, z)


@dataclass(frozen=True)
class _Link:
    gap: float
    near: Port
    far: Port
    at: tuple[float, float, float]


def join(
    segments: list[Segment], tolerance: float, remarks: Remarks, manner: Manner | None = None
) -> Drawing:
    """Join the pipes of a drawing.

    Parameters
    ----------
    segments
        In any order, either end first.
    tolerance
        How far apart in mm two places may be drawn that are meant as one.
    remarks
        Receives overlaps, pipes without length, and the manner.
    manner
        ``centres`` or ``faces``; default: as most ends of the drawing show.

    Returns
    -------
    Drawing
    """
    kept: list[Segment] = []
    for segment in segments:
        if float(np.linalg.norm(np.subtract(segment.a, segment.b))) <= max(tolerance, 1.0):
            remarks.add("size", segment.id, f"{segment.id}: drawn without length, left out", segment.a, 0.0)
        else:
            kept.append(segment)
    # an order of our own, so that the order of the rows does not matter
    kept.sort(key=lambda s: (min(s.a, s.b), max(s.a, s.b), s.dn, s.id))
    joiner = _Joiner(kept, tolerance, remarks)
    return joiner.drawing(manner)


class _Joiner:
    def __init__(self, segments: list[Segment], tolerance: float, remarks: Remarks) -> None:
        self.tolerance, self.remarks = tolerance, remarks
        self.segments = self._without_doubles(segments)
        segments = self.segments
        ends = [sorted((s.a, s.b)) for s in segments]
        self.a = [np.array(e[0], dtype=float) for e in ends]
        self.b = [np.array(e[1], dtype=float) for e in ends]
        self.length = [float(np.linalg.norm(b - a)) for a, b in zip(self.a, self.b, strict=True)]
        self.way = [(b - a) / n for a, b, n in zip(self.a, self.b, self.length, strict=True)]
        self.tree = STRtree([LineString([a[:2], b[:2]]) for a, b in zip(self.a, self.b, strict=True)])
        self.inside: dict[int, list[float]] = {}
        self._is_faces = False
        self.reach = [reach_of(min(s.dn, SIZES[-1])) for s in segments]

    def _without_doubles(self, segments: list[Segment]) -> list[Segment]:
        kept: dict[tuple[object, ...], Segment] = {}
        for s in segments:
            key = (*sorted((s.a, s.b)),)
            if key in kept:
                text = f"{s.id}: drawn over {kept[key].id}, end to end; taken once"
                length = float(np.linalg.norm(np.subtract(s.a, s.b)))
                self.remarks.add("overlap", s.id, text, s.a, length)
            else:
                kept[key] = s
        return list(kept.values())

    def drawing(self, manner: Manner | None) -> Drawing:
        """Link ports, then make nodes and edges of them."""
        exact = self._exact_links()
        if manner is None:
            manner = self._manner(exact)
        group: dict[Port, set[Port]] = {}
        for i, length in enumerate(self.length):
            for port in ((i, 0.0), (i, length)):
                group[port] = {port}
        self._merge(exact, group)
        if manner == "faces":
            linked = {link.near for link in exact} | {link.far for link in exact}
            self._merge(self._face_links(linked), group)
        return self._assemble(group, manner)

    def _merge(self, links: list[_Link], group: dict[Port, set[Port]]) -> None:
        for link in sorted(links, key=lambda one: (one.gap, one.near, one.far)):
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

    def _snapped(self, port: Port) -> Port:
        """Give the port already known at (nearly) that place of a pipe, or the port itself."""
        pipe, position = port
        if position in {0.0, self.length[pipe]}:
            return port
        near = SAME_FITTING_MM if self._is_faces else 2 * self.tolerance
        known = self.inside.setdefault(pipe, [])
        for other in known:
            if abs(other - position) <= near:
                return (pipe, other)
        known.append(position)
        return port

    def _near(self, tip: Vector, within: float, i: int) -> list[int]:
        around = Point(tip[0], tip[1]).buffer(within)
        return sorted(int(k) for k in self.tree.query(around) if int(k) != i)

    def _ends(self) -> list[tuple[int, float, Vector, Vector]]:
        """Every pipe end: pipe, position, place, and the way out of the pipe there."""
        return [
            (i, position, self.a[i] + position * self.way[i], sign * self.way[i])
            for i, length in enumerate(self.length)
            for position, sign in ((0.0, -1.0), (length, 1.0))
        ]

    def _exact_links(self) -> list[_Link]:
        """Find ends at ends, and ends on axes, within the tolerance."""
        links = []
        for i, position, tip, _ in self._ends():
            for j in self._near(tip, 2 * self.tolerance, i):
                raw = float((tip - self.a[j]) @ self.way[j])
                along = min(max(raw, 0.0), self.length[j])
                for end in (0.0, self.length[j]):
                    if abs(along - end) <= 1.75 * self.tolerance:
                        along = end
                gap = float(np.linalg.norm(self.a[j] + along * self.way[j] - tip))
                # rounded coordinates may each be off by the tolerance in three directions
                if gap <= 1.75 * self.tolerance:
                    links.append(_Link(gap, (i, position), (j, along), _xyz(tip)))
        return links

    def _manner(self, exact: list[_Link]) -> Manner:
        met = {link.near for link in exact}
        short = 0
        for i, position, tip, out in self._ends():
            if (i, position) not in met and self._meets(i, (i, position), tip, out):
                short += 1
        manner: Manner = "centres" if len(met) >= EXACT_SHARE * (len(met) + short) else "faces"
        if short:
            text = (
                f"{len(met)} pipe ends meet another pipe exactly, {short} stop short of it by a fitting's "
                f"length: read as drawn to the {manner} of its fittings"
            )
            self.remarks.add("manner", "drawing", text)
        return manner

    def _face_links(self, linked: set[Port]) -> list[_Link]:
        links: list[_Link] = []
        self._is_faces = True
        for i, position, tip, out in self._ends():
            if (i, position) in linked:
                continue
            found = self._meets(i, (i, position), tip, out)
            if not found:
                continue
            best = min(found, key=lambda one: (one.gap, one.far))
            # What lies beyond the nearest meeting place belongs to another fitting.
            links += [
                one for one in found if float(np.linalg.norm(np.subtract(one.at, best.at))) <= SAME_FITTING_MM
            ]
        return links

    def _meets(self, i: int, port: Port, tip: Vector, out: Vector) -> list[_Link]:
        result = []
        for j in self._near(tip, 2 * reach_of(150), i):
            link = self._meet(port, tip, out, j, max(self.reach[i], self.reach[j]))
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
            return _Link(abs(gap) / 2, port, (j, position), _xyz((tip + other) / 2))
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

    # -- nodes and edges --------------------------------------------------------------------

    def _assemble(self, group: dict[Port, set[Port]], manner: Manner) -> Drawing:
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
        graph: nx.MultiGraph[int] = nx.MultiGraph()
        graph.add_nodes_from(range(len(members)))
        pipes: dict[int, Pipe] = {}
        for i, segment in enumerate(self.segments):
            for first, second in pairwise(stops_of[i]):
                nodes = (node_of[first], node_of[second])
                if nodes[0] == nodes[1]:
                    continue
                pipe = Pipe(len(pipes), segment, nodes, segment.dn)
                graph.add_edge(*nodes, key=pipe.key)
                pipes[pipe.key] = pipe
        drawn = {n: [self.a[i] + p * self.way[i] for i, p in ports] for n, ports in enumerate(members)}
        at = {n: self._place(ports, drawn[n]) for n, ports in enumerate(members)}
        drawing = Drawing(graph, pipes, at, drawn, manner, self._accuracy(members, at))
        self._overlaps(drawing)
        self._gaps(drawing, members)
        return drawing

    def _accuracy(self, members: list[list[Port]], at: dict[int, Vector]) -> float:
        """Read off how exactly the drawing is drawn, mm, at most the tolerance.

        Half of its last digit, or how far axes pass the places where they meet.
        """
        if not self.segments:
            return 0.0
        numbers = np.array([p for s in self.segments for p in (*s.a, *s.b)])
        grain = next(
            (g for g in GRAINS_MM if np.allclose(numbers / g, np.round(numbers / g), atol=1e-6)),
            GRAINS_MM[-1],
        )
        aside = []
        for node, ports in enumerate(members):
            for i, position in ports if len(ports) > 1 else []:
                off = at[node] - self.a[i]
                along = float(off @ self.way[i])
                aside.append(float(np.max(np.abs(off - along * self.way[i]))))
                if abs(along - position) <= self.tolerance:  # drawn to this centre
                    aside.append(abs(along - position))
        return min(max([grain / 2, *aside]), self.tolerance)

    def _place(self, ports: list[Port], ends: list[Vector]) -> Vector:
        """Place nearest to all axes that meet; where they say nothing, the middle of the ends."""
        mean: Vector = np.mean(ends, axis=0)
        if max(float(np.linalg.norm(end - mean)) for end in ends) <= self.tolerance:
            return mean
        weight = 1e-3
        matrix = weight * np.eye(3)
        right = weight * mean
        for i, _ in ports:
            across = np.eye(3) - np.outer(self.way[i], self.way[i])
            matrix += across
            right = right + across @ self.a[i]
        return np.asarray(np.linalg.solve(matrix, right))

    def _overlaps(self, drawing: Drawing) -> None:
        """Two pipes along one axis over more than the tolerance."""
        for i, segment in enumerate(self.segments):
            for j in (int(k) for k in self.tree.query(LineString([self.a[i][:2], self.b[i][:2]]))):
                if j <= i or 1.0 - abs(float(self.way[i] @ self.way[j])) > PARALLEL_SINE**2 / 2:
                    continue
                spots = [float((p - self.a[i]) @ self.way[i]) for p in (self.a[j], self.b[j])]
                shared = min(max(spots), self.length[i]) - max(min(spots), 0.0)
                aside = self.a[j] - self.a[i] - spots[0] * self.way[i]
                if shared > max(self.tolerance, BACK_MM) and float(np.linalg.norm(aside)) <= ASIDE_MM:
                    at = self.a[i] + max(min(spots), 0.0) * self.way[i]
                    text = f"{segment.id} and {self.segments[j].id} lie over each other for {shared:.1f} mm"
                    self.remarks.add("overlap", segment.id, text, _xyz(at), shared)

    def _gaps(self, drawing: Drawing, members: list[list[Port]]) -> None:
        """For every free end, how far the nearest other pipe is."""
        for node, ports in enumerate(members):
            if len(ports) != 1:
                continue
            i, position = ports[0]
            tip = self.a[i] + position * self.way[i]
            best = (np.inf, "")
            for j in self._near(tip, GAP_REPORT_MM, i):
                along = min(max(float((tip - self.a[j]) @ self.way[j]), 0.0), self.length[j])
                across = self.a[j] + along * self.way[j] - tip
                gap = float(np.linalg.norm(across))
                out = self.way[i] if position else -self.way[i]
                # what lies beside a pipe is not what it was meant to meet, unless it is very near
                if gap <= BESIDE_MM or float(across @ out) >= 0.8 * gap:
                    best = min(best, (gap, self.segments[j].id))
            if best[0] <= GAP_REPORT_MM:
                drawing.nearest_gap[node] = (float(best[0]), best[1])


def _xyz(vector: Vector) -> tuple[float, float, float]:
    return (float(vector[0]), float(vector[1]), float(vector[2]))
