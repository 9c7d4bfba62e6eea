"""Units, placements, schemas and shapes: everything comes back where it was put, in mm."""

from __future__ import annotations

from math import dist
from typing import TYPE_CHECKING, Any

import pytest

pytest.importorskip("ifcopenshell")

from building import Building, box, complaints
from shapely.geometry import Point, Polygon

from router.readers.ifc import Mapping, read_ifc

if TYPE_CHECKING:
    from pathlib import Path

    from router.readers.drawn import Drawn, DrawnPipe, Xyz

BODIES = ("swept", "hollow", "mapped", "mesh", "disk", "cut", "axis")
FILES = [
    ("IFC4", "mm", 0.0),
    ("IFC2X3", "m", 0.0),
    ("IFC2X3", "mm", 37.0),
    ("IFC4", "m", 37.0),
    ("IFC2X3", "in", 37.0),
    ("IFC4", "ft", 37.0),
]
"""Schema, unit of length, turn of the building in degrees."""


def off(pipe: DrawnPipe, a: Xyz, b: Xyz) -> float:
    """How far a pipe's ends are from where they were put, whichever comes first."""
    return min(max(dist(pipe.a, p), dist(pipe.b, q)) for p, q in ((a, b), (b, a)))


@pytest.mark.parametrize(("schema", "unit", "turned"), FILES)
def test_units_and_nested_turned_placements(tmp_path: Path, schema: str, unit: str, turned: float) -> None:
    origin = (6000.0, -3000.0, 900.0) if turned else (0.0, 0.0, 0.0)
    building = Building(schema, unit, turned, origin)
    head = (1000.0, 2000.0, 2556.0)
    building.head("H1", (1000.0, 2000.0, 2500.0), port=head, type_name="Sprinkler pendent")
    for k, body in enumerate(BODIES):
        a, b = (1000.0, 2000.0, 2600.0 + 100 * k), (1500.0 - 90 * k, 3000.0, 2600.0 + 100 * k)
        building.pipe(f"P{k}", a, b, 60.3, body=body)
    building.solid("beam", "B1", [(0, 0), (3000, 500), (2900, 700), (100, 300)], 2800, 3100)
    building.mesh("duct", "D1", *prism_faces([(0, 0), (900, 0), (900, 400), (0, 400)], 3000, 3400))
    building.solid("column", "C1", [(5000, 0), (5400, 0), (5200, 400)], 0, 4000)
    path = building.write(tmp_path / "x.ifc")
    assert complaints(path) == []
    drawn = read_ifc([path])
    assert len(drawn.heads) == 1
    assert dist(drawn.heads[0].at, head) < 1e-5
    assert drawn.heads[0].kind == "pendent"
    pipes = {pipe.id: pipe for pipe in drawn.pipes}
    for k, body in enumerate(BODIES):
        a, b = (1000.0, 2000.0, 2600.0 + 100 * k), (1500.0 - 90 * k, 3000.0, 2600.0 + 100 * k)
        if f"P{k}" in pipes:  # the others lead to no head, see below
            assert off(pipes[f"P{k}"], a, b) < 0.01, body
            assert pipes[f"P{k}"].dn == (50 if body != "axis" else 0)
    assert "P0" in pipes
    solids = {solid.id: solid for solid in drawn.solids}
    beam = solids["B1"]
    assert (
        Polygon(beam.corners).hausdorff_distance(Polygon([(0, 0), (3000, 500), (2900, 700), (100, 300)]))
        < 0.1
    )
    assert [beam.low, beam.high] == pytest.approx([2800, 3100], abs=1e-3)
    assert len(beam.corners) == 4
    duct = solids["D1"]
    assert Polygon(duct.corners).hausdorff_distance(Polygon(box(0, 0, 900, 400))) < 0.1
    assert len(duct.corners) == 4
    assert len(solids["C1"].corners) == 3


