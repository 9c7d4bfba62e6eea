"""Heads of foreign drawings: blocks with attributes, turned, mirrored, nested; points and circles."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pytest
from dxf_foreign import HEADS, INCH, blank, mapped, read

from router.readers.dxf import DxfMapping
from router.scenario import ScenarioError

if TYPE_CHECKING:
    from pathlib import Path


def sprinkler(doc: Any, name: str = "SP-P") -> Any:
    block = doc.blocks.new(name)
    block.add_circle((0, 0), 50)
    block.add_line((0, 0), (80, 0))
    for k, tag in enumerate(("NR", "K", "CONN", "TYPE", "Z")):
        block.add_attdef(tag, (100, -30 * k), height=20)
    return block


def test_attributes_of_a_block(tmp_path: Path) -> None:
    doc, space = blank()
    sprinkler(doc)
    values = {"NR": "S-7", "K": "K 8,0", "CONN": '3/4"', "TYPE": "Upright", "Z": "3200"}
    space.add_blockref("SP-P", (1000, 2000), {"layer": "sprk"}).add_auto_attribs(values)
    space.add_blockref("SP-P", (2000, 2000, 2650), {"layer": "SPRK"}).add_auto_attribs({"K": "5.6"})
    fields = {"id": "nr", "k_factor": "K", "thread": "CONN", "kind": "TYPE", "elevation": "Z"}
    mapping = DxfMapping.model_validate({"layers": {"SPRK": HEADS}, "attributes": fields})
    first, second = read(doc, tmp_path, mapping).heads
    assert (first.id, first.at, first.kind, first.thread) == ("S-7", (1000, 2000, 3200), "upright", 20)
    assert first.given == {"kind": "upright", "thread": 20, "k_factor": 8.0}
    assert (second.id, second.at, second.kind, second.thread) == ("H1", (2000, 2000, 2650), "pendent", 15)
    assert second.given == {"k_factor": 5.6}


def test_flat_in_inches(tmp_path: Path) -> None:
    """1 in. = 25.4 mm by definition."""
    doc, space = blank(INCH)
    space.add_point((100, 50), {"layer": "A-HEAD-1"})
    space.add_circle((200, 50), 3, {"layer": "A-HEAD-2"})
    drawn = read(doc, tmp_path, mapped(**{"a-head*": {"holds": "heads", "elevation": 108}}))
    assert [head.at for head in drawn.heads] == [
        pytest.approx((2540, 1270, 2743.2)),
        pytest.approx((5080, 1270, 2743.2)),
    ]


@pytest.mark.parametrize(
    ("turn", "xscale", "yscale", "up", "facing"),
    [
        (0, 1, 1, 1, 90),
        (30, 1, 1, 1, 120),
        (30, 2.5, 2.5, 1, 120),
        (0, 1, -1, 1, 270),
        (30, -1, 1, 1, 120),
        (30, 1, -1, 1, 300),
        (0, 1, 1, -1, 90),
        (30, 1, 1, -1, 60),
    ],
)
def test_where_a_sidewall_faces(
    turn: float, xscale: float, yscale: float, up: int, facing: float, tmp_path: Path
) -> None:
    """The block's water goes along its +y; worked out by hand, last two as seen from below (x mirrored)."""
    doc, space = blank()
    sprinkler(doc, "SP-W")
    scales = {"xscale": xscale, "yscale": yscale, "rotation": turn, "extrusion": (0, 0, up)}
    space.add_blockref("SP-W", (500 * up, 700), {"layer": "S", **scales})
    entry = {**HEADS, "blocks": {"*-W": {"kind": "sidewall", "facing": 90, "thread": "3/4"}}}
    (head,) = read(doc, tmp_path, mapped(S=entry)).heads
    assert (head.kind, head.thread) == ("sidewall", 20)
    assert head.at == pytest.approx((500, 700, 2700))
    assert head.facing == pytest.approx(facing)


def test_heads_inside_other_blocks(tmp_path: Path) -> None:
    """A bay of four heads, inserted turned by 90 degrees and twice as large; its symbols lie on layer 0."""
    doc, space = blank()
    sprinkler(doc)
    bay = doc.blocks.new("BAY")
    for x, y in ((0, 0), (1000, 0), (0, 2000), (1000, 2000)):
        bay.add_blockref("SP-P", (x, y), {"layer": "0"})
    outer = doc.blocks.new("FLOOR")
    outer.add_blockref("BAY", (100, 0), {"layer": "0"})
    space.add_blockref("FLOOR", (0, 0), {"layer": "S", "rotation": 90, "xscale": 2, "yscale": 2})
    drawn = read(doc, tmp_path, mapped(S=HEADS))
    # x, y -> -2y, 2x of x + 100
    assert sorted(head.at[:2] for head in drawn.heads) == [
        pytest.approx(p, abs=1e-6) for p in ((-4000, 200), (-4000, 2200), (0, 200), (0, 2200))
    ]
    assert [head.id for head in drawn.heads] == ["H1", "H2", "H3", "H4"]


def test_a_row_of_inserts(tmp_path: Path) -> None:
    doc, space = blank()
    sprinkler(doc)
    grid = {"column_count": 3, "column_spacing": 500, "row_count": 2, "row_spacing": 800, "rotation": 90}
    space.add_blockref("SP-P", (0, 0), {"layer": "S", **grid})
    heads = read(doc, tmp_path, mapped(S=HEADS)).heads
    wanted = [(-800.0 * r, 500.0 * c) for r in range(2) for c in range(3)]
    assert sorted(head.at[:2] for head in heads) == [pytest.approx(p, abs=1e-6) for p in sorted(wanted)]


