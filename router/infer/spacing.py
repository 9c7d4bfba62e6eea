"""Neighbours on a run that are within the drawing's accuracy of their spacing are read as keeping it."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from router.infer.build import Builder
    from router.infer.places import Places
    from router.infer.remarks import Remarks
    from router.infer.trees import RawRun, RawTakeoff, Step
    from router.route.parts import Joint
    from router.scenario.model import Scenario
    from router.trade.tables import Tables

ENOUGH_MM = 0.05


@dataclass
class Spacing:
    """Moves offsets and doglegged takeoffs along their run, at most as far as the drawing is inexact."""

    places: Places
    scenario: Scenario
    tables: Tables
    remarks: Remarks

    def settle(self, built: Builder) -> bool:
        """Move what stands just too close to its neighbour; tells whether anything moved."""
        moved = False
        for run in self.places.in_order():
            offsets = [s for s, level in self._single(run) if level is None]
            for step in run.steps:
                stops = [(run.station[n], n) for n in (step[1], step[2])]
                low, high = stops[0][0], stops[1][0]
                stops += [(s, n) for n, s in run.station.items() if n in run.seats and low < s < high]
                for (_, first), (_, second) in pairwise(sorted(stops)):
                    if any({first, second} == {s[1], s[2]} for s in offsets):
                        continue
                    short = self._short(built, run, step, first, second)
                    if ENOUGH_MM < short <= 2 * self.places.exact:
                        moved = self._apart(run, offsets, first, second, short) or moved
        return moved

    def _single(self, run: RawRun) -> list[tuple[Step, float | None]]:
        return [(steps[0], level) for steps, level in self.places.levels[run.line.run.id] if len(steps) == 1]

    def _short(self, built: Builder, run: RawRun, step: Step, first: int, second: int) -> float:
        """How much two neighbours lack of their centre to centre distance, mm; 0 where there is no limit."""
        rules, dn = self.scenario.rules, step[0].dn
        apart = float(np.linalg.norm(self.places.drawing.at[first] - self.places.drawing.at[second]))
        if dn not in self.tables.sizes:
            return 0.0
        rooms = [self._room(built, run, step, node) for node in (first, second)]
        if first == run.start and rooms[0] is None and rooms[1] is not None and run.line.parent is None:
            # from the supply a whole nipple, engaged at one end
            joining = run.line.joining
            nipple = self.tables.shortest_nipple(dn, joining=joining)
            return nipple - self.tables.engagement(dn, joining=joining) + rooms[1] - apart
        if None in rooms:
            return 0.0
        need = rules.outlet_spacing
        on_run = [(run.line.run.id, node) in self.places.by_node for node in (first, second)]
        if need is None or not all(on_run):
            try:
                need = self.tables.least_centres(
                    rooms[0] or 0.0, rooms[1] or 0.0, dn, joining=run.line.joining
                )
            except ValueError:
                return 0.0
        return need + rules.working_allowance - apart

    def _room(self, built: Builder, run: RawRun, step: Step, node: int) -> float | None:
        joint: Joint | None
        if node in run.seats:
            joint = next((j for (n, _), j in built.outlets.items() if n == node), None)
            if joint is None:
                return None
            dn = min(size for _, size, _ in joint.ports)
            return self.tables.take_out("outlet", "run", run.seats[node], dn, joining=joint.joining)
        joint, port = built.joint(node, step[0])
        if joint is None or joint.kind in ("cap", "plug"):
            return None
        if joint.kind.startswith("elbow"):
            port = "run" if step[0].dn == max(size for _, size, _ in joint.ports) else "outlet"
        return built.shop.take_out(joint, port)

    def _apart(self, run: RawRun, offsets: list[Step], first: int, second: int, by: float) -> bool:
        """Move the second on, or else the first back."""
        for node, d in ((second, by), (first, -by)):
            offset = next((s for s in offsets if node in (s[1], s[2])), None)
            if offset is not None and not self.places.held(run, offset):
                for end in offset[1:]:
                    self.places.move(run, end, run.station[end] + d)
                self._say(f"offset of {run.line.run.id}", node, abs(d))
                return True
            takeoffs = self.places.by_node.get((run.line.run.id, node), [])
            if len(takeoffs) == 1 and self._free(run, node, takeoffs[0]):
                self._slide(run, node, takeoffs[0], d)
                return True
        return False

    def _free(self, run: RawRun, node: int, takeoff: RawTakeoff) -> bool:
        """Whether a takeoff may slide: its heads are at other stations than its outlet."""
        own = [run.line.nearest(np.array(head.at))[0] for _, head in takeoff.heads]
        return bool(own) and all(abs(s - run.station[node]) > self.places.within for s in own)

    def _slide(self, run: RawRun, node: int, takeoff: RawTakeoff, d: float) -> None:
        before = self.places.drawing.at[node].copy()
        self.places.move(run, node, run.station[node] + d)
        shift = self.places.drawing.at[node] - before
        fixed = self.places.fixed(takeoff)
        # what stands over the head's own place stays
        held = [self.places.drawing.at[n][:2] for n, _ in takeoff.heads]
        for n in {n for s in takeoff.steps for n in s[1:]} - fixed:
            at = self.places.drawing.at[n]
            if all(float(np.hypot(*(at[:2] - h))) > self.places.within for h in held):
                self.places.drawing.at[n] = at + np.array([shift[0], shift[1], 0.0])
        self._say(", ".join(head.id for _, head in takeoff.heads), node, abs(d))

    def _say(self, who: str, node: int, by: float) -> None:
        text = f"{who}: read {by:.2f} mm farther from its neighbour than drawn, which keeps the spacing"
        self.remarks.add("level", who, text, self.places.drawing.xyz(node), by)
