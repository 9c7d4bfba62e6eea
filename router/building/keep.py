"""An older route in the search: its stations and levels are tried, what differs from it costs.

What a takeoff, a run's beginning or a change of level costs for being another
than before is a cost of arcs (``changed``, in points), of a start level, or of
passing the place of a change of level that is gone. So every step of the
search stays exact.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property
from math import dist
from typing import TYPE_CHECKING

import numpy as np

from router.building.keep_read import (
    ON_LINE,
    SAME,
    Laid,
    Step,
    Way,
    read_laid,
    same_place,
    same_places,
    same_style,
)
from router.profiles.changes import Change
from router.profiles.columns import BEND, OFFSET
from router.profiles.graph import TERMS
from router.route.totals import change_weights
from router.takeoffs.candidates import side_code

if TYPE_CHECKING:
    from router.geometry.plan import FloatArray
    from router.geometry.solids import IntArray
    from router.profiles.columns import ArcColumns
    from router.profiles.frame import RunFrame
    from router.route.model import Route, Xyz
    from router.route.totals import ChangeWeights
    from router.scenario.model import Scenario
    from router.takeoffs.candidate import Candidate
    from router.takeoffs.candidates import Candidates

CHANGED = TERMS.index("changed")
OUTLET_STAYS = 0.5
"""A head whose outlet stays where it was, while what hangs on it changes, counts by half."""


@dataclass
class Keep:
    """The older route beside a scenario. ``laid``: its places; ``weights``: what changes cost."""

    scenario: Scenario
    route: Route
    laid: Laid = field(init=False)
    weights: ChangeWeights = field(init=False)

    def __post_init__(self) -> None:
        """Read it."""
        self.laid = read_laid(self.route)
        self.weights = change_weights(self.scenario)

    @cached_property
    def _ways(self) -> dict[str, list[Way]]:
        """By run: ways of heads that the scenario still has."""
        known = {head.id for head in self.scenario.heads}
        out: dict[str, list[Way]] = {}
        for head, way in self.laid.heads.items():
            if head in known:
                out.setdefault(way.run, []).append(way)
        return out

    def way(self, head: int) -> Way | None:
        """How a head (index) was served."""
        return self.laid.heads.get(self.scenario.heads[head].id)

    def run_of(self, head: int) -> str | None:
        """Which run served a head (index)."""
        way = self.way(head)
        return None if way is None else way.run

    # what is tried

    def levels(self, frame: RunFrame) -> list[float]:
        """Levels that the run had, where its old places still lie on its line."""
        run = frame.run.id
        places = [way.outlet for way in self._ways.get(run, [])]
        places += [end for step in self.laid.steps.get(run, []) for end in (step.first, step.second)]
        begins = self.laid.begins
        if run in begins:
            places.append(begins[run].start)
        places += [b.outlet for b in begins.values() if b.parent == run]
        found: list[float] = []
        for at in places:
            station = station_on(frame, at)
            if station is None:
                continue
            level = at[2] - frame.pitch * station
            if all(abs(level - known) > SAME for known in found):
                found.append(round(level, 3))
        return sorted(found)

    def stations(self, frame: RunFrame) -> dict[int, list[float]]:
        """By head (index): the station of its old outlet, where that still lies on the run's line."""
        out: dict[int, list[float]] = {}
        for h in frame.heads:
            way = self.way(h)
            station = None if way is None or way.run != frame.run.id else station_on(frame, way.outlet)
            if station is not None:
                out[h] = [station]
        return out

    def spots(self, frame: RunFrame) -> dict[int, Xyz]:
        """By head (index): where its inlet was, for heads that may shift there."""
        out: dict[int, Xyz] = {}
        for h in frame.heads:
            head, way = self.scenario.heads[h], self.way(h)
            if way is None or head.shift <= 0:
                continue
            inlet = way.points[-1]
            if abs(inlet[2] - head.at[2]) <= SAME and dist(inlet[:2], head.at[:2]) <= head.shift:
                out[h] = (inlet[0], inlet[1], head.at[2])
        return out

    def arms(self, frame: RunFrame) -> dict[int, tuple[float, float, float]]:
        """By head (index): station, level and arm elevation of its old nipple, if it had one."""
        out: dict[int, tuple[float, float, float]] = {}
        for h in frame.heads:
            way = self.way(h)
            if way is None or way.run != frame.run.id or len(way.points) < 3:
                continue
            station = station_on(frame, way.outlet)
            (x, y, z), (tx, ty, top) = way.points[0], way.points[1]
            if station is not None and dist((x, y), (tx, ty)) <= SAME and abs(top - z) > ON_LINE:
                out[h] = (station, z - frame.pitch * station, top)
        return out

    def offset_begins(self, frame: RunFrame) -> list[float]:
        """Stations at which an offset must begin to stand where an old one stood."""
        out = []
        for step in self.laid.steps.get(frame.run.id, []):
            first, second = station_on(frame, step.first), station_on(frame, step.second)
            if first is None or second is None:
                continue
            dn = frame.stretch_at(first).dn
            angle = 90 if second - first <= ON_LINE else 45
            half = frame.elbow_half(f"elbow_{angle}", dn)
            begins = first - half
            out.append(round(begins, 3) if abs(round(begins, 3) + half - first) <= SAME / 2 else begins)
        return out

    # what it costs

    def charge(
        self, frame: RunFrame, candidates: Candidates, arcs: ArcColumns, frames: list[RunFrame]
    ) -> tuple[list[tuple[int, float]], FloatArray | None]:
        """Put the costs of change on arcs; give those of passing places (micrometres) and of start levels."""
        by_candidate = self._takeoffs(frame, candidates, frames)
        takeoff = arcs.kind == 0
        arcs.by_term[CHANGED, takeoff] += by_candidate[arcs.ref[takeoff]]
        steps = self.laid.steps.get(frame.run.id, [])
        stays = self._changes(frame, arcs, steps)
        crossed: list[tuple[int, float]] = []
        for n, step in enumerate(steps):
            station = station_on(frame, (*step.middle, 0.0))
            if station is None or not self.weights.offset:
                continue
            at = round(station * 1000)
            over = (arcs.a <= at) & (at < arcs.b) & (stays != n)
            arcs.by_term[CHANGED, over] += self.weights.offset
            crossed.append((at, self.weights.offset))
        return crossed, self._starts(frame)

    def _takeoffs(self, frame: RunFrame, candidates: Candidates, frames: list[RunFrame]) -> FloatArray:
        """Cost of each candidate for being another takeoff than before, points."""
        c = candidates.columns
        out = np.zeros(len(c.station))
        for h in frame.heads:
            way = self.way(h)
            if way is None:
                continue
            mine = np.flatnonzero((c.heads == h).any(axis=1))
            out[mine] += self.weights.head
            station = station_on(frame, way.outlet) if way.run == frame.run.id else None
            if station is None:
                continue
            near = mine[np.abs(c.station[mine] - station) <= SAME]
            near = near[c.side[near] == side_code(way.side)]
            for k in near.tolist():
                found = candidates[k]
                if not same_place(found.outlet, way.outlet):
                    continue
                whole = same_style(found.style, way.style) and same_places(_points(found, h), way.points)
                out[k] -= self.weights.head * (1.0 if whole else OUTLET_STAYS)
        for child in frame.children:
            out += self._feeds(frame, candidates, frames[child])
        return out

    def _feeds(self, frame: RunFrame, candidates: Candidates, child: RunFrame) -> FloatArray:
        c = candidates.columns
        out = np.zeros(len(c.station))
        old = self.laid.begins.get(child.run.id)
        if old is None:
            return out
        mine = np.flatnonzero((c.feeds[:, :, 0] == child.index).any(axis=1))
        for k in mine.tolist():
            found = candidates[k]
            feed = next(f for f in found.feeds if f.run == child.index)
            x, y = child.plan.place(0.0)
            kept = (
                old.parent == frame.run.id
                and old.side == found.side
                and same_place(old.outlet, found.outlet)
                and same_place(old.start, (x, y, feed.z))
            )
            out[k] = 0.0 if kept else self.weights.run
        return out

    def _changes(self, frame: RunFrame, arcs: ArcColumns, steps: list[Step]) -> IntArray:
        """Charge new changes of level; which old one each arc is, -1 for none; shape (arcs,)."""
        stays = np.full(len(arcs), -1, dtype=np.int64)
        moving = np.flatnonzero(((arcs.kind == OFFSET) | (arcs.kind == BEND)) & (arcs.la != arcs.lb))
        if frame.run.id not in self.laid.begins:  # nothing to be other than
            return stays
        arcs.by_term[CHANGED, moving] += self.weights.offset
        for n, step in enumerate(steps):
            station = station_on(frame, (*step.middle, 0.0))
            if station is None:
                continue
            at = station * 1000
            for k in moving[(arcs.a[moving] <= at) & (at < arcs.b[moving])].tolist():
                change = arcs.changes[int(arcs.ref[k])]
                assert isinstance(change, Change)
                ends = [
                    (*frame.plan.place(s), float(frame.z(frame.levels[level], s)))
                    for s, level in ((change.first, arcs.la[k]), (change.second, arcs.lb[k]))
                ]
                if same_place(ends[0], step.first) and same_place(ends[1], step.second):
                    stays[k] = n
                    arcs.by_term[CHANGED, k] -= self.weights.offset
        return stays

    def _starts(self, frame: RunFrame) -> FloatArray | None:
        """Cost of starting a root at each level, points; other runs' begins are their parents' takeoffs."""
        old = self.laid.begins.get(frame.run.id)
        if frame.parent is not None or old is None:
            return None
        x, y = frame.plan.place(0.0)
        same = [
            old.parent is None and same_place(old.start, (x, y, float(frame.z(level, 0.0))))
            for level in frame.levels
        ]
        return np.where(same, 0.0, self.weights.run)


def _points(candidate: Candidate, head: int) -> tuple[Xyz, ...]:
    """Corners of a candidate from its outlet to one of its heads (index)."""
    branch = next(b for b in candidate.branches if b.head == head)
    return (candidate.outlet, *candidate.trunk, *branch.points)


def station_on(frame: RunFrame, at: Xyz) -> float | None:
    """Station of a place on a run's line in plan, ``None`` if it is not on it."""
    station, away = frame.plan.nearest(at[:2])
    return station if away <= SAME else None
