"""Whole buildings from a seed: regular, rotated and curved floors; a main whose offsets are shared.

Every floor stands by itself, with its own main. The obstructions of a line lie
in the line's own frame (:func:`made_floors.bay`) and are turned into place with it.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any, Literal

import numpy as np
from made_floors import LEVEL, LINES_APART, SPACING, STOREY, Records, bay, box, floor, made

if TYPE_CHECKING:
    from collections.abc import Callable

    from router.scenario.model import Scenario

    Place = Callable[[float, float], tuple[float, float]]

Shape = Literal["regular", "rotated", "curved"]
TURN_DEG = 27.0
"""How far rotated floors are turned: along neither axis."""
RADIUS = 30_000.0
"""Of the arc that a curved main follows, mm."""
DUCT = (500.0, 900.0)
"""mm from the main: where the duct lies that crosses several branches."""


def building(floors: int, lines: int, heads: int, seed: int, shape: Shape, density: str) -> Scenario:
    """``floors`` floors of ``lines`` lines with ``heads`` heads each."""
    name = f"{shape} building, {density}, {floors} x {lines} x {heads}"
    if shape == "regular":
        return floor(lines, heads, seed, floors=floors, density=density).model_copy(update={"name": name})
    rng = np.random.default_rng(seed)
    runs: Records = []
    hs: Records = []
    obs: Records = []
    for f in range(floors):
        level = LEVEL + STOREY * f
        main, places = (_rotated if shape == "rotated" else _curved)(lines)
        runs.append({"id": f"M{f}", "plan": main, "elevation": level, "kind": "cross_main", "size": 100})
        for n, place in enumerate(places):
            line = f"F{f}L{n}"
            plan = [_point(place, 0.0, 0.0), _point(place, heads * SPACING + 500.0, 0.0)]
            runs.append({"id": line, "plan": plan, "elevation": level, "kind": "branch", "supply": f"M{f}"})
            heads_here, near = bay(rng, line, heads, 0.0, 0.0, level, density)
            for head in heads_here:
                head["at"][:2] = _point(place, *head["at"][:2])
            for o in near:
                o["polygon"] = [_point(place, *p) for p in o["polygon"]]
            hs += heads_here
            obs += near
    return made(name, runs, hs, obs)


def _point(place: Place, x: float, y: float) -> list[float]:
    return [round(v, 3) for v in place(x, y)]


def _turned(origin: tuple[float, float], angle: float) -> Place:
    """Give what puts a point of a frame with this origin and x axis (radians) into the plan."""
    cos, sin = math.cos(angle), math.sin(angle)
    return lambda x, y: (origin[0] + x * cos - y * sin, origin[1] + x * sin + y * cos)


def _rotated(lines: int) -> tuple[list[list[float]], list[Place]]:
    """Give the plan of a straight main and the frames of its lines, all turned."""
    angle = math.radians(TURN_DEG)
    turn = _turned((0.0, 0.0), angle)
    tees = [1500.0 + LINES_APART * n for n in range(lines)]
    return [_point(turn, 0.0, 0.0), _point(turn, 0.0, tees[-1] + 5.0)], [
        _turned(turn(0.0, y), angle) for y in tees
    ]


def _curved(lines: int) -> tuple[list[list[float]], list[Place]]:
    """Give a main along an arc, as a polyline, and its lines: radial, outwards, square to their piece."""
    step = LINES_APART / RADIUS
    corner = RADIUS / math.cos(step / 2)
    at = [(n - 0.5) * step for n in range(lines)]
    plan = [[round(corner * math.cos(t), 3), round(corner * math.sin(t), 3)] for t in at]
    places = [_turned((RADIUS * math.cos(n * step), RADIUS * math.sin(n * step)), n * step)
              for n in range(lines)]  # fmt: skip
    return [*plan, _point(places[-1], 0.0, 5.0)], places


def shared_offsets(lines: int, heads: int, seed: int = 0) -> Scenario:
    """Make a main with branches, and ducts along it that cross three or four of them each at their level.

    One offset of the main takes all of them below (or over) the duct; by
    themselves they would each need their own. The main comes in at its nominal
    level. Beams in the lines' way are few.
    """
    rng = np.random.default_rng(seed)
    end = 1500.0 + LINES_APART * (lines - 1)
    runs: Records = [
        {"id": "M", "plan": [[0, 0], [0, end + 5]], "elevation": LEVEL, "kind": "cross_main", "size": 65,
         "supply_elevation": LEVEL}
    ]  # fmt: skip
    hs: Records = []
    obs: Records = []
    first = 1
    while first < lines:
        count = int(rng.integers(3, 5))
        last = min(first + count - 1, lines - 1)
        y0 = 1500.0 + LINES_APART * first - 700.0
        y1 = 1500.0 + LINES_APART * last + 700.0
        low = LEVEL + float(rng.uniform(-60, 60)) - 100.0
        obs.append(box(f"duct {first}", "duct", DUCT[0], y0, DUCT[1] - DUCT[0], y1 - y0, low, low + 250.0))
        first = last + 2
    for n in range(lines):
        y = 1500.0 + LINES_APART * n
        name = f"L{n}"
        runs.append({"id": name, "plan": [[0, y], [heads * SPACING + 500, y]], "elevation": LEVEL,
                     "kind": "branch", "supply": "M"})  # fmt: skip
        more: tuple[Any, Any] = bay(rng, name, heads, 0.0, y, LEVEL, "light")
        hs += more[0]
        obs += more[1]
    return made(f"shared offsets, {lines} x {heads}", runs, hs, obs)
