"""Obstructions near lines as drawn: nothing that a line could meet is lost."""

from __future__ import annotations

from typing import Any

import shapely
from shapely.geometry import LineString, Point, Polygon

from router.readers.as_drawn import clear_of_drops, yield_to_lines
from router.readers.drawn import Drawn, DrawnHead, DrawnPipe, DrawnSolid
from router.readers.floor import floor


def solid(name: str, x0: float, y0: float, x1: float, y1: float, kind: str = "duct") -> dict[str, Any]:
    corners = [[x0, y0], [x1, y0], [x1, y1], [x0, y1]]
    return {"id": name, "kind": kind, "polygon": corners, "elevations": [2000.0, 4000.0]}


def test_a_box_that_a_line_crosses_stays_on_both_sides() -> None:
    run: dict[str, Any] = {"id": "A", "plan": [[0.0, 0.0], [6000.0, 0.0]], "elevation": 3000.0, "size": 50}
    notes: list[str] = []
    found = yield_to_lines(
        [solid("D", 2000, -3000, 2400, 2000), solid("D/2", 5000, 900, 5400, 1000)], [run], 300.0, notes
    )
    assert [each["id"] for each in found] == ["D", "D/3", "D/2"]
    union = shapely.union_all([Polygon(each["polygon"]) for each in found])
    assert union.covers(Point(2200, -2900))
    assert union.covers(Point(2200, 1900))
    assert union.distance(LineString(run["plan"])) > 30.0
    assert len(notes) == 1


def test_a_light_between_two_heads_keeps_all_that_is_left() -> None:
    heads = [{"id": "H", "at": [500.0, 30.0, 2700.0]}]
    found = clear_of_drops([solid("L", 0, 0, 1000, 60, "light")], heads, [])
    assert [each["id"] for each in found] == ["L", "L/2"]
    assert sorted(round(Polygon(each["polygon"]).centroid.x, -2) for each in found) == [200.0, 800.0]


def test_what_lies_just_below_a_run_is_kept() -> None:
    """Upright heads: the run is lowest, but its pipe and its band reach lower."""
    heads = [DrawnHead("H1", (1500.0, 0.0, 3100.0), "upright", 15, "A")]
    pipes = [DrawnPipe("p", (0.0, 0.0, 3000.0), (6000.0, 0.0, 3000.0), 50, "branch", "A")]
    box = [(2000.0, -300.0), (2400.0, -300.0), (2400.0, 300.0), (2000.0, 300.0)]
    solids = [DrawnSolid("tray", "tray", box, 2500.0, 2690.0), DrawnSolid("desk", "other", box, 0.0, 2000.0)]
    result = floor(Drawn("low", heads, pipes, solids))
    assert [each.id for each in result.scenario.obstructions] == ["tray"]
