"""Attributes of foreign drawings: whole texts with their own unit, or one clear error."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pytest
from dxf_foreign import FOOT, INCH, MM, M, blank, mapped, read

from router.readers.dxf import DxfMapping, read_dxf_mapping
from router.scenario import ScenarioError

if TYPE_CHECKING:
    from pathlib import Path

    from router.readers.drawn import Drawn, DrawnHead

CM, DM = 5, 14


def drawn(folder: Path, units: int, rows: list[dict[str, str]], fields: dict[str, str], **top: Any) -> Drawn:
    doc, space = blank(units)
    block = doc.blocks.new("S")
    for tag in ("ELEV", "K", "CONN", "DIR", "TYPE"):
        block.add_attdef(tag, (0, 0))
    for k, row in enumerate(rows):
        space.add_blockref("S", (100 * k, 0), {"layer": "S"}).add_auto_attribs(row)
    entry = {"holds": "heads", **({} if "elevation" in fields else {"elevation": 9})}
    return read(doc, folder, DxfMapping.model_validate({"layers": {"S": entry}, "attributes": fields, **top}))


def at_levels(folder: Path, units: int, *texts: str, tag: str = "ELEV", **top: Any) -> list[float]:
    rows = [{"ELEV": text} for text in texts]
    return [head.at[2] for head in drawn(folder, units, rows, {"elevation": tag}, **top).heads]


# 1 in. = 25.4 mm, 1 ft = 12 in. exactly (international yard and pound agreement, 1959)
@pytest.mark.parametrize(
    ("units", "text", "mm"),
    [
        (INCH, "9'-6\"", 2895.6),
        (INCH, "9' 6\"", 2895.6),
        (INCH, "9'-6 1/2\"", 2908.3),
        (INCH, "9'-6½\"", 2908.3),
        (INCH, "+9'-6\"", 2895.6),
        (INCH, "9.5 ft", 2895.6),
        (INCH, "114 1/2", 2908.3),
        (INCH, '114"', 2895.6),
        (INCH, "114", 2895.6),
        (INCH, "114.5", 2908.3),
        (INCH, "2895 mm", 2895),
        (FOOT, "9'-6\"", 2895.6),
        (FOOT, "9.5", 2895.6),
        (FOOT, "114 in", 2895.6),
        (MM, "2900", 2900),
        (MM, "2.900 m", 2900),
        (MM, "2,9 m", 2900),
        (MM, "2 900", 2900),
        (MM, "+2900", 2900),
        (MM, "-2900", -2900),
        (MM, "2895.6", 2895.6),
        (MM, "9'-6\"", 2895.6),
        (MM, "+2.0 mm", 2),
        (CM, "290,5", 2905),
        (M, "2.900", 2900),
        (M, "+2,90", 2900),
        (M, "2900 mm", 2900),
        (DM, "29", 2900),
        (DM, "2.9 m", 2900),
    ],
)
def test_an_elevation_is_read_with_its_unit(units: int, text: str, mm: float, tmp_path: Path) -> None:
    assert at_levels(tmp_path, units, text) == [pytest.approx(mm, abs=1e-6)]


@pytest.mark.parametrize(
    ("units", "text", "message"),
    [
        (MM, "+2,900", "2900 or 2.900?"),
        (MM, "2.900", "2900 or 2.900?"),
        (MM, "2,90", "mm or m? write the unit behind it"),
        (MM, "2'900", "fewer than 12 inches"),
        (MM, "FFL+2900", "a length in mm expected (or one with its unit) and nothing beside it"),
        (MM, "2900 (2nd floor)", "a length in mm expected (or one with its unit) and nothing beside it"),
        (MM, "2900/3100", "a decimal number in mm expected, not a fraction"),
        (MM, "3 km", "the unit km is not known; mm, cm, m, in or ft expected"),
        (MM, "high", "a length in mm expected (or one with its unit) and nothing beside it"),
        (MM, "29e9", "more than 10 km from the origin; is it in mm?"),
        (CM, "2.90", "cm or m?"),
        (INCH, "2,900", "2900 or 2.900?"),
        (INCH, "9'-13\"", "fewer than 12 inches"),
        (DM, "high", "a length in dm expected (or one with its unit) and nothing beside it"),
    ],
)
def test_an_elevation_that_cannot_be_read_surely(units: int, text: str, message: str, tmp_path: Path) -> None:
    with pytest.raises(ScenarioError) as caught:
        at_levels(tmp_path, units, text)
    (fault,) = caught.value.faults
    assert fault.place == "layer S"
    assert fault.item.startswith("INSERT #")
    assert fault.value == f'"{text}"'
    assert fault.unit == {MM: "mm", CM: "cm", INCH: "in", DM: "dm"}[units]
    assert "attribute ELEV: " in fault.message
    assert message in fault.message


def test_other_texts_or_the_mapping_decide_what_is_open(tmp_path: Path) -> None:
    assert at_levels(tmp_path, MM, "2,900", "2,895.5") == [2900, 2895.5]
    assert at_levels(tmp_path, MM, "2,900", decimal="point") == [2900]
    assert at_levels(tmp_path, MM, "2.900 m", "2,900", "1,234,567") == [2900, 2900, 1234567]
    with pytest.raises(ScenarioError) as caught:
        at_levels(tmp_path, MM, "2.900 m", "+2,900")
    assert [fault.value for fault in caught.value.faults] == ['"+2,900"']
    assert at_levels(tmp_path, MM, "+2,900", "3,1", tag="ELEV [m]") == [2900, 3100]
    with pytest.raises(ScenarioError, match='decimal: comma" in the mapping'):
        at_levels(tmp_path, MM, "2,900")
    with pytest.raises(ScenarioError, match="mm or m"):
        at_levels(tmp_path, MM, "2,900", decimal="comma")
    with pytest.raises(ScenarioError, match="the unit yd is not known"):
        at_levels(tmp_path, MM, "3", tag="ELEV [yd]")


def only(folder: Path, fields: dict[str, str], **row: str) -> DrawnHead:
    (head,) = drawn(folder, MM, [row], fields).heads
    return head


@pytest.mark.parametrize(
    ("tag", "text", "k"),
    [
        ("K", "5.6", 5.6),
        ("K", "K 8,0", 8.0),
        ("K", "K80", 5.6),
        ("K", "161", 11.2),
        ("K [l/min/bar^0.5]", "20", 1.4),
        ("K [gpm/psi^0.5]", "33.6", 33.6),
    ],
)
def test_k_factors(tag: str, text: str, k: float, tmp_path: Path) -> None:
    found = drawn(tmp_path, MM, [{"K": text}, {"K": text}], {"k_factor": tag})
    assert [head.given["k_factor"] for head in found.heads] == [k, k]
    told = [note for note in found.notes if "of 2 heads is taken as l/min/bar^0.5" in note]
    assert len(told) == (text in ("K80", "161", "20"))


@pytest.mark.parametrize(
    ("field", "tag", "text", "message"),
    [
        ("k_factor", "K", "5.6 or 8", "a number expected"),
        ("k_factor", "K", "K5.6 QR", "a number expected"),
        ("k_factor", "K", "0", "more than 0"),
        ("k_factor", "K", "33.6", "gpm/psi^0.5 or l/min/bar^0.5?"),
        ("thread", "CONN", "DN15/20", "not a nominal pipe size"),
        ("thread", "CONN", "15 mm pipe", "not a nominal pipe size"),
        ("size", "CONN", "1/2 x 3/4", "not a nominal pipe size"),
        ("facing", "DIR", "90 or 270", "a number expected"),
    ],
)
def test_never_the_first_number_of_a_text(
    field: str, tag: str, text: str, message: str, tmp_path: Path
) -> None:
    with pytest.raises(ScenarioError) as caught:
        only(tmp_path, {field: tag}, **{tag: text})
    (fault,) = caught.value.faults
    assert (fault.place, fault.value) == ("layer S", f'"{text}"')
    assert f"attribute {tag}: " in fault.message
    assert message in fault.message


def test_sizes_and_kinds(tmp_path: Path) -> None:
    fields = {"thread": "CONN", "kind": "TYPE", "facing": "DIR"}
    head = only(tmp_path, fields, CONN="½”", TYPE="Side-wall", DIR="90°")
    assert (head.thread, head.kind, head.facing) == (15, "sidewall", 90)
    assert only(tmp_path, fields, TYPE="Pendants").kind == "pendent"
    assert only(tmp_path, fields, TYPE="UPRIGHT QR").kind == "upright"


def test_words_and_k_factors_of_the_mapping(tmp_path: Path) -> None:
    doc, space = blank()
    space.add_point((0, 0, 2700), {"layer": "H"})
    square = [(0, 0), (400, 0), (400, 300), (0, 300)]
    space.add_lwpolyline(square, close=True, dxfattribs={"layer": "O", "elevation": 2900, "thickness": 9})
    heads = {"holds": "heads", "kind": "Pendents", "k_factor": 115}
    found = read(doc, tmp_path, mapped(H=heads, O={"holds": "obstructions", "kind": "Cable trays"}))
    assert found.heads[0].given == {"kind": "pendent", "k_factor": 8.0}
    assert [solid.kind for solid in found.solids] == ["tray"]
    assert any("K-factor 115 of 1 heads" in note for note in found.notes)


@pytest.mark.parametrize(("given", "k"), [(5.6, 5.6), (33.6, 33.6), (40, 2.8), (57, 3.95)])
def test_a_k_factor_of_the_mapping(given: float, k: float, tmp_path: Path) -> None:
    doc, space = blank()
    doc.blocks.new("S")
    space.add_blockref("S", (0, 0, 2700), {"layer": "H"})
    heads = {"holds": "heads", "k_factor": 8, "blocks": {"S": {"k_factor": given}}}
    found = read(doc, tmp_path, mapped(H=heads))
    assert found.heads[0].given["k_factor"] == k
    assert any("K-factor" in note for note in found.notes) == (given != k)
    with pytest.raises(ValueError, match="greater than 0"):
        mapped(H={**heads, "k_factor": 0})


def test_the_tolerance_ends_at_500_mm(tmp_path: Path) -> None:
    path = tmp_path / "mapping.yaml"
    path.write_text("tolerance_mm: 500\nlayers: {A: {holds: heads}}\n")
    assert read_dxf_mapping(path).tolerance_mm == 500
    for text in ("501", "-1"):
        path.write_text(f"tolerance_mm: {text}\nlayers: {{A: {{holds: heads}}}}\n")
        with pytest.raises(ScenarioError, match=rf"line 1: tolerance_mm: {text} mm: 0 to 500 mm expected"):
            read_dxf_mapping(path)
