"""The scenario's runs as lines that drawn pipes are held against."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from router.geometry.plan import PlanLine
from router.profiles.frame import pitch_of
from router.trade.joining import joining_for
from router.trade.tables import Tables

if TYPE_CHECKING:
    from collections.abc import Sequence

    from router.infer.meets import Vector
    from router.readers.segments import Segment
    from router.scenario.model import Run, Scenario

BAND_MM = 300.0
"""Either way of the nominal elevation, where the scenario gives no band (as in the scenario's records)."""


@dataclass(frozen=True)
class RunLine:
    """A run: its plan (a child's first point on its parent), pitch in mm per mm, and where it hangs."""

    index: int
    run: Run
    plan: PlanLine
    pitch: float
    joining: str
    parent: str | None
    parent_station: float

    @property
    def uncut(self) -> bool:
        """Whether outlets sit on an uncut pipe (welded and mechanical outlets)."""
        return self.joining in ("welded", "grooved")

    def band(self) -> tuple[float, float]:
        """Lowest and highest level, mm."""
        return self.run.band or (self.run.elevation - BAND_MM, self.run.elevation + BAND_MM)

    def nearest(self, at: Vector) -> tuple[float, float]:
        """Station nearest to a place, and how far that is in plan, mm."""
        return self.plan.nearest((float(at[0]), float(at[1])))

    def level(self, z: float, station: float) -> float:
        """Level on the run's datum of an elevation at a station, mm."""
        return z - self.pitch * station

    def place(self, station: float, level: float) -> Vector:
        """World place of a station at a level, mm."""
        x, y = self.plan.point(station)
        return np.array([x, y, level + self.pitch * station])

    def along(self, station: float) -> Vector:
        """Plan direction away from the supply, as a unit vector in space."""
        x, y = self.plan.section_at(station).along
        return np.array([x, y, 0.0])

    def bend_at(self, station: float, within: float) -> float | None:
        """Station of the plan's bend within a distance, mm."""
        inner = [float(s) for s in self.plan.stations[1:-1] if abs(float(s) - station) <= within]
        return min(inner, key=lambda s: abs(s - station), default=None)


ON_LINE_MM = 60.0
"""A drawn pipe of which both ends are this near to a run in plan counts for its size."""


def _largest(plan: PlanLine, segments: Sequence[Segment]) -> int:
    near = [
        s.dn
        for s in segments
        if s.role != "hose" and all(plan.nearest(end[:2])[1] <= ON_LINE_MM for end in (s.a, s.b))
    ]
    return max(near, default=0)


def run_lines(scenario: Scenario, segments: Sequence[Segment]) -> dict[str, RunLine]:
    """Make the lines of all runs, in the scenario's order.

    ``segments``: the drawing, which tells the largest size of each run where
    the system's joining depends on it.
    """
    tables = Tables(scenario.system.standard, scenario.rules.tables)
    runs = {run.id: run for run in scenario.runs}
    made = {}
    for index, run in enumerate(scenario.runs):
        points = [(float(x), float(y)) for x, y in run.plan]
        parent = runs.get(run.supply or "")
        station = 0.0
        if parent is not None:
            over = PlanLine([(float(x), float(y)) for x, y in parent.plan])
            station, _ = over.nearest(points[0])
            x, y = over.point(station)
            points[0] = (float(x), float(y))
        made[run.id] = RunLine(
            index=index,
            run=run,
            plan=PlanLine(points),
            pitch=pitch_of(run, scenario.system, tables),
            joining=run.joining or joining_for(scenario.system.joining, _largest(PlanLine(points), segments)),
            parent=parent.id if parent is not None else None,
            parent_station=station,
        )
    return made
