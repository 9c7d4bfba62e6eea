"""Levels that are within the drawing's accuracy of keeping a limit are read as keeping it.

A drawing rounded to the millimetre cannot show that a pipe just touches its
clearance or that a nipple is just long enough. Nothing moves farther than the
drawing is inexact, and every move is remarked.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from router.infer.assign import upright

if TYPE_CHECKING:
    from router.geometry.solids import Solids
    from router.infer.build import Builder
    from router.infer.places import Places
    from router.infer.remarks import Remarks
    from router.infer.trees import RawRun, RawTakeoff, Step
    from router.scenario.model import Scenario
    from router.trade.tables import Tables

STEP_MM = 0.05
ENOUGH_MM = 0.05
"""Less than this short of a limit is none (the referee allows 0.1 mm)."""


@dataclass
class Nudge:
    """Moves levels of runs and arms within the drawing's accuracy."""

    places: Places
    scenario: Scenario
    tables: Tables
    solids: Solids
    """With ceilings."""
    walls: Solids
    """Without: a last vertical to a head passes the ceiling."""
    remarks: Remarks

    def __post_init__(self) -> None:
        """Work out which moves are tried, the smallest first."""
        count = int(self.places.exact / STEP_MM)
        self.tries = [s * k * STEP_MM for k in range(1, count + 1) for s in (1, -1)]

    def runs(self) -> None:
        """Move level stretches of runs off the clearances that they are just inside of."""
        if self.tries:
            for run in self.places.in_order():
                self.places.level_again(run)
                self._run(run)
            for takeoff in self.places.trees.takeoffs:
                self.places.arms(takeoff)

    def _run(self, run: RawRun) -> None:
        name = run.line.run.id
        parent = self.places.trees.runs.get(run.line.parent or "")
        for k, (steps, level) in enumerate(self.places.levels[name]):
            held = parent is not None and k == 0 and run.start in parent.station
            if level is None or held or self._clear(steps):
                continue
            low, high = run.line.band()
            for d in self.tries:
                if not low - 1e-6 <= level + d <= high + 1e-6:
                    continue
                self.places.put(run, steps, level + d)
                if self._clear(steps):
                    self.places.levels[name][k] = (steps, level + d)
                    text = f"{name}: drawn at level {level:.2f} mm, read as {level + d:.2f}, which is clear"
                    at = self.places.drawing.xyz(steps[0][1])
                    self.remarks.add("level", name, text, at, abs(d))
                    break
            else:
                self.places.put(run, steps, level)
        self.places.offsets(run)
        self._offsets(run)

    def _offsets(self, run: RawRun) -> None:
        """Move offsets along the run off the clearances that they are just inside of."""
        places = self.places
        for steps, level in places.levels[run.line.run.id]:
            if level is not None or len(steps) != 1 or places.held(run, steps[0]):
                continue
            near = [s for s in run.steps if {s[1], s[2]} & {steps[0][1], steps[0][2]}]
            if self._clear(near):
                continue
            _, a, b = steps[0]
            sa, sb = run.station[a], run.station[b]
            for d in self.tries:
                places.move(run, a, sa + d)
                places.move(run, b, sb + d)
                if self._clear(near):
                    text = f"{run.line.run.id}: offset drawn at station {sa:.2f} mm, read as {sa + d:.2f}"
                    self.remarks.add("level", run.line.run.id, text, places.drawing.xyz(a), abs(d))
                    break
            else:
                places.move(run, a, sa)
                places.move(run, b, sb)

    def _clear(self, steps: list[Step]) -> bool:
        heads = self.places.assigned.head_at
        last = [s for s in steps if s[2] in heads and upright(self.places.drawing, s[0], 5.0)]
        rest = [s for s in steps if s not in last]
        return self._free(rest, self.solids) and self._free(last, self.walls)

    def _free(self, steps: list[Step], solids: Solids) -> bool:
        if not steps:
            return True
        at = self.places.drawing.at
        starts = np.array([at[s[1]] for s in steps])
        ends = np.array([at[s[2]] for s in steps])
        known = self.tables.sizes
        radius = np.array([self.tables.od(s[0].dn) / 2 if s[0].dn in known else 0.0 for s in steps])
        return bool(solids.segments_clear(starts, ends, radius - ENOUGH_MM).all())

    def arms(self, built: Builder) -> bool:
        """Move arms up or down where a nipple or drop is just too short; tells whether any moved."""
        if not self.tries:
            return False
        pieces = {draft.id: built.shop.finish_piece(draft) for draft in built.shop.drafts}
        made = {t.id: t for t in built.takeoffs}
        moved = False
        for takeoff in self.places.trees.takeoffs:
            record = made[built.ids[id(takeoff)]]
            make_up = {
                step[0].key: pieces[name].make_up
                for step, name in zip(takeoff.steps, record.pieces, strict=True)
                if pieces[name].kind not in ("barrel", "hose") and pieces[name].dn in self.tables.sizes
            }
            moved = self._arms(takeoff, make_up) or moved
        return moved

    def _arms(self, takeoff: RawTakeoff, make_up: dict[int, float]) -> bool:
        drawing, moved = self.places.drawing, False
        fixed = self.places.fixed(takeoff)
        for nodes in self.places.level_sets(takeoff):
            if fixed & set(nodes):
                continue
            near = [s for s in takeoff.steps if {s[1], s[2]} & set(nodes)]
            if self._good(near, nodes, make_up, 0.0):
                continue
            was = {n: float(drawing.at[n][2]) for n in nodes}
            for d in self.tries:
                for n in nodes:
                    drawing.at[n] = np.array([*drawing.at[n][:2], was[n] + d])
                if self._good(near, nodes, make_up, d):
                    who = ", ".join([h.id for _, h in takeoff.heads] + takeoff.children)
                    z = was[nodes[0]]
                    text = f"{who}: arm drawn at {z:.2f} mm, read as {z + d:.2f}, which keeps its limits"
                    self.remarks.add("level", who, text, drawing.xyz(nodes[0]), abs(d))
                    moved = True
                    break
            else:
                for n in nodes:
                    drawing.at[n] = np.array([*drawing.at[n][:2], was[n]])
        return moved

    def _good(self, near: list[Step], nodes: list[int], make_up: dict[int, float], d: float) -> bool:
        """Whether pipes clear their obstructions and are long enough once the arm is ``d`` higher."""
        for pipe, a, b in near:
            if pipe.key not in make_up or not upright(self.places.drawing, pipe, 1.0):
                continue
            up = float(self.places.drawing.at[b][2] - self.places.drawing.at[a][2])
            longer = d if (b in nodes) == (up > 0) else -d
            least = self.tables.shortest_nipple(pipe.dn, joining="threaded")
            if make_up[pipe.key] + longer < least - ENOUGH_MM:
                return False
        return self._clear(near)
