"""Lines that meet end to end become one."""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING, Final

import networkx as nx
import shapely

if TYPE_CHECKING:
    from collections.abc import Sequence

    from router.readers.drawn import Xyz

STRAIGHT_DEG: Final = 3.0
"""Where more than two lines meet, two this near to straight go on as one. Common practice, no source."""


@dataclass(frozen=True)
class Joined:
    """Lines joined: their points in order, which lines they were, whether they close."""

    points: list[Xyz]
    members: list[int]
    closed: bool = False


def nodes(ends: Sequence[Xyz], tolerance: float) -> list[int]:
    """Give numbers to the places that ends share: within ``tolerance`` mm in space.

    Returns
    -------
    list of int
        One number for each end.
    """
    graph: nx.Graph[int] = nx.Graph()
    graph.add_nodes_from(range(len(ends)))
    points = shapely.points([end[:2] for end in ends])
    tree = shapely.STRtree(points)
    left, right = tree.query(points, predicate="dwithin", distance=max(tolerance, 1e-9))
    for a, b in zip(left.tolist(), right.tolist(), strict=True):
        if a < b and abs(ends[a][2] - ends[b][2]) <= max(tolerance, 1e-9):
            graph.add_edge(a, b)
    number = [0] * len(ends)
    for k, part in enumerate(sorted(nx.connected_components(graph), key=min)):
        for end in part:
            number[end] = k
    return number


def chained(ways: Sequence[Sequence[Xyz]], tolerance: float, most_lost: float = math.inf) -> list[Joined]:
    """Join lines end to end; at a place where more than two meet, only what goes straight on.

    Parameters
    ----------
    ways
        Points of each line, mm.
    tolerance
        mm.
    most_lost
        mm. Where two ends that are joined lie farther apart, both stay as points.

    Returns
    -------
    list of Joined
        In the order of their first lines; each keeps the direction of its first line.
    """
    if not ways:
        return []
    ends = [end for way in ways for end in (way[0], way[-1])]
    number = nodes(ends, tolerance)
    partner: dict[int, int] = {}
    by_place: dict[int, list[int]] = {}
    for end, place in enumerate(number):
        by_place.setdefault(place, []).append(end)
    for here in by_place.values():
        _pair(here, ways, partner)
    return _follow(ways, partner, most_lost)


def _pair(here: list[int], ways: Sequence[Sequence[Xyz]], partner: dict[int, int]) -> None:
    """Say which ends at one place go on as one."""
    if len(here) == 2:
        partner[here[0]], partner[here[1]] = here[1], here[0]
        return
    options = sorted(
        (turn(direction(ways, a), direction(ways, b)), a, b)
        for k, a in enumerate(here)
        for b in here[k + 1 :]
    )
    for off, a, b in options:
        if off <= STRAIGHT_DEG and a not in partner and b not in partner:
            partner[a], partner[b] = b, a


def direction(ways: Sequence[Sequence[Xyz]], end: int) -> tuple[float, ...]:
    """Give the direction from an end into its line."""
    way = ways[end // 2]
    a, b = (way[0], way[1]) if end % 2 == 0 else (way[-1], way[-2])
    size = math.dist(a, b) or 1.0
    return tuple((q - p) / size for p, q in zip(a, b, strict=True))


def turn(a: tuple[float, ...], b: tuple[float, ...]) -> float:
    """Give by how many degrees two directions away from a place miss being opposite."""
    dot = sum(p * q for p, q in zip(a, b, strict=True))
    return math.degrees(math.acos(max(-1.0, min(1.0, -dot))))


def _follow(ways: Sequence[Sequence[Xyz]], partner: dict[int, int], most_lost: float) -> list[Joined]:
    done: set[int] = set()
    result = []
    for first in range(len(ways)):
        if first in done:
            continue
        done.add(first)
        forward = _onward(2 * first + 1, partner, done, 2 * first)
        closed = bool(forward) and partner.get(forward[-1] ^ 1) == 2 * first
        closed = closed or partner.get(2 * first + 1) == 2 * first
        back = [] if closed else _onward(2 * first, partner, done, 2 * first + 1)
        # Each end in these lists is where a line is entered; it is left at its other end.
        order = [end ^ 1 for end in reversed(back)] + [2 * first] + forward
        points: list[Xyz] = []
        for end in order:
            way = list(ways[end // 2]) if end % 2 == 0 else list(ways[end // 2])[::-1]
            points += way[1:] if points and math.dist(points[-1], way[0]) <= most_lost else way
        result.append(Joined(points, [end // 2 for end in order], closed))
    return result


def _onward(leave: int, partner: dict[int, int], done: set[int], stop: int) -> list[int]:
    entered = []
    while leave in partner:
        end = partner[leave]
        if end == stop or end // 2 in done:
            break
        done.add(end // 2)
        entered.append(end)
        leave = end ^ 1
    return entered


def clean(points: Sequence[Xyz], least: float = 1.0) -> list[Xyz]:
    """Drop points that repeat the one before in plan, and those within a straight line.

    Returns
    -------
    list of Xyz
    """
    kept: list[Xyz] = []
    for point in points:
        if not kept or math.dist(kept[-1][:2], point[:2]) >= least:
            kept.append(point)
    inner = kept[1:-1]
    result = kept[:1]
    for point, after in pairwise([*inner, kept[-1]] if len(kept) > 1 else []):
        if _off(result[-1], point, after) > 1e-6:
            result.append(point)
    return result + (kept[-1:] if len(kept) > 1 else [])


def _off(a: Xyz, p: Xyz, b: Xyz) -> float:
    """Give how far a point lies off the line between its neighbours, mm."""
    length = math.dist(a, b)
    if length < 1e-9:
        return math.dist(a, p)
    t = sum((q - o) * (e - o) for o, q, e in zip(a, p, b, strict=True)) / length**2
    foot = tuple(o + t * (e - o) for o, e in zip(a, b, strict=True))
    return math.dist(foot, p) if 0.0 <= t <= 1.0 else math.inf
