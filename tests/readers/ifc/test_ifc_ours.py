"""What our own exports carry comes back exactly; what is damaged is named."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pytest

pytest.importorskip("ifcopenshell")

from building import Building, box, complaints

from router.readers.floor import floor
from router.readers.ifc import read_ifc
from router.scenario.carried import carried, settings_text
from router.scenario.errors import ScenarioError
from router.scenario.read import parse_scenario
from router.scenario.write import scenario_data

if TYPE_CHECKING:
    from pathlib import Path

    from router.scenario.model import Scenario

CLASSES = {name: name for name in ("beam", "column", "duct", "tray", "light", "pipe")}

RUNS: list[dict[str, Any]] = [
    {"id": "M", "kind": "main", "plan": [[0, 0], [0, 9000.25], [4000, 9000.25]], "size": 100},
    {"id": "B/1", "plan": [[0, 2000], [7000.5, 2000]], "supply": "M", "band": [2900, 3300]},
    {"id": "B2", "plan": [[0, 5000], [7000, 5400]], "supply": "M", "size": "schedule", "least_size": 32},
]
HEADS = [
    {"id": "H1", "at": [1500, 2400, 2700.5]},
    {"id": "H2", "at": [2500, 4600, 3500], "kind": "upright", "k_factor": 8.0, "thread": 20, "run": "B2"},
    {"id": "H3", "at": [4500, 5600, 2800], "kind": "sidewall", "facing": 90.0},
    {"id": "H4", "at": [5500, 2000, 2500], "dry": True, "exposed": 300, "shift": 50},
]
ODD = [[6000, 6000], [6500, 6000], [6250, 6250], [6500, 6500], [6000, 6500]]
BODIES = [
    {"id": "beam 1", "kind": "beam", "polygon": box(3000, 300, 3200, 8000), "elevations": [3200, 3600]},
    {"id": "odd", "polygon": ODD, "elevations": [0, 3000.5], "clearance": 75},
    {"id": "duct", "kind": "duct", "polygon": box(100, 7000, 2000, 7500), "elevations": [2800, 3000]},
]
CORNERS = [[7500, 100], [7900, 100], [7900, 900]]
KEEP_OUT = [
    {"id": "K1", "polygon": CORNERS, "of": "outlets", "why": "switchgear"},
    {"id": "K2", "polygon": CORNERS, "elevations": [2000, 2400]},
]


def scenario() -> Scenario:
    joining = [{"up_to": 50, "joining": "threaded"}, {"joining": "grooved"}]
    return parse_scenario(
        {
            "name": "round trip",
            "story": "Ünïcode: 25 mm — \"quoted\" 'single'",
            "system": {"kind": "dry", "hazard": "ordinary", "joining": joining},
            "runs": [{"elevation": 3100.125, **run} for run in RUNS],
            "heads": HEADS,
            "obstructions": BODIES,
            "ceilings": [{"id": "C", "polygon": box(0, 0, 9000, 9500), "elevation": 2750}],
            "keep_out": KEEP_OUT,
            "rules": {"reach": 5000, "styles": ["straight_drop", "return_bend"]},
            "pins": {"heads": {"H1": {"side": "top"}}},
            "weights": {"fitting": 900},
        }
    )


def built(given: Scenario, schema: str = "IFC4", unit: str = "mm", turned: float = 0.0) -> Building:
    """A scenario as our own export holds it."""
    building = Building(schema, unit, turned, (900.0, 300.0, 30.0) if turned else (0.0, 0.0, 0.0))
    building.sets(building.project, "BranchRouter_Scenario", {"Settings": settings_text(given)})
    for which, record, beside in carried(given):
        name = record["id"]
        if which == "runs":
            z = record["elevation"]
            for number, (p, q) in enumerate(zip(record["plan"], record["plan"][1:], strict=False)):
                made = building.pipe(f"{name}/{number}", (*p, z), (*q, z), 60.3)
                building.beside(made, "Run", beside, Run=name, Stretch=number)
        elif which == "heads":
            building.beside(building.head(name, tuple(record["at"])), "Head", beside)
        elif which == "obstructions":
            kind = CLASSES.get(record.get("kind", ""), "other")
            made = building.solid(kind, name, record["polygon"], *record["elevations"])
            building.beside(made, "Obstruction", beside)
        elif which == "ceilings":
            z = record["elevation"]
            building.beside(building.solid("ceiling", name, record["polygon"], z - 20, z), "Ceiling", beside)
        else:
            low, high = record.get("elevations") or (0.0, 3000.0)
            building.beside(building.solid("other", name, record["polygon"], low, high), "KeepOut", beside)
    return building


@pytest.mark.parametrize("schema", ["IFC2X3", "IFC4"])
def test_a_scenario_of_ours_comes_back_exactly(tmp_path: Path, schema: str) -> None:
    given = scenario()
    path = built(given, schema).write(tmp_path / "x.ifc")
    assert complaints(path) == []
    drawn = read_ifc([path])
    assert all(solid.exact for solid in drawn.solids)
    assert scenario_data(floor(drawn).scenario) == scenario_data(given)


def test_whatever_the_unit_and_placement(tmp_path: Path) -> None:
    given = scenario()
    drawn = read_ifc([built(given, "IFC4", "ft", 25.0).write(tmp_path / "x.ifc")])
    back = floor(drawn).scenario
    for which in ("runs", "heads", "obstructions", "ceilings", "keep_out"):
        for one, other in zip(getattr(given, which), getattr(back, which), strict=True):
            near(one.model_dump(), other.model_dump())


def near(one: Any, other: Any) -> None:
    if isinstance(one, dict):
        assert one.keys() == other.keys()
        for key in one:
            near(one[key], other[key])
    elif isinstance(one, list | tuple):
        assert len(one) == len(other)
        for a, b in zip(one, other, strict=True):
            near(a, b)
    elif isinstance(one, float):
        assert one == pytest.approx(other, abs=1e-3)
    else:
        assert one == other


def test_ours_and_a_foreign_structure_merge(tmp_path: Path) -> None:
    given = scenario()
    ours = built(given).write(tmp_path / "ours.ifc")
    steel = Building("IFC2X3", "m")
    steel.number = 1_000_000
    steel.solid("beam", "beam 1", box(3000, 4000, 3200, 6000), 3500, 3800)
    drawn = read_ifc([ours, steel.write(tmp_path / "steel.ifc")])
    assert [(solid.id, solid.exact) for solid in drawn.solids][-1] == ("beam 1-2", False)
    assert len(floor(drawn).scenario.obstructions) == len(given.obstructions) + 1


@pytest.mark.parametrize("ours_first", [True, False])
def test_a_copy_without_our_records_takes_nothing_away(tmp_path: Path, ours_first: bool) -> None:
    given = scenario()
    ours = built(given).write(tmp_path / "ours.ifc")
    bare = tmp_path / "bare.ifc"
    bare.write_text(ours.read_text().replace("'BranchRouter_", "'Other_"))
    drawn = read_ifc([ours, bare] if ours_first else [bare, ours])
    near(floor(drawn).scenario.model_dump()["heads"], given.model_dump()["heads"])
    assert [run["id"] for run in drawn.runs] == [run.id for run in given.runs]


@pytest.mark.parametrize("centres", ["fittings", "axis"])
def test_pieces_of_a_route_come_back_centre_to_centre(tmp_path: Path, centres: str) -> None:
    """Bodies reach from take-out to take-out; fittings' origins (or the axis curve) say the centres."""
    building = Building()
    corner, tee, inlet = (1000.0, 400.0, 3200.0), (1000.0, 0.0, 3200.0), (1000.0, 400.0, 2700.0)
    head = building.head("H1", inlet)
    building.beside(head, "Head", {"id": "H1"})
    arm = building.pipe("arm", (1000.0, 40.0, 3200.0), (1000.0, 362.0, 3200.0), 33.4)
    drop = building.pipe("drop", (1000.0, 400.0, 3162.0), (1000.0, 400.0, 2715.0), 33.4)
    for made, name in ((arm, "arm"), (drop, "drop")):
        values = {"Piece": name, "Kind": "arm", "Role": "head_arm", "Owner": "T1", "Run": "B1", "Size": 25}
        building.sets(made, "BranchRouter_Piece", values)
    if centres == "fittings":
        elbow, (e1, e2) = building.fitting(
            "elbow", corner, [(1000.0, 362.0, 3200.0), (1000.0, 400.0, 3162.0)]
        )
        outlet, (o1,) = building.fitting("tee", tee, [(1000.0, 40.0, 3200.0)])
        reducer, (r1, r2) = building.fitting("reducer", inlet, [(1000.0, 400.0, 2715.0), inlet])
        for fitting in (elbow, outlet, reducer):
            building.sets(fitting, "BranchRouter_Fitting", {"Fitting": fitting.Name, "Kind": "tee"})
        building.connect(building.port(arm, (1000.0, 40.0, 3200.0)), o1)
        building.connect(building.port(arm, (1000.0, 362.0, 3200.0)), e1)
        building.connect(building.port(drop, (1000.0, 400.0, 3162.0)), e2)
        building.connect(building.port(drop, (1000.0, 400.0, 2715.0)), r1)
        building.connect(building.port(head, inlet), r2)
    else:
        f = building.file
        for made, length, first in ((arm, 400.0, -40.0), (drop, 500.0, -38.0)):
            points = [building.point((0, 0, first)), building.point((0, 0, first + length))]
            line = f.create_entity("IfcPolyline", points)
            axis = f.create_entity("IfcShapeRepresentation", building.axis, "Axis", "Curve3D", [line])
            made.Representation.Representations = [axis, *made.Representation.Representations]
    path = building.write(tmp_path / "x.ifc")
    assert complaints(path) == []
    drawn = read_ifc([path])
    found = {pipe.id: (pipe.a, pipe.b, pipe.dn, pipe.role, pipe.line) for pipe in drawn.pipes}
    assert found == {
        "arm": (tee, corner, 25, "head_arm", "B1"),
        "drop": (corner, inlet, 25, "head_arm", "B1"),
    }
    assert drawn.heads[0].at == inlet
    assert not drawn.solids


