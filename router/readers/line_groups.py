"""What is no arm: straight runs of pipe. Those with arms are branch lines, what feeds them mains."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from typing import TYPE_CHECKING

from router.readers.pipe_graph import STRAIGHT_COSINE

if TYPE_CHECKING:
    from router.readers.arms import Arm
    from router.readers.pipe_graph import PipeGraph
    from router.readers.pipe_tree import PipeTree


@dataclass
class LineGroups:
    """``line``: part to its branch line's number, mains have none. ``of_arm``: that of each arm, or ``None``.

    ``feeders``: how many lines that carry arms and feed other lines too.
    """

    line: dict[int, int]
    of_arm: list[int | None]
    feeders: int


class _Sets:
    """Numbers that are brought together."""

    def __init__(self, count: int) -> None:
        self.over = list(range(count))

    def find(self, one: int) -> int:
        while self.over[one] != one:
            self.over[one] = self.over[self.over[one]]
            one = self.over[one]
        return one

    def unite(self, one: int, other: int) -> None:
        first, second = sorted((self.find(one), self.find(other)))
        self.over[second] = first


def line_groups(
    graph: PipeGraph, tree: PipeTree, in_arms: set[int], arms: list[Arm], seats: set[int]
) -> LineGroups:
    """Find the branch lines.

    Parameters
    ----------
    graph, tree
        All pipes and which way their water goes.
    in_arms
        Parts of arms.
    arms
        Every arm.
    seats
        Parts on which a head stands with nothing between.

    Returns
    -------
    LineGroups
    """
    return _Grouper(graph, tree, in_arms, arms, seats).groups()


class _Grouper:
    def __init__(
        self, graph: PipeGraph, tree: PipeTree, in_arms: set[int], arms: list[Arm], seats: set[int]
    ) -> None:
        self.graph, self.tree = graph, tree
        self.at = [[key for key in keys if key not in in_arms] for keys in graph.of]
        self.straight = _Sets(len(graph.parts))
        for node, keys in enumerate(self.at):
            self._pair(node, keys)
        self.run = [self.straight.find(key) for key in range(len(graph.parts))]
        self.parts: dict[int, list[int]] = {}
        for part in graph.parts:
            if part.key not in in_arms:
                self.parts.setdefault(self.run[part.key], []).append(part.key)
        self.stands_on = [self._below(arm) for arm in arms]
        self.armed = {run for run in self.stands_on if run is not None} | {self.run[key] for key in seats}
        self.armed |= {self.run[key] for keys in self.parts.values() for key in keys if self._is_given(key)}
        self.top = {run: self._top(keys) for run, keys in self.parts.items()}
        self.lines = _Sets(len(graph.parts))
        self.feet: dict[int, set[int]] = {}
        for arm, run in zip(arms, self.stands_on, strict=True):
            if run is not None and arm.foot is not None:
                self.feet.setdefault(run, set()).add(arm.foot)
        self.members = set(self.armed)

    def _is_given(self, key: int) -> bool:
        return self.graph.pipes[self.graph.parts[key].pipe].role == "branch"

    def _pair(self, node: int, keys: list[int]) -> None:
        """Bring the parts together that go straight on through a node, the straightest first."""
        pairs = [
            (-round(self.graph.straight(node, one, other), 6), one, other)
            for place, one in enumerate(keys)
            for other in keys[place + 1 :]
        ]
        paired: set[int] = set()
        for cosine, one, other in sorted(pairs):
            if (
                -cosine >= STRAIGHT_COSINE
                and not {one, other} & paired
                and not self._parts_ways(node, one, other)
            ):
                paired |= {one, other}
                self.straight.unite(one, other)

    def _parts_ways(self, node: int, one: int, other: int) -> bool:
        """Tell whether a main goes round a corner here, and a line happens to leave it straight backwards."""
        siblings = self.tree.up[node] not in {one, other}
        differ = self.graph.parts[one].dn != self.graph.parts[other].dn
        return siblings and differ and self.tree.on_loop(one) != self.tree.on_loop(other)

    def _below(self, arm: Arm) -> int | None:
        """Give the run on which an arm stands: one that passes its foot before one that ends there."""
        if arm.line_parts:
            return self.run[arm.line_parts[0]]
        if arm.foot is None or not arm.reaches:
            return None
        up = self.tree.up[arm.foot]
        runs = Counter(self.run[key] for key in self.at[arm.foot])
        passing = sorted(run for run, count in runs.items() if count > 1)
        if passing:
            return self.run[up] if self.run[up] in passing else passing[0]
        return self.run[up] if up in self.at[arm.foot] else None

    def _top(self, keys: list[int]) -> int:
        nodes = {node for key in keys for node in self.graph.parts[key].nodes}
        return min(nodes, key=lambda node: (self.tree.far[node], node))

    def groups(self) -> LineGroups:
        """Bring runs together to lines."""
        leads = {}
        for run in sorted(self.armed, key=lambda run: (self.tree.far[self.top[run]], run)):
            passed, is_joined = self._upwards(run)
            if is_joined:
                self._unite(passed)
            else:
                leads[run] = passed
        feeders = {self.lines.find(run) for run in self.armed if self._fed(run) & self.armed}
        for run, passed in leads.items():
            # What leads to a line that feeds others is a main.
            if self.lines.find(run) not in feeders:
                self._unite(self._lead(passed))
        line: dict[int, int] = {}
        for run, keys in self.parts.items():
            if run in self.members:
                cut = self._main_part(run, keys)
                line.update({key: self.lines.find(run) for key in keys if key not in cut})
        self._stubs(line)
        of_arm = [None if run is None else self.lines.find(run) for run in self.stands_on]
        return LineGroups(line, of_arm, len(feeders))

    def _fed(self, run: int) -> set[int]:
        """Give the other runs with heads that leave a run, those of its own line left out."""
        result = self._leaving(run, self.parts[run])
        return {other for other in result if self.lines.find(other) != self.lines.find(run)}

    def _leaving(self, run: int, keys: list[int]) -> set[int]:
        """Give the other runs that parts of a run feed; neighbours at its supply end are not fed by it."""
        return {
            self.run[other]
            for key in keys
            for node in self.graph.parts[key].nodes
            if node != self.top[run]
            for other in self.at[node]
            if self.run[other] != run and other != self.tree.up[node] and self.tree.feeds(other)
        }

    def _upwards(self, run: int) -> tuple[list[int], bool]:
        """Go on from a run's supply end through elbows, as long as what is passed feeds nothing else.

        Gives the runs passed and whether the last carries arms: all of it is then one line.
        """
        here, passed, seen = run, [run], {run}
        while True:
            node = self.top[here]
            up = self.tree.up[node]
            if up < 0 or len(self.at[node]) != 2 or up not in self.at[node]:
                return passed, False
            beyond = self.run[up]
            if beyond in seen:
                return passed, False
            if beyond in self.armed:
                return [*passed, beyond], self.graph.parts[up].dn == self._size(run)
            if len(self._fed(beyond)) > 1:
                return passed, False
            passed.append(beyond)
            seen.add(beyond)
            here = beyond

    def _lead(self, passed: list[int]) -> list[int]:
        """Give what belongs to a line that bends before its first head: level pipe of its size."""
        size = self._size(passed[0])
        last = 0
        for place, one in enumerate(passed[1:], 1):
            keys = self.parts[one]
            if any(self.graph.parts[key].dn != size for key in keys):
                break
            if all(self.graph.parts[key].is_level for key in keys):
                last = place
        return passed[: last + 1]

    def _size(self, run: int) -> int:
        """Give the size of a run at its supply end."""
        return max(self.graph.parts[key].dn for key in self.at[self.top[run]] if self.run[key] == run)

    def _unite(self, runs: list[int]) -> None:
        for one in runs[1:]:
            self.lines.unite(runs[0], one)
        self.members |= set(runs)

    def _main_part(self, run: int, keys: list[int]) -> set[int]:
        """Find what of a run is still a main: before its first arm, feeding others, up to where it reduces.

        Not where it goes on in one size: a line that began at a main's tee would need a tee of its own there.
        """
        feet = self.feet.get(run, set())
        if not feet or any(self._is_given(key) for key in keys):
            return set()
        first = min(self.tree.far[node] for node in feet)
        parts = [self.graph.parts[key] for key in keys]
        beyond = {part.key: max(self.tree.far[node] for node in part.nodes) > first + 1.0 for part in parts}
        size = max((part.dn for part in parts if beyond[part.key]), default=0)
        larger = {part.key for part in parts if not beyond[part.key] and part.dn > size}
        return larger if size and self._leaving(run, sorted(larger)) else set()

    def _stubs(self, line: dict[int, int]) -> None:
        """Pipe that leads to no head belongs to what it leaves."""
        for node in self.tree.order:
            up = self.tree.up[node]
            if up < 0 or up in line or self.tree.feeds(up):
                continue
            before = self.tree.up[self.graph.parts[up].other(node)]
            if before in line and self.run[up] not in self.members:
                line[up] = line[before]
