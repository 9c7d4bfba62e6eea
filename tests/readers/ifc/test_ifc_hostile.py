"""Broken, truncated and hostile models end in one clear error, or an element left out with a reason."""

from __future__ import annotations

import itertools
import os
import random
import re
import zipfile
from dataclasses import replace
from typing import TYPE_CHECKING

import pytest

pytest.importorskip("ifcopenshell")

from building import Building, box

from router.readers.ifc import read_ifc
from router.readers.ifc.limits import DEFAULT, MB
from router.readers.ifc.mapping import Mapping
from router.scenario.errors import ScenarioError

if TYPE_CHECKING:
    from pathlib import Path

    from router.readers.drawn import Drawn

HEADER = (
    "ISO-10303-21;\nHEADER;\nFILE_DESCRIPTION((''),'2;1');\nFILE_NAME('','',(''),(''),'','','');\n"
    "FILE_SCHEMA(('{schema}'));\nENDSEC;\nDATA;\n"
)
END = "ENDSEC;\nEND-ISO-10303-21;\n"


def text_of(body: str, schema: str = "IFC4") -> str:
    return HEADER.format(schema=schema) + body + END


def small(tmp_path: Path, name: str = "small.ifc") -> Path:
    """A head, the pipe above it, a beam."""
    building = Building()
    building.head("H1", (0.0, 0.0, 2500.0), type_name="Sprinkler pendent")
    building.pipe("P1", (0.0, 0.0, 2500.0), (0.0, 0.0, 3000.0), 33.4)
    building.solid("beam", "B1", box(500, 0, 700, 3000), 3000, 3300)
    return building.write(tmp_path / name)


def changed(tmp_path: Path, old: str, new: str, count: int = 1) -> Path:
    """The small model with a piece of its text changed."""
    path = small(tmp_path)
    text = path.read_text()
    assert text.count(old) >= 1, old
    path.write_text(text.replace(old, new, count))
    return path


def error_of(path: Path, mapping: Mapping | None = None, **limits: float) -> str:
    """The one fault that reading a file ends in; the message names the file."""
    with pytest.raises(ScenarioError) as caught:
        read_ifc([path], mapping, limits=replace(DEFAULT, **limits))  # type: ignore[arg-type]
    assert len(caught.value.faults) == 1, str(caught.value)
    assert path.name in str(caught.value)
    return str(caught.value)


def notes_of(drawn: Drawn) -> str:
    return "\n".join(drawn.notes)


def test_what_is_no_model_is_said(tmp_path: Path) -> None:
    path = tmp_path / "x.ifc"
    path.write_text("")
    assert "empty" in error_of(path)
    path.write_text("hello, this is no model")
    assert "hello" in error_of(path)
    path.write_text('<?xml version="1.0"?><ifc/>')
    assert "XML" in error_of(path)
    path.write_bytes(b"\x00\xff" * 100)
    assert "does not begin with ISO-10303-21" in error_of(path)
    assert "cannot be read" in error_of(tmp_path / "absent.ifc")
    (tmp_path / "a.ifcxml").write_text("<ifc/>")
    assert "XML" in error_of(tmp_path / "a.ifcxml")


def test_a_pipe_between_programs_is_no_file(tmp_path: Path) -> None:
    """Reading it would wait for ever for one who writes."""
    os.mkfifo(tmp_path / "x.ifc")
    assert "not a plain file" in error_of(tmp_path / "x.ifc")


@pytest.mark.parametrize("schema", ["AUTOMOTIVE_DESIGN", "IFC2X2_FINAL", "IFC5"])
def test_another_schema_is_named(tmp_path: Path, schema: str) -> None:
    path = tmp_path / "x.ifc"
    path.write_text(text_of("", schema))
    said = error_of(path)
    assert f'"{schema}"' in said
    assert "IFC2X3, IFC4, IFC4X3" in said


@pytest.mark.parametrize("share", [0.3, 0.6, 0.9, 0.999])
def test_a_truncated_file_is_said_to_be_so(tmp_path: Path, share: float) -> None:
    path = small(tmp_path)
    data = path.read_bytes()
    path.write_bytes(data[: int(len(data) * share)])
    assert "truncated" in error_of(path)


@pytest.mark.parametrize("depth", [100, 100_000, 3_000_000])
def test_deep_nesting_is_refused_before_parsing(tmp_path: Path, depth: int) -> None:
    path = tmp_path / "x.ifc"
    path.write_text(text_of("#1=IFCCARTESIANPOINT(" + "(" * depth + "1." + ")" * depth + ");\n"))
    assert "parentheses" in error_of(path)


def test_parentheses_in_texts_and_comments_do_not_count(tmp_path: Path) -> None:
    path = changed(tmp_path, "'B1'", "'" + "(" * 500 + " it''s '/* " + "(" * 500 + " */")
    assert read_ifc([path]).solids[0].high == 3300


