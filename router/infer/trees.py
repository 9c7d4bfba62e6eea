"""Runs in the order of their stations, and what leaves them, pipe by pipe away from the run."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass, field
from itertools import pairwise
from math import dist, inf
from typing import TYPE_CHECKING

import networkx as nx
import numpy as np

from router.infer.assign import STRAIGHT_DEG, upright
from router.infer.meets import Pipe

if TYPE_CHECKING:
    from router.infer.assign import Assigned
    from router.infer.lines import RunLine
    from router.infer.meets import Drawing
    from router.infer.remarks import Remarks
    from router.scenario.model import Head

Step = tuple[Pipe, int, int]
"""A pipe with its node nearer to the supply and its other one."""


@dataclass
class RawRun:
    """A run as drawn. ``station``: node to station, mm; ``seats``: nodes of outlets on uncut pipe."""

    line: RunLine
    steps: list[Step] = field(default_factory=list)
    station: dict[int, float] = field(default_factory=dict)
    seats: dict[int, int] = field(default_factory=dict)
    start: int = -1

    def pipes_at(self, node: int) -> list[Pipe]:
        """Pipes of the run that end at a node."""
        return [pipe for pipe, a, b in self.steps if node in (a, b)]


@dataclass
class RawTakeoff:
    """What leaves a run at a node (``None``: it does not reach its run)."""

    run: str
    node: int | None
    steps: list[Step] = field(default_factory=list)
    heads: list[tuple[int, Head]] = field(default_factory=list)
    children: list[str] = field(default_factory=list)


@dataclass
class Trees:
    """All runs that are drawn, and all takeoffs."""

    runs: dict[str, RawRun]
    takeoffs: list[RawTakeoff]


def grow(
    drawing: Drawing, assigned: Assigned, lines: dict[str, RunLine], tolerance: float, remarks: Remarks
) -> Trees:
    """Order the runs and gather the takeoffs."""
    return _Grower(drawing, assigned, lines, tolerance, remarks).trees()


class _Grower:
    def __init__(
        self,
        drawing: Drawing,
        assigned: Assigned,
        lines: dict[str, RunLine],
        tolerance: float,
        remarks: Remarks,
    ) -> None:
        self.drawing, self.assigned, self.lines = drawing, assigned, lines
        self.tolerance, self.remarks = tolerance, remarks
        self.runs: dict[str, RawRun] = {}
        self.on: dict[int, list[str]] = defaultdict(list)
        self.takeoffs: list[RawTakeoff] = []
        self.bared: set[int] = set()
        """Places on runs where pipe was left out."""

    def trees(self) -> Trees:
        by_run: dict[str, list[Pipe]] = defaultdict(list)
        for key, owner in self.assigned.run_of.items():
            by_run[owner].append(self.drawing.pipes[key])
        for name, line in self.lines.items():
            if name in by_run:
                self.runs[name] = self._run(line, by_run[name])
        for name, run in self.runs.items():
            for node in run.station:
                self.on[node].append(name)
        self._level_children()
        self._components()
        self._unfed()
        self._heal()
        self.takeoffs = self._together()
        return Trees(self.runs, self.takeoffs)

    # -- runs -------------------------------------------------------------------------------

    def _run(self, line: RunLine, pipes: list[Pipe]) -> RawRun:
        run = RawRun(line)
        for pipe in pipes:
            for node in pipe.nodes:
                run.station[node] = line.nearest(self.drawing.at[node])[0]
        for pipe in pipes:
            a, b = pipe.nodes
            if abs(run.station[a] - run.station[b]) < 1.0 and upright(self.drawing, pipe, 10.0):
                # an offset: away from where the pipe beyond it lies
                before = [
                    run.station[p.other(a)] for p in self.drawing.of(a) if p in pipes and p.key != pipe.key
                ]
                ahead = not before or before[0] <= run.station[a]
            else:
                ahead = run.station[a] <= run.station[b]
            run.steps.append((pipe, a, b) if ahead else (pipe, b, a))
        run.start = min(run.station, key=lambda n: (run.station[n], n))
        firsts = {a for _, a, _ in run.steps} - {b for _, _, b in run.steps}
        if firsts:
            run.start = min(firsts, key=lambda n: (run.station[n], n))
        self._sort(run)
        if line.uncut:
            self._seat(run)
        return run

    def _sort(self, run: RawRun) -> None:
        run.steps.sort(key=lambda s: (run.station[s[1]] + run.station[s[2]], s[0].key))

    def _seat(self, run: RawRun) -> None:
        """On an uncut run a tap does not cut the pipe: join the parts, keep the node as a seat."""
        for node in sorted(run.station, key=lambda n: (run.station[n], n)):
            dn = self._join(run, node)
            if dn:
                run.seats[node] = dn

    def _join(self, run: RawRun, node: int) -> int:
        """Make one pipe of the two parts of a run that go on straight at a node; gives its DN, or 0."""
        before = [s for s in run.steps if s[2] == node]
        after = [s for s in run.steps if s[1] == node]
        if len(before) != 1 or len(after) != 1 or before[0][0].dn != after[0][0].dn:
            return 0
        (a, first, _), (b, _, last) = before[0], after[0]
        if first == last:
            return 0
        turn = float(self.drawing.way(a, node) @ self.drawing.way(b, node))
        if turn > -np.cos(np.radians(STRAIGHT_DEG)) or self._crossed(node, (a.key, b.key)):
            return 0
        joined = Pipe(max(self.drawing.pipes) + 1, a.segment, (first, last), a.dn)
        for old in (a, b):
            self._drop(old)
        self.drawing.graph.add_edge(first, last, key=joined.key)
        self.drawing.pipes[joined.key] = joined
        self.assigned.run_of[joined.key] = run.line.run.id
        run.steps = [s for s in run.steps if s[0].key not in (a.key, b.key)] + [(joined, first, last)]
        self._sort(run)
        return joined.dn

    def _drop(self, pipe: Pipe) -> None:
        self.drawing.graph.remove_edge(*pipe.nodes, key=pipe.key)
        self.drawing.pipes.pop(pipe.key)
        self.assigned.run_of.pop(pipe.key, None)

    def _heal(self) -> None:
        """Where only pipe that was left out met a run, the run is one pipe."""
        for node in sorted(self.bared):
            for name in list(self.on.get(node, [])):
                run = self.runs[name]
                if len(self.drawing.of(node)) == 2 and len(self.on[node]) == 1 and self._join(run, node):
                    run.station.pop(node)
                    self.on.pop(node)

    def _crossed(self, node: int, own: tuple[int, int]) -> bool:
        """Whether two pipes leave a node level on opposite sides: a cross, which cuts any run."""
        side = [self.drawing.way(p, node) for p in self.drawing.of(node) if p.key not in own]
        level = [way for way in side if abs(float(way[2])) < 0.1]
        return len(level) == 2 and float(level[0] @ level[1]) < -np.cos(np.radians(STRAIGHT_DEG))

    def _level_children(self) -> None:
        """Child runs whose first pipe meets their parent's pipe itself."""
        for name, run in self.runs.items():
            parent = self.runs.get(run.line.parent or "")
            if parent is not None and run.start in parent.station:
                self.takeoffs.append(RawTakeoff(parent.line.run.id, run.start, children=[name]))

    def _unfed(self) -> None:
        fed = {name for takeoff in self.takeoffs for name in takeoff.children}
        for name, run in self.runs.items():
            if run.line.parent is None:
                off = float(np.linalg.norm((self.drawing.at[run.start] - run.line.place(0.0, 0.0))[:2]))
                if off > 1.75 * self.tolerance:
                    text = f"{name}: its pipe begins {off:.1f} mm from its supply end in plan"
                    self.remarks.add("supply", name, text, self.drawing.xyz(run.start), off)
            elif name not in fed:
                parent = self.runs.get(run.line.parent)
                off = inf
                if parent is not None:
                    off = min(dist(self.drawing.xyz(run.start), self.drawing.xyz(n)) for n in parent.station)
                gap = self.drawing.nearest_gap.get(run.start, (off, run.line.parent))[0]
                text = f"{name}: its first pipe meets nothing of {run.line.parent}, its supply"
                self.remarks.add(
                    "gap", name, text, self.drawing.xyz(run.start), gap if np.isfinite(gap) else None
                )

    # -- what leaves them -------------------------------------------------------------------

    def _components(self) -> None:
        free = {key for key in self.drawing.pipes if key not in self.assigned.run_of}
        feeding: dict[int, str] = {}
        rest: set[int] = set()
        for keys in self._flood(free, set(self.on)):
            used = self._feeds(keys, feeding)
            rest |= keys - used
        rest -= self._adopt(rest, feeding)
        cut = set(self.on) | set(feeding)
        for keys in self._flood(rest, cut):
            self._serve(keys, feeding)

    def _adopt(self, rest: set[int], feeding: dict[int, str]) -> set[int]:
        """Pipe said to be main or branch that leads to heads goes to the run that it meets, off its plan.

        Gives the keys; the run's remark on places off its plan names it.
        """
        adopted: set[int] = set()
        for keys in self._flood(rest, set(self.on) | set(feeding)):
            nodes = {n for k in keys for n in self.drawing.pipes[k].nodes}
            said = sorted(k for k in keys if self.drawing.pipes[k].segment.role in ("main", "branch"))
            heads = nodes & set(self.assigned.head_at)
            # pipe that itself ends at a head is an arm, whatever it is said to be
            arms = {p.key for n in heads for p in self.drawing.of(n)}
            if not said or not heads or arms & set(said):
                continue
            grown = True
            while grown:
                grown = False
                for key in said:
                    pipe = self.drawing.pipes[key]
                    runs = sorted({r for n in pipe.nodes for r in self.on.get(n, [])})
                    if key in adopted or not runs:
                        continue
                    line = pipe.segment.line
                    name = next((r for r in runs if line and r.rsplit(".", 1)[0] == line), runs[0])
                    self._take_in(self.runs[name], pipe)
                    adopted.add(key)
                    grown = True
        return adopted

    def _take_in(self, run: RawRun, pipe: Pipe) -> None:
        """Add a pipe that meets a run to its pipes, away from where it meets it."""
        name = run.line.run.id
        a, b = pipe.nodes
        if a not in run.station or (b in run.station and run.station[b] < run.station[a]):
            a, b = b, a
        self.assigned.run_of[pipe.key] = name
        run.steps.append((pipe, a, b))
        if b not in run.station:
            run.station[b] = run.line.nearest(self.drawing.at[b])[0]
            self.on[b].append(name)
        self._sort(run)

    def _flood(self, keys: set[int], cut: set[int]) -> list[set[int]]:
        """Find connected sets of pipes, not passing the nodes in ``cut``."""
        left, found = set(keys), []
        for first in sorted(keys):
            if first not in left:
                continue
            group, stack = {first}, [first]
            left.discard(first)
            while stack:
                for node in self.drawing.pipes[stack.pop()].nodes:
                    if node in cut:
                        continue
                    for pipe in self.drawing.of(node):
                        if pipe.key in left:
                            left.discard(pipe.key)
                            group.add(pipe.key)
                            stack.append(pipe.key)
            found.append(group)
        return found

    def _touching(self, keys: set[int], cut: set[int] | dict[int, str] | dict[int, list[str]]) -> list[int]:
        return sorted({n for k in keys for n in self.drawing.pipes[k].nodes if n in cut})

    def _feeds(self, keys: set[int], feeding: dict[int, str]) -> set[int]:
        """Find the nipples from parents to child runs in a group of pipes; gives their keys."""
        touching = self._touching(keys, self.on)
        by_source: dict[tuple[str, int], list[str]] = {}
        for name, run in self.runs.items():
            parent = self.runs.get(run.line.parent or "")
            if parent is None or run.start not in touching or run.start in parent.station:
                continue
            sources = [n for n in touching if n in parent.station]
            if sources:
                source = min(sources, key=lambda n: (abs(parent.station[n] - run.line.parent_station), n))
                by_source.setdefault((parent.line.run.id, source), []).append(name)
        used: set[int] = set()
        graph: nx.Graph[int] = nx.Graph()
        for key in sorted(keys):
            pipe = self.drawing.pipes[key]
            length = float(np.linalg.norm(self.drawing.at[pipe.nodes[0]] - self.drawing.at[pipe.nodes[1]]))
            graph.add_edge(*pipe.nodes, key=key, length=length)
        for (parent_id, source), names in by_source.items():
            takeoff = RawTakeoff(parent_id, source, children=names)
            for name in names:
                try:
                    path = nx.shortest_path(graph, source, self.runs[name].start, weight="length")
                except nx.NetworkXNoPath:
                    continue
                for a, b in pairwise(path):
                    key = graph.edges[a, b]["key"]
                    if key not in used:
                        used.add(key)
                        takeoff.steps.append((self.drawing.pipes[key], a, b))
                for node in path[1:-1]:
                    feeding[node] = name
            self.takeoffs.append(takeoff)
        return used

    def _serve(self, keys: set[int], feeding: dict[int, str]) -> None:
        """One group of pipes becomes a takeoff for the heads at its ends."""
        nodes = {n for k in keys for n in self.drawing.pipes[k].nodes}
        heads = [(n, self.assigned.head_at[n]) for n in sorted(nodes) if n in self.assigned.head_at]
        touching = [n for n in sorted(nodes) if n in self.on or n in feeding]
        if not heads:
            self._left_out(keys, touching)
            return
        wanted = {head.run for _, head in heads}

        def rank(node: int) -> tuple[int, int, int]:
            runs = self.on.get(node, []) or [feeding[node]]
            return (0 if wanted & set(runs) else 1, 0 if node in self.on else 1, node)

        source = min(touching, key=rank, default=None)
        if source is None:
            run = heads[0][1].run or self._nearest_run(heads[0][0])
            line = self.lines[run]
            root = min(nodes, key=lambda n: (line.nearest(self.drawing.at[n])[1], n))
            gap = self.drawing.nearest_gap.get(root)
            names = ", ".join(head.id for _, head in heads)
            text = f"{names}: its pipe meets no run" + (f"; {gap[1]} is nearest" if gap else "")
            self.remarks.add("gap", names, text, self.drawing.xyz(root), gap[0] if gap else None)
        else:
            runs = self.on.get(source) or [feeding[source]]
            run = next((r for r in runs if r in wanted), runs[0])
            root = source
        takeoff = RawTakeoff(run, source, heads=heads)
        takeoff.steps = self._walk(keys, root)
        self.takeoffs.append(takeoff)
        for node in touching:
            if node != source:
                text = f"arms of {', '.join(h.id for _, h in heads)} meet a second run or nipple: a loop"
                self.remarks.add("loop", heads[0][1].id, text, self.drawing.xyz(node))

    def _nearest_run(self, node: int) -> str:
        at = self.drawing.at[node]
        return min(self.lines, key=lambda name: (self.lines[name].nearest(at)[1], name))

    def _left_out(self, keys: set[int], touching: list[int]) -> None:
        pipes = [self.drawing.pipes[k] for k in sorted(keys)]
        length = sum(
            float(np.linalg.norm(self.drawing.at[p.nodes[0]] - self.drawing.at[p.nodes[1]])) for p in pipes
        )
        names = ", ".join(dict.fromkeys(p.segment.id for p in pipes[:4])) + (" ..." if len(pipes) > 4 else "")
        where = "leaves a run but" if touching else "meets no run and"
        text = f"{names}: {len(pipes)} pipes, {length / 1000:.2f} m, {where} serves no head here: left out"
        self.remarks.add("left_out", pipes[0].segment.id, text, self.drawing.xyz(pipes[0].nodes[0]), length)
        for pipe in pipes:
            self._drop(pipe)
        self.bared |= set(touching)

    def _walk(self, keys: set[int], root: int) -> list[Step]:
        """Pipes in the order of the flow, breadth first; what closes a ring comes last."""
        steps: list[Step] = []
        seen, line, used = {root}, [root], set()
        for node in line:
            for pipe in self.drawing.of(node):
                if pipe.key not in keys or pipe.key in used:
                    continue
                used.add(pipe.key)
                steps.append((pipe, node, pipe.other(node)))
                if pipe.other(node) not in seen:
                    seen.add(pipe.other(node))
                    line.append(pipe.other(node))
        return steps

    def _together(self) -> list[RawTakeoff]:
        """Bring what leaves one node on opposite sides, level, into one takeoff."""
        made: list[RawTakeoff] = []
        for takeoff in self.takeoffs:
            other = next((t for t in made if self._pair(t, takeoff)), None)
            if other is None:
                made.append(takeoff)
            else:
                other.steps += takeoff.steps
                other.heads += takeoff.heads
                other.children += takeoff.children
        return made

    def _pair(self, a: RawTakeoff, b: RawTakeoff) -> bool:
        if a.node is None or a.node != b.node or a.run != b.run:
            return False
        if bool(a.heads) != bool(b.heads) or len(a.heads) > 1 or len(b.heads) > 1:
            return False
        if len(a.children) + len(b.children) > 2:
            return False
        ways = [self._first_way(t) for t in (a, b)]
        return all(abs(float(way[2])) < 0.1 for way in ways)

    def _first_way(self, takeoff: RawTakeoff) -> np.ndarray:
        assert takeoff.node is not None
        if takeoff.steps:
            return self.drawing.way(takeoff.steps[0][0], takeoff.node)
        child = self.runs[takeoff.children[0]]
        return self.drawing.way(child.pipes_at(child.start)[0], takeoff.node)
