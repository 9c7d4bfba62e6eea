"""The mapping file: which layer counts, and faults that name place, value and what is accepted."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from router.readers.dxf import own_mapping, read_dxf_mapping
from router.scenario import ScenarioError

if TYPE_CHECKING:
    from pathlib import Path

GOOD = """\
units: ft
attributes: {id: MARK, k_factor: K}
layers:
  FP-HEAD-WALL: {holds: heads, kind: sidewall, facing: 90, elevation: 9.5}
  "FP-HEAD*":
    holds: heads
    elevation: 9
    thread: 1/2
    blocks:
      "*UP*": {kind: upright, thread: 3/4}
  M-DUCT: {holds: obstructions, kind: duct, elevations: [9, 10.5]}
"""


def written(text: str, folder: Path, name: str = "mapping.yaml") -> Path:
    path = folder / name
    path.write_text(text)
    return path


def test_the_first_pattern_that_fits_counts(tmp_path: Path) -> None:
    mapping = read_dxf_mapping(written(GOOD, tmp_path))
    assert mapping.units == "ft"
    wall, head = mapping.layer("fp-head-wall"), mapping.layer("FP-HEAD-2")
    assert wall is not None
    assert head is not None
    assert wall.kind == "sidewall"
    assert (head.thread, head.blocks["*UP*"].thread) == (15, 20)
    assert mapping.layer("FP-TEXT") is None
    assert mapping.tags(head)["id"] == "MARK"


def test_our_own_layers(tmp_path: Path) -> None:
    mapping = own_mapping()
    assert mapping.layer("ROUTER-PIPE-ARMS").holds == "pipes"  # type: ignore[union-attr]
    assert mapping.layer("ROUTER-SECTION-PIPE").holds == "nothing"  # type: ignore[union-attr]
    assert mapping.layer("0") is None


@pytest.mark.parametrize(
    ("text", "place", "value", "message"),
    [
        ("units: mm\n", "layers", "", "is missing"),
        ("layers: {}\n", "layers", "{}", "at least 1"),
        ("units: yd\nlayers: {A: {holds: heads}}\n", "units", '"yd"', "'mm', 'cm', 'm', 'in' or 'ft'"),
        ("layers: {A: {holds: walls}}\n", "layers.A.holds", '"walls"', "'heads', 'runs', 'pipes'"),
        ("layers: {A: {}}\n", "layers.A.holds", "", "is missing"),
        ("layers: {A: {holds: heads, z: 3}}\n", "layers.A.z", "3", "unknown field"),
        ("layers: {A: {holds: heads, kind: big}}\n", "layers.A", "", "pendent, upright, sidewall"),
        ("layers: {A: {holds: heads, thread: 7}}\n", "layers.A.thread", "7", "not a nominal pipe size"),
        ("layers: {A: {holds: obstructions, elevations: [9, 2]}}\n", "layers.A", "", "lowest first"),
        ("layers: {A: {holds: obstructions, height: -2}}\n", "layers.A", "", "more than 0"),
        ("layers: {A: {holds: heads, elevation: high}}\n", "layers.A.elevation", '"high"', "number"),
        ("- A\n", "(file)", "", "one object with layers"),
    ],
)
def test_faults(text: str, place: str, value: str, message: str, tmp_path: Path) -> None:
    with pytest.raises(ScenarioError) as caught:
        read_dxf_mapping(written(text, tmp_path))
    fault = caught.value.faults[0]
    assert fault.place == place
    assert value in fault.value
    assert message in fault.message
    if place.startswith("layers.A"):
        assert fault.item == "layer A"


def test_a_mapping_that_is_no_text(tmp_path: Path) -> None:
    path = tmp_path / "mapping.json"
    path.write_bytes(b"\xff\xfe{}")
    with pytest.raises(ScenarioError, match="not UTF-8"):
        read_dxf_mapping(path)
    with pytest.raises(ScenarioError, match="cannot be read"):
        read_dxf_mapping(tmp_path / "none.yaml")
