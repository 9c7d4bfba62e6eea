"""A scenario as a model: all of it can be got back from the file, by the library and plain arithmetic."""

from __future__ import annotations

import json
import sys
from typing import Any

import ifc_cases as cases
import ifc_read
import ifcopenshell.util.placement
import ifcopenshell.util.shape
import numpy as np
import pytest
from ifc_witness import with_set
from shapely import Polygon

from router.deliver.files import OutputError
from router.deliver.guids import guid_of
from router.deliver.ifc import scenario_ifc
from router.scenario import parse_scenario
from router.scenario.carried import settings_text
from router.scenario.write import scenario_data

NAMES = (*cases.OURS, *cases.OTHERWISE, *cases.MADE)


def placed(element: Any, at: Any) -> tuple[float, ...]:
    """A place of an element's own axes in the world, mm."""
    matrix = ifcopenshell.util.placement.get_local_placement(element.ObjectPlacement)
    return tuple(float(value) for value in (matrix @ [*at, 1.0])[:3])


def body(element: Any) -> Any:
    (view,) = [r for r in element.Representation.Representations if r.RepresentationIdentifier == "Body"]
    return view.Items[0]


def extrusion(element: Any) -> tuple[tuple[float, ...], tuple[float, ...]]:
    """Where the axis of a body's extrusion begins and ends."""
    solid = body(element)
    inner = ifcopenshell.util.placement.get_axis2placement(solid.Position)
    ends = [inner @ [0.0, 0.0, far, 1.0] for far in (0.0, solid.Depth)]
    return placed(element, ends[0][:3]), placed(element, ends[1][:3])


def beside(element: Any, name: str) -> dict[str, Any]:
    return dict(json.loads(ifc_read.sets(element)[name]["Beside"]))


def polygon(element: Any) -> list[list[float]]:
    ring = [
        placed(element, [*point.Coordinates, 0.0])[:2] for point in body(element).SweptArea.OuterCurve.Points
    ]
    assert ring[0] == ring[-1]
    return [list(corner) for corner in ring[:-1]]


def read_back(file: Any) -> dict[str, Any]:
    """The scenario's file again: geometry by placements and extrusions, the rest as it was carried."""
    data = dict(json.loads(ifc_read.sets(file.by_type("IfcProject")[0])["BranchRouter_Scenario"]["Settings"]))
    runs: dict[str, list[Any]] = {}
    for element in with_set(file, "BranchRouter_Run"):
        runs.setdefault(ifc_read.sets(element)["BranchRouter_Run"]["Run"], []).append(element)
    data["runs"] = []
    for stretches in runs.values():
        stretches.sort(key=lambda each: ifc_read.sets(each)["BranchRouter_Run"]["Stretch"])
        ends = [extrusion(each) for each in stretches]
        plan = [list(ends[0][0][:2]), *(list(end[1][:2]) for end in ends)]
        data["runs"].append(
            {**beside(stretches[0], "BranchRouter_Run"), "plan": plan, "elevation": ends[0][0][2]}
        )
    data["heads"] = [
        {**beside(each, "BranchRouter_Head"), "at": list(placed(each, (0.0, 0.0, 0.0)))}
        for each in with_set(file, "BranchRouter_Head")
    ]
    for which, name in (("obstructions", "Obstruction"), ("ceilings", "Ceiling"), ("keep_out", "KeepOut")):
        data[which] = []
        for each in with_set(file, f"BranchRouter_{name}"):
            record = {**beside(each, f"BranchRouter_{name}"), "polygon": polygon(each)}
            low, high = (end[2] for end in extrusion(each))
            if which == "ceilings":
                record["elevation"] = high
            elif "elevations" not in record:
                record["elevations"] = [low, high]
            elif record["elevations"] is None:
                del record["elevations"]
            data[which].append(record)
    return {"format": "branch-drop-router/scenario", "version": 1, "units": "mm", **data}


def near(a: Any, b: Any) -> bool:
    """Equal, numbers to a micrometre."""
    if isinstance(a, dict) and isinstance(b, dict):
        return a.keys() == b.keys() and all(near(a[key], b[key]) for key in a)
    if isinstance(a, list) and isinstance(b, list):
        return len(a) == len(b) and all(near(x, y) for x, y in zip(a, b, strict=True))
    if isinstance(a, float | int) and isinstance(b, float | int) and not isinstance(a, bool):
        return abs(a - b) < 1e-3
    return bool(a == b)