def test_a_statement_without_end_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "x.ifc"
    path.write_text(text_of("#1=IFCCARTESIANPOINT((" + "1.,\n" * 200_000 + "1.)\n"))
    assert error_of(path, statement=100_000)
    path.write_text(text_of("#1=IFCCARTESIANPOINT((1.,2.;\n"))
    assert "parentheses not closed" in error_of(path)


def test_a_file_over_the_limit_is_refused(tmp_path: Path) -> None:
    assert "too large" in error_of(small(tmp_path), file_bytes=1000)


@pytest.mark.parametrize(
    "line",
    [
        "#9001=IFCCARTESIANPOINT((nan,0.,0.));",
        "#9001=IFCCARTESIANPOINT((1.E400,0.,0.));",
        "#9001=IFCDIRECTION((1.,#7777,0.));",
        "#9001=IFCVECTOR(#7777,1.);",
        "#9001=;",
        "garbage",
        "#1=IFCCARTESIANPOINT((1.,0.,0.));",
    ],
)
def test_lines_that_cannot_be_read_are_refused(tmp_path: Path, line: str) -> None:
    path = small(tmp_path)
    path.write_text(path.read_text().replace("DATA;\n", f"DATA;\n{line}\n"))
    assert error_of(path)


def test_a_class_that_nobody_knows_is_only_noted(tmp_path: Path) -> None:
    path = small(tmp_path)
    path.write_text(path.read_text().replace("DATA;\n", "DATA;\n#9001=IFCOFOURSELVES('x');\n"))
    drawn = read_ifc([path])
    assert len(drawn.heads) == 1
    assert "IFCOFOURSELVES" in notes_of(drawn)


def test_broken_lines_can_be_passed_over_by_choice(tmp_path: Path) -> None:
    path = small(tmp_path)
    path.write_text(path.read_text().replace("DATA;\n", "DATA;\n#9001=IFCVECTOR(#7777,1.);\n"))
    drawn = read_ifc([path], Mapping(broken="note"))
    assert len(drawn.heads) == 1
    assert "could not be read" in notes_of(drawn)


def beam_with(tmp_path: Path, spoil: str) -> Path:
    """The small model with one more beam, spoiled in a way."""
    building = Building()
    f = building.file
    building.head("H1", (0.0, 0.0, 2500.0), type_name="Sprinkler pendent")
    building.pipe("P1", (0.0, 0.0, 2500.0), (0.0, 0.0, 3000.0), 33.4)
    bad = building.solid("beam", "bad", box(500, 0, 700, 3000), 3000, 3300)
    if spoil == "cycle":
        other = f.create_entity("IfcLocalPlacement", bad.ObjectPlacement, building.place((0, 0, 0)))
        bad.ObjectPlacement.PlacementRelTo = other
    elif spoil == "direction":
        bad.ObjectPlacement.RelativePlacement = building.place((0, 0, 0), (0, 0, 0), (1, 0, 0))
    elif spoil == "parallel":
        bad.ObjectPlacement.RelativePlacement = building.place((0, 0, 0), (1, 0, 0), (1, 0, 0))
    elif spoil == "huge":
        bad.ObjectPlacement.RelativePlacement = building.place((1e300, 1e300, 0))
    elif spoil == "overflow":
        for each in bad.Representation.Representations[0].Items:
            each.Position = building.place((1.7e308, 1.7e308, 1.7e308), (0, 1, 1), (1, 0, 0))
    elif spoil == "far":
        bad.ObjectPlacement.RelativePlacement = building.place((3e10, 0, 3000))
    elif spoil in ("scale", "bomb", "self"):
        inner = bad.Representation.Representations[0]
        for _ in range(1 if spoil == "scale" else 40):
            source = f.create_entity("IfcRepresentationMap", building.place((0, 0, 0)), inner)
            size = 0.0 if spoil == "scale" else 1.0
            to = f.create_entity(
                "IfcCartesianTransformationOperator3D", None, None, building.point((0, 0, 0)), size, None
            )
            items = [
                f.create_entity("IfcMappedItem", source, to) for _ in range(1 if spoil == "scale" else 2)
            ]
            inner = f.create_entity(
                "IfcShapeRepresentation", building.body, "Body", "MappedRepresentation", items
            )
            if spoil == "self":
                source.MappedRepresentation = inner
                break
        bad.Representation.Representations = [inner]
    elif spoil == "flat":
        bad.Representation.Representations[0].Items[0].Depth = 1e-9
    elif spoil == "nothing":
        bad.Representation = None
    elif spoil == "cut":
        solid = bad.Representation.Representations[0].Items[0]
        for _ in range(400):
            half = f.create_entity(
                "IfcHalfSpaceSolid", f.create_entity("IfcPlane", building.place((0, 0, 9e3))), False
            )
            solid = f.create_entity("IfcBooleanClippingResult", "DIFFERENCE", solid, half)
        bad.Representation.Representations[0].Items = [solid]
    elif spoil == "faces":
        points = f.create_entity(
            "IfcCartesianPointList3D", [(0.0, 0.0, 0.0), (1.0, 0.0, 0.0), (0.0, 1.0, 1.0)]
        )
        faces = f.create_entity("IfcTriangulatedFaceSet", points, None, True, [(1, 2, 2_000_000_000)], None)
        bad.Representation.Representations[0].Items = [faces]
    return building.write(tmp_path / f"{spoil}.ifc")


