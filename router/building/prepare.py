"""From a scenario to run frames: the tree, who serves which head, sizes and levels."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from router.building.pinned import with_levels
from router.building.sizes import joining_of, planned_sizes
from router.geometry.plan import Lines, PlanLine
from router.geometry.solids import TOUCH, Solids
from router.profiles.blocked import Blocked, Crossing, crossings, limit_levels, merge_levels
from router.profiles.frame import MakeUp, RunFrame, cut_stretches, pitch_of
from router.trade.hangers import HIGH_PRESSURE_BAR
from router.trade.tables import Tables

if TYPE_CHECKING:
    from collections.abc import Collection

    from router.building.keep import Keep
    from router.geometry.plan import FloatArray
    from router.scenario.model import Head, Run, Scenario


BAND = 300.0
"""mm either way of the nominal level, where a run gives no band."""
BLOCK = 512
"""Heads that are assigned at a time: distances to all runs at once."""
SPARE = 2000.0
"""mm. More than radii, leads and make-up can reach beyond a run, its heads and the allowed rise."""
EVERYWHERE = 1e8
"""mm. Farther than any elevation that is read: a zone without elevations, the space below a ceiling."""
SHARED_LEVELS = 6
"""At most so many levels come to a run from what the runs below it must pass."""


@dataclass
class Prepared:
    """Everything that is settled before candidates are proposed."""

    scenario: Scenario
    tables: Tables
    solids: Solids
    frames: list[RunFrame]
    crossings: list[list[Crossing]]
    blocked: list[Blocked]
    roots: list[int]
    keep: Keep | None = None
    """The older route that stays where it can."""
    look: bool = False
    """Whether lines that leave heads unserved are decided a second time."""
    _near: dict[int, Solids] = field(default_factory=dict)

    def solids_at(self, frame: RunFrame) -> Solids:
        """Give the solids with only those near that something of the run could meet."""
        found = self._near.get(frame.index)
        if found is None:
            found = self._near[frame.index] = self.solids.around(*_extent(self, frame))
        return found

    @property
    def priced(self) -> bool:
        """Whether the user's price table is part of the objective."""
        prices = self.scenario.prices
        return prices is not None and (prices.as_objective or self.scenario.weights.price > 0)

    def heads_below(self, run: int) -> int:
        """Heads that hang on a run and on all runs below it."""
        frame = self.frames[run]
        return len(frame.heads) + sum(self.heads_below(child) for child in frame.children)


def _extent(prepared: Prepared, frame: RunFrame) -> tuple[FloatArray, FloatArray]:
    """Box that holds everything that a run, its takeoffs and their clearances can take: (low, high), mm."""
    scenario, rules = prepared.scenario, prepared.scenario.rules
    levels = [*frame.band, frame.run.elevation]
    pin = scenario.pins.runs.get(frame.run.id)
    if pin is not None and pin.level is not None:
        levels.append(pin.level)
    ends = np.array([0.0, frame.plan.length])
    z = [*np.add.outer(levels, frame.pitch * ends).ravel()]
    xy = [*frame.plan.vertices]
    for h in frame.heads:
        head = scenario.heads[h]
        z.append(head.at[2])
        xy += [np.array(head.at[:2]) - head.shift, np.array(head.at[:2]) + head.shift]
    for child in frame.children:
        other = prepared.frames[child]
        z += [*other.band, other.run.elevation, *other.levels]
        pin = scenario.pins.runs.get(other.run.id)
        z += [pin.level] if pin is not None and pin.level is not None else []
    more = prepared.solids.widest + SPARE
    low = np.array([*np.min(xy, axis=0), min(z) - rules.rise]) - more
    return low, np.array([*np.max(xy, axis=0), max(z) + rules.rise]) + more


