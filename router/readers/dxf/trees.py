"""Which run feeds which, by where their ends lie: every run begins on its supply, but for the roots."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import networkx as nx
import shapely

from router.readers.dxf.ends import clean
from router.scenario.errors import Fault

if TYPE_CHECKING:
    from router.readers.drawn import Xyz
    from router.readers.dxf.walk import Found, Reading


@dataclass
class Stroke:
    """A run as drawn. ``record``: what one of ours carries; its ``supply`` is then given."""

    id: str
    found: Found
    points: list[Xyz]
    record: dict[str, Any] | None = None
    supply: str | None = None


@dataclass(frozen=True)
class Contact:
    """Two runs meet: which ends of either lie there (0 first, 1 last, ``None``: somewhere between)."""

    ends: tuple[int | None, int | None]

    def seen(self, forward: bool) -> tuple[int | None, int | None]:
        """Give the ends with the other run first."""
        return self.ends if forward else (self.ends[1], self.ends[0])


def hang(reading: Reading, strokes: list[Stroke]) -> None:
    """Find each run's supply, turn round what was drawn towards it, put starts exactly on their supplies.

    A run's first point is its supply end unless the tree says otherwise. Runs of ours
    keep what they carry.
    """
    if all(stroke.record is not None for stroke in strokes):
        return
    contacts = _contacts(strokes, reading.mapping.tolerance_mm)
    graph: nx.Graph[int] = nx.Graph()
    graph.add_nodes_from(range(len(strokes)))
    for (a, b), found in contacts.items():
        if len(found) > 1:
            _loop(reading, strokes, [a, b])
            return
        graph.add_edge(a, b)
    ring = _ring(graph)
    if ring:
        _loop(reading, strokes, ring)
        return
    pairs = {pair: found[0] for pair, found in contacts.items()}
    for part in sorted(nx.connected_components(graph), key=min):
        _tree(reading, strokes, graph.subgraph(part), pairs)


def _contacts(strokes: list[Stroke], tolerance: float) -> dict[tuple[int, int], list[Contact]]:
    lines = [shapely.LineString([p[:2] for p in stroke.points]) for stroke in strokes]
    tree = shapely.STRtree(lines)
    result: dict[tuple[int, int], list[Contact]] = {}
    for a, stroke in enumerate(strokes):
        for end in (0, 1):
            spot = stroke.points[-end][:2]
            near = tree.query(shapely.Point(spot), predicate="dwithin", distance=max(tolerance, 1e-6))
            for b in sorted(int(k) for k in near):
                if b == a or (stroke.record is not None and strokes[b].record is not None):
                    continue
                there = [k for k in (0, 1) if math.dist(strokes[b].points[-k][:2], spot) <= 2 * tolerance]
                pair = (min(a, b), max(a, b))
                ends: tuple[int | None, int | None] = (end, there[0] if there else None)
                contact = Contact(ends if a < b else (ends[1], ends[0]))
                if contact not in result.setdefault(pair, []):
                    result[pair].append(contact)
    return result


def _ring(graph: nx.Graph[int]) -> list[int]:
    try:
        return sorted({node for edge in nx.find_cycle(graph) for node in edge[:2]})
    except nx.NetworkXNoCycle:
        return []


def _loop(reading: Reading, strokes: list[Stroke], numbers: list[int]) -> None:
    names = ", ".join(f"{strokes[k].id} ({strokes[k].found.name})" for k in numbers[:8])
    more = f" and {len(numbers) - 8} more" if len(numbers) > 8 else ""
    message = "these runs form a loop; runs form a tree from one supply"
    layer = f"layer {strokes[numbers[0]].found.layer}"
    reading.faults.append(Fault(layer, "runs", names + more, "", message))


def _tree(
    reading: Reading, strokes: list[Stroke], graph: nx.Graph[int], pairs: dict[tuple[int, int], Contact]
) -> None:
    """Choose the root and direct everything away from it."""
    options = []
    for root in sorted(graph):
        directed = _directed(strokes, graph, pairs, root)
        if directed is not None:
            options.append((len(directed[0]), root, directed))
    if not options:
        names = ", ".join(strokes[k].id for k in sorted(graph)[:8])
        message = "no run can feed the others: one of them ends on other runs with both its ends"
        layer = f"layer {strokes[min(graph)].found.layer}"
        reading.faults.append(Fault(layer, "runs", names, "", message))
        return
    _, _, (turned, supplies) = min(options)
    for number in sorted(turned):
        stroke = strokes[number]
        stroke.points.reverse()
        reading.notes.append(f"run {stroke.id} was drawn towards its supply end: turned round")
    order = [*nx.dfs_preorder_nodes(graph, next(k for k in sorted(graph) if k not in supplies))]
    for number in order:
        if number in supplies and strokes[number].record is None:
            _put(strokes[number], strokes[supplies[number]])


def _directed(
    strokes: list[Stroke], graph: nx.Graph[int], pairs: dict[tuple[int, int], Contact], root: int
) -> tuple[list[int], dict[int, int]] | None:
    """Give the runs to be turned round and the supply of each, if ``root`` can feed all the others."""
    turned: list[int] = []
    supplies: dict[int, int] = {}
    own = [pairs[min(root, k), max(root, k)].seen(root < k)[0] for k in graph[root]]
    if strokes[root].record is None and 0 in own and 1 not in own:
        turned.append(root)
    for parent, child in nx.bfs_edges(graph, root):
        end, _ = pairs[min(parent, child), max(parent, child)].seen(child < parent)
        record = strokes[child].record
        if record is not None:
            if record.get("supply") is not None or end != 0:
                return None
            continue
        if end is None:
            return None
        if end == 1:
            turned.append(child)
        supplies[child] = parent
    return turned, supplies


def _put(stroke: Stroke, parent: Stroke) -> None:
    """Begin a run exactly on its supply."""
    line = shapely.LineString([p[:2] for p in parent.points])
    start = stroke.points[0]
    foot = line.interpolate(line.project(shapely.Point(start[:2])))
    if math.dist(start[:2], (foot.x, foot.y)) > 1e-9:
        stroke.points = clean([(float(foot.x), float(foot.y), start[2]), *stroke.points[1:]])
    stroke.supply = parent.id
