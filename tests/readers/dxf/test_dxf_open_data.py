"""Levels of an open building, drawn as another program would, and read back. Skips where they are absent."""

from __future__ import annotations

import math
from collections import Counter
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest
from dxf_foreign import M, blank

from router.readers.csv_tables import read_tables
from router.readers.dxf import DxfMapping, read_dxf
from router.readers.spelled.kinds import solid_kind

if TYPE_CHECKING:
    from router.readers.drawn import Drawn

DATA = Path(__file__).parents[4] / "shared" / "open-data"
LEVELS = sorted(p for p in DATA.glob("hospital*") if p.is_dir()) if DATA.is_dir() else []
pytestmark = pytest.mark.skipif(not LEVELS, reason="the open data are not here")


def drawing(level: Drawn, path: Path) -> DxfMapping:
    """Draw a level in metres: heads as blocks by kind, pipe by size, solids with thickness."""
    doc, space = blank(M)
    for kind in ("pendent", "upright", "sidewall"):
        doc.blocks.new(f"SYM-{kind}").add_circle((0, 0), 0.05)
        doc.blocks.get(f"SYM-{kind}").add_attdef("NO", (0, 0))
    layers: dict[str, Any] = {"HEADS": {"holds": "heads", "blocks": {}, "attributes": {"id": "NO"}}}
    for head in level.heads:
        layers["HEADS"]["blocks"][f"SYM-{head.kind}"] = {"kind": head.kind}
        at = [v / 1000 for v in head.at]
        space.add_blockref(f"SYM-{head.kind}", at, {"layer": "HEADS"}).add_auto_attribs({"NO": head.id})
    for pipe in level.pipes:
        layer = f"PIPE-{pipe.dn}"
        layers[layer] = {"holds": "pipes", "size": min(pipe.dn, 150)}
        space.add_line([v / 1000 for v in pipe.a], [v / 1000 for v in pipe.b], {"layer": layer})
    for solid in level.solids:
        layers[f"X-{solid.kind}"] = {"holds": "obstructions", "kind": solid.kind}
        attributes = {"elevation": solid.low / 1000, "thickness": (solid.high - solid.low) / 1000}
        corners = [(x / 1000, y / 1000) for x, y in solid.corners]
        space.add_lwpolyline(corners, close=True, dxfattribs={"layer": f"X-{solid.kind}", **attributes})
    doc.saveas(path)
    return DxfMapping.model_validate({"layers": layers})


@pytest.mark.parametrize("folder", LEVELS, ids=lambda path: path.name)
def test_a_level_comes_back(folder: Path, tmp_path: Path) -> None:
    level = read_tables(folder)
    path = tmp_path / "level.dxf"
    found = read_dxf(path, drawing(level, path))
    assert [(head.id, head.kind) for head in found.heads] == [(head.id, head.kind) for head in level.heads]
    for head, other in zip(found.heads, level.heads, strict=True):
        assert math.dist(head.at, other.at) < 0.001
    # A pipe without length is no pipe in a drawing.
    pipes = [pipe for pipe in level.pipes if math.dist(pipe.a, pipe.b) >= 0.01]
    assert len(found.pipes) == len(pipes)
    for pipe, wanted in zip(found.pipes, pipes, strict=True):
        assert math.dist(pipe.a, wanted.a) < 0.001
        assert math.dist(pipe.b, wanted.b) < 0.001
        assert pipe.dn == min(wanted.dn, 150)
    assert len(found.solids) > 0.9 * len(level.solids)
    kinds, all_kinds = (Counter(solid_kind(solid.kind) for solid in drawn.solids) for drawn in (found, level))
    lost = sum((all_kinds - kinds).values())
    told = sum(int(note.split()[0]) for note in found.notes if "LWPOLYLINE" in note)
    assert lost == told
