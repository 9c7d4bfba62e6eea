"""From where to look at a place: across the pipe, near, with as little as possible in between."""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import product
from typing import TYPE_CHECKING

import shapely
from shapely.geometry import LineString, Polygon
from shapely.strtree import STRtree

if TYPE_CHECKING:
    from collections.abc import Sequence

    from router.route.model import Xyz
    from router.scenario.model import Scenario

FIELD_OF_VIEW = 60.0
"""Degrees. BCF 2.1 asks for 45 to 60."""

NEAREST_MM = 1500.0
FARTHEST_MM = 12000.0
AROUND_MM = 3000.0
"""What lies farther from the place than this need not be in the picture."""

TURNS = (0.0, 180.0, 35.0, -35.0, 145.0, -145.0, 70.0, -70.0)
"""Degrees from square across the pipe, in the order in which they are preferred."""

TILTS = (20.0, -15.0, 50.0)
"""Degrees by which the camera stands above the place (below it: negative), likewise."""


@dataclass(frozen=True)
class Camera:
    """Where it stands (mm), where it looks and what is up there: unit vectors."""

    at: Xyz
    towards: Xyz
    up: Xyz


class Views:
    """Cameras in one scenario: its obstructions and ceilings may stand in the way."""

    def __init__(self, scenario: Scenario) -> None:
        plates = [(one.polygon, one.elevation, one.elevation) for one in scenario.ceilings]
        shapes = [(one.polygon, *one.elevations) for one in scenario.obstructions] + plates
        sound = [(Polygon(polygon), low, high) for polygon, low, high in shapes if len(polygon) > 2]
        sound = [one for one in sound if one[0].is_valid]
        self.plans = [one[0] for one in sound]
        self.spans = [one[1:] for one in sound]
        self.tree = STRtree(self.plans)

    def at(self, place: Xyz, points: Sequence[Xyz], along: tuple[float, float]) -> Camera:
        """Choose a camera.

        Parameters
        ----------
        place
            What to look at, mm.
        points
            What should be in the picture as well, as far as it is near.
        along
            Direction of the pipe in plan; (0, 0) where there is none.

        Returns
        -------
        Camera
            The first by :data:`TILTS` and :data:`TURNS` with the fewest things before the place.
        """
        near = [math.dist(place, point) for point in points if math.dist(place, point) <= AROUND_MM]
        wide = max(near, default=0.0) * 1.25 / math.tan(math.radians(FIELD_OF_VIEW / 2))
        away = min(max(wide, NEAREST_MM), FARTHEST_MM)
        across = math.degrees(math.atan2(-along[0], along[1])) if any(along) else -60.0
        best: tuple[int, Camera] | None = None
        for tilt, turn in product(TILTS, TURNS):
            camera = _standing(place, across + turn, tilt, away)
            hidden = self._between(camera.at, place)
            if best is None or hidden < best[0]:
                best = (hidden, camera)
            if not hidden:
                break
        assert best is not None
        return best[1]

    def _between(self, eye: Xyz, place: Xyz) -> int:
        """Count what the line of sight goes through before it is at the place."""
        sight = LineString([eye[:2], place[:2]])
        count = 0
        for k in self.tree.query(sight, predicate="intersects"):
            part = shapely.intersection(sight, self.plans[k])
            if part.is_empty:
                continue
            steps = [
                sight.project(shapely.Point(x, y)) / sight.length for x, y in shapely.get_coordinates(part)
            ]
            first, last = max(min(steps), 0.0), min(max(steps), 0.98)  # what is touched is no hindrance
            if first >= last:
                continue
            heights = [eye[2] + share * (place[2] - eye[2]) for share in (first, last)]
            low, high = self.spans[k]
            count += min(heights) <= high and max(heights) >= low
        return count


def _standing(place: Xyz, turn: float, tilt: float, away: float) -> Camera:
    """Stand ``away`` from the place, seen from it at an angle in plan and above the horizon."""
    a, b = math.radians(turn), math.radians(tilt)
    out = (math.cos(a) * math.cos(b), math.sin(a) * math.cos(b), math.sin(b))
    at = (place[0] + away * out[0], place[1] + away * out[1], place[2] + away * out[2])
    up = (-math.cos(a) * math.sin(b), -math.sin(a) * math.sin(b), math.cos(b))
    return Camera(at, (-out[0], -out[1], -out[2]), up)
