"""The arm of each head: all pipe between it and the line that it stands on, found by walking up from it."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from router.readers.pipe_graph import STRAIGHT_COSINE, dot

if TYPE_CHECKING:
    from router.readers.drawn import Xyz
    from router.readers.pipe_graph import PipeGraph
    from router.readers.pipe_tree import PipeTree

SHARED_HEADS = 4
"""As many heads may hang on one riser nipple or drop; more are a line."""
SHARED_DN = 40
"""A straight upright pipe larger than this is a riser, no shared drop."""
LONGEST_MM = 8000.0
"""An arm with more plan length than this is a branch line that serves one head: beyond the reach that
an imported scenario gives its heads it could not be an arm."""
LARGE_DN = 32
"""Pipe larger than this is an arm only over short stretches."""
LONGEST_LARGE_MM = 3000.0

ARMS = ("head_arm", "hose")


@dataclass
class Arm:
    """The parts between a head and its line, from the head on.

    ``foot``: the node at which it leaves the line. ``line_parts``: parts that were
    walked and belong to the line. ``reaches``: whether there is a line beyond its foot.
    """

    parts: list[int] = field(default_factory=list)
    foot: int | None = None
    line_parts: list[int] = field(default_factory=list)
    reaches: bool = True
    is_long: bool = False
    ends_line: bool = False


def arm_of(graph: PipeGraph, tree: PipeTree, node: int, out: Xyz) -> Arm:
    """Walk up from a head.

    Parameters
    ----------
    graph, tree
        All pipes and which way their water goes.
    node
        Where the head hangs.
    out
        Unit vector from there to its inlet, where no pipe end but a fitting carries it.

    Returns
    -------
    Arm
    """
    arm = Arm()
    own = -1
    while True:
        up = tree.up[node]
        arm.foot = node
        if up < 0:
            arm.reaches = False
            break
        role = graph.pipes[graph.parts[up].pipe].role
        if role in {"main", "branch"}:
            break
        if role not in ARMS and len(graph.of[node]) > 1:
            way = graph.parts[own].out(node) if own >= 0 else out
            stop = _at(graph, tree, node, up, own, way)
            if stop == "end":
                _give_back(graph, arm)
            if stop:
                break
        own = up
        arm.parts.append(up)
        node = graph.parts[up].other(node)
    _not_too_long(graph, arm)
    return arm


def _at(graph: PipeGraph, tree: PipeTree, node: int, up: int, own: int, way: Xyz) -> str:
    """Decide what a fitting is on the way up: passed (empty), the line's foot, or its own end.

    ``own``: the part that was come up by (-1: the head is on the fitting itself).
    """
    others = [key for key in graph.of[node] if key not in {up, own}]
    if not others:
        return ""
    feed = graph.parts[up]
    heads = tree.below[up]
    few = heads <= SHARED_HEADS and not any(tree.on_loop(key) for key in others)
    shared_drop = feed.is_upright and feed.dn <= SHARED_DN and few
    if any(graph.straight(node, up, key) >= STRAIGHT_COSINE for key in others):
        return "" if shared_drop and all(tree.below[key] for key in others) else "foot"
    if -dot(feed.out(node), way) >= STRAIGHT_COSINE:
        if shared_drop or not any(tree.feeds(key) for key in others):
            return ""
        return "end" if own >= 0 else "foot"
    if few and all(tree.below[key] <= 1 for key in others):
        return ""
    # Part of a line that is fed in its middle: the line goes on straight through this tee.
    if own >= 0 and any(graph.straight(node, own, key) >= STRAIGHT_COSINE for key in others):
        return "end"
    return "foot"


def _give_back(graph: PipeGraph, arm: Arm) -> None:
    """Give the last straight level stretch back to the line: it is the line's own end."""
    stretch = _stretch(graph, arm.parts, len(arm.parts) - 1)
    _cut(graph, arm, len(arm.parts) - len(stretch))
    arm.ends_line = bool(stretch)


def _stretch(graph: PipeGraph, parts: list[int], last: int) -> list[int]:
    """Give the level parts that lie in one straight line with a part and before it on the way up."""
    result: list[int] = []
    while last >= 0:
        part = graph.parts[parts[last]]
        if not part.is_level or graph.pipes[part.pipe].role in ARMS:
            break
        if result and abs(dot(part.way, graph.parts[result[-1]].way)) < STRAIGHT_COSINE:
            break
        result.append(parts[last])
        last -= 1
    return result


def _cut(graph: PipeGraph, arm: Arm, keep: int) -> None:
    """Leave the first ``keep`` parts to the arm; the rest belongs to its line."""
    if keep >= len(arm.parts):
        return
    below, given = arm.parts[:keep], arm.parts[keep:]
    node = arm.foot
    for key in reversed(given):
        assert node is not None
        node = graph.parts[key].other(node)
    arm.foot, arm.parts = node, below
    arm.line_parts = given + arm.line_parts
    arm.reaches = True


def _plan(graph: PipeGraph, key: int) -> float:
    x, y, _ = graph.parts[key].way
    return float((x * x + y * y) ** 0.5 * graph.parts[key].length)


def _not_too_long(graph: PipeGraph, arm: Arm) -> None:
    """Give the longest level stretch, and all above it, back where the arm is too long for one."""
    plan = sum(_plan(graph, key) for key in arm.parts)
    large = sum(_plan(graph, key) for key in arm.parts if graph.parts[key].dn > LARGE_DN)
    if plan > LONGEST_MM or large > LONGEST_LARGE_MM:
        arm.is_long = True
        to_line(graph, arm)


def to_line(graph: PipeGraph, arm: Arm) -> None:
    """Make the longest level stretch of an arm, and all above it, a line.

    Parameters
    ----------
    graph
        All pipes.
    arm
        Changed in place; stays as it is if it has no level pipe.
    """
    best, place = 0.0, len(arm.parts)
    last = len(arm.parts) - 1
    while last >= 0:
        stretch = _stretch(graph, arm.parts, last)
        length = sum(_plan(graph, key) for key in stretch)
        first = last - max(len(stretch), 1) + 1
        if length > best + 1.0:
            best, place = length, first
        last = first - 1
    _cut(graph, arm, place)
