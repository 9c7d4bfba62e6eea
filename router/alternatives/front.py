"""The exact front of a scenario: tree by tree, merged, and together where trees clash."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import networkx as nx

from router.alternatives.component import Component, Reached
from router.alternatives.terms import TradeTerm, limited
from router.building.clashes import plan_clashes
from router.building.progress import Progress

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from router.alternatives.ground import Ground
    from router.building.progress import Tell


@dataclass(frozen=True)
class Front:
    """All points that no other beats in both terms, by ascending ``axis`` term.

    ``proven``: no point is missing, and each has the least that it can have.
    ``together``: groups of trees (indices) that had to be decided together. ``cut``:
    whether points are missing since their accounts would not fit into memory.
    """

    axis: TradeTerm
    other: TradeTerm
    points: list[Reached]
    proven: bool
    together: list[tuple[int, ...]]
    cut: bool = False


def trade_off(ground: Ground, first: TradeTerm, second: TradeTerm, tell: Tell) -> Front:
    """Find the front of two terms over all routes that serve as many heads as can be served.

    Of routes with equal amounts of both, the one is taken that costs least in
    everything else by the scenario's weights. Trees are taken one by one and
    their fronts added up, as long as what that gives does not clash; trees that
    do are decided together. What comes out is then the best of what is less
    constrained, and feasible: so it is the front.
    """
    axis, other = limited(first, second)
    joined: nx.Graph[int] = nx.Graph()
    joined.add_nodes_from(range(len(ground.trees)))
    known: dict[tuple[int, ...], Component] = {}
    while True:
        groups = sorted(tuple(sorted(g)) for g in nx.connected_components(joined))
        for n, members in enumerate(groups):
            tell(Progress("front", n, len(groups), what="groups of trees"))
            if members not in known:
                known[members] = Component(ground, members, axis, other)
        parts = [known[members] for members in groups]
        points = merged([part.points for part in parts])
        pairs = [pair for pair in _clashing(ground, points) if not joined.has_edge(*pair)]
        if not pairs or ground.late():
            break
        joined.add_edges_from(pairs)
    proven = all(part.whole for part in parts) and all(point.proven for point in points) and not pairs
    if pairs:  # time is up: what clashes is no route
        points = [point for point in points if not _clashing(ground, [point])]
    joint = [members for members in groups if len(members) > 1]
    return Front(axis, other, points, proven, joint, any(part.cut for part in parts))


def _clashing(ground: Ground, points: Iterable[Reached]) -> list[tuple[int, int]]:
    """Pairs of trees that clash in some point."""
    found = set()
    for point in points:
        for a, b in plan_clashes(ground.prepared, ground.trees, point.plans):
            if a.tree != b.tree:
                found.add((min(a.tree, b.tree), max(a.tree, b.tree)))
    return sorted(found)


def merged(fronts: Sequence[Sequence[Reached]]) -> list[Reached]:
    """Add up fronts of trees that have nothing to do with each other, point by point.

    Each point of the whole is a sum of points of the parts; sums that another
    one beats in both terms are dropped. Of equal sums the cheaper one stays,
    then the first.
    """
    total = [Reached(0, 0, 0, 0)]
    for front in fronts:
        total = undominated([a.plus(b) for a in total for b in front])
    return total


def undominated(points: Iterable[Reached]) -> list[Reached]:
    """Keep the points that no other one beats, ascending by the limited term."""
    kept: list[Reached] = []
    for point in sorted(points, key=lambda p: (p.unserved, p.limited, p.other, p.rest)):
        if kept and point.unserved > kept[0].unserved:
            break
        if not kept or point.other < kept[-1].other:
            kept.append(point)
    return kept
