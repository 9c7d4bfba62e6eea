"""Out to DXF and in again: the same scenario, the same route."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

import pytest
from dxf_written import FILES, given, route_text, routed, saved, scenario_text

from router.infer import infer_route
from router.readers.dxf import read_dxf
from router.readers.floor import floor
from router.readers.segments import Segment

if TYPE_CHECKING:
    from pathlib import Path

    from router.scenario.model import Scenario

LISTS = ("runs", "heads", "obstructions", "ceilings", "keep_out")
PLACES = ("plan", "at", "polygon", "elevation", "elevations")
NEAR_MM = 1.0


def assert_same(found: Scenario, wanted: Scenario) -> None:
    """Places within 1 mm (a polygon from whatever corner it begins), everything else equal."""
    a, b = found.model_dump(), wanted.model_dump()
    assert {k: v for k, v in a.items() if k not in LISTS} == {k: v for k, v in b.items() if k not in LISTS}
    for which in LISTS:
        assert [row["id"] for row in a[which]] == [row["id"] for row in b[which]]
        for one, other in zip(a[which], b[which], strict=True):
            assert {k: v for k, v in one.items() if k not in PLACES} == {
                k: v for k, v in other.items() if k not in PLACES
            }
            for key in PLACES:
                if key in other:
                    assert_near(one[key], other[key], ring=key == "polygon")


def assert_near(one: Any, other: Any, *, ring: bool) -> None:
    if other is None or one is None:
        assert one is other
    elif ring:
        assert len(one) == len(other)
        assert all(min(math.dist(p, q) for q in one) <= NEAR_MM for p in other)
        assert all(min(math.dist(p, q) for q in other) <= NEAR_MM for p in one)
    elif isinstance(other, (list, tuple)):
        assert len(one) == len(other)
        for p, q in zip(one, other, strict=True):
            assert_near(p, q, ring=False)
    else:
        assert abs(one - other) <= NEAR_MM


@pytest.mark.parametrize("name", FILES)
def test_a_scenario_comes_back(name: str, tmp_path: Path) -> None:
    drawn = read_dxf(saved(scenario_text(name), tmp_path))
    assert drawn.notes == []
    assert all(solid.exact for solid in drawn.solids)
    assert_same(floor(drawn).scenario, given(name))


@pytest.mark.parametrize("name", FILES)
def test_a_route_comes_back_with_its_scenario(name: str, tmp_path: Path) -> None:
    route = routed(name)
    drawn = read_dxf(saved(route_text(name), tmp_path))
    result = floor(drawn)
    assert drawn.notes == []
    assert_same(result.scenario, given(name))
    assert [pipe.id for pipe in result.drawing] == [piece.id for piece in route.pieces]
    for pipe, piece in zip(result.drawing, route.pieces, strict=True):
        assert math.dist(pipe.a, piece.start) < 0.01
        assert math.dist(pipe.b, piece.end) < 0.01
        assert pipe.dn == piece.dn
    segments = [
        Segment(pipe.id, pipe.a, pipe.b, pipe.dn, pipe.role, pipe.line, pipe.heads) for pipe in result.drawing
    ]
    inferred = infer_route(result.scenario, segments)
    assert inferred.remarks == []
    assert inferred.route.counts.fittings == route.counts.fittings
    assert inferred.route.counts.styles == route.counts.styles


def test_texts_that_a_drawing_could_spoil(tmp_path: Path) -> None:
    """Names with what DXF treats in its own way come back letter by letter."""
    from router.deliver.dxf import scenario_dxf
    from router.scenario.read import parse_scenario
    from router.scenario.write import scenario_data

    data = scenario_data(given("minimal.json"))
    odd = 'back\\slash \\U+00e9 \\P ^J ^ %%c {"x"} é 漢 🙂 end'
    data["name"] = odd
    data["story"] = " ".join(["long"] * 5000) + "   \\\\ end "
    data["heads"][0]["id"] = odd
    data["obstructions"][0]["id"] = "O" * 200
    data["keep_out"] = [
        {"id": "Z1", "polygon": [[0, 5e4], [9, 5e4], [9, 6e4]], "why": "very " * 9000},
        {"id": "Z2", "polygon": [[0, 5e4], [9, 5e4], [9, 6e4]], "elevations": [1, 2.5], "of": "outlets"},
    ]
    scenario = parse_scenario(data)
    drawn = read_dxf(saved(scenario_dxf(scenario), tmp_path))
    assert floor(drawn).scenario == scenario
