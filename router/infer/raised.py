"""Whether a return bend's arm was raised past something: then it is a raised arm-over."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from router.geometry.solids import Solids

if TYPE_CHECKING:
    from router.infer.lines import RunLine
    from router.infer.meets import Drawing
    from router.infer.trees import RawTakeoff, Step
    from router.scenario.model import Scenario
    from router.trade.tables import Tables

BELOW_CEILING_MM = 1e5


def solids_of(scenario: Scenario, *, ceilings: bool = True) -> Solids:
    """Obstructions (and ceilings, which last verticals pass) as prisms, with their clearances."""
    rules = scenario.rules
    over = scenario.ceilings if ceilings else []
    polygons = [o.polygon for o in scenario.obstructions] + [c.polygon for c in over]
    low = [o.elevations[0] for o in scenario.obstructions] + [c.elevation - BELOW_CEILING_MM for c in over]
    high = [o.elevations[1] for o in scenario.obstructions] + [c.elevation for c in over]
    clearance = [rules.clearance if o.clearance is None else o.clearance for o in scenario.obstructions]
    clearance += [rules.ceiling_clearance] * len(over)
    ids = [o.id for o in scenario.obstructions] + [c.id for c in over]
    ceiling = [False] * len(scenario.obstructions) + [True] * len(over)
    return Solids(polygons, low, high, clearance, ids, ceiling)


class Raised:
    """Asks of arms how far they rise, and what is in the way of the least rise."""

    def __init__(self, scenario: Scenario, tables: Tables, solids: Solids) -> None:
        self.scenario, self.tables, self.solids = scenario, tables, solids

    def least(self, line: RunLine, run_dn: int, arm_dn: int) -> float:
        """Least rise of an arm over its outlet on a nipple, mm; 0 where the tables lack a size."""
        tables, gap = self.tables, self.scenario.rules.piece_clearance
        try:
            kind = "outlet" if line.uncut else "tee"
            outlet = tables.take_out(kind, "outlet", run_dn, arm_dn, joining=line.joining)
            if line.uncut:
                joining = "butt_weld" if line.joining == "welded" else line.joining
                outlet = max(outlet, tables.take_out("elbow_90", "outlet", run_dn, arm_dn, joining=joining))
            elbow = tables.take_out("elbow_90", "run", arm_dn, arm_dn, joining="threaded")
            made = tables.least_centres(outlet, elbow, arm_dn, joining="threaded")
            return max(made, (tables.od(run_dn) + tables.od(arm_dn)) / 2 + gap)
        except ValueError:
            return 0.0

    def past_something(
        self, drawing: Drawing, takeoff: RawTakeoff, way: list[Step], least: float, slack: float
    ) -> bool:
        """Whether an arm rises more than it need, and an obstruction or the head is why."""
        first = way[0]
        bottom = float(drawing.at[first[1]][2])
        rise = float(drawing.at[first[2]][2]) - bottom
        if rise <= least + slack:
            return False
        radius = self.tables.od(first[0].dn) / 2 if first[0].dn in self.tables.sizes else 20.0
        over = abs(rise - least - 2 * radius - self.scenario.rules.piece_clearance)
        if over <= slack and drawing.manner == "centres":
            return True  # by one arm and its clearance: over another arm (as our own routes do)
        level = bottom + least
        for _, a, b in way[1:-1]:
            ends = np.hstack([drawing.at[a][:2], drawing.at[b][:2]])[None, :]
            x0, x1 = sorted((ends[0, 0], ends[0, 2]))
            y0, y1 = sorted((ends[0, 1], ends[0, 3]))
            near = self.solids.near(x0, y0, x1, y1, radius + self.solids.widest)
            if not bool(self.solids.bands(ends, radius, near).clear(np.array([[level]]))[0, 0]):
                return True
        return takeoff.heads[0][1].at[2] > level - 2 * radius