def solids_of(scenario: Scenario) -> Solids:
    """Obstructions, keep-out zones for all pipe, and the spaces below ceilings as prisms."""
    rules = scenario.rules
    polygons, low, high, clearance, ids, ceiling = [], [], [], [], [], []
    for o in scenario.obstructions:
        polygons.append(o.polygon)
        low.append(o.elevations[0])
        high.append(o.elevations[1])
        clearance.append(rules.clearance if o.clearance is None else o.clearance)
        ids.append(o.id)
        ceiling.append(False)
    for zone in scenario.keep_out:
        if zone.of == "all":
            bottom, top = zone.elevations if zone.elevations is not None else (-EVERYWHERE, EVERYWHERE)
            polygons.append(zone.polygon)
            low.append(bottom)
            high.append(top)
            clearance.append(0.0)
            ids.append(zone.id)
            ceiling.append(False)
    for c in scenario.ceilings:
        polygons.append(c.polygon)
        low.append(c.elevation - EVERYWHERE)
        high.append(c.elevation)
        clearance.append(rules.ceiling_clearance)
        ids.append(c.id)
        ceiling.append(True)
    return Solids(polygons, low, high, clearance, ids, ceiling)


def assign_heads(scenario: Scenario, plans: list[PlanLine], keep: Keep | None = None) -> list[int]:
    """Index of the run that serves each head: the named (or pinned) one, else the nearest.

    Where an older route is kept, the run that served a head before goes first, if it is in reach.

    Branch lines come first; a main serves a head only where no branch line is
    in reach. Equal distances go to the run that stands first.
    """
    index = {run.id: i for i, run in enumerate(scenario.runs)}
    branch = np.array([run.kind == "branch" for run in scenario.runs])
    out = np.zeros(len(scenario.heads), dtype=np.int64)
    free = []
    for h, head in enumerate(scenario.heads):
        pin = scenario.pins.heads.get(head.id)
        named = pin.run if pin is not None and pin.run is not None else head.run
        before = keep.run_of(h) if keep is not None and named is None else None
        if before in index and plans[index[before]].nearest(head.at[:2])[1] <= scenario.rules.reach:
            named = before
        if named is not None:
            out[h] = index[named]
        else:
            free.append(h)
    lines = Lines(plans)
    for block in range(0, len(free), BLOCK):
        here = free[block : block + BLOCK]
        exact = lines.distances(np.array([scenario.heads[h].at[:2] for h in here]))
        distance = np.round(exact, 3)
        branches = np.where(branch & (exact <= scenario.rules.reach), distance, np.inf)
        in_reach = np.isfinite(branches).any(axis=1)
        # argmin takes the first of equals
        out[here] = np.where(in_reach, branches.argmin(axis=1), distance.argmin(axis=1))
    return [int(i) for i in out]


def _plans(scenario: Scenario, index: dict[str, int]) -> list[PlanLine]:
    """Plan lines; a child's first point is moved onto its parent's line (the reader allows 5 mm)."""
    given = [PlanLine(run.plan) for run in scenario.runs]
    plans = []
    for run in scenario.runs:
        points = list(run.plan)
        if run.supply is not None:
            parent = given[index[run.supply]]
            x, y = parent.point(parent.nearest(run.plan[0])[0])
            points[0] = (float(x), float(y))
        plans.append(PlanLine(points))
    return plans


def prepare(
    scenario: Scenario,
    wanted: Collection[int] | None = None,
    keep: Keep | None = None,
    without: Collection[int] = (),
) -> Prepared:
    """Build the frames of all runs. The scenario is valid and in millimetres.

    ``wanted``: roots (indices) of the trees that levels and sizes are worked out for; default: all.
    ``keep``: an older route that stays where it can. ``without``: heads (indices) that no run serves.
    """
    tables = Tables(scenario.system.standard, scenario.rules.tables or None)
    makeup = MakeUp(tables, scenario.rules)
    solids = solids_of(scenario)
    index = {run.id: i for i, run in enumerate(scenario.runs)}
    plans = _plans(scenario, index)
    dry = scenario.system.kind != "wet"
    frames = []
    for i, run in enumerate(scenario.runs):
        band = run.band if run.band is not None else (run.elevation - BAND, run.elevation + BAND)
        pitch = pitch_of(run, scenario.system, tables)
        frame = RunFrame(i, run, plans[i], "threaded", pitch, band, makeup, dry)
        frame.over_100_psi = (scenario.system.pressure or 0.0) > HIGH_PRESSURE_BAR
        frame.ceilings = scenario.ceilings
        frames.append(frame)
    for i, run in enumerate(scenario.runs):
        if run.supply is not None:
            parent = index[run.supply]
            frames[i].parent = parent
            frames[i].parent_station = plans[parent].nearest(run.plan[0])[0]
            frames[parent].children.append(i)
    for h, i in enumerate(assign_heads(scenario, plans, keep)):
        if h not in without:
            frames[i].heads.append(h)
    roots = [i for i, frame in enumerate(frames) if frame.parent is None]
    prepared = Prepared(scenario, tables, solids, frames, [], [], roots, keep)
    _mark_pendents(prepared)
    for frame in frames:
        frame.joining = joining_of(prepared, frame.index)
    prepared.crossings = [[] for _ in frames]
    prepared.blocked = [Blocked(frame, solids, []) for frame in frames]
    prepare_trees(prepared, roots if wanted is None else wanted)
    return prepared


