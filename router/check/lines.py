"""The line that a run should follow: its plan from the scenario, its profile from the route."""

from __future__ import annotations

from bisect import bisect_right
from itertools import pairwise
from math import dist, hypot
from typing import TYPE_CHECKING

from router.check.findings import TOLERANCE_MM
from router.check.vectors import Xy, Xyz, along

if TYPE_CHECKING:
    from router.route.model import ProfilePoint
    from router.scenario.model import Run


class Line:
    """A run's line in space.

    Parameters
    ----------
    plan : list of (x, y)
        From the supply end, mm.
    profile : list of ProfilePoint
        Corners (station, level) as the route has them.
    pitch : float
        mm per m, rising away from the supply.
    """

    def __init__(self, plan: list[Xy], profile: list[ProfilePoint], pitch: float) -> None:
        self.plan = plan or [(0.0, 0.0)]
        self.profile = [(point.station, point.level) for point in profile]
        self.pitch = pitch
        self.vertices = [0.0]
        for a, b in pairwise(self.plan):
            self.vertices.append(self.vertices[-1] + dist(a, b))

    @property
    def length(self) -> float:
        """Plan length, mm."""
        return self.vertices[-1]

    @property
    def bends(self) -> list[float]:
        """Stations of the plan's inner points, mm."""
        return self.vertices[1:-1]

    def point(self, station: float) -> Xy:
        """Plan point at a station, mm; beyond the ends the end itself."""
        k = min(max(bisect_right(self.vertices, station) - 1, 0), len(self.plan) - 1)
        if k + 1 >= len(self.plan) or station <= 0.0:
            return self.plan[0] if station <= 0.0 else self.plan[-1]
        span = self.vertices[k + 1] - self.vertices[k]
        t = (station - self.vertices[k]) / span if span > 0.0 else 0.0
        (ax, ay), (bx, by) = self.plan[k], self.plan[k + 1]
        return (ax + t * (bx - ax), ay + t * (by - ay))

    def directions(self, station: float) -> list[Xyz]:
        """Plan directions of the run at a station: one, or two at a bend."""
        found: list[Xyz] = []
        for k, (a, b) in enumerate(pairwise(self.plan)):
            span = dist(a, b)
            first, last = self.vertices[k] - TOLERANCE_MM, self.vertices[k + 1] + TOLERANCE_MM
            if span > 0.0 and first <= station <= last:
                found.append(((b[0] - a[0]) / span, (b[1] - a[1]) / span, 0.0))
        return found

    def levels(self, station: float) -> tuple[float, float]:
        """Lowest and highest level of the profile at a station; they differ at a vertical offset.

        Within the tolerance of a corner the corner's level counts as well.
        """
        if not self.profile:
            return (0.0, 0.0)
        if station <= self.profile[0][0]:
            found = [self.profile[0][1]]
        elif station >= self.profile[-1][0]:
            found = [self.profile[-1][1]]
        else:
            found = []
            for (sa, la), (sb, lb) in pairwise(self.profile):
                if sa <= station <= sb:
                    t = (station - sa) / (sb - sa) if sb > sa else 0.0
                    found.append(la + t * (lb - la))
        found += [level for corner, level in self.profile if abs(corner - station) <= TOLERANCE_MM]
        if not found:  # a profile whose stations do not rise: the rule "band" reports it
            found = [level for _, level in self.profile]
        return (min(found), max(found))

    def rise(self, station: float) -> float:
        """Return what the pitch adds at a station, mm."""
        return self.pitch / 1000.0 * station

    def stations_of(self, x: float, y: float, within: float = TOLERANCE_MM) -> list[float]:
        """Stations at which the plan passes a point within a tolerance, nearest pass of each leg."""
        found: list[float] = []
        for k, (a, b) in enumerate(pairwise(self.plan)):
            t, away = along((*a, 0.0), (*b, 0.0), (x, y, 0.0))
            if away <= within:
                found.append(self.vertices[k] + t * (self.vertices[k + 1] - self.vertices[k]))
        return found

    def nearest(self, x: float, y: float) -> tuple[float, float]:
        """Station of the plan's point nearest to (x, y), and how far that is, mm."""
        if len(self.plan) == 1:
            return 0.0, hypot(x - self.plan[0][0], y - self.plan[0][1])
        best = (0.0, float("inf"))
        for k, (a, b) in enumerate(pairwise(self.plan)):
            t, away = along((*a, 0.0), (*b, 0.0), (x, y, 0.0))
            if away < best[1]:
                best = (self.vertices[k] + t * (self.vertices[k + 1] - self.vertices[k]), away)
        return best

    def off(self, point: Xyz, station: float) -> float:
        """How far a point is from the line at that station, mm."""
        x, y = self.point(station)
        low, high = self.levels(station)
        z = point[2] - self.rise(station)
        up = max(low - z, z - high, 0.0)
        return hypot(hypot(point[0] - x, point[1] - y), up)


def snapped_plan(run: Run, runs: dict[str, Run]) -> list[Xy]:
    """Return a run's plan, a child's first point moved onto the nearest point of its parent."""
    plan = [(float(x), float(y)) for x, y in run.plan]
    parent = runs.get(run.supply or "")
    if parent is None or not plan or not parent.plan:
        return plan
    over = Line([(float(x), float(y)) for x, y in parent.plan], [], 0.0)
    station, _ = over.nearest(*plan[0])
    plan[0] = over.point(station)
    return plan