@pytest.mark.parametrize("body", BODIES)
@pytest.mark.parametrize("schema", ["IFC2X3", "IFC4"])
def test_every_way_to_draw_a_pipe(tmp_path: Path, body: str, schema: str) -> None:
    """A long, a sloped and a very short pipe, all of one fire protection system."""
    building = Building(schema, "m", 11.0, (300.0, 600.0, 900.0))
    building.head("H1", (0.0, 0.0, 2500.0), type_name="Sprinkler upright")
    pipes = {
        "long": ((0.0, 0.0, 2500.0), (6000.0, 0.0, 2500.0)),
        "skew": ((0.0, 0.0, 2500.0), (700.0, 900.0, 1300.0)),
        "up": ((0.0, 0.0, 2500.0), (0.0, 0.0, 1500.0)),
        "short": ((0.0, 500.0, 2500.0), (0.0, 560.0, 2500.0)),
    }
    made = [building.pipe(name, a, b, 60.3, body=body) for name, (a, b) in pipes.items()]
    building.system("Fire Protection", made, "FIREPROTECTION")
    path = building.write(tmp_path / "x.ifc")
    assert complaints(path) == []
    found = {pipe.id: pipe for pipe in read_ifc([path]).pipes}
    assert sorted(found) == sorted(pipes)
    for name, (a, b) in pipes.items():
        assert off(found[name], a, b) < 0.01, name
        assert found[name].dn == (0 if body == "axis" else 50)


def test_a_hose_keeps_its_ends_and_an_elbow_of_pipe_is_no_silent_loss(tmp_path: Path) -> None:
    building = Building()
    f = building.file
    building.head("H1", (0.0, 0.0, 2500.0), type_name="Sprinkler pendent")
    line = f.create_entity(
        "IfcPolyline", [building.point(p) for p in ((0, 0, 0), (0, 0, 400), (800, 0, 400))]
    )
    disk = f.create_entity("IfcSweptDiskSolid", line, 12.0, None, 0.0, 1.0)
    hose = building.element("hose", "hose", (0.0, 0.0, 2500.0), [disk], shape="AdvancedSweptSolid")
    profile = f.create_entity(
        "IfcCircleProfileDef",
        "AREA",
        None,
        f.create_entity("IfcAxis2Placement2D", f.create_entity("IfcCartesianPoint", (0.0, 0.0)), None),
        30.0,
    )
    about = f.create_entity("IfcAxis1Placement", building.point((300, 0, 0)), building.way((0, 1, 0)))
    bend = f.create_entity("IfcRevolvedAreaSolid", profile, building.place((0, 0, 0)), about, 1.5)
    bent = building.element("pipe", "bend", (800.0, 0.0, 2900.0), [bend])
    building.system("Sprinkler", [hose, bent])
    drawn = read_ifc([building.write(tmp_path / "x.ifc")])
    assert [(pipe.id, pipe.role, pipe.a, pipe.b) for pipe in drawn.pipes] == [
        ("hose", "hose", (0.0, 0.0, 2500.0), (800.0, 0.0, 2900.0))
    ]
    assert any("without a straight round axis" in note and "bend" in note for note in drawn.notes)


