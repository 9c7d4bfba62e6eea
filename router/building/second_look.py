"""A second look at heads that are left unserved: a greedy, as a person would go about it, must fail too.

Into the choice as it stands every way to serve such a head is put, one after
the other; and lines are filled head by head from nothing. The greedy knows
neither bounds nor the model. What it finds to fit is laid out and judged like
any route: if that costs less than what was proven, something is wrong.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, cast

import numpy as np

from router.building.assemble import RunPlan
from router.building.clashes import path_axes
from router.building.graphs import build_graph
from router.building.shapes import Shapes, clash_pairs
from router.profiles.columns import TAKEOFF

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

    from router.building.graphs import BuiltGraph
    from router.building.prepare import Prepared
    from router.building.shapes import Axes
    from router.building.tree import Tree
    from router.geometry.plan import FloatArray

MOST_HEADS = 40
"""Unserved heads that are looked at."""
MOST_WAYS = 60
"""Ways of a head that are tried, those with the fewest fittings first."""
FILLED_HEADS = 40
"""Lines of more heads are not filled from nothing."""


@dataclass(frozen=True)
class Served:
    """A choice without clashes that serves ``head`` (index) too: graphs and plans that change."""

    head: int
    graphs: dict[int, BuiltGraph]
    plans: dict[int, RunPlan]


class _Line:
    """One run with all that is possible on it. Steps are arcs that pass; the last becomes its end."""

    def __init__(self, built: BuiltGraph) -> None:
        self.built = built
        self.columns = c = built.graph.columns
        self.passing: dict[tuple[int, int], int] = {}
        self.ending: dict[tuple[int, int], int] = {}
        for k in np.flatnonzero(c.kind == TAKEOFF).tolist():
            twin = self.ending if c.ends[k] else self.passing
            twin[int(c.ref[k]), int(c.la[k])] = k

    def ways(self, item: int) -> list[int]:
        """Takeoffs (arcs) for an item, those with the fewest fittings first."""
        c = self.columns
        found = np.flatnonzero((c.kind == TAKEOFF) & (c.items == item).any(axis=1))
        order = np.lexsort((found, c.amounts[found, 0]))
        return cast("list[int]", found[order].tolist())

    def items(self, k: int) -> set[int]:
        return {i for i in self.columns.items[k].tolist() if i >= 0}

    def served(self, steps: Iterable[int]) -> set[int]:
        return set().union(*(self.items(k) for k in steps))

    def start(self, level: int) -> list[int] | None:
        """Give the steps with which the run begins at a level; ``None`` if it may not."""
        if self.built.graph.source[level] < 0:
            return None
        arcs = self.built.graph.arcs
        if self.built.room <= 0:
            return []
        return next(([k] for k, arc in enumerate(arcs) if arc.kind == "start" and arc.la == level), None)

    def steps_of(self, given: BuiltGraph, plan: RunPlan) -> list[int] | None:
        """Return a plan's steps as arcs here; ``None`` if one is not found."""
        out = []
        for k in plan.arcs:
            arc = given.graph.arcs[k]
            here = k if given is self.built else self._same(given, k)
            if here is not None and arc.ends:
                here = self.passing.get((int(self.columns.ref[here]), arc.la), here)
            if here is None:
                return None
            out.append(here)
        return out

    def _same(self, given: BuiltGraph, k: int) -> int | None:
        arc, c = given.graph.arcs[k], self.columns
        near = np.flatnonzero(
            (c.a == arc.a) & (c.b == arc.b) & (c.la == arc.la) & (c.lb == arc.lb) & (c.ends == arc.ends)
        )
        for n in near.tolist():
            other = self.built.graph.arcs[n]
            if other.kind != arc.kind or other.items != arc.items or other.style != arc.style:
                continue
            if arc.kind != "takeoff":
                return int(n)
            mine, theirs = self.built.candidates[int(c.ref[n])], given.candidates[cast("int", arc.ref)]
            if mine.axes() == theirs.axes():
                return int(n)
        return None

    def with_way(self, steps: Sequence[int], way: int) -> list[int] | None:
        """Put a takeoff among steps; what it stands on goes if it serves nothing else."""
        c = self.columns
        way = self.passing.get((int(c.ref[way]), int(c.la[way])), way)
        items, out = self.items(way), []
        for k in steps:
            apart = c.b[k] <= c.a[way] or c.a[k] >= c.b[way]
            if c.kind[k] == TAKEOFF and (self.items(k) & items or not apart):
                if not self.items(k) <= items:
                    return None
            elif not apart:
                return None
            else:
                out.append(k)
        return sorted([*out, way], key=lambda k: (int(c.a[k]), k))

    def plan(self, level: int, steps: Sequence[int]) -> RunPlan | None:
        """Return the plan of steps, the last one ending the run; ``None`` if the run cannot lie so."""
        c, graph = self.columns, self.built.graph
        while steps and c.kind[steps[-1]] != TAKEOFF:
            steps = steps[:-1]
        if not steps:
            return None
        last = self.ending.get((int(c.ref[steps[-1]]), int(c.la[steps[-1]])))
        if last is None:
            return None
        arcs, at = [*steps[:-1], last], 0
        for k in arcs:
            if c.a[k] < at or c.la[k] != level or (c.ends[k] and k != last):
                return None
            low, high = np.searchsorted(graph.positions, [at, c.a[k]])
            if not graph.level_ok[low:high, level].all():
                return None
            at, level = int(c.b[k]), int(c.lb[k])
        first = int(c.la[arcs[0]])
        return RunPlan(first, tuple(arcs))