@pytest.mark.parametrize(
    ("spoil", "reason"),
    [
        ("cycle", "its placement refers to itself"),
        ("direction", "has no direction"),
        ("parallel", "has no direction"),
        ("huge", "coordinates are beyond"),
        ("overflow", "coordinates"),
        ("far", "km from the middle of the model"),
        ("scale", "scales to nothing"),
        ("bomb", "more than 20000 parts"),
        ("self", "contains itself"),
        ("flat", "can make nothing of its shape"),
        ("nothing", "no body"),
        ("cut", "nested too deeply"),
    ],
)
def test_an_element_that_cannot_be_is_left_out_with_the_reason(
    tmp_path: Path, spoil: str, reason: str
) -> None:
    drawn = read_ifc([beam_with(tmp_path, spoil)])
    assert [head.id for head in drawn.heads] == ["H1"]
    assert len(drawn.pipes) == 1
    assert not drawn.solids
    told = [note for note in drawn.notes if reason in note]
    assert len(told) == 1
    assert "bad" in told[0]


def test_a_face_of_points_that_there_are_not_is_no_silent_loss(tmp_path: Path) -> None:
    path = beam_with(tmp_path, "faces")
    try:
        drawn = read_ifc([path])
    except ScenarioError as error:
        assert "bad" in str(error)
    else:
        assert any('"bad"' in note for note in drawn.notes)


@pytest.mark.parametrize("bad", ["crossed", "flat"])
def test_a_part_of_a_body_that_cannot_be_made_is_no_silent_loss(tmp_path: Path, bad: str) -> None:
    building = Building()
    f = building.file
    building.head("H1", (0.0, 0.0, 2500.0), type_name="Sprinkler pendent")
    building.pipe("P1", (0.0, 0.0, 2500.0), (0.0, 0.0, 3000.0), 33.4)
    beam = building.solid("beam", "two parts", box(500, 0, 700, 3000), 3000, 3300)
    row = ((0, 0), (500, 500), (500, 0), (0, 500))
    depth = 300.0 if bad == "crossed" else 0.0
    corners = [f.create_entity("IfcCartesianPoint", [float(x), float(y)]) for x, y in (*row, row[0])]
    profile = f.create_entity(
        "IfcArbitraryClosedProfileDef", "AREA", None, f.create_entity("IfcPolyline", corners)
    )
    up = building.way((0.0, 0.0, 1.0))
    second = f.create_entity("IfcExtrudedAreaSolid", profile, building.place((0, 4000, 0)), up, depth)
    body = beam.Representation.Representations[0]
    body.Items = [*body.Items, second]
    drawn = read_ifc([building.write(tmp_path / "x.ifc")])
    assert [solid.high for solid in drawn.solids][:1] == [3300.0]
    assert any('"two parts"' in note and "missing" in note for note in drawn.notes)


def test_a_unit_that_cannot_be_is_an_error(tmp_path: Path) -> None:
    building = Building(unit="in")
    building.head("H1", (0.0, 0.0, 0.0))
    for each in building.file.by_type("IfcMeasureWithUnit"):
        each.ValueComponent = building.file.create_entity("IfcLengthMeasure", 0.0)
    assert "unit of length" in error_of(building.write(tmp_path / "unit.ifc"))


def test_memory_over_the_bound_is_an_error(tmp_path: Path) -> None:
    said = error_of(small(tmp_path), memory=150 * MB)
    assert "150 MB" in said or "broke down" in said


