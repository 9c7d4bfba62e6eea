"""A run as someone routes it by hand: a profile first, then what hangs on it, in order.

The profile keeps one level and passes each blocked stretch by an offset of its
own, back again behind it. Takeoffs are taken from the same candidates as ours
and must fit: on the profile, beside each other, without a clash.
"""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from router.building.assemble import RunPlan
from router.building.shapes import Axes, Shapes, clash_pairs
from router.profiles.columns import TAKEOFF
from router.profiles.graph import NEVER

if TYPE_CHECKING:
    from collections.abc import Iterable

    from router.bounds.structure import BoolArray
    from router.building.graphs import BuiltGraph
    from router.building.prepare import Prepared
    from router.profiles.graph import IntArray, Prices

CELL = 4000.0
"""mm. Placed pieces are kept in cubes of this size."""
NEAR = 300.0
"""mm. Runs that begin nearer to each other on their main have no room for a fitting each."""


@dataclass(frozen=True)
class Profile:
    """Structural arcs in order, and the stretches (from, to in micrometres, level) between them."""

    start: int
    arcs: tuple[int, ...]
    stretches: tuple[tuple[int, int, int], ...]


class Placed:
    """Pieces that stand already, to test new ones against; an owner's can be taken away again."""

    def __init__(self, prepared: Prepared) -> None:
        self.gap = prepared.scenario.rules.piece_clearance
        self.parents: list[int | None] = [frame.parent for frame in prepared.frames]
        self._axes: dict[tuple[int, object], list[Axes]] = defaultdict(list)
        self._cells: dict[tuple[int, int, int], dict[tuple[int, object], None]] = defaultdict(dict)

    @staticmethod
    def _cubes(axes: Axes, more: float = 0.0) -> Iterable[tuple[int, int, int]]:
        for p, q in zip(axes.start, axes.end, strict=True):
            low = np.floor((np.minimum(p, q) - more) / CELL).astype(int)
            high = np.floor((np.maximum(p, q) + more) / CELL).astype(int)
            for x in range(low[0], high[0] + 1):
                for y in range(low[1], high[1] + 1):
                    for z in range(low[2], high[2] + 1):
                        yield x, y, z

    def add(self, run: int, owner: object, axes: Axes) -> None:
        """Put a piece in under a name of the run's."""
        self._axes[run, owner].append(axes)
        for cube in self._cubes(axes):
            self._cells[cube][run, owner] = None

    def remove(self, run: int, owner: object) -> None:
        """Take a piece away."""
        for axes in self._axes.pop((run, owner), []):
            for cube in self._cubes(axes):
                self._cells[cube].pop((run, owner), None)

    def free(self, axes: Axes, without: frozenset[tuple[int, object]] = frozenset()) -> bool:
        """Whether a piece would clash with nothing that stands (but for ``without``)."""
        near: dict[tuple[int, object], None] = {}
        for cube in set(self._cubes(axes, 300.0)):
            near.update(self._cells.get(cube, {}))
        others = [a for name in near if name not in without for a in self._axes[name]]
        return not others or not len(clash_pairs([axes], others, self.gap, self.parents)[0])


