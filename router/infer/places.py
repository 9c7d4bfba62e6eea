"""Places as drawn become the places that are meant, no farther than the tolerance.

A drawing is good to a few millimetres: a pipe end within the tolerance of a
head's inlet is at it, run pipe within it of its plan is on it, pipe that goes
level within it is level. What is farther off stays where it is drawn.
"""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from router.infer.assign import upright

if TYPE_CHECKING:
    from router.infer.assign import Assigned
    from router.infer.lines import RunLine
    from router.infer.meets import Drawing, Pipe, Vector
    from router.infer.remarks import Remarks
    from router.infer.trees import RawRun, RawTakeoff, Step, Trees
    from router.scenario.model import Head, Scenario

SEAT_MM = 30.0
"""An outlet so far over or under a level stretch sits on another."""
LEAST_PIPE_MM = 0.5
PARTINGS = 6
THREE_WAYS = 1.75
"""A place off by the tolerance in each of three directions is that much farther off."""


class Places:
    """Moves nodes to the places that are meant, and remembers how far."""

    def __init__(
        self,
        drawing: Drawing,
        assigned: Assigned,
        trees: Trees,
        scenario: Scenario,
        lines: dict[str, RunLine],
        tolerance: float,
        remarks: Remarks,
    ) -> None:
        self.drawing, self.assigned, self.trees, self.lines = drawing, assigned, trees, lines
        self.scenario, self.tolerance, self.remarks = scenario, tolerance, remarks
        self.within = THREE_WAYS * tolerance
        self.exact = THREE_WAYS * self._accuracy() + 0.01
        self.was = {node: at.copy() for node, at in drawing.at.items()}
        self.by_node: dict[tuple[str, int], list[RawTakeoff]] = {}
        for takeoff in trees.takeoffs:
            if takeoff.node is not None:
                self.by_node.setdefault((takeoff.run, takeoff.node), []).append(takeoff)
        self.levels: dict[str, list[tuple[list[Step], float | None]]] = {}
        """By run: its stretches in order, each with its level, ``None`` where it is not level."""

    def _accuracy(self) -> float:
        """How exactly the drawing is drawn, mm: by its ends, and by what should be at heads and on plans."""
        off = [self.drawing.accuracy]
        for node, head in self.assigned.head_at.items():
            if head.id not in self.assigned.short and not head.shift:
                off += [abs(float(v)) for v in self.drawing.at[node] - np.array(head.at)]
        for run in self.trees.runs.values():
            aside = [run.line.nearest(self.drawing.at[node])[1] for node in run.station]
            off += [one for one in aside if one <= self.within]
            level = run.line.level(float(self.drawing.at[run.start][2]), run.station[run.start])
            fixed = run.line.run.supply_elevation
            if fixed is not None and abs(level - fixed) <= self.within:
                off.append(abs(level - fixed))
        return min(max(off), self.tolerance)

    def snap(self) -> None:
        """Move everything; heads first, then runs from the supply, then takeoffs."""
        for node, head in self.assigned.head_at.items():
            if head.id not in self.assigned.short:
                self.drawing.at[node] = self._inlet(node, head)
        for run in self.in_order():
            self._stations(run)
            self._levels(run)
            self.offsets(run)
        for takeoff in self.trees.takeoffs:
            self.arms(takeoff)
        self._off_plan()

    def in_order(self) -> list[RawRun]:
        """List runs with parents before children."""
        done: list[RawRun] = []
        waiting = list(self.trees.runs.values())
        names: set[str] = set()
        while waiting:
            ready = [
                r for r in waiting if r.line.parent not in self.trees.runs or r.line.parent in names
            ] or waiting[:1]
            done += ready
            names |= {r.line.run.id for r in ready}
            waiting = [r for r in waiting if r not in ready]
        return done

    def part(self) -> None:
        """Keep apart the ends of a pipe so short that both mean the same place."""
        for turn in range(PARTINGS):
            together = [pipe for pipe in self.drawing.pipes.values() if self._length(pipe) < LEAST_PIPE_MM]
            for pipe in together:
                a, b = pipe.nodes
                if turn == 0:
                    for node in (a, b):
                        self.drawing.at[node] = self.was[node].copy()
                    length = self._length(pipe)
                    text = f"{pipe.segment.id}: {length:.1f} mm long, its ends mean one place"
                    self.remarks.add("size", pipe.segment.id, text, self.drawing.xyz(a), length)
                if self._length(pipe) < LEAST_PIPE_MM:
                    self.drawing.at[b] = self.drawing.at[a] + np.array([0.0, 0.0, (turn + 1) * LEAST_PIPE_MM])

    def _length(self, pipe: Pipe) -> float:
        a, b = pipe.nodes
        return float(np.linalg.norm(self.drawing.at[a] - self.drawing.at[b]))

    def report(self) -> None:
        """Say how far places were moved."""
        moved = [
            (float(np.linalg.norm(self.drawing.at[n] - at)), n)
            for n, at in self.was.items()
            if n in self.drawing.graph
        ]
        far = [one for one in moved if one[0] > 0.05]
        if far:
            most, node = max(far)
            text = (
                f"{len(far)} places read as the meeting points, plans, levels and inlets that they are "
                f"within the drawing's tolerance of; the farthest moved {most:.1f} mm"
            )
            self.remarks.add("snapped", "drawing", text, self.drawing.xyz(node), most)

    def _inlet(self, node: int, head: Head) -> Vector:
        at = self.drawing.at[node]
        inlet = np.array(head.at)
        if np.linalg.norm(at - inlet) <= self.within:
            return inlet
        if not head.shift:
            return at  # out of line, as far as is allowed
        away = at[:2] - inlet[:2]  # moved in plan, within its shift
        length = float(np.hypot(*away))
        away = away * min(1.0, head.shift / length) if length else away
        return np.array([*(inlet[:2] + away), inlet[2]])

    # -- runs -------------------------------------------------------------------------------

    def _stations(self, run: RawRun) -> None:
        line = run.line
        for node in run.station:
            at = self.drawing.at[node]
            station, off = line.nearest(at)
            run.station[node] = station
            if off > self.within:
                continue
            meant = self._meant(run, node, station)
            x, y = line.plan.point(meant)
            if np.hypot(x - at[0], y - at[1]) <= 2 * self.within:
                run.station[node] = meant
                self.drawing.at[node] = np.array([x, y, at[2]])

    def _meant(self, run: RawRun, node: int, station: float) -> float:
        """Give the station that a place stands for: a supply end, a bend, a child's start, a head's own."""
        line = run.line
        options = [float(s) for s in line.plan.stations]
        own = []
        for takeoff in self.by_node.get((line.run.id, node), []):
            options += [self.trees.runs[c].line.parent_station for c in takeoff.children]
            own += [line.nearest(np.array(head.at))[0] for _, head in takeoff.heads]
        for choice, within in ((options, self.within), (own, self.exact)):
            best = min(choice, key=lambda s: abs(s - station), default=np.inf)
            if abs(best - station) <= within:
                return float(best)
        return station

    def level_again(self, run: RawRun) -> None:
        """Read a run's levels anew, after its parent's have moved."""
        self._levels(run)
        self.offsets(run)

    def held(self, run: RawRun, step: Step) -> bool:
        """Whether something else places one of an offset's elbows: a bend, or what leaves there."""
        for node in step[1:]:
            if run.line.bend_at(run.station[node], 0.01) is not None or node == run.start:
                return True
            if (run.line.run.id, node) in self.by_node:
                return True
        return False

    def _levels(self, run: RawRun) -> None:
        stretches: list[tuple[list[Step], float | None]] = []
        line = run.line
        current: list[Step] = []
        for step in run.steps:
            a, b = (line.level(float(self.drawing.at[n][2]), run.station[n]) for n in step[1:])
            if upright(self.drawing, step[0], 10.0) or abs(a - b) > 2 * self.tolerance:
                if current:
                    stretches.append((current, self._level(run, current)))
                stretches.append(([step], None))
                current = []
            else:
                if current and current[-1][2] != step[1]:
                    stretches.append((current, self._level(run, current)))
                    current = []
                current.append(step)
        if current:
            stretches.append((current, self._level(run, current)))
        self.levels[line.run.id] = stretches
        for steps, level in stretches:
            if level is not None:
                self.put(run, steps, level)

    def nodes_of(self, run: RawRun, steps: list[Step]) -> list[int]:
        """Nodes at the ends of a stretch's pipes and on them."""
        nodes = [n for step in steps for n in step[1:]]
        low = min(run.station[n] for n in nodes) - 0.01
        high = max(run.station[n] for n in nodes) + 0.01
        level = float(np.mean([self._drawn_level(run, n) for n in nodes]))
        on = [
            n
            for n in run.seats
            if low <= run.station[n] <= high and abs(self._drawn_level(run, n) - level) < SEAT_MM
        ]
        return list(dict.fromkeys([*nodes, *on]))

    def _drawn_level(self, run: RawRun, node: int) -> float:
        return run.line.level(float(self.drawing.at[node][2]), run.station[node])

    def put(self, run: RawRun, steps: list[Step], level: float) -> None:
        """Put a stretch at a level."""
        for node in self.nodes_of(run, steps):
            at = self.drawing.at[node].copy()
            at[2] = level + run.line.pitch * run.station[node]
            self.drawing.at[node] = at

    def _level(self, run: RawRun, steps: list[Step]) -> float | None:
        """Level of a stretch: the mean, or the level that it is within the tolerance of."""
        line = run.line
        nodes = self.nodes_of(run, steps)
        parent = self.trees.runs.get(line.parent or "")
        if parent is not None and run.start in nodes and run.start in parent.station:
            return line.level(float(self.drawing.at[run.start][2]), run.station[run.start])
        levels = [line.level(float(self.drawing.at[n][2]), run.station[n]) for n in nodes]
        if max(levels) - min(levels) > 4 * self.tolerance:
            return None
        mean = float(np.mean(levels))
        options = [line.run.elevation, *line.band()]
        if line.run.supply_elevation is not None:
            options.append(line.run.supply_elevation)
        best = min(options, key=lambda level: abs(level - mean))
        return best if abs(best - mean) <= self.exact else mean

    def offsets(self, run: RawRun) -> None:
        """Two 45 degree elbows are as far apart as they are high; two 90 degree elbows in one place."""
        for steps, level in self.levels[run.line.run.id]:
            if level is not None or len(steps) != 1:
                continue
            _, a, b = steps[0]
            sa, sb = run.station[a], run.station[b]
            rise = abs(
                run.line.level(float(self.drawing.at[a][2]), sa)
                - run.line.level(float(self.drawing.at[b][2]), sb)
            )
            along = sb - sa
            if along <= self.within:
                self.move(run, b, sa)
            elif abs(along - rise) <= 3 * self.tolerance:
                self.move(run, b, sa + rise)

    def move(self, run: RawRun, node: int, station: float) -> None:
        """Move a run's node along the run, at its level."""
        level = run.line.level(float(self.drawing.at[node][2]), run.station[node])
        run.station[node] = station
        self.drawing.at[node] = run.line.place(station, level)

    def _off_plan(self) -> None:
        for run in self.trees.runs.values():
            off = [
                (run.line.nearest(self.drawing.at[n])[1], n)
                for step in run.steps
                for n in step[1:]
                if run.line.nearest(self.drawing.at[n])[1] > self.within
            ]
            if off:
                most, node = max(off)
                text = (
                    f"{run.line.run.id}: {len({n for _, n in off})} places lie off its plan, "
                    f"up to {most:.1f} mm"
                )
                self.remarks.add("off_plan", run.line.run.id, text, self.drawing.xyz(node), most)

    # -- takeoffs ---------------------------------------------------------------------------

    def arms(self, takeoff: RawTakeoff) -> None:
        """Bring the corners of a takeoff over each other, level with each other, square to the run."""
        drawing = self.drawing
        fixed = self.fixed(takeoff)
        slack = 2 * self.within
        # verticals: from what is fixed, outwards from the heads first, then from the run
        order = [*reversed(takeoff.steps), *takeoff.steps]
        known = set(fixed)
        for pipe, a, b in order:
            if not upright(drawing, pipe, slack):
                continue
            for source, target in ((b, a), (a, b)):
                if source in known and target not in known:
                    at = drawing.at[target].copy()
                    at[:2] = drawing.at[source][:2]
                    drawing.at[target] = at
                    known.add(target)
        level_sets = self.level_sets(takeoff)
        for nodes in level_sets:
            held = [n for n in nodes if n in fixed]
            z = float(np.mean([drawing.at[n][2] for n in (held or nodes)]))
            for node in nodes:
                if node not in fixed and abs(float(drawing.at[node][2]) - z) <= slack:
                    at = drawing.at[node].copy()
                    at[2] = z
                    drawing.at[node] = at
        self._corners(takeoff, known)

    def fixed(self, takeoff: RawTakeoff) -> set[int]:
        """Nodes of a takeoff that something else places: inlets, the run, child runs."""
        fixed = {n for n, h in takeoff.heads if h.id not in self.assigned.short}
        if takeoff.node is not None:
            fixed.add(takeoff.node)
        return fixed | {self.trees.runs[c].start for c in takeoff.children if c in self.trees.runs}

    def level_sets(self, takeoff: RawTakeoff) -> list[list[int]]:
        """Nodes that level pipes of a takeoff join."""
        sets: list[set[int]] = []
        for pipe, a, b in takeoff.steps:
            rise = abs(float(self.drawing.at[a][2] - self.drawing.at[b][2]))
            if rise > 2 * self.within or upright(self.drawing, pipe, 2 * self.within):
                continue
            touching = [s for s in sets if a in s or b in s]
            joined = {a, b}.union(*touching)
            sets = [s for s in sets if s not in touching] + [joined]
        return [sorted(s) for s in sets]

    def _corners(self, takeoff: RawTakeoff, known: set[int]) -> None:
        """Put a dogleg's corner square out from the run as far as the head lies beside it."""
        run = self.trees.runs.get(takeoff.run)
        if run is None or takeoff.node is None or takeoff.node not in run.station:
            return
        along = run.line.along(run.station[takeoff.node])[:2]
        for (_, a, b), (_, c, d) in pairwise(takeoff.steps):
            if b != c or b in known or a not in known or d not in known:
                continue
            p, q = self.drawing.at[a][:2], self.drawing.at[d][:2]
            for corner in (q - float((q - p) @ along) * along, p + float((q - p) @ along) * along):
                at = self.drawing.at[b]
                if float(np.hypot(*(corner - at[:2]))) <= self.within:
                    self.drawing.at[b] = np.array([corner[0], corner[1], at[2]])
                    known.add(b)
                    break