def test_a_standstill_names_the_element(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A reading process that says at which element it is, and then nothing more."""
    slow = tmp_path / "sitecustomize.py"
    slow.write_text(
        "import sys, time\n"
        "if 'router.readers.ifc.child' in ' '.join(sys.orig_argv):\n"
        '    print(\'["elements", 3, 9, "IfcBeam #77 slow"]\', flush=True)\n'
        "    time.sleep(60)\n"
    )
    monkeypatch.setenv("PYTHONPATH", str(tmp_path))
    said = error_of(small(tmp_path), still=1.0)
    assert "no progress at IfcBeam #77 slow" in said


def test_a_death_names_the_element(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "sitecustomize.py").write_text(
        "import os, signal, sys\n"
        "if 'router.readers.ifc.child' in ' '.join(sys.orig_argv):\n"
        '    print(\'["elements", 3, 9, "IfcBeam #77 deadly"]\', flush=True)\n'
        "    os.kill(os.getpid(), signal.SIGSEGV)\n"
    )
    monkeypatch.setenv("PYTHONPATH", str(tmp_path))
    said = error_of(small(tmp_path))
    assert "IfcBeam #77 deadly" in said
    assert "signal 11" in said


VALUES = (
    "$",
    "*",
    "0.",
    "-1.",
    "1.E300",
    "''",
    "()",
    "#1",
    "#25",
    ".T.",
    ".FOO.",
    "IFCLABEL($)",
    "((0.,0.),(0.,0.))",
)


def mutated(text: str, seed: int) -> str:
    """The text of a model with some statements lost, exchanged, or with another value in them."""
    chance = random.Random(seed)
    lines = text.split("\n")
    places = [k for k, line in enumerate(lines) if line.startswith("#")]
    for _ in range(chance.choice((1, 3, 10))):
        k = chance.choice(places)
        match = re.match(r"(#\d+=\w+\()(.*)(\);)$", lines[k])
        if match is None:
            continue
        what = chance.random()
        if what < 0.1:
            lines[k] = ""
        elif what < 0.2:
            lines[k] = lines[k].split("=")[0] + "=" + lines[chance.choice(places)].split("=", 1)[-1]
        else:
            parts = re.split(r",(?![^(]*\))", match[2])
            parts[chance.randrange(len(parts))] = chance.choice(VALUES)
            lines[k] = f"{match[1]}{','.join(parts)}{match[3]}"
    return "\n".join(lines)


@pytest.mark.parametrize("seed", range(12))
def test_whatever_is_damaged_ends_in_a_result_or_one_error(tmp_path: Path, seed: int) -> None:
    building = Building(("IFC2X3", "IFC4")[seed % 2])
    head = building.head("H1", (0.0, 0.0, 2500.0), type_name="Sprinkler pendent")
    pipes = [
        building.pipe(body, (0.0, 0.0, 2500.0), (0.0, 0.0, 3000.0), 33.4, body=body)
        for body in ("swept", "mapped", "cut", "disk", "mesh")
    ]
    building.connect(building.port(head, (0.0, 0.0, 2500.0)), building.port(pipes[0], None))
    building.system("Fire Protection", pipes)
    building.solid("beam", "B1", box(500, 0, 700, 3000), 3000, 3300)
    path = building.write(tmp_path / "x.ifc")
    path.write_text(mutated(path.read_text(), seed))
    try:
        drawn = read_ifc([path], Mapping(broken="note"))
    except ScenarioError as error:
        assert len(error.faults) == 1
    else:
        assert drawn.notes


# -- packed files ---------------------------------------------------------------------------


def packed(tmp_path: Path, members: dict[str, bytes], name: str = "model.ifczip") -> Path:
    path = tmp_path / name
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        for member, data in members.items():
            archive.writestr(member, data)
    return path


def test_a_packed_model_is_read_whatever_its_member_is_called(tmp_path: Path) -> None:
    data = small(tmp_path).read_bytes()
    path = packed(tmp_path, {"../../outside/evil.IFC": data, "notes.txt": b"x"})
    assert [head.id for head in read_ifc([path]).heads] == ["H1"]
    assert not (tmp_path.parent / "outside").exists()


def test_faults_of_packed_models(tmp_path: Path) -> None:
    data = small(tmp_path).read_bytes()
    assert "exactly one" in error_of(packed(tmp_path, {"a.ifc": data, "b.ifc": data}))
    assert "exactly one" in error_of(packed(tmp_path, {"a.txt": data}))
    assert "XML" in error_of(packed(tmp_path, {"a.ifcxml": b"<ifc/>"}))
    bomb = packed(tmp_path, {"a.ifc": data + b" " * (40 * MB)})
    assert "times its packed size" in error_of(bomb)
    assert "more than the 1 MB" in error_of(bomb, file_bytes=MB, ratio=1e9)
    broken = tmp_path / "broken.ifczip"
    broken.write_bytes(bomb.read_bytes()[:200])
    assert "cannot be unpacked" in error_of(broken)


def test_an_archive_that_lies_about_its_size_is_caught(tmp_path: Path) -> None:
    path = packed(tmp_path, {"a.ifc": b" " * (40 * MB)})
    data = bytearray(path.read_bytes())
    real = (40 * MB).to_bytes(4, "little")
    for start in itertools.chain.from_iterable([[data.find(real), data.rfind(real)]]):
        data[start : start + 4] = (1000).to_bytes(4, "little")
    path.write_bytes(bytes(data))
    assert error_of(path)
