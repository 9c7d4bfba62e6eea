"""Why a run's profile is as it is: what binds each stretch at one level and each level change."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from router.building.stop import Stop
from router.explain.measure import Measured, Offset
from router.explain.records import Binding, Limit
from router.explain.words import at, listed, mm, points, sentence
from router.takeoffs.attempts import nearest_tries

if TYPE_CHECKING:
    from router.bounds.dynamic import DynamicProgramme
    from router.building.tree import Tree
    from router.explain.lines import LineCosts
    from router.geometry.solids import BoolArray
    from router.route.model import LevelChange, RunResult, Takeoff

TOUCHES = 10.0
"""mm. Limits nearer than this are represented by one level: they bind it."""
SAME = 1.0
"""mm. Levels nearer than this are one."""
MOST_LIMITS = 3
"""So many obstructions are told for a place; more of them say the same."""
LITTLE = 1.0
"""mm. A level change that can move no farther than this cannot move."""


@dataclass
class Profile:
    """One run's profile with the costs of doing otherwise.

    ``value``: points of the tree in the route; ``optimal``: whether nothing costs less.
    ``tees``: takeoffs of the run that feeds it. ``tree``: of the run, whole, where
    another level is to be decided for sure and not only bounded.
    """

    measured: Measured
    line: LineCosts
    value: float
    optimal: bool
    tees: list[Takeoff]
    tree: Tree | None = None
    stop: Stop = field(default_factory=Stop)

    def bindings(self) -> list[Binding]:
        """Give its start, then stretches and level changes in order."""
        result = self.measured.result
        out = [self._start()]
        begun, level = 0.0, result.supply_level
        for n, change in enumerate(result.level_changes):
            out.append(self._stretch((begun, change.stations[0]), level))
            after = result.level_changes[n + 1 :]
            until = after[0].stations[0] if after else result.built_to
            out.append(self._change(change, begun, until))
            begun, level = change.stations[1], change.levels[1]
        out.append(self._stretch((begun, result.built_to), level))
        return out

    # how it starts

    def _start(self) -> Binding:
        frame, result = self.measured.frame, self.measured.result
        level, run = result.supply_level, frame.run
        scenario = self.measured.prepared.scenario
        limits = []
        pin = scenario.pins.runs.get(run.id)
        pinned = pin.level if pin is not None else None
        if pinned is not None:
            limits.append(Limit(kind="pin", against=run.id, level=pinned,
                                text=f"{run.id} is pinned to level {mm(pinned)}"))  # fmt: skip
        if run.supply_elevation is not None:
            text = f"the supply comes at level {mm(run.supply_elevation)}"
            limits.append(Limit(kind="supply", against=None, level=run.supply_elevation, text=text))
        if frame.parent is not None:
            limits.append(self._from_parent(level))
        off = level - run.elevation
        if abs(off) > SAME:
            moved = f"{mm(abs(off))} mm {'over' if off > 0 else 'under'} its nominal {mm(run.elevation)}"
        else:
            moved = "its nominal level"
        text = f"starts at level {mm(level)}, {moved}"
        if frame.pitch:
            text += f" (the line rises {mm(1000 * frame.pitch)} mm per m; levels are those at its supply end)"
        if limits:
            text += f": {listed(limit.text for limit in limits)}"
        return Binding(
            part="start", stations=(0.0, 0.0), levels=(level, level), limits=limits, text=sentence(text)
        )

    def _from_parent(self, level: float) -> Limit:
        prepared, frame = self.measured.prepared, self.measured.frame
        assert frame.parent is not None
        parent = prepared.frames[frame.parent]
        takeoff = next((t for t in self.tees if frame.run.id in t.child_runs), None)
        if takeoff is None:
            return Limit(kind="supply", against=parent.run.id, text=f"it leaves {parent.run.id}")
        there = takeoff.level + parent.pitch * takeoff.station
        rise = level - there
        how = "straight" if abs(rise) <= SAME else f"{mm(abs(rise))} mm {'up' if rise > 0 else 'down'}"
        text = f"it leaves {parent.run.id} {how} at its station {at(takeoff.station)}, where {parent.run.id} "
        text += f"is at elevation {mm(there)}"
        return Limit(
            kind="supply", against=parent.run.id, stations=(0.0, round(self.measured.room, 1)),
            level=round(there, 1), text=text,
        )  # fmt: skip

    # stretches

    def _stretch(self, stations: tuple[float, float], level: float) -> Binding:
        a, b = stations
        limits = self._touching(level, a, b)
        frame = self.measured.frame
        text = f"level {mm(level)} from station {at(a)} to {at(b)}"
        if limits:
            text += f": {listed(limit.text for limit in limits)}"
        band = self._band(level)
        limits += band
        if band and len(limits) == len(band):
            text += f": {listed(limit.text for limit in band)}"
        elif band:
            text += f"; {listed(limit.text for limit in band)}"
        cost = self._other_level(level, a, b)
        if cost is not None:
            limits.append(cost)
            text += f". {cost.text[0].upper()}{cost.text[1:]}" if limits[:-1] else f": {cost.text}"
        elif not limits and abs(level - frame.run.elevation) <= SAME:
            text += ": its nominal level"
        return Binding(
            part="stretch", stations=(round(a, 1), round(b, 1)), levels=(level, level), limits=limits,
            text=sentence(text),
        )  # fmt: skip

    def _touching(self, level: float, a: float, b: float) -> list[Limit]:
        """Give the obstructions that leave no room just over or just under a stretch."""
        solids = self.measured.prepared.solids
        out: list[tuple[float, Limit]] = []
        for under in (True, False):
            beyond = level + (TOUCHES if under else -TOUCHES)
            here = {s: (x, y) for x, y, s in self.measured.blocking(level, a, b)}
            for x, y, s in self.measured.blocking(beyond, a, b):
                middle = float(solids.low[s] + solids.high[s]) / 2
                over = middle > level + self.measured.frame.pitch * (x + y) / 2
                if over == under and s not in here:
                    limit = self.measured.obstruction(s, (x, y), under=under)
                    gap = abs((limit.level or level) - level)
                    out.append((gap, limit))
        out.sort(key=lambda item: (item[0], item[1].stations or (0.0, 0.0)))
        seen: dict[str | None, Limit] = {}
        for _, limit in out:
            seen.setdefault(limit.against, limit)
        return list(seen.values())[:MOST_LIMITS]

    def _band(self, level: float) -> list[Limit]:
        frame = self.measured.frame
        low, high = frame.band
        out = []
        for end, word in ((low, "lowest"), (high, "highest")):
            if abs(level - end) <= SAME:
                text = f"{mm(end)} is the {word} level of the band of {frame.run.id}"
                out.append(Limit(kind="band", against=frame.run.id, level=end, text=text))
        return out[:1] if low == high else out

    def _index(self, level: float) -> int | None:
        levels = self.measured.frame.levels
        k = int(np.argmin(np.abs(levels - level)))
        return k if abs(float(levels[k]) - level) <= SAME else None

    def _other_level(self, level: float, a: float, b: float) -> Limit | None:
        """Say what it costs to keep a stretch off its level."""
        k = self._index(level)
        if k is None or b - a < SAME:
            return None
        graph = self.line.built.graph
        columns, low, high = graph.columns, a * 1000 + 1000, b * 1000 - 1000
        inside = (columns.a < high) & (columns.b > low) & ((columns.la == k) | (columns.lb == k))
        # a change that leads away from the level or to it may begin or end here
        inside &= (columns.la == columns.lb) | ((columns.a >= low) & (columns.b <= high))
        ok = graph.level_ok.copy()
        ok[self._between(low, high), k] = False
        least, programme = self.line.least(inside, ok)
        name = self.measured.frame.run.id
        if programme is None:
            if a == 0.0 and self.measured.frame.run.supply_elevation is not None:
                text = f"the supply comes at level {mm(level)}"
                return Limit(kind="supply", against=None, level=level, text=text)
            return Limit(kind="cost", against=None, level=level, text=f"no other level of {name} works here")
        other = self._level_there(programme, (a + b) / 2)
        if other is None:
            return None
        lost = self._lost(programme, least)
        if lost:
            text = f"at any other level {lost} would go without water"
            return Limit(kind="cost", against=None, level=level, text=text)
        sure = self._sure(inside, ok)
        if sure is not None:
            text = f"any other level here {self._more(sure - self.value, sure=True)}"
            return Limit(kind="cost", against=None, level=level, text=text)
        text = f"the next best level here, {mm(other)}, {self._more(least - self.value)}"
        return Limit(kind="cost", against=None, level=level, text=text)

    def _sure(self, without: BoolArray, level_ok: BoolArray) -> float | None:
        """Give the points of the tree under these limits, decided for sure; ``None``: only bounded."""
        if self.tree is None or self.stop.asked() or self.measured.prepared.priced:
            return None
        found = self.line.settled(self.tree, without, level_ok, self.stop)
        lost = found is not None and found - self.value >= self.line.programme.prices.unserved * 0.5
        return None if lost else found

    def _more(self, more: float, *, sure: bool = False) -> str:
        """Say a cost; where it is only bounded, pieces that clash may make it dearer."""
        if sure and abs(more) < 0.05:
            return "costs the same"
        if more >= 0.05:
            return f"costs {'' if sure else 'at least '}{points(more)} more"
        if sure:
            return f"costs {points(-more)} less"
        if self.optimal or more > -0.05:
            return "may cost the same"
        return f"may cost up to {points(-more)} less"

    def _between(self, low: float, high: float) -> BoolArray:
        """Give the steps of the graph that lie between two places, micrometres; shape (positions - 1,)."""
        places = self.line.built.graph.positions
        return np.asarray((places[:-1] < high) & (places[1:] > low))

    def _lost(self, programme: DynamicProgramme, least: float) -> str:
        """Name what a programme's best choice leaves without water and the route does not."""
        if least - self.value < self.line.programme.prices.unserved * 0.5:
            return ""
        path = programme.path(self.line.best_start(programme))
        names = [self.line.built.graph.items[i].key for i in path.unserved]
        served = {h for t in self.measured.takeoffs for h in (*t.heads, *t.child_runs)}
        mine = [name for name in names if name in served]
        return listed(mine[:MOST_LIMITS]) or "some head"

    def _level_there(self, programme: DynamicProgramme, station: float) -> float | None:
        """Return the level of a programme's best profile at a station; ``None`` where it has ended."""
        start = self.line.best_start(programme)
        path = programme.path(start)
        columns = self.line.built.graph.columns
        level, end = start, 0
        for k in path.arcs:
            end = max(end, int(columns.b[k]))
            if columns.a[k] / 1000.0 <= station:
                level = int(columns.lb[k])
        if end / 1000.0 < station:
            return None
        return float(self.measured.frame.levels[level])

    # level changes

    def _change(self, change: LevelChange, begun: float, until: float) -> Binding:
        la, lb = change.levels
        limits = self._why(change, until)
        # why it was not there from the start: what the new level would meet before the change
        for a, b, s in self.measured.blocking(lb, begun, change.stations[0])[-1:]:
            limits.append(self.measured.obstruction(s, (a, b), under=la < lb))
        height = self._height(lb, change.stations[1], until, {limit.against for limit in limits})
        way = "down" if lb < la else "up"
        first, second = change.stations
        there = f"station {at(first)}" if second - first < SAME else f"stations {at(first)} to {at(second)}"
        text = f"{way} from level {mm(la)} to {mm(lb)} at {there}"
        if limits:
            text += f", because {listed(limit.text for limit in limits)}"
        if height is not None:
            limits.append(height)
            text += f"; how far is set by {height.text.replace(' needs ', ', which needs ', 1)}"
        if change.at_bend:
            bend = Limit(kind="bend", against=None, stations=change.stations,
                         text=f"the line bends there ({at(first)}), which saves an elbow")  # fmt: skip
            limits.append(bend)
            text += f"; {bend.text}"
        else:
            for later in (False, True):
                said, more = self._room(change, later=later)
                limits += more
                text += f". {said}"
        return Binding(
            part="level_change", item=change.id, stations=change.stations, levels=change.levels,
            limits=limits, text=sentence(text),
        )  # fmt: skip

    def _height(self, level: float, a: float, b: float, told: set[str | None]) -> Limit | None:
        """Give the obstruction that the new level just clears, where none of the told does."""
        touching = self._touching(level, a, b)
        return None if any(t.against in told for t in touching) else next(iter(touching), None)

    def _room(self, change: LevelChange, *, later: bool) -> tuple[str, list[Limit]]:
        move = Offset(self.measured, change).move(later=later)
        word = "later" if later else "earlier"
        names = listed(limit.text for limit in move.limits[:MOST_LIMITS])
        if move.far <= LITTLE:
            return (f"It cannot sit {word}: {names}" if names else f"It cannot sit {word}"), move.limits
        far = at(np.floor(move.far))
        cost = "" if self.measured.prepared.priced else " at the same cost"
        if not move.limits:
            return f"It could sit more than {far} mm {word}{cost}", []
        return f"It could sit up to {far} mm {word}{cost}, then: {names}", move.limits

    def _why(self, change: LevelChange, until: float) -> list[Limit]:
        """Say what forbids the old level further on, or what needs the new one."""
        la, lb = change.levels
        spans = self.measured.blocking(la, change.stations[0], max(until, change.stations[1]))
        seen: dict[int, Limit] = {}
        for a, b, s in spans:
            seen.setdefault(s, self.measured.obstruction(s, (a, b), under=lb < la))
        if seen:
            # what the new level just clears comes first: it decides how far the line must move
            order = sorted(seen.values(), key=lambda x: (abs((x.level or 0.0) - lb) > TOUCHES, x.stations))
            more = len(order) - MOST_LIMITS
            if more > 0:
                last = order[MOST_LIMITS - 1]
                text = f"{last.text} (and {more} more)"
                order[MOST_LIMITS - 1] = last.model_copy(update={"text": text})
            return order[:MOST_LIMITS]
        k = self._index(la)
        if k is None:
            return []
        needs = self._needs(change, k, until)
        return needs or self._worth(change, k, until)

    def _needs(self, change: LevelChange, k: int, until: float) -> list[Limit]:
        """Name what leaves the run further on and cannot from the old level."""
        prepared, frame = self.measured.prepared, self.measured.frame
        graph, candidates = self.line.built.graph, self.line.built.candidates.columns
        columns = graph.columns
        takeoff = np.flatnonzero(
            (columns.la == k) & (columns.lb == k) & (columns.ref >= 0) & (columns.kind == 0)
        )
        refs = np.unique(columns.ref[takeoff])
        heads, feeds = candidates.heads[refs], candidates.feeds[refs][:, :, 0]
        index = {h.id: i for i, h in enumerate(prepared.scenario.heads)}
        runs = {r.id: i for i, r in enumerate(prepared.scenario.runs)}
        out = []
        for t in self.measured.takeoffs:
            if not change.stations[1] <= t.station <= until + SAME:
                continue
            for h in t.heads:
                if not (heads == index[h]).any():
                    why = self._lacks(index[h], k)
                    text = f"{h} cannot be served from level {mm(float(frame.levels[k]))}{why}"
                    out.append(Limit(kind="outlet", against=h, level=float(frame.levels[k]), text=text))
            for r in t.child_runs:
                if not (feeds == runs[r]).any():
                    text = f"{r} cannot be fed from level {mm(float(frame.levels[k]))}"
                    out.append(Limit(kind="tee", against=r, level=float(frame.levels[k]), text=text))
        return out[:MOST_LIMITS]

    def _lacks(self, head: int, k: int) -> str:
        tries = nearest_tries(
            self.measured.frame, self.measured.prepared.scenario, self.measured.prepared.solids, head, {k}
        )
        if not tries:
            return ""
        lack = tries[0].worst
        whom = f" to {lack.against}" if lack.against else ""
        style = tries[0].style.replace("_", " ")
        return f" ({style}: {mm(lack.short)} mm short of {lack.rule.replace('_', '-')}{whom})"

    def _worth(self, change: LevelChange, k: int, until: float) -> list[Limit]:
        """Say what it would cost to stay at the old level."""
        graph = self.line.built.graph
        columns = graph.columns
        low, high = change.stations[0] * 1000 + 1000, until * 1000 - 1000
        out = (columns.a < high) & (columns.b > low) & ((columns.la != k) | (columns.lb != k))
        out &= (columns.la == columns.lb) | (columns.a < high)
        ok = graph.level_ok.copy()
        others = np.arange(graph.levels) != k
        ok[np.ix_(self._between(low, high), others)] = False
        least, programme = self.line.least(out, ok)
        where = f"from station {at(change.stations[0])} to {at(until)}"
        lost = "some head" if programme is None else self._lost(programme, least)
        if lost:
            text = f"if it kept {mm(change.levels[0])} {where}, {lost} would go without water"
        else:
            sure = self._sure(out, ok)
            more = (least if sure is None else sure) - self.value
            text = f"to keep {mm(change.levels[0])} {where} {self._more(more, sure=sure is not None)}"
        return [Limit(kind="cost", against=None, level=change.levels[0], text=text)]


def summary(result: RunResult, bindings: list[Binding]) -> str:
    """Say in a sentence or two how a run goes and why it changes its level."""
    count = len(result.level_changes)
    end = f"to its end at station {at(result.built_to)}"
    if not count:
        text = f"{result.id} stays at level {mm(result.supply_level)} {end}."
        held = [b for b in bindings if b.part == "stretch"]
        for limit in held[0].limits[:2] if held else []:
            text += f" {sentence(limit.text)}"
        return text
    levels = [result.supply_level, *(c.levels[1] for c in result.level_changes)]
    text = f"{result.id} goes at level {listed((mm(v) for v in levels), 'then')} {end}: "
    text += f"{count} level {'change' if count == 1 else 'changes'}."
    for b in bindings:
        if b.part == "level_change" and b.limits:
            way = "down" if b.levels[1] < b.levels[0] else "up"
            first = [x.text for x in b.limits if x.kind == "obstruction" and x.level is not None][:2]
            why = listed(first) if b.limits[0].text in first else b.limits[0].text
            text += f" {way.capitalize()} at {at(b.stations[0])}: {sentence(why)}"
    return text
