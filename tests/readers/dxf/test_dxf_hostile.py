"""Broken, cut off and hostile files end in one clear error, or in what they hold; never in anything else."""

from __future__ import annotations

import random
from functools import cache
from pathlib import Path
from typing import Any

import pytest
from dxf_foreign import HEADS, RUNS, SOLIDS, blank, mapped, read
from ezdxf.filemanagement import new, readfile

from router.deliver.dxf import scenario_dxf
from router.readers.drawn import Drawn
from router.readers.dxf import read_dxf
from router.scenario import ScenarioError, read_scenario

SCENARIO = Path(__file__).parents[3] / "scenarios" / "clinic_corridor.json"


@cache
def ours() -> bytes:
    return scenario_dxf(read_scenario(SCENARIO)).encode()


def given(data: bytes, folder: Path, name: str = "given.dxf") -> Path:
    path = folder / name
    path.write_bytes(data)
    return path


def refused(path: Path, match: str) -> ScenarioError:
    with pytest.raises(ScenarioError, match=match) as caught:
        read_dxf(path)
    assert caught.value.source == str(path)
    assert len(caught.value.faults) == 1
    return caught.value


@pytest.mark.parametrize("share", [0.02, 0.1, 0.3, 0.5, 0.7, 0.9, 0.99, 0.9999])
def test_a_file_that_is_cut_off(share: float, tmp_path: Path) -> None:
    cut = ours()[: int(len(ours()) * share)]
    refused(given(cut, tmp_path), f"{len(cut)} bytes: is cut off: its end")


def test_a_binary_file_is_read_and_its_cut_is_seen(tmp_path: Path) -> None:
    path = given(ours(), tmp_path)
    binary = tmp_path / "binary.dxf"
    readfile(path).saveas(binary, fmt="bin")
    assert read_dxf(binary).heads == read_dxf(path).heads
    assert read_dxf(binary).settings == read_dxf(path).settings
    refused(given(binary.read_bytes()[:-3000], tmp_path), "is cut off")


@pytest.mark.parametrize(
    ("data", "match"),
    [
        (b"", "the file is empty"),
        (b"   \n", "the file is empty"),
        (b"AC1032\x00\x00\x00", "is a DWG file"),
        (b"\x89PNG\r\n\x1a\n" + b"\x00" * 99, "is not a DXF file"),
        (b"hello\nworld\n", "is not a DXF file"),
        (b"  0\nSECTION\n  2\nENTITIES\n  0\nEOF\n", "damaged|unit"),
    ],
)
def test_what_is_no_drawing(data: bytes, match: str, tmp_path: Path) -> None:
    refused(given(data, tmp_path), match)


def test_no_file_and_a_folder(tmp_path: Path) -> None:
    refused(tmp_path / "none.dxf", "no such file")
    refused(tmp_path, "not a plain file")


@pytest.mark.parametrize("seed", range(40))
def test_any_bytes_changed(seed: int, tmp_path: Path) -> None:
    """Lines doubled, dropped, swapped or replaced: a drawing or an error, and a drawing only with heads."""
    rng = random.Random(seed)
    lines = ours().split(b"\n")
    for _ in range(rng.choice([1, 3, 20])):
        k = rng.randrange(len(lines) - 4)
        action = rng.randrange(5)
        if action == 0:
            del lines[k]
        elif action == 1:
            lines.insert(k, lines[rng.randrange(len(lines))])
        elif action == 2:
            lines[k] = rng.choice([b"nan", b"1e999", b"-1", b"", b"\xff\xfe", b"99999999999999999999", b"{"])
        elif action == 3:
            lines[k], lines[k + 1] = lines[k + 1], lines[k]
        else:
            lines[k] = bytes(rng.randrange(32, 127) for _ in range(300))
    try:
        drawn = read_dxf(given(b"\n".join(lines), tmp_path))
    except ScenarioError as error:
        assert str(error).encode("utf-8")
    else:
        assert isinstance(drawn, Drawn)


DAMAGED = {
    "a section that does not end": (b"  0\nENDSEC\n", b"", 3),
    "a handle that is none": (b"  5\n2F\n", b"  5\nXYZ\n", 1),
    "a number that is none": (b" 40\n", b" 40\nx", 1),
}


