"""Our own routes drawn as plain pipes and read back: the same fittings, styles and counts."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest
from drawn import FILES, drawn, given, routed, shaken, shuffled, to_faces
from same import assert_same

from router.infer import infer_route

if TYPE_CHECKING:
    from pathlib import Path


@pytest.mark.parametrize("name", FILES)
def test_as_written(name: str, tmp_path: Path) -> None:
    found = infer_route(given(name), drawn(routed(name), tmp_path))
    assert found.remarks == []
    assert_same(given(name), routed(name), found.route, 0.0005)
    assert found.route.objective.value == pytest.approx(routed(name).objective.value, abs=0.5)


@pytest.mark.parametrize("seed", [1, 2])
@pytest.mark.parametrize("name", FILES)
def test_rows_in_any_order_either_end_first_without_roles(name: str, seed: int, tmp_path: Path) -> None:
    found = infer_route(given(name), shuffled(drawn(routed(name), tmp_path), seed))
    assert found.remarks == []
    assert_same(given(name), routed(name), found.route, 0.0005)


@pytest.mark.parametrize("name", FILES)
def test_the_order_of_rows_changes_nothing(name: str, tmp_path: Path) -> None:
    segments = drawn(routed(name), tmp_path, decimals=0)
    a, b = (infer_route(given(name), rows) for rows in (segments, segments[::-1]))
    assert a == b


@pytest.mark.parametrize("seed", [3, 4])
@pytest.mark.parametrize("name", FILES)
def test_rounded_to_a_millimetre(name: str, seed: int, tmp_path: Path) -> None:
    """1 mm over 30 pieces of a size adds up to no more than 30 mm; the moves are remarked."""
    found = infer_route(given(name), shuffled(drawn(routed(name), tmp_path, decimals=0), seed))
    assert_same(given(name), routed(name), found.route, 0.03)
    assert {remark.kind for remark in found.remarks} <= {"snapped", "level"}
    assert all(remark.mm is not None and remark.mm < 2.0 for remark in found.remarks)


@pytest.mark.parametrize("seed", range(3))
@pytest.mark.parametrize("name", FILES)
def test_ends_up_to_1_5_mm_off(name: str, seed: int, tmp_path: Path) -> None:
    found = infer_route(given(name), shaken(drawn(routed(name), tmp_path), 1.5, seed))
    assert_same(given(name), routed(name), found.route, 0.1)


@pytest.mark.parametrize("name", FILES)
def test_drawn_to_the_faces_of_the_fittings(name: str) -> None:
    found = infer_route(given(name), to_faces(given(name), routed(name)))
    assert_same(given(name), routed(name), found.route, 0.02)
    assert "faces of its fittings" in next(r.text for r in found.remarks if r.kind == "manner")