def test_a_pipe_of_another_trade_is_an_obstruction_with_all_its_body(tmp_path: Path) -> None:
    building = Building()
    f = building.file
    building.head("H1", (0.0, 0.0, 2500.0), type_name="Sprinkler pendent")
    building.pipe("P1", (0.0, 0.0, 2500.0), (0.0, 0.0, 3000.0), 33.4)
    along: Xyz = (1.0, 0.0, 0.0)
    flat = f.create_entity("IfcAxis2Placement2D", f.create_entity("IfcCartesianPoint", (0.0, 0.0)), None)

    def swept(profile: str, *sizes: float, start: float = 0.0, length: float = 3000.0) -> Any:
        made = f.create_entity(profile, "AREA", None, flat, *sizes)
        place = building.place((start, 0.0, 0.0), along, (0.0, 0.0, 1.0))
        return f.create_entity("IfcExtrudedAreaSolid", made, place, building.way((0.0, 0.0, 1.0)), length)

    def line(*points: Xyz) -> Any:
        return f.create_entity("IfcPolyline", [building.point(each) for each in points])

    rod = swept("IfcCircleProfileDef", 30.0)
    bend = f.create_entity(
        "IfcSweptDiskSolid", line((0, 0, 0), (3000, 0, 0), (3000, 3000, 0)), 50.0, None, None, None
    )
    valve = swept("IfcRectangleProfileDef", 300.0, 300.0, start=1000.0, length=300.0)
    duct = swept("IfcRectangleProfileDef", 300.0, 600.0)
    short, long = line((500, 0, 0), (1000, 0, 0)), line((0, 0, 0), (3000, 0, 0))
    building.system(
        "Chilled water",
        [
            building.element("pipe", "insulated", (0, 2000, 3000), [rod, swept("IfcCircleProfileDef", 80.0)]),
            building.element("pipe", "bent", (0, 4000, 3000), [bend], shape="AdvancedSweptSolid"),
            building.element("pipe", "valved", (0, 8000, 3000), [rod, valve]),
            building.element("pipe", "square", (0, 10000, 3000), [duct], axis=long),
            building.element("pipe", "short axis", (0, 12000, 3000), [rod], axis=short),
            building.pipe("DN50 line", (0, 14000, 3000), (3000, 14000, 3000), 1.0, body="axis"),
        ],
    )
    drawn = read_ifc([building.write(tmp_path / "x.ifc")])
    for name, x, y, z, around in (
        ("insulated", 1500, 2000, 3000, 79.0),
        ("bent", 3000, 4000, 3000, 49.0),
        ("bent", 3000, 6900, 3000, 49.0),
        ("valved", 1150, 8000, 3000, 149.0),
        ("square", 1500, 10000, 3000, 149.0),
        ("short axis", 2900, 12000, 3000, 29.0),
        ("DN50 line", 1500, 14000, 3000, 30.0),
    ):
        parts = [each for each in drawn.solids if each.id.split("/")[0] == name]
        for side in (-1, 1):
            assert any(
                Polygon(each.corners).buffer(1e-6).covers(Point(x, y + side * around))
                and each.low <= z - around
                and z + around <= each.high
                for each in parts
            ), name
        assert max(each.high - each.low for each in parts) < 320.0


def test_openings_are_cut_out_of_slabs_and_walls(tmp_path: Path) -> None:
    building = Building("IFC4", "m", 15.0)
    slab = building.solid("slab", "S", box(0, 0, 6000, 4000), 3000, 3200)
    hole = building.solid("opening", "O", box(2000, 1000, 3000, 2000), 2900, 3300)
    building.held[building.storey.id()].remove(hole)
    building.root("IfcRelVoidsElement", RelatingBuildingElement=slab, RelatedOpeningElement=hole)
    path = building.write(tmp_path / "x.ifc")
    assert complaints(path) == []
    drawn = read_ifc([path])
    plans = [Polygon(solid.corners) for solid in drawn.solids]
    assert [solid.id for solid in drawn.solids] == ["S", "S/2"]
    assert sum(plan.area for plan in plans) == pytest.approx(23e6, rel=1e-6)
    assert not any(plan.contains(Point(2500, 1500)) for plan in plans)
    assert any("openings and other features" in note for note in drawn.notes)


def test_an_assembly_is_taken_by_its_parts_and_a_globalid_used_twice_is_two(tmp_path: Path) -> None:
    building = Building()
    whole = building.element("other", "truss", (0.0, 0.0, 0.0), ifc_class="IfcElementAssembly")
    one = building.solid("beam", "part", box(0, 0, 3000, 100), 3000, 3100)
    two = building.solid("beam", "part", box(0, 500, 3000, 600), 3000, 3100)
    two.GlobalId = one.GlobalId
    held = building.held[building.storey.id()]
    held.remove(one)
    building.relate("IfcRelAggregates", "RelatingObject", whole, [one])
    drawn = read_ifc([building.write(tmp_path / "x.ifc")])
    assert [solid.id for solid in drawn.solids] == ["part", "part-2"]
    assert any("assemblies" in note and "truss" in note for note in drawn.notes)
    assert any("is used twice" in note for note in drawn.notes)