@pytest.mark.parametrize("which", DAMAGED)
def test_a_damaged_file_that_can_be_saved_says_so(
    which: str, tmp_path: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    old, new_, count = DAMAGED[which]
    drawn = read_dxf(given(ours().replace(old, new_, count), tmp_path))
    assert len(drawn.heads) == len(read_scenario(SCENARIO).heads)
    assert "is damaged" in drawn.notes[0]
    assert capfd.readouterr() == ("", "")


def test_a_damaged_file_that_cannot_be_saved(tmp_path: Path) -> None:
    data = ours().replace(b"  0\nENDTAB\n", b"  0\nENDTAB\nrubbish\n", 1)
    refused(given(data, tmp_path), "Invalid group code")


def test_a_drawing_of_ours_that_lost_its_settings(tmp_path: Path) -> None:
    path = given(ours(), tmp_path)
    doc = readfile(path)
    doc.rootdict.discard("BRANCH_DROP_ROUTER_SCENARIO")
    doc.saveas(path)
    assert any("has lost what it carried" in note for note in read_dxf(path).notes)


def test_letters_that_are_none(tmp_path: Path) -> None:
    """Bytes outside the encoding must not come out as what no file can hold."""
    doc, space = blank()
    doc.blocks.new("B").add_attdef("NO", (0, 0))
    space.add_blockref("B", (0, 0), {"layer": "S"}).add_auto_attribs({"NO": "qqq"})
    space.add_line((0, 0), (1, 1), {"layer": "rrr"})
    doc.saveas(tmp_path / "a.dxf")
    data = (tmp_path / "a.dxf").read_bytes().replace(b"qqq", b"q\xff\xfe").replace(b"rrr", b"r\xff")
    drawn = read_dxf(given(data, tmp_path), mapped(S={**HEADS, "attributes": {"id": "NO"}}))
    repr_ = drawn.heads[0].id + "".join(drawn.notes)
    assert repr_.encode("utf-8")


@pytest.mark.parametrize("bad", [float("nan"), float("inf"), 1e200])
@pytest.mark.parametrize("holds", ["heads", "runs", "solids"])
def test_coordinates_that_are_no_place(holds: str, bad: float, tmp_path: Path) -> None:
    doc, space = blank()
    if holds == "heads":
        space.add_point((bad, 0, 3000), {"layer": "S"})
    elif holds == "runs":
        space.add_lwpolyline([(0, 0), (5000, bad), (9000, 9)], dxfattribs={"layer": "R"})
    else:
        space.add_lwpolyline([(0, 0), (5000, bad), (9000, 9)], close=True, dxfattribs={"layer": "O"})
    with pytest.raises(ScenarioError, match="no place on a site") as caught:
        read(doc, tmp_path, mapped(S=HEADS, R=RUNS, O=SOLIDS))
    fault = caught.value.faults[0]
    assert fault.unit == "mm"
    assert "layer" in fault.place
    assert fault.item.split()[0] in ("POINT", "LWPOLYLINE")


def test_inserts_by_the_million(tmp_path: Path) -> None:
    doc, space = blank()
    doc.blocks.new("B").add_point((0, 0))
    grid = {"column_count": 30000, "column_spacing": 1, "row_count": 30000, "row_spacing": 1}
    space.add_blockref("B", (0, 0), {"layer": "S", **grid})
    with pytest.raises(ScenarioError, match="more than 500000 entities"):
        read(doc, tmp_path, mapped(S=HEADS))


def test_blocks_that_double_at_every_step(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("router.readers.dxf.walk.MAX_ENTITIES", 20_000)
    doc, space = blank()
    doc.blocks.new("B0").add_point((0, 0), {"layer": "S"})
    for k in range(1, 40):
        block = doc.blocks.new(f"B{k}")
        for _ in range(8):
            block.add_blockref(f"B{k - 1}", (0, 0), {"layer": "X"})
    space.add_blockref("B9", (0, 0), {"layer": "X"})
    with pytest.raises(ScenarioError, match="more than 20000 entities"):
        read(doc, tmp_path, mapped(S=HEADS))


def test_blocks_that_hold_themselves(tmp_path: Path) -> None:
    doc, space = blank()
    a, b = doc.blocks.new("A"), doc.blocks.new("B")
    a.add_blockref("B", (0, 0), {"layer": "X"})
    b.add_blockref("A", (0, 0), {"layer": "X"})
    b.add_point((5, 5, 2000), {"layer": "S"})
    space.add_blockref("A", (0, 0), {"layer": "X"})
    space.add_blockref("A", (0, 0), {"layer": "S"})
    drawn = read(doc, tmp_path, mapped(S=HEADS))
    assert (5, 5, 2000) in [head.at for head in drawn.heads]
    assert any("holds itself" in note for note in drawn.notes)


def test_blocks_many_deep(tmp_path: Path) -> None:
    doc, space = blank()
    doc.blocks.new("B0").add_point((0, 0), {"layer": "S"})
    for k in range(1, 400):
        doc.blocks.new(f"B{k}").add_blockref(f"B{k - 1}", (0, 0), {"layer": "X"})
    space.add_blockref("B399", (0, 0), {"layer": "X"})
    space.add_point((1, 1), {"layer": "S"})
    drawn = read(doc, tmp_path, mapped(S=HEADS))
    assert len(drawn.heads) == 1
    assert any("in blocks 12 deep" in note for note in drawn.notes)


def test_a_block_that_is_missing(tmp_path: Path) -> None:
    doc, space = blank()
    space.add_blockref("NOWHERE", (0, 0), {"layer": "S"})
    path = tmp_path / "missing.dxf"
    doc.saveas(path)
    drawn = read_dxf(path, mapped(S=HEADS))
    assert any("its block NOWHERE is missing" in note for note in drawn.notes)


@pytest.mark.parametrize(("unit", "match"), [(0, "does not say its unit"), (3, "a unit that is not read")])
def test_a_drawing_without_a_unit(unit: int, match: str, tmp_path: Path) -> None:
    doc, space = blank(unit)
    space.add_point((1, 2, 3), {"layer": "S"})
    with pytest.raises(ScenarioError, match=match):
        read(doc, tmp_path, mapped(S=HEADS))
    (head,) = read(doc, tmp_path, mapped(S=HEADS), units="m").heads
    assert head.at == (1000, 2000, 3000)


def broken(text: str, doc: Any) -> None:
    """Change what the first head carries."""
    head = next(e for e in doc.modelspace() if e.dxf.layer == "ROUTER-HEADS")
    head.set_xdata("BRANCH_DROP_ROUTER", [(1000, text)])


@pytest.mark.parametrize("text", ["{", "[1, 2]", "", "{}", '{"id": 5}', "[" * 200])
def test_what_is_carried_is_broken(text: str, tmp_path: Path) -> None:
    path = given(ours(), tmp_path)
    doc = readfile(path)
    broken(text, doc)
    doc.saveas(path)
    with pytest.raises(ScenarioError, match="layer ROUTER-HEADS: INSERT #") as caught:
        read_dxf(path)
    assert "what it carries of a scenario of ours" in str(caught.value)


@pytest.mark.parametrize("text", ["{", "[]", '{"heads": []}'])
def test_what_the_drawing_carries_is_broken(text: str, tmp_path: Path) -> None:
    path = given(ours(), tmp_path)
    doc = readfile(path)
    record: Any = doc.rootdict["BRANCH_DROP_ROUTER_SCENARIO"]
    record.reset([(1, text)])
    doc.saveas(path)
    refused(path, "carries")


def test_a_file_of_another_version(tmp_path: Path) -> None:
    for version in ("R12", "R2000", "R2018"):
        doc = new(version)
        doc.header["$INSUNITS"] = 4
        doc.modelspace().add_point((1, 2, 3), {"layer": "S"})
        doc.saveas(tmp_path / "v.dxf")
        drawn = read_dxf(tmp_path / "v.dxf", mapped(S=HEADS).model_copy(update={"units": "mm"}))
        assert drawn.heads[0].at == (1, 2, 3)