@dataclass
class RunView:
    """What someone who routes one run looks at: its items in order and the ways to serve each.

    ``below``: what the run that an item feeds is reckoned to cost, by its level.
    """

    prepared: Prepared
    built: BuiltGraph
    prices: Prices
    shapes: Shapes
    below: dict[tuple[int, int], int] = field(default_factory=dict)

    def __post_init__(self) -> None:
        """Sort items by station, and arcs by what they serve."""
        graph = self.built.graph
        self.graph, self.columns, self.run = graph, graph.columns, graph.run
        frame = self.frame = self.prepared.frames[self.run]
        c = self.columns
        self.costs: IntArray = self.prices.costs(c.amounts)
        for child, level in c.feeds.transpose(1, 2, 0):
            for k in np.flatnonzero(child >= 0).tolist():
                least = self.below.get((int(child[k]), int(level[k])), 0)
                self.costs[k] = min(self.costs[k] + least, NEVER)
        at = [float(frame.plan.nearest(self.prepared.scenario.heads[h].at[:2])[0]) for h in frame.heads]
        at += [self.prepared.frames[child].parent_station for child in frame.children]
        self.at = at
        self.order = sorted(range(len(at)), key=lambda i: (at[i], i))
        self.nominal = int(np.argmin(np.abs(frame.levels - frame.run.elevation)))
        self.pipe = graph.pipe_costs(self.prices)
        takeoffs = np.flatnonzero((c.kind == TAKEOFF) & (self.costs < NEVER // 2))
        self.ways: dict[tuple[int, ...], IntArray] = {}
        groups: dict[tuple[int, ...], list[int]] = defaultdict(list)
        for k, row in zip(takeoffs.tolist(), c.items[takeoffs].tolist(), strict=True):
            groups[tuple(sorted(i for i in row if i >= 0))].append(k)
        for items, arcs in groups.items():
            of = np.array(arcs, dtype=np.int64)
            self.ways[items] = of[np.argsort(self.costs[of], kind="stable")]
        self._profiles: dict[tuple[int, int, bool], Profile | None] = {}

    def profile(self, start: int, base: int, *, merge: bool = False) -> Profile | None:
        """Lay the run from level ``start`` at ``base``, as far as it can go.

        Leaving ``base`` is as short as it can be, so every crossing gets its own
        offset; with ``merge`` the cheapest way counts, so one may pass several.
        """
        key = (start, base, merge)
        if key not in self._profiles:
            self._profiles[key] = self._lay(start, base, merge=merge)
        return self._profiles[key]

    def _lay(self, start: int, base: int, *, merge: bool) -> Profile | None:
        graph, c = self.graph, self.columns
        if graph.source[start] < 0:
            return None
        plain = (c.kind != TAKEOFF) & ((c.la == base) | (c.lb == base) | (c.la == c.lb) | (c.la == start))
        arcs = np.flatnonzero(plain & (self.costs < NEVER // 2))
        touched = np.unique(
            np.concatenate([[0, len(graph.positions) - 1], graph.starts[arcs], graph.goes[arcs]])
        )
        blocked = np.vstack([np.zeros((1, graph.levels), dtype=np.int64), np.cumsum(~graph.level_ok, axis=0)])
        away = np.full(graph.levels, 0 if merge else 1000, dtype=np.int64)
        away[base] = 0
        best = {(0, start): 0}
        came: dict[tuple[int, int], tuple[tuple[int, int], int]] = {}
        by_start: dict[int, list[int]] = defaultdict(list)
        for k in arcs.tolist():
            by_start[int(graph.starts[k])].append(k)

        def reach(node: tuple[int, int], cost: int, before: tuple[int, int], arc: int) -> None:
            if cost < best.get(node, NEVER):
                best[node], came[node] = cost, (before, arc)

        for n, i in enumerate(touched.tolist()):
            for level in range(graph.levels):
                cost = best.get((i, level))
                if cost is None:
                    continue
                if n + 1 < len(touched):
                    j = int(touched[n + 1])
                    if blocked[j, level] == blocked[i, level]:
                        step = int(self.pipe[j] - self.pipe[i])
                        length = int(graph.positions[j] - graph.positions[i])
                        reach((j, level), cost + step + length * int(away[level]), (i, level), -1)
                for k in by_start.get(i, ()):
                    if c.la[k] == level:
                        more = int(self.costs[k]) + int(c.b[k] - c.a[k]) * int(away[c.lb[k]])
                        reach((int(graph.goes[k]), int(c.lb[k])), cost + more, (i, level), k)
        end = max(i for i, _ in best)
        node = min((v for v in best if v[0] == end), key=lambda v: (best[v], v))
        return self._traced(start, node, came)

    def _traced(
        self, start: int, node: tuple[int, int], came: dict[tuple[int, int], tuple[tuple[int, int], int]]
    ) -> Profile:
        arcs: list[int] = []
        stretches: list[tuple[int, int, int]] = []
        positions = self.graph.positions
        until = node
        while node in came:
            before, k = came[node]
            if k >= 0:
                stretches.append((int(positions[node[0]]), int(positions[until[0]]), node[1]))
                arcs.append(k)
                until = before
            node = before
        stretches.append((int(positions[node[0]]), int(positions[until[0]]), node[1]))
        return Profile(start, tuple(reversed(arcs)), tuple(s for s in reversed(stretches) if s[1] > s[0]))

    def on(self, profile: Profile) -> BoolArray:
        """Which arcs lie on the level stretches of a profile; shape (arcs,)."""
        c = self.columns
        ok: BoolArray = np.zeros(len(c), dtype=bool)
        for a, b, level in profile.stretches:
            # behind its end a run has no more pipe, so only where an ending arc begins counts
            ok |= (c.la == level) & (c.a >= a) & (np.where(c.ends, c.a, c.b) <= b)
        return np.asarray(ok & (c.kind == TAKEOFF))

    def lay_pipe(self, profile: Profile, placed: Placed) -> None:
        """Let the run's own pipe stand, as far as its last item at most needs it."""
        last = max(self.at, default=0.0) * 1000 + self.prepared.scenario.rules.slide * 1000
        for a, b, level in profile.stretches:
            if a < last:
                placed.add(self.run, "pipe", self.shapes.stay(self.run, a, int(min(b, last)), level))
        for k in profile.arcs:
            if self.columns.a[k] < last:
                placed.add(self.run, "pipe", self.shapes.arc(self.run, k))

    def finish(self, profile: Profile, chosen: dict[int, int], placed: Placed) -> RunPlan | None:
        """End the run at its last takeoff and give the plan; takeoffs that cannot stand last fall away.

        ``chosen``: arc by item, changed in place. ``None`` where nothing is left.
        """
        c, on = self.columns, self.on(profile)
        while chosen:
            last = max(set(chosen.values()), key=lambda k: (int(c.a[k]), k))
            before = max([0, *(int(c.b[k]) for k in set(chosen.values()) - {last})])
            before = max([before, *(int(c.b[k]) for k in profile.arcs if c.b[k] <= c.b[last])])
            items = tuple(sorted(i for i in c.items[last].tolist() if i >= 0))
            gone = frozenset({(self.run, last)})
            for k in self.ways[items].tolist():
                same = c.ends[k] and on[k] and c.a[k] >= before and (c.feeds[k] == c.feeds[last]).all()
                if same and placed.free(self.shapes.arc(self.run, k), gone):
                    placed.remove(self.run, last)
                    self.choose(k, chosen, placed)
                    arcs = {*chosen.values(), *(s for s in profile.arcs if c.b[s] <= c.a[k])}
                    return RunPlan(profile.start, tuple(sorted(arcs, key=lambda s: (int(c.a[s]), s))))
            placed.remove(self.run, last)
            for item in items:
                del chosen[item]
        return None

    def fill_by_hand(
        self, profile: Profile, placed: Placed, chosen: dict[int, int], *, feeds: bool
    ) -> dict[int, int]:
        """Give each item in order its cheapest takeoff that fits: arc by item, added to ``chosen``.

        ``feeds``: runs that are fed, else heads. Heads are served one by one. A
        run is fed at the level nearest to its nominal one, two from one fitting
        where they begin too near to each other for two, or where only that fits.
        """
        c, on = self.columns, self.on(profile)
        heads = len(self.built.item_heads)
        for item in self.order:
            if item in chosen or (item >= heads) != feeds:
                continue
            groups = [g for g in self.ways if item in g and all(i not in chosen for i in g)]
            groups = [g for g in groups if len(g) == 1 or min(g) >= heads]
            last = item == self.order[-1] or (feeds and self.order[-1] in {i for g in groups for i in g})
            ways = [k for g in groups for k in self.ways[g].tolist() if on[k] and c.ends[k] == last]
            ways.sort(key=lambda k: (self._apart(k), self._unlike(k), int(self.costs[k]), k))
            for k in ways:
                if self.fits(k, chosen.values(), placed):
                    self.choose(k, chosen, placed)
                    break
        return chosen

    def choose(self, k: int, chosen: dict[int, int], placed: Placed) -> None:
        """Put a takeoff in."""
        for i in self.columns.items[k].tolist():
            if i >= 0:
                chosen[i] = k
        placed.add(self.run, k, self.shapes.arc(self.run, k))

    def _apart(self, k: int) -> int:
        """Rank a takeoff of two runs before those of one where there is no room for two, else behind."""
        at = [self.at[i] for i in self.columns.items[k].tolist() if i >= 0]
        if len(at) > 1:
            return 0 if max(at) - min(at) < NEAR else 2
        return 1

    def _unlike(self, k: int) -> float:
        """How far the runs that an arc feeds would begin from their nominal levels, mm."""
        total = 0.0
        for child, level in self.columns.feeds[k].tolist():
            if child >= 0:
                frame = self.prepared.frames[child]
                total += abs(float(frame.levels[level]) - frame.run.elevation)
        return round(total, 1)

    def fits(self, k: int, beside: Iterable[int], placed: Placed, but: Iterable[int] = ()) -> bool:
        """Whether arc ``k`` has room between those chosen (but for some) and clashes with nothing."""
        c, out = self.columns, set(but)
        a, b = int(c.a[k]), int(c.b[k])
        for other in set(beside) - out:
            if (a < c.b[other] and b > c.a[other]) or (c.ends[other] and b > c.a[other]):
                return False
            if c.ends[k] and c.b[other] > a:
                return False
        return placed.free(self.shapes.arc(self.run, k), frozenset((self.run, o) for o in out))

    def cost(self, plan: RunPlan | None) -> int:
        """Give what the run costs in thousandths of a point, with what its items are reckoned below."""
        heads = sum(item.weight for item in self.graph.items)
        if plan is None:
            return self.prices.whole(self.prices.unserved) * heads
        graph, c = self.graph, self.columns
        total = self.prices.whole(self.prices.moved * float(graph.source[plan.level]))
        at, flag, served, styles = 0, 0, set(), set()
        due = self.prices.due(graph.wet)
        for k in plan.arcs:
            total += int(self.costs[k]) + int(self.pipe[graph.starts[k]] - self.pipe[at])
            if graph.traps:
                flag, falls_due = graph.flag_move(k, flag)
                total += due * falls_due
            at = int(graph.goes[k])
            served |= {i for i in c.items[k].tolist() if i >= 0}
            if c.styles[c.style[k]]:
                styles.add(c.styles[c.style[k]])
        total += self.prices.whole(self.prices.style) * len(styles)
        missed = (item.weight for i, item in enumerate(graph.items) if i not in served)
        return total + self.prices.whole(self.prices.unserved) * sum(missed)