def test_the_same_id_twice_is_told(tmp_path: Path) -> None:
    doc, space = blank()
    sprinkler(doc)
    for x in (0, 1000):
        space.add_blockref("SP-P", (x, 0), {"layer": "S"}).add_auto_attribs({"NR": "7"})
    entry = {**HEADS, "attributes": {"id": "NR"}}
    drawn = read(doc, tmp_path, mapped(S=entry))
    assert [head.id for head in drawn.heads] == ["7", "7-2"]
    assert any("drawn more than once" in note for note in drawn.notes)


def test_flat_heads_without_an_elevation_are_a_fault(tmp_path: Path) -> None:
    doc, space = blank(INCH)
    space.add_point((1, 2), {"layer": "S"})
    with pytest.raises(ScenarioError, match=r"layer S: 1 heads: 0 in: .*elevation in the mapping"):
        read(doc, tmp_path, mapped(S={"holds": "heads"}))


@pytest.mark.parametrize("holds", ["heads", "runs", "pipes"])
def test_one_that_is_drawn_flat_among_others_is_a_fault_too(tmp_path: Path, holds: str) -> None:
    """It was put at elevation 0, a storey below the rest; who means 0 says so in the mapping."""
    doc, space = blank()
    for k, z in enumerate((2700, 2700, 0)):
        place = (1000 * k, 0, z)
        if holds == "heads":
            space.add_point(place, {"layer": "S"})
        else:
            space.add_line(place, (1000 * k, 5000, z), {"layer": "S"})
    entry = {"holds": holds, "size": 50}
    with pytest.raises(ScenarioError, match=rf"layer S: 1 {holds} \(of 3 on the layer\): 0 mm"):
        read(doc, tmp_path, mapped(S=entry))
    drawn = read(doc, tmp_path, mapped(S={**entry, "elevation": 0}))
    assert len(getattr(drawn, holds)) == 3


@pytest.mark.parametrize(
    ("tag", "text", "message"),
    [
        ("K", "large", "a number expected"),
        ("CONN", "7/9", "not a nominal pipe size"),
        ("TYPE", "drencher", "pendent, upright or sidewall"),
    ],
)
def test_attributes_without_sense_are_faults(tag: str, text: str, message: str, tmp_path: Path) -> None:
    doc, space = blank()
    sprinkler(doc)
    space.add_blockref("SP-P", (0, 0), {"layer": "S"}).add_auto_attribs({tag: text})
    fields = {"k_factor": "K", "thread": "CONN", "kind": "TYPE"}
    with pytest.raises(ScenarioError, match=message) as caught:
        read(doc, tmp_path, mapped(S={**HEADS, "attributes": fields}))
    fault = caught.value.faults[0]
    assert fault.place == "layer S"
    assert "INSERT" in fault.item
    assert fault.value == f'"{text}"'


def test_what_is_passed_over_is_counted(tmp_path: Path) -> None:
    doc, space = blank()
    doc.layers.add("COLD").freeze()
    doc.layers.add("DARK").off()
    space.add_point((0, 0), {"layer": "S"})
    space.add_point((1, 0), {"layer": "COLD"})
    space.add_point((2, 0), {"layer": "DARK"})
    text = space.add_text("x", dxfattribs={"layer": "S"})
    for _ in range(3):
        space.add_line((0, 0), (1, 1), {"layer": "WALLS"})
    drawn = read(doc, tmp_path, mapped(S=HEADS, COLD=HEADS, DARK=HEADS))
    assert len(drawn.heads) == 1
    assert drawn.notes == [
        "3 LINE on layer WALLS: the mapping does not name the layer",
        "1 POINT on layer COLD: the layer is frozen",
        "1 POINT on layer DARK: the layer is off",
        f"1 TEXT on layer S: no head: an insert, a point or a circle expected (#{text.dxf.handle})",
    ]


def test_two_rings_are_one_head(tmp_path: Path) -> None:
    doc, space = blank()
    for radius in (40, 60):
        space.add_circle((100, 100), radius, {"layer": "S"})
    space.add_point((100, 100), {"layer": "S"})
    drawn = read(doc, tmp_path, mapped(S=HEADS))
    assert len(drawn.heads) == 1
    assert any(
        note.startswith("1 CIRCLE on layer S: a second mark at the place of a head (#")
        and note.endswith(" at 100, 100 mm)")
        for note in drawn.notes
    )


def test_a_drawing_without_any_layer_of_the_mapping_says_what_it_has(tmp_path: Path) -> None:
    doc, space = blank()
    for k in range(3):
        space.add_point((k, 0), {"layer": "FP-HEADS"})
    space.add_line((0, 0), (1, 1), {"layer": "WALLS"})
    for mapping in (None, mapped(S=HEADS)):
        with pytest.raises(ScenarioError, match=r"it has FP-HEADS \(3\), WALLS \(1\)$"):
            read(doc, tmp_path, mapping)


def test_the_run_that_an_attribute_names(tmp_path: Path) -> None:
    doc, space = blank()
    sprinkler(doc)
    space.add_lwpolyline([(0, 0), (9000, 0)], dxfattribs={"layer": "R"})
    for x, name in ((0, "L1"), (500, "L9")):
        space.add_blockref("SP-P", (x, 0), {"layer": "S"}).add_auto_attribs({"NR": name})
    runs = {"holds": "runs", "elevation": 3000, "prefix": "L"}
    first, second = read(doc, tmp_path, mapped(S={**HEADS, "attributes": {"run": "NR"}}, R=runs)).heads
    assert (first.line, first.given) == ("L1", {"run": "L1"})
    assert (second.line, second.given) == ("L9", {})