def prepare_trees(prepared: Prepared, roots: Collection[int]) -> None:
    """Work out sizes, levels and blocked stretches of trees, by their roots (indices)."""
    below = [prepared.frames[r] for root in roots for r in _below(prepared.frames, root)]
    for frame in below:
        frame.stretches = cut_stretches(frame, planned_sizes(prepared, frame))
    for frame in below:
        prepared.crossings[frame.index] = crossings(frame, prepared.solids_at(frame))
    _levels(prepared, roots)
    for frame in below:
        prepared.blocked[frame.index] = Blocked(frame, prepared.solids, prepared.crossings[frame.index])


def _below(frames: list[RunFrame], root: int) -> list[int]:
    """Return a run and all runs below it."""
    return [root, *(r for child in frames[root].children for r in _below(frames, child))]


def _mark_pendents(prepared: Prepared) -> None:
    """Note on every run whether pendent heads hang on it or below it."""

    def mark(run: int) -> bool:
        frame = prepared.frames[run]
        below = [mark(child) for child in frame.children]
        own = any(prepared.scenario.heads[h].kind == "pendent" for h in frame.heads)
        frame.pendents_below = own or any(below)
        return frame.pendents_below

    for root in prepared.roots:
        mark(root)


def _own_limits(prepared: Prepared, frame: RunFrame) -> tuple[list[float], list[float]]:
    """Levels just under and over what the run, and its heads' straight arms, must pass."""
    under, over = limit_levels(frame, prepared.solids, prepared.crossings[frame.index])
    rules, tables, solids = prepared.scenario.rules, prepared.tables, prepared.solids_at(frame)
    radius = tables.od(rules.arm_size) / 2
    stations = [frame.plan.nearest(prepared.scenario.heads[h].at[:2])[0] for h in frame.heads]
    if not stations:
        return under, over
    elbow = tables.take_out("elbow_90", "run", rules.arm_size, rules.arm_size, joining="threaded")
    ends = np.array(
        [
            [*frame.plan.point(station), *prepared.scenario.heads[h].at[:2]]
            for h, station in zip(frame.heads, stations, strict=True)
        ]
    )
    low, high = np.minimum(ends[:, :2], ends[:, 2:]), np.maximum(ends[:, :2], ends[:, 2:])
    near = solids.near_each(low, high, radius + solids.widest)
    bands = solids.bands_of_pairs(ends, radius, *near)
    for k, bottom, top in zip(bands.pipe.tolist(), bands.low.tolist(), bands.high.tolist(), strict=True):
        dn = frame.stretch_at(stations[k]).dn
        rise = frame.makeup.between(frame.outlet_take_out(dn, rules.arm_size), elbow, rules.arm_size)
        down = frame.pitch * stations[k]
        under += [bottom - down, bottom - rise - down]
        over.append(top - down)
    for h, station in zip(frame.heads, stations, strict=True):
        low_side, high_side = _fitting_levels(prepared, frame, prepared.scenario.heads[h], station, elbow)
        under += low_side
        over += high_side
    return under, over