def test_a_newer_schema_is_read_too(tmp_path: Path) -> None:
    building = Building("IFC4X3")
    building.head("H1", (0.0, 0.0, 2500.0), port=(0.0, 0.0, 2556.0), type_name="Sprinkler pendent")
    building.pipe("P1", (0.0, 0.0, 2556.0), (0.0, 0.0, 3000.0), 33.4)
    building.solid("beam", "B1", box(0, 500, 3000, 700), 3000, 3300)
    drawn = read_ifc([building.write(tmp_path / "x.ifc")])
    assert [head.at for head in drawn.heads] == [(0.0, 0.0, 2556.0)]
    assert [pipe.dn for pipe in drawn.pipes] == [25]
    assert [solid.high for solid in drawn.solids] == [3300.0]


def test_a_model_in_national_coordinates_is_brought_near(tmp_path: Path) -> None:
    east = (650_123_456.0, 5_310_987_654.0, 412_000.0)
    path = tmp_path / "x.ifc"

    def built(at: Xyz) -> Drawn:
        building = Building("IFC4", "m", 0.0, (0.0, 0.0, 0.0))
        x, y, z = at
        building.head("H1", (x, y, z + 2500), type_name="Sprinkler pendent")
        building.pipe("P1", (x, y, z + 2500), (x, y, z + 3000), 33.4)
        building.pipe("P2", (x, y, z + 3000), (x + 4000, y, z + 3000), 60.3)
        building.solid("beam", "B1", box(x, y + 400, x + 3000, y + 600), z + 3000, z + 3400)
        return read_ifc([building.write(path)])

    near, far = built((456.0, 654.0, 412_000.0)), built(east)
    shift = [a - b for a, b in zip(far.heads[0].at, near.heads[0].at, strict=True)]
    assert all(abs(value) < 3000 for value in shift[:2])
    assert all(abs(value - round(value / 1000) * 1000) < 1e-3 for value in shift)
    assert shift[2] == pytest.approx(0, abs=1e-3)
    for one, other in zip(near.pipes, far.pipes, strict=True):
        moved = tuple(a + b for a, b in zip(one.a, shift, strict=True))
        assert dist(moved, other.a) < 1e-3
    for (x, y), (u, v) in zip(near.solids[0].corners, far.solids[0].corners, strict=True):
        assert abs(x + shift[0] - u) < 1e-3
        assert abs(y + shift[1] - v) < 1e-3
    assert any("shifted by -(650123000, 5310988000, 0) mm" in note for note in far.notes), far.notes
    assert not any("shifted" in note for note in near.notes)


def prism_faces(
    corners: list[tuple[float, float]], low: float, high: float
) -> tuple[list[Xyz], list[list[int]]]:
    count = len(corners)
    points: list[Xyz] = [(x, y, z) for z in (low, high) for x, y in corners]
    faces = [[k, (k + 1) % count, count + (k + 1) % count, count + k] for k in range(count)]
    return points, [*faces, list(range(count))[::-1], list(range(count, 2 * count))]


def test_two_states_of_a_far_model_fit_together_by_their_origin(tmp_path: Path) -> None:
    far = (650_123_456.0, 5_310_987_654.0)
    mapping = Mapping(origin=(650_120_000.0, 5_310_980_000.0, 0.0))
    first, later = Building("IFC4", "m"), Building("IFC4", "m")
    first.head("H1", (*far, 2500.0), type_name="Sprinkler pendent")
    first.pipe("P1", (*far, 2500.0), (*far, 3000.0), 33.4)
    later.solid("beam", "B1", box(far[0] + 90_400, far[1], far[0] + 90_700, far[1] + 500), 3000, 3300)
    one = read_ifc([first.write(tmp_path / "1.ifc")], mapping)
    two = read_ifc([later.write(tmp_path / "2.ifc")], mapping)
    assert dist(one.heads[0].at, (3456.0, 7654.0, 2500.0)) < 1e-3
    assert dist(two.solids[0].corners[0], (93_856.0, 7654.0)) < 1e-3
    assert one.shift == two.shift == (0.0, 0.0, 0.0)
    assert read_ifc([tmp_path / "1.ifc"]).shift != read_ifc([tmp_path / "2.ifc"]).shift