@pytest.mark.parametrize("name", NAMES)
def test_the_scenario_comes_back_from_the_file(name: str) -> None:
    scenario = cases.given(name)
    text = json.dumps(read_back(ifc_read.opened(cases.scenario_text(name))))
    again = parse_scenario(json.loads(text), "again")
    assert near(scenario_data(again), json.loads(json.dumps(scenario_data(scenario))))
    assert settings_text(again) == settings_text(scenario)


def test_elements_of_a_model_keep_their_globalids() -> None:
    """As ISO 16739 has them, where one thing alone has it; else ours."""
    guids = ["2O2Fr$t4X7Zf8NOew3FLOH", "3O2Fr$t4X7Zf8NOew3FLOH", "4O2Fr$t4X7Zf8NOew3FLOH"]
    data = scenario_data(cases.given("clinic_corridor"))
    for k in (0, 1):
        data["heads"][k]["guid"] = guids[k]
    data["heads"][2]["guid"] = guids[2]  # its first character says more than 128 bits
    part = dict(data["obstructions"][0])
    data["obstructions"][0]["guid"] = guids[1]  # a head says that it is this, too
    data["obstructions"] += [{**part, "id": f"part {k}", "guid": guids[0][::-1]} for k in (1, 2)]
    scenario = parse_scenario(data, "known")
    file = ifc_read.opened(scenario_ifc(scenario))
    found = {each.Tag: each.GlobalId for each in with_set(file, "BranchRouter_Head")}
    found |= {each.Tag: each.GlobalId for each in with_set(file, "BranchRouter_Obstruction")}
    heads = [head.id for head in scenario.heads]
    assert found[heads[0]] == guids[0]
    assert found[heads[1]] == guid_of(scenario.name, "heads", heads[1])
    assert found[heads[2]] == guid_of(scenario.name, "heads", heads[2])
    for item in scenario.obstructions:
        assert found[item.id] == guid_of(scenario.name, "obstructions", item.id)
    assert near(scenario_data(parse_scenario(read_back(file), "again")), scenario_data(scenario))


@pytest.mark.parametrize("name", ["clinic_corridor", "shapes 1", "shapes 2", "odd names"])
def test_solids_have_the_volume_and_the_place_of_the_obstructions(name: str) -> None:
    """Meshes by IfcOpenShell beside areas by shapely."""
    scenario = cases.given(name)
    items = {item.id: item for item in scenario.obstructions}
    file = ifc_read.opened(cases.scenario_text(name))
    found = with_set(file, "BranchRouter_Obstruction")
    assert len(found) == len(items)
    for element in found:
        item = items[element.Name]
        low, high = item.elevations
        area = Polygon(item.polygon).area
        assert ifcopenshell.util.shape.get_volume(ifc_read.mesh(element)) * 1e9 == pytest.approx(
            area * (high - low), rel=1e-6
        )
        points = ifc_read.corners(element)
        bounds = [*Polygon(item.polygon).bounds[:2], low, *Polygon(item.polygon).bounds[2:], high]
        assert [*points.min(axis=0), *points.max(axis=0)] == pytest.approx(bounds, abs=1e-3)


def test_obstructions_are_what_they_are_called() -> None:
    file = ifc_read.opened(scenario_ifc(cases.given("shapes 1")))
    classes = {each.ObjectType: each.is_a() for each in with_set(file, "BranchRouter_Obstruction")}
    assert classes == {
        "beam": "IfcBeam",
        "column": "IfcColumn",
        "slab": "IfcSlab",
        "wall": "IfcWall",
        "duct": "IfcDuctSegment",
        "tray": "IfcCableCarrierSegment",
        "pipe": "IfcPipeSegment",
        "light": "IfcLightFixture",
        "cable drum": "IfcBuildingElementProxy",
        "obstruction": "IfcBuildingElementProxy",
    }


def test_heads_point_as_their_kind_says() -> None:
    file = ifc_read.opened(scenario_ifc(cases.given("odd names")))
    for head in file.by_type("IfcFireSuppressionTerminal"):
        points = ifc_read.corners(head)
        away = points - placed(head, (0.0, 0.0, 0.0))
        (kind,) = ifc_read.sets(head)["Pset_FireSuppressionTerminalTypeSprinkler"]["SprinklerType"]
        way = {"PENDANT": (0, 0, -1), "SIDEWALL": (np.cos(np.pi / 6), 0.5, 0)}[kind]
        assert (away @ way).max() > 40
        assert (away @ way).min() == pytest.approx(0.0, abs=1e-6)


def test_without_the_library_the_error_says_what_to_install(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "ifcopenshell", None)
    with pytest.raises(OutputError, match=r"needs the extra ifc: pip install 'branch-drop-router\[ifc\]'"):
        scenario_ifc(cases.given("minimal"))