class ByHand:
    """Tries to serve what a choice leaves out."""

    def __init__(self, prepared: Prepared, trees: list[Tree], plans: dict[int, RunPlan]) -> None:
        self.prepared, self.plans = prepared, plans
        self.graphs = {r: tree.graphs[r] for tree in trees for r in tree.order}
        self.gap = prepared.scenario.rules.piece_clearance
        self.parents: list[int | None] = [frame.parent for frame in prepared.frames]
        shapes = Shapes(prepared, self.graphs)
        self.axes = {r: [axes for _, axes in path_axes(shapes, r, plan)] for r, plan in plans.items()}
        self.boxes = {r: _box(axes) for r, axes in self.axes.items() if axes}
        self._lines: dict[int, _Line] = {}
        self.looked = 0
        """Heads that were looked at."""

    def line(self, run: int) -> _Line:
        """Give a run with everything that is possible on it."""
        if run not in self._lines:
            built = self.graphs[run]
            if not built.whole:
                built = build_graph(self.prepared, self.prepared.frames[run])
            self._lines[run] = _Line(built)
        return self._lines[run]

    def find(self, missing: Sequence[int]) -> Iterator[Served]:
        """Yield choices that serve one of the ``missing`` heads (indices) too."""
        run_of = {h: frame.index for frame in self.prepared.frames for h in frame.heads}
        filled: set[int] = set()
        for h in missing[:MOST_HEADS]:
            run = run_of.get(h)
            if run is None or run not in self.graphs:
                continue
            self.looked += 1
            if run in self.plans:
                yield from self._put_in(run, h)
                if run not in filled and len(self.prepared.frames[run].heads) <= FILLED_HEADS:
                    filled.add(run)
                    yield from self._filled(run, h)
            else:
                yield from self._begun(run, h)

    def _put_in(self, run: int, head: int) -> Iterator[Served]:
        """Put each way of a head into the run's plan as it stands."""
        line, plan = self.line(run), self.plans[run]
        steps = line.steps_of(self.graphs[run], plan)
        if steps is None:
            return
        for way in line.ways(line.built.item_heads.index(head))[:MOST_WAYS]:
            more = line.with_way(steps, way)
            made = None if more is None else line.plan(plan.level, more)
            if made is not None and self._clear({run: made}):
                yield Served(head, {run: line.built}, {run: made})
                return

    def _filled(self, run: int, head: int) -> Iterator[Served]:
        """Fill the run from nothing, at the level of its plan, the unserved heads first or in order."""
        line, plan = self.line(run), self.plans[run]
        if self.prepared.frames[run].children:
            return
        before = line.steps_of(self.graphs[run], plan)
        first = line.start(plan.level)
        if before is None or first is None:
            return
        count = len(line.built.item_heads)
        served = line.served(before)
        missing = [i for i in range(count) if i not in served]
        for order in ([*missing, *sorted(served)], list(range(count)), list(range(count - 1, -1, -1))):
            steps, best = first, None
            for item in order:
                if item in line.served(steps):
                    continue
                for way in line.ways(item)[:MOST_WAYS]:
                    more = line.with_way(steps, way)
                    made = None if more is None else line.plan(plan.level, more)
                    if more is not None and made is not None and self._clear({run: made}):
                        steps, best = more, made
                        break
            if best is not None and len(line.served(steps)) > len(served):
                yield Served(head, {run: line.built}, {run: best})
                return

    def _begun(self, run: int, head: int) -> Iterator[Served]:
        """Build a run that the choice leaves out for one head of it, fed from its parent's plan."""
        line, parent = self.line(run), self.prepared.frames[run].parent
        item = line.built.item_heads.index(head)
        if parent is None:
            feeds: list[tuple[int, dict[int, RunPlan]]] = [
                (lvl, {}) for lvl in range(line.built.graph.levels)
            ]
        else:
            feeds = self._feeds(parent, run)
        for level, more in feeds:
            first = line.start(level)
            if first is None:
                continue
            for way in line.ways(item)[:MOST_WAYS]:
                made = line.plan(level, [*first, way])
                if made is not None and self._clear({run: made, **more}):
                    graphs = {r: self.line(r).built for r in (run, *more)}
                    yield Served(head, graphs, {run: made, **more})
                    return

    def _feeds(self, parent: int, run: int) -> list[tuple[int, dict[int, RunPlan]]]:
        """(level at which the run begins, the parent's plan with it) for each way to feed it."""
        if parent not in self.plans:
            return []
        line, plan = self.line(parent), self.plans[parent]
        steps = line.steps_of(self.graphs[parent], plan)
        if steps is None:
            return []
        out = []
        item = len(line.built.item_heads) + self.prepared.frames[parent].children.index(run)
        for way in line.ways(item)[:MOST_WAYS]:
            level = next((lvl for child, lvl in line.built.graph.arcs[way].feeds if child == run), None)
            more = line.with_way(steps, way)
            made = None if more is None else line.plan(plan.level, more)
            if level is not None and made is not None:
                out.append((level, {parent: made}))
        return out

    def _clear(self, plans: dict[int, RunPlan]) -> bool:
        """Whether plans clash neither with themselves nor with what else is chosen."""
        graphs = {r: self.line(r).built for r in plans}
        shapes = Shapes(self.prepared, {**self.graphs, **graphs})
        own = [axes for r, plan in plans.items() for _, axes in path_axes(shapes, r, plan)]
        low, high = _box(own)
        others = [
            axes
            for r, (a, b) in self.boxes.items()
            if r not in plans and bool((a <= high + self.gap).all() and (b >= low - self.gap).all())
            for axes in self.axes[r]
        ]
        one, other = clash_pairs(own, [*own, *others], self.gap, self.parents)
        return not bool((one != other).any())


def with_changes(trees: list[Tree], graphs: dict[int, BuiltGraph]) -> list[Tree]:
    """Give trees with some runs' graphs exchanged."""
    return [
        replace(
            tree,
            graphs={r: graphs.get(r, tree.graphs[r]) for r in tree.graphs},
            programmes={r: programme for r, programme in tree.programmes.items() if r not in graphs},
            least={},
        )
        if any(r in graphs for r in tree.order)
        else tree
        for tree in trees
    ]


def _box(axes: list[Axes]) -> tuple[FloatArray, FloatArray]:
    """Return the corners of the box that holds axes and their radii, mm; shapes (3,)."""
    points = np.concatenate([np.concatenate([e.start, e.end]) for e in axes])
    radius = max(float(e.radius.max(initial=0.0)) for e in axes)
    return points.min(axis=0) - radius, points.max(axis=0) + radius
