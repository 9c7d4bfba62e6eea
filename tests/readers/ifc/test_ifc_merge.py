"""Several files of one building: structure, mechanical and sprinklers."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

pytest.importorskip("ifcopenshell")

from building import Building, box

from router.readers.ifc import read_ifc
from router.scenario.errors import ScenarioError

if TYPE_CHECKING:
    from pathlib import Path


def files(tmp_path: Path) -> list[Path]:
    structure = Building("IFC2X3", "ft", 20.0, (300.0, 0.0, 90.0))
    structure.number = 1000
    for k in range(3):
        structure.solid(
            "beam", "W12x26", box(1000 * k, 0, 1000 * k + 150, 5000), 3300, 3600, tag=f"{500 + k}"
        )
    mechanical = Building("IFC4", "m")
    mechanical.number = 2000
    mechanical.solid("duct", "Duct", box(0, 3000, 5000, 3600), 2900, 3200)
    mechanical.solid("duct", "Duct", box(0, 4000, 5000, 4600), 2900, 3200)
    cold = mechanical.pipe("pipe", (0.0, 1000.0, 3000.0), (5000.0, 1000.0, 3000.0), 60.3)
    mechanical.system("Domestic Cold Water", [cold])
    sprinklers = Building("IFC4", "in", -50.0, (0.0, 900.0, 30.0))
    sprinklers.number = 3000
    sprinklers.head(
        "Sprinkler:Pendent:1001", (500.0, 500.0, 2600.0), tag="1001", type_name="Sprinkler pendent"
    )
    sprinklers.head(
        "Sprinkler:Pendent:1002", (900.0, 500.0, 2600.0), tag="1002", type_name="Sprinkler pendent"
    )
    for k, x in enumerate((500.0, 900.0)):
        sprinklers.pipe(f"drop {k}", (x, 500.0, 2600.0), (x, 500.0, 3100.0), 33.4)
    sprinklers.pipe("pipe", (0.0, 500.0, 3100.0), (5000.0, 500.0, 3100.0), 60.3)
    named = {"structure": structure, "mechanical": mechanical, "sprinklers": sprinklers}
    return [building.write(tmp_path / f"{name}.ifc") for name, building in named.items()]


def test_three_files_of_different_units_and_schemas_merge(tmp_path: Path) -> None:
    told: list[tuple[str, int, int]] = []
    drawn = read_ifc(files(tmp_path), None, lambda *step: told.append(step))
    assert [head.id for head in drawn.heads] == ["Sprinkler:Pendent:1001", "Sprinkler:Pendent:1002"]
    assert [pipe.id for pipe in drawn.pipes] == ["drop 0", "drop 1", "pipe"]
    assert [solid.id for solid in drawn.solids] == [
        "beam 500",
        "beam 501",
        "beam 502",
        "Duct",
        "Duct-2",
        "pipe",
    ]
    beam = drawn.solids[1]
    assert sorted(beam.corners)[0] == pytest.approx((1000, 0), abs=1e-3)
    assert beam.high == pytest.approx(3600, abs=1e-3)
    assert drawn.pipes[2].b == pytest.approx((5000, 500, 3100), abs=1e-3)
    assert {stage for stage, _, _ in told} >= {"structure.ifc: opening", "sprinklers.ifc: elements"}
    assert all(0 <= done <= total for _, done, total in told)
    for name in ("structure.ifc: IFC2X3, foot", "mechanical.ifc: IFC4, metre", "sprinklers.ifc: IFC4, inch"):
        assert any(note.startswith(name) for note in drawn.notes), drawn.notes


def test_the_same_input_gives_the_same_result(tmp_path: Path) -> None:
    paths = files(tmp_path)
    assert read_ifc(paths) == read_ifc(paths)


def test_what_two_files_hold_is_taken_once(tmp_path: Path) -> None:
    paths = files(tmp_path)
    (tmp_path / "again").mkdir()
    again = tmp_path / "again" / "structure.ifc"
    again.write_bytes(paths[0].read_bytes())
    drawn = read_ifc([*paths, again])
    assert len(drawn.solids) == 6
    assert "3 elements of structure.ifc (2) are in structure.ifc too: taken once" in drawn.notes


def test_what_two_files_place_differently_is_taken_twice(tmp_path: Path) -> None:
    """Storeys copied from one template share their GlobalIds."""
    paths = []
    for k, z in enumerate((0.0, 4000.0)):
        building = Building()
        building.head("H1", (0.0, 0.0, z + 2500.0), type_name="Sprinkler pendent")
        building.pipe("P1", (0.0, 0.0, z + 2500.0), (0.0, 0.0, z + 3000.0), 33.4)
        building.solid("beam", "B1", box(0, 500, 100, 900), z + 3000, z + 3300)
        paths.append(building.write(tmp_path / f"{k}.ifc"))
    drawn = read_ifc(paths)
    assert sorted(head.at[2] for head in drawn.heads) == [2500.0, 6500.0]
    assert sorted(solid.low for solid in drawn.solids) == [3000.0, 7000.0]
    assert len(drawn.pipes) == 2
    assert any("3 elements of 1.ifc lie elsewhere in 0.ifc" in note for note in drawn.notes)


def test_things_know_the_globalid_that_they_had(tmp_path: Path) -> None:
    """GlobalId, ISO 16739; one that two things share names neither."""
    building = Building()
    head = building.head("H1", (0.0, 0.0, 2500.0), type_name="Sprinkler pendent")
    twin = building.head("H2", (900.0, 0.0, 2500.0), type_name="Sprinkler pendent")
    lost = building.head("H3", (1800.0, 0.0, 2500.0), type_name="Sprinkler pendent")
    beam = building.solid("beam", "B1", box(0, 500, 100, 900), 3000, 3300)
    lost.GlobalId = twin.GlobalId
    drawn = read_ifc([building.write(tmp_path / "one.ifc")])
    found = {each.id: each.given.get("guid") for each in drawn.heads}
    assert found == {"H1": head.GlobalId, "H2": None, "H3": None}
    assert [each.guid for each in drawn.solids] == [beam.GlobalId]


def test_map_conversions_that_differ_are_noted(tmp_path: Path) -> None:
    paths = []
    for k in range(2):
        building = Building()
        building.number = 1000 * k
        building.solid("beam", "B", box(0, 0, 100, 100), 0, 100)
        f = building.file
        crs = f.create_entity("IfcProjectedCRS", "EPSG:25832")
        f.create_entity("IfcMapConversion", building.context, crs, 1000.0 * k, 0.0, 0.0)
        paths.append(building.write(tmp_path / f"{k}.ifc"))
    assert any("different map conversions" in note for note in read_ifc(paths).notes)
    assert any("is not applied" in note for note in read_ifc(paths[:1]).notes)


def test_one_bad_file_of_several_is_named(tmp_path: Path) -> None:
    paths = files(tmp_path)
    paths[1].write_bytes(paths[1].read_bytes()[:3000])
    with pytest.raises(ScenarioError, match=r"mechanical\.ifc: 1 fault\n.*truncated"):
        read_ifc(paths)
    with pytest.raises(ScenarioError, match="at least one model"):
        read_ifc([])