def _fitting_levels(
    prepared: Prepared, frame: RunFrame, head: Head, station: float, elbow: float
) -> tuple[list[float], list[float]]:
    """Levels at which the last vertical to a head just fits, where it does not at the nominal level, mm.

    From an outlet over or under the head, from an arm, and from an arm over or
    under its outlet. For those that fit at the nominal level nothing is gained.
    """
    if head.kind == "sidewall" or head.dry:
        return [], []
    size, tables, makeup = prepared.scenario.rules.arm_size, prepared.tables, frame.makeup
    outlet = frame.outlet_take_out(frame.stretch_at(station).dn, size)
    if head.thread < size:
        end = tables.take_out("reducer", "run", size, head.thread, joining="threaded")
        straight, arm = makeup.between(outlet, end, size), makeup.between(elbow, end, size)
    else:
        nipple = tables.shortest_nipple(size, joining="threaded") - tables.engagement(
            size, joining="threaded"
        )
        straight, arm = outlet + nipple, elbow + nipple
    rise = makeup.between(outlet, elbow, size)
    sign = 1.0 if head.kind == "pendent" else -1.0
    needs = (straight, arm, arm - rise, arm + rise)
    levels = [head.at[2] + sign * need - frame.pitch * station for need in needs]
    nominal = frame.run.elevation
    wanted = [level for level in levels if sign * (level - nominal) > TOUCH]
    return ([], wanted) if sign > 0 else (wanted, [])


def _head_levels(prepared: Prepared, frame: RunFrame) -> list[float]:
    """Levels at which a sidewall head is straight beside the run."""
    out = []
    for h in frame.heads:
        head = prepared.scenario.heads[h]
        if head.kind == "sidewall":
            station, _ = frame.plan.nearest(head.at[:2])
            out.append(head.at[2] - frame.pitch * station)
    return out


def _run_fixed(run: Run, frame: RunFrame, scenario: Scenario) -> list[float]:
    fixed = [run.elevation]
    if run.supply_elevation is not None:
        fixed.insert(0, run.supply_elevation)
    pin = scenario.pins.runs.get(run.id)
    if pin is not None and pin.level is not None:
        return [pin.level]
    return [*fixed, *frame.band]


def _levels(prepared: Prepared, roots: Collection[int]) -> None:
    """Set every frame's levels, parents first: own limits, its parent's levels, its children's limits."""
    scenario = prepared.scenario
    own = {
        r: (
            _run_fixed(prepared.frames[r].run, prepared.frames[r], scenario),
            _head_levels(prepared, prepared.frames[r]),
            *_own_limits(prepared, prepared.frames[r]),
        )
        for root in roots
        for r in _below(prepared.frames, root)
    }

    def below(frame: RunFrame) -> list[float]:
        """Give what the runs below must pass, nominal levels first, as levels of this run."""
        wanted: Counter[float] = Counter()
        for child in frame.children:
            other = prepared.frames[child]
            fixed, _, under, over = own[child]
            down = frame.pitch * other.parent_station
            values = [*under, *over, *below(other)]
            for value in {round(v - down, 3) for v in values}:
                wanted[value] += 1
            wanted[round(fixed[0] - down, 3)] += 2
        return [v for v, _ in sorted(wanted.items(), key=lambda kv: (-kv[1], kv[0]))[:SHARED_LEVELS]]

    def settle(index: int, inherited: list[float]) -> None:
        frame = prepared.frames[index]
        fixed, heads, under, over = own[index]
        pin = scenario.pins.runs.get(frame.run.id)
        if pin is not None and pin.level is not None:
            frame.levels = np.array([pin.level])
        else:
            frame.levels = merge_levels(frame, [*inherited, *fixed, *heads, *below(frame)], under, over)
            exact = [] if pin is None else [part.level for part in pin.levels]
            exact += [] if prepared.keep is None else prepared.keep.levels(frame)
            frame.levels = with_levels(frame.levels, exact, frame.band)
        for child in frame.children:
            other = prepared.frames[child]
            passed = [float(frame.z(level, other.parent_station)) for level in frame.levels]
            settle(child, passed)

    for root in roots:
        settle(root, [])
