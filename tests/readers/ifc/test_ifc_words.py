"""What is a head, a sprinkler pipe, a size: by class, by words, by properties, by a mapping file."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pytest

pytest.importorskip("ifcopenshell")

from building import Building, box

from router.readers.ifc import Mapping, read_ifc, read_mapping
from router.readers.ifc.mapping import has_word
from router.readers.ifc.sizes import best_way, nearest, of_nominal, of_text
from router.scenario.errors import ScenarioError

if TYPE_CHECKING:
    from pathlib import Path

    from router.readers.drawn import Drawn, Xyz


def read(building: Building, tmp_path: Path, mapping: Mapping | None = None) -> Drawn:
    return read_ifc([building.write(tmp_path / "x.ifc")], mapping)


@pytest.mark.parametrize("schema", ["IFC2X3", "IFC4"])
def test_heads_by_class_and_by_words(tmp_path: Path, schema: str) -> None:
    building = Building(schema)
    at: Xyz = (0.0, 0.0, 0.0)
    building.head("by class", at, type_name="ZK-20")
    building.head("reel", at, predefined="HOSEREEL", type_name="sprinkler store")
    building.element("terminal", "Sprinkler upright 57", at, ifc_class="IfcFlowTerminal")
    building.element("other", "proxy", at, object_type="Dry Pendent SprinklerHead")
    building.element("terminal", "Sprinkler alarm valve", at, ifc_class="IfcFlowTerminal")
    building.element("terminal", "washbasin", at, ifc_class="IfcFlowTerminal")
    drawn = read(building, tmp_path)
    heads = {head.id: head for head in drawn.heads}
    expected = {"by class", "Sprinkler upright 57"} | ({"proxy"} if schema else set())
    assert heads.keys() == expected
    assert heads["Sprinkler upright 57"].kind == "upright"
    assert heads["proxy"].given["dry"] is True
    assert heads["proxy"].kind == "pendent"
    assert any('"reel"' in note for note in drawn.notes)
    assert any('"washbasin"' in note for note in drawn.notes)


def test_other_words_by_the_mapping(tmp_path: Path) -> None:
    building = Building()
    building.element("terminal", "Düse SSU hängend", (0.0, 0.0, 0.0), ifc_class="IfcFlowTerminal")
    mapping = Mapping.model_validate(
        {"head_words": ["düse"], "kind_words": {"upright": ["SSU"], "pendent": [], "sidewall": []}}
    )
    assert [head.kind for head in read(building, tmp_path, mapping).heads] == ["upright"]
    building = Building()
    building.element("terminal", "Düse", (0.0, 0.0, 0.0), ifc_class="IfcFlowTerminal")
    assert not read(building, tmp_path).heads


def test_words_are_whole_words() -> None:
    assert has_word("M_Sprinkler-Dry:15 mm", ["dry"])
    assert has_word("SprinklerHeads", ["sprinkler"])
    assert has_word("FIREPROTECTION", ["fire protection"]) is False
    assert has_word("Sprinklers", ["sprinkler"])
    assert not has_word("Drywall", ["dry"])


@pytest.mark.parametrize(
    ("end", "kind", "facing"),
    [
        ((0.0, 0.0, 900.0), "pendent", None),
        ((0.0, 0.0, -900.0), "upright", None),
        ((900.0, 0.0, 0.0), "sidewall", 180.0),
        ((0.0, -900.0, 30.0), "sidewall", 90.0),
        ((-900.0, -900.0, 0.0), "sidewall", 45.0),
    ],
)
def test_the_kind_by_how_the_pipe_comes(tmp_path: Path, end: Xyz, kind: str, facing: float | None) -> None:
    building = Building()
    building.head("H", (0.0, 0.0, 0.0), type_name="Sprinkler")
    building.pipe("P", (0.0, 0.0, 0.0), end, 33.4)
    drawn = read(building, tmp_path)
    assert (drawn.heads[0].kind, drawn.heads[0].facing) == (kind, facing)
    assert any(f"1 head does not say how it sits, {kind} as its pipe comes" in note for note in drawn.notes)


def test_what_a_model_says_of_a_head_is_told_from_what_is_guessed(tmp_path: Path) -> None:
    building = Building()
    building.head("said", (0.0, 0.0, 0.0), type_name='Sprinkler upright 3/4"')
    building.head("silent", (900.0, 0.0, 0.0), type_name="ZK")
    said, silent = read(building, tmp_path).heads
    assert (said.given["kind"], said.given["thread"]) == ("upright", 20)
    assert not {"kind", "thread"} & silent.given.keys()


def test_a_pipes_end_is_the_inlet_of_one_head(tmp_path: Path) -> None:
    building = Building()
    building.pipe("drop", (0.0, 0.0, 3000.0), (0.0, 0.0, 2700.0), 33.4)
    building.head("beside", (150.0, 0.0, 2600.0), type_name="Sprinkler pendent")
    building.head("below", (0.0, 0.0, 2650.0), type_name="Sprinkler pendent")
    building.pipe("other drop", (3000.0, 0.0, 3000.0), (3000.0, 0.0, 2700.0), 33.4)
    building.head("aside", (3000.0, 200.0, 2650.0), type_name="Sprinkler pendent")
    drawn = read(building, tmp_path)
    assert {head.id: head.at for head in drawn.heads} == {
        "beside": (150.0, 0.0, 2600.0),
        "below": (0.0, 0.0, 2700.0),
        "aside": (3000.0, 0.0, 2700.0),
    }
    assert any("placement is taken as inlet: beside" in note for note in drawn.notes)
    assert any("from its pipe's end" in note and "aside" in note for note in drawn.notes)


def test_a_diameter_of_no_size_is_said(tmp_path: Path) -> None:
    building = Building()
    for k, diameter in enumerate((33.4, 60.3, 406.4)):
        building.pipe(f"P{k}", (0.0, 900.0 * k, 0.0), (900.0, 900.0 * k, 0.0), diameter)
        building.head(f"H{k}", (0.0, 900.0 * k, 0.0), type_name="Sprinkler pendent")
    drawn = read(building, tmp_path)
    assert [pipe.dn for pipe in drawn.pipes] == [25, 50, 300]
    assert [note for note in drawn.notes if "no size" in note][-1].endswith('"P2", 406.4 mm: DN300')


def test_words_go_before_geometry(tmp_path: Path) -> None:
    building = Building()
    building.head("H", (0.0, 0.0, 0.0), type_name="Sidewall sprinkler", x=(0.0, 1.0, 0.0))
    building.pipe("P", (0.0, 0.0, 0.0), (0.0, 0.0, 900.0), 33.4)
    building.head("J", (5000.0, 0.0, 0.0), type_name="Sprinkler")
    kinds = building.file.by_type("IfcFireSuppressionTerminal")[1]
    building.sets(
        kinds, "Pset_FireSuppressionTerminalTypeSprinkler", {"SprinklerType": ("IfcLabel", "UPRIGHT")}
    )
    heads = {head.id: head for head in read(building, tmp_path).heads}
    assert (heads["H"].kind, heads["H"].facing) == ("sidewall", 90.0)
    assert heads["J"].kind == "upright"


@pytest.mark.parametrize(
    ("unit", "values", "thread", "k_factor"),
    [
        ("mm", {"ConnectionSize": ("IfcPositiveLengthMeasure", 20.0), "KFactor": 8.0}, 20, 8.0),
        ("m", {"ConnectionSize": ("IfcPositiveLengthMeasure", 0.015)}, 15, None),
        ("ft", {"ConnectionSize": ("IfcPositiveLengthMeasure", 0.75 / 12)}, 20, None),
        ("mm", {"ThreadSize": '3/4"', "K-Factor": "K 80"}, 20, 5.6),
        ("mm", {"KFactor": 160.0}, 15, 11.2),
        ("mm", {"DischargeCoefficient": 115.0, "Size": "1/2"}, 15, 8.0),
        ("mm", {}, 15, None),
    ],
)
def test_thread_and_k_factor(
    tmp_path: Path, unit: str, values: dict[str, Any], thread: int, k_factor: float | None
) -> None:
    building = Building("IFC4", unit)
    head = building.head("H", (0.0, 0.0, 0.0), type_name="Sprinkler pendent")
    if values:
        building.sets(head, "Data", values)
    found = read(building, tmp_path).heads[0]
    assert found.thread == thread
    assert found.given.get("k_factor") == k_factor


@pytest.mark.parametrize(
    ("unit", "name", "values", "dn"),
    [
        ("mm", "Pipe", {"NominalDiameter": ("IfcPositiveLengthMeasure", 65.0)}, 65),
        ("m", "Pipe", {"NominalDiameter": ("IfcPositiveLengthMeasure", 0.0635)}, 65),
        ("in", "Pipe", {"NominalDiameter": ("IfcPositiveLengthMeasure", 2.5)}, 65),
        ("ft", "Pipe", {"Size": ("IfcLabel", '2 1/2"')}, 65),
        ("mm", "Pipe", {"Size": ("IfcLabel", "65 mm")}, 65),
        ("mm", "Pipe", {"Nominal Size": 80}, 80),
        ("mm", "Steel pipe DN80 grooved", {}, 80),
        ("mm", 'Schedule 40 2"', {}, 50),
        ("mm", "Pipe 1-1/4 inch", {}, 32),
        ("mm", "Pipe 200 mm", {"Size": ("IfcLabel", "none")}, 200),
        ("mm", "Pipe", {}, 40),
    ],
)
def test_sizes_of_pipes(tmp_path: Path, unit: str, name: str, values: dict[str, Any], dn: int) -> None:
    """The body is 48.3 mm (DN40): properties go first, then names, then the body."""
    building = Building("IFC4", unit)
    pipe = building.pipe(name, (0.0, 0.0, 0.0), (900.0, 0.0, 0.0), 48.3)
    building.system("Sprinkler main", [pipe])
    if values:
        building.sets(pipe, "Data", values)
    assert read(building, tmp_path).pipes[0].dn == dn


def test_a_property_of_the_type_counts_too(tmp_path: Path) -> None:
    building = Building()
    pipe = building.pipe("P", (0.0, 0.0, 0.0), (900.0, 0.0, 0.0), 48.3)
    building.system("Sprinkler main", [pipe])
    of_type = next(iter(building.types.values()))[0]
    value = building.file.create_entity("IfcLabel", "DN100")
    row = building.file.create_entity("IfcPropertySingleValue", "Size", None, value, None)
    of_type.HasPropertySets = [building.root("IfcPropertySet", Name="Data", HasProperties=[row])]
    assert read(building, tmp_path).pipes[0].dn == 100


@pytest.mark.parametrize(
    ("text", "dn"),
    [
        # outside diameters with decimals: the digits behind the point are no size (ASME B36.10M, from memory)
        ("33.40 mm", 25),
        ("60.32 mm", 50),
        ("48,26 mm", 40),
        ("26.65 mm", 20),
        ("114.30mm", 100),
        ("Pipe Ø60.3", 50),
        ('1,5"', 40),
        ("wall 4.50 mm", 0),
        ("50 mm", 50),
        ('2 1/2"', 65),
    ],
)
def test_a_size_with_decimals_is_read_whole(text: str, dn: int) -> None:
    assert of_text(text) == dn


@pytest.mark.parametrize(
    ("mm", "dn"),
    [
        # 76.1 and 139.7 are outside diameters of EN 10255 (from memory), 76.2 is 3 inches;
        # 88.9 is 3 in. pipe's outside diameter, and not the seldom 3-1/2 in. (from memory)
        (76.1, 65),
        (76.2, 80),
        (88.9, 80),
        (90.0, 90),
        (101.6, 100),
        (33.4, 25),
        (33.7, 25),
        (60.3, 50),
        (63.5, 65),
        (139.7, 125),
    ],
)
def test_a_nominal_diameter_means_what_it_fits_best(mm: float, dn: int) -> None:
    assert of_nominal(mm) == dn


def test_what_diameters_mean_is_judged_by_all_together() -> None:
    """Outside diameters of ASME B36.10M and EN 10255; nominal ones in mm and in inches; bores."""
    assert best_way([33.4, 60.3, 114.3]) == "outside"
    assert best_way([25.0, 50.0, 100.0]) == "nominal"
    assert best_way([25.4, 50.8, 101.6]) == "nominal inches"
    assert best_way([26.6, 52.5, 102.3]) == "bore"
    assert nearest(88.9, "outside")[0] == 80
    assert nearest(88.9, "nominal inches")[0] == 90
    assert of_nominal(219.1) == 200
    assert of_nominal(37.0) == 0
    assert of_text("Pipe Types:Standard 300") == 0


def test_pipes_of_ours_and_of_others(tmp_path: Path) -> None:
    building = Building()
    building.head("H", (0.0, 0.0, 0.0), type_name="Sprinkler pendent")
    building.pipe("drop", (0.0, 0.0, 0.0), (0.0, 0.0, 900.0), 33.4)
    building.pipe("line", (-2000.0, 0.0, 900.0), (2000.0, 0.0, 900.0), 60.3)
    building.pipe("heating", (-2000.0, 300.0, 900.0), (2000.0, 300.0, 900.0), 60.3)
    cold = building.pipe("cold", (0.0, 0.0, 900.0), (0.0, 3000.0, 900.0), 60.3)
    main = building.pipe("main", (9000.0, 0.0, 900.0), (9000.0, 3000.0, 900.0), 114.3)
    building.system("Domestic Cold Water", [cold])
    building.system("whatever", [main], "FIREPROTECTION")
    drawn = read(building, tmp_path)
    assert sorted(pipe.id for pipe in drawn.pipes) == ["drop", "line", "main"]
    solids = {solid.id: solid for solid in drawn.solids}
    assert solids.keys() == {"heating", "cold"}
    assert solids["heating"].kind == "pipe"
    assert [solids["heating"].low, solids["heating"].high] == pytest.approx([869.85, 930.15])
    only = read(_again(), tmp_path, Mapping(obstructions=("beam",)))
    assert not only.solids
    assert any("not chosen" in note for note in only.notes)


def _again() -> Building:
    building = Building()
    cold = building.pipe("cold", (0.0, 0.0, 900.0), (0.0, 3000.0, 900.0), 60.3)
    building.system("Domestic Cold Water", [cold])
    building.solid("slab", "S", box(0, 0, 100, 100), 0, 100)
    return building


def test_storeys_and_a_box_to_keep(tmp_path: Path) -> None:
    def building() -> Building:
        made = Building("IFC4", "m")
        second = made.storey_of("Level 2")
        made.relate("IfcRelAggregates", "RelatingObject", made.building, [second])
        for k, storey in enumerate((made.storey, second)):
            z = 4000.0 * k
            made.head(f"H{k}", (0.0, 0.0, z), type_name="Sprinkler pendent", storey=storey)
            made.solid("beam", f"B{k}", box(0, 500, 3000, 700), z + 500, z + 900, storey=storey)
        return made

    drawn = read(building(), tmp_path, Mapping(storeys=("Level 2",)))
    assert [head.id for head in drawn.heads] == ["H1"]
    assert [solid.id for solid in drawn.solids] == ["B1"]
    assert any("on storey Level 1, which is not kept" in note for note in drawn.notes)
    drawn = read(building(), tmp_path, Mapping.model_validate({"box": {"z": [-100, 2000]}}))
    assert [head.id for head in drawn.heads] == ["H0"]
    assert [solid.id for solid in drawn.solids] == ["B0"]
    assert any("outside the box" in note for note in drawn.notes)


def test_ceilings_and_walls_by_choice(tmp_path: Path) -> None:
    def building() -> Building:
        made = Building()
        made.solid("ceiling", "C", box(0, 0, 5000, 4000), 2680, 2700)
        made.solid("wall", "W", box(0, 0, 5000, 200), 0, 3000)
        return made

    drawn = read(building(), tmp_path)
    assert not drawn.ceilings
    assert not drawn.solids
    assert any("ceilings, not chosen" in note for note in drawn.notes)
    assert any("wall, not chosen" in note for note in drawn.notes)
    drawn = read(building(), tmp_path, Mapping(ceilings=True, obstructions=("wall",)))
    assert [(each["id"], each["elevation"]) for each in drawn.ceilings] == [("C", 2700.0)]
    assert [solid.kind for solid in drawn.solids] == ["wall"]


def test_a_mapping_file(tmp_path: Path) -> None:
    path = tmp_path / "mapping.yaml"
    path.write_text(
        "head_words: [Düse]\nobstructions: [wall, beam]\nbox:\n  z: [0, 4000]\n", encoding="utf-8"
    )
    mapping = read_mapping(path)
    assert mapping.head_words == ("Düse",)
    assert mapping.box.z == (0.0, 4000.0)
    assert mapping.system_words == Mapping().system_words


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("head_word: [x]", "head_word: mapping: .*unknown field; known here: format, version, head_words"),
        ("box: {z: [4, 1]}", "box: mapping: .*lowest before highest"),
        ("box: {w: [4, 1]}", r"box\.w: .*known here: x, y, z"),
        ("obstructions: [bear]", r'obstructions\[0\]: mapping: "bear"'),
        ("ceilings: 3", "ceilings: mapping: 3"),
        ("[1, 2]", "one object"),
        ("box: {x: [.nan, 1]}", "box"),
    ],
)
def test_faults_of_a_mapping_file(tmp_path: Path, text: str, said: str) -> None:
    path = tmp_path / "mapping.yaml"
    path.write_text(text)
    with pytest.raises(ScenarioError, match=said) as caught:
        read_mapping(path)
    assert len(caught.value.faults) == 1
    assert "mapping.yaml" in str(caught.value)


def test_equipment_is_in_the_way_but_not_what_sits_on_our_pipes(tmp_path: Path) -> None:
    """A box that regulates air is an obstruction; a valve on the main is none, and that is told."""
    building = Building()
    main = building.pipe("main", (0, 0, 3000), (3000, 0, 3000), 60.3)
    line = building.pipe("line", (3100, 0, 3000), (6000, 0, 3000), 48.3)
    drop = building.pipe("drop", (6000, 0, 3000), (6000, 0, 2600), 33.7)
    head = building.head("H", (6000, 0, 2600), port=(6000, 0, 2600), type_name="Sprinkler pendent")
    building.system("Fire Protection Wet", [main, line, drop, head])
    for name, x, y in (("valve", 3050.0, 0.0), ("air box", 3050.0, 2000.0)):
        plan = box(x - 60, y - 60, x + 60, y + 60)
        building.solid("other", name, plan, 2940, 3060, ifc_class="IfcFlowController")
    path = building.write(tmp_path / "x.ifc")
    drawn = read_ifc([path])
    assert [(solid.id, solid.kind) for solid in drawn.solids] == [("air box", "equipment")]
    assert any("1 left out, valves and the like on sprinkler pipes" in note for note in drawn.notes)