@pytest.mark.parametrize(
    ("which", "record", "more", "named"),
    [
        ("Head", "not json", {}, "BranchRouter_Head.Beside"),
        ("Head", "[1]", {}, "BranchRouter_Head.Beside"),
        ("Head", "[" * 100_000, {}, "BranchRouter_Head.Beside"),
        ("Head", '{"kind":"upright"}', {}, "the record's id"),
        ("Head", '{"id":"H","kind":"flying"}', {}, '"flying"'),
        ("Head", '{"id":"H","thread":"3 ft"}', {}, "3 ft"),
        ("Head", '{"id":"H","facing":"north"}', {}, "north"),
        ("Run", '{"id":"R"}', {"Run": "R"}, "BranchRouter_Run.Stretch"),
        ("Run", '{"id":"R"}', {"Run": "R", "Stretch": 1}, "lacks its stretch 0"),
        ("Run", '{"id":"Q"}', {"Run": "R", "Stretch": 0}, "the id of run R"),
        ("Run", "", {"Run": "R", "Stretch": 0}, "BranchRouter_Run.Beside"),
        ("Obstruction", "{", {}, "BranchRouter_Obstruction.Beside"),
        ("Obstruction", '{"id":"O","clearance":"wide"}', {}, "a clearance in mm"),
        ("Ceiling", "{}", {}, "BranchRouter_Ceiling.Beside"),
        ("Piece", "", {"Piece": "p", "Role": "lost", "Size": 25}, '"lost"'),
        ("Piece", "", {"Piece": "p", "Role": "main", "Size": "big"}, "BranchRouter_Piece.Size"),
    ],
)
def test_a_damaged_text_of_ours_is_one_clear_error(
    tmp_path: Path, which: str, record: str, more: dict[str, Any], named: str
) -> None:
    building = Building()
    if which == "Head":
        made = building.head("the one", (0.0, 0.0, 0.0))
    elif which in ("Run", "Piece"):
        made = building.pipe("the one", (0.0, 0.0, 0.0), (900.0, 0.0, 0.0), 33.4)
    else:
        made = building.solid("other", "the one", box(0, 0, 100, 100), 0, 10)
    building.sets(made, f"BranchRouter_{which}", {**more, "Beside": record})
    with pytest.raises(ScenarioError) as caught:
        read_ifc([building.write(tmp_path / "x.ifc")])
    assert len(caught.value.faults) == 1
    assert named in str(caught.value)
    assert '"the one"' in str(caught.value)


def test_stretches_that_do_not_meet_are_named(tmp_path: Path) -> None:
    building = Building()
    for number, x in ((0, 0.0), (1, 1005.0)):
        made = building.pipe(f"s{number}", (x, 0.0, 0.0), (x + 1000.0, 0.0, 0.0), 33.4)
        building.beside(made, "Run", {"id": "R"}, Run="R", Stretch=number)
    with pytest.raises(ScenarioError, match=r"s1.* 5 mm: off the end of the stretch before it, run R"):
        read_ifc([building.write(tmp_path / "x.ifc")])


def test_settings_that_contradict_are_named(tmp_path: Path) -> None:
    files = []
    for name in ("a", "b"):
        building = Building()
        building.sets(building.project, "BranchRouter_Scenario", {"Settings": f'{{"name":"{name}"}}'})
        files.append(building.write(tmp_path / f"{name}.ifc"))
    with pytest.raises(ScenarioError, match=r"b\.ifc.*Settings.*says otherwise than a\.ifc"):
        read_ifc(files)
