"""From the building to the paper: scale, turn of the plan, frames of plan and sections."""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np
import shapely

if TYPE_CHECKING:
    from collections.abc import Iterable

    from router.deliver.draw_canvas import Box, Xy
    from router.route.model import Route
    from router.scenario.model import Scenario

SCALES = (5, 10, 20, 25, 50, 75, 100, 150, 200, 250, 500, 1000, 2000, 5000)
SYMBOL_ROOM = 13.0
"""Paper distance that two neighbouring heads want for symbol and label, mm."""
LEAST_ROOM = 260.0
"""Distance of heads, mm, below which the plan does not grow for them: 1:20 at the finest."""
SMALL_PLAN, LARGE_PLAN = 360.0, 1500.0
SECTION_HEIGHT = 30.0
STRETCHES = (1, 2, 3, 4, 5, 10)


@dataclass(frozen=True)
class PlanFrame:
    """World plan (mm) to paper (mm): turned by ``turn`` degrees anticlockwise, scaled 1:``scale``."""

    scale: float
    turn: float
    origin: Xy = (0.0, 0.0)

    def paper(self, point: Iterable[float]) -> Xy:
        """Paper point of a world point; a third coordinate is ignored.

        Returns
        -------
        Xy
        """
        x, y, *_ = point
        c, s = math.cos(math.radians(self.turn)), math.sin(math.radians(self.turn))
        return (
            float(self.origin[0] + (c * x - s * y) / self.scale),
            float(self.origin[1] - (s * x + c * y) / self.scale),
        )

    def extent(self, points: Iterable[Iterable[float]]) -> Box:
        """Paper box of world points.

        Returns
        -------
        Box
        """
        shown = [self.paper(p) for p in points]
        xs, ys = [p[0] for p in shown], [p[1] for p in shown]
        return (min(xs), min(ys), max(xs), max(ys))


@dataclass(frozen=True)
class SectionFrame:
    """Station and elevation (mm) to paper (mm). ``stretch``: vertical exaggeration."""

    scale: float
    stretch: float
    station0: float
    top: float
    origin: Xy

    def x(self, station: float) -> float:
        """Paper x of a station.

        Returns
        -------
        float
        """
        return float(self.origin[0] + (station - self.station0) / self.scale)

    def y(self, z: float) -> float:
        """Paper y of an elevation.

        Returns
        -------
        float
        """
        return float(self.origin[1] + (self.top - z) * self.stretch / self.scale)

    def paper(self, station: float, z: float) -> Xy:
        """Paper point of a station and an elevation.

        Returns
        -------
        Xy
        """
        return (self.x(station), self.y(z))


def plan_points(scenario: Scenario, route: Route) -> list[tuple[float, float]]:
    """Every plan point that the sheet shows, mm.

    Returns
    -------
    list of (x, y)
    """
    points = [p for run in scenario.runs for p in run.plan]
    points += [(h.at[0], h.at[1]) for h in scenario.heads]
    points += [(h.inlet[0], h.inlet[1]) for h in route.heads]
    points += [p for o in scenario.obstructions for p in o.polygon]
    points += [p for c in scenario.ceilings for p in c.polygon]
    points += [(x, y) for piece in route.pieces for x, y, _ in (piece.start, piece.end)]
    return points


def plan_turn(scenario: Scenario, points: list[tuple[float, float]]) -> float:
    """Turn that lays the longest straight part of a run along the sheet, degrees anticlockwise.

    The smallest such turn is taken, or a quarter turn more where that makes a
    tall plan wide.

    Returns
    -------
    float
    """
    best = (0.0, 0.0)
    for run in scenario.runs:
        for (x0, y0), (x1, y1) in pairwise(run.plan):
            length = math.hypot(x1 - x0, y1 - y0)
            if length > best[0] + 1e-6:
                best = (length, math.degrees(math.atan2(y1 - y0, x1 - x0)))
    turn = -((best[1] + 45.0) % 90.0 - 45.0)
    turn = 0.0 if abs(turn) < 1e-9 else turn
    x0, y0, x1, y1 = PlanFrame(1.0, turn).extent(points)
    return turn - 90.0 if y1 - y0 > 1.5 * (x1 - x0) else turn


def plan_scale(scenario: Scenario, points: list[tuple[float, float]], turn: float) -> int:
    """Choose a usual scale at which neighbouring symbols have room and the sheet keeps a usable size.

    Returns
    -------
    int
        N of 1:N.
    """
    x0, _, x1, _ = PlanFrame(1.0, turn).extent(points)
    wanted = max(x1 - x0, 1.0) / SMALL_PLAN
    if len(scenario.heads) > 1:
        places = shapely.points([h.at[:2] for h in scenario.heads])
        _, nearest = shapely.STRtree(places).query_nearest(
            places, exclusive=True, return_distance=True, all_matches=False
        )
        wanted = min(
            max(wanted, 45.0),
            # Heads that almost touch are told apart by leaders: no scale gives them room.
            max(float(np.quantile(nearest, 0.2)) if len(nearest) else 1e9, LEAST_ROOM) / SYMBOL_ROOM,
        )
    wanted = max(wanted, (x1 - x0) / LARGE_PLAN)
    return max((s for s in SCALES if s <= wanted * 1.2), default=SCALES[0])


def section_stretch(heights: list[float], scale: float) -> int:
    """Vertical exaggeration that makes the median section readable (the same for all).

    Returns
    -------
    int
    """
    height = float(np.median(heights)) if heights else 1.0
    for stretch in STRETCHES:
        if height * stretch / scale >= SECTION_HEIGHT:
            return stretch
    return STRETCHES[-1]
