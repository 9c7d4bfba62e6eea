"""A real hospital as a model: every inlet, axis and body comes back.

Source: West Riverside Hospital models, CC BY 3.0, Open IFC Model Repository no. 308.
"""

from __future__ import annotations

import itertools
from math import dist
from pathlib import Path

import pytest

pytest.importorskip("ifcopenshell")

from building import complaints
from hospital import built
from shapely.geometry import MultiPoint, Polygon

from router.readers.csv_tables import read_tables
from router.readers.ifc import read_ifc

DATA = Path(__file__).resolve().parents[4] / "shared" / "open-data"
FOLDERS = ("hospital_s1_L1B001", "hospital_s3_L3high", "hospital_level1", "hospital_level3")
WAYS = (("IFC2X3", "mm", 0.0), ("IFC4", "ft", 33.0))
NEAR_MM = 1.0


@pytest.mark.parametrize(
    ("name", "schema", "unit", "turned"),
    [(name, *way) for name, way in zip(FOLDERS, itertools.cycle(WAYS), strict=False)],
)
def test_a_hospital_comes_back(tmp_path: Path, name: str, schema: str, unit: str, turned: float) -> None:
    if not (DATA / name).is_dir():
        pytest.skip(f"no data in {DATA / name}")
    path = built(DATA / name, schema, unit, turned=turned).write(tmp_path / "hospital.ifc")
    if name == FOLDERS[0]:
        assert complaints(path) == []
    table, drawn = read_tables(DATA / name), read_ifc([path])
    heads = {head.id: head for head in drawn.heads}
    assert heads.keys() == {head.id for head in table.heads}
    for head in table.heads:
        assert dist(head.at, heads[head.id].at) < NEAR_MM
        assert head.kind == heads[head.id].kind
    pipes = {pipe.id: pipe for pipe in drawn.pipes}
    assert pipes.keys() == {pipe.id for pipe in table.pipes}
    for pipe in table.pipes:
        found = pipes[pipe.id]
        assert (
            min(max(dist(found.a, p), dist(found.b, q)) for p, q in ((pipe.a, pipe.b), (pipe.b, pipe.a)))
            < NEAR_MM
        )
    # sizes are told by the bodies' diameters alone
    assert sum(pipe.dn != pipes[pipe.id].dn for pipe in table.pipes) <= 0.001 * len(table.pipes)
    solids = {solid.id: solid for solid in drawn.solids}
    assert solids.keys() == {solid.id for solid in table.solids}
    for solid in table.solids:
        body = solids[solid.id]
        plan = Polygon(solid.corners)
        outline = plan if plan.is_valid else MultiPoint(solid.corners).convex_hull
        assert outline.hausdorff_distance(Polygon(body.corners)) < NEAR_MM
        assert abs(solid.low - body.low) < NEAR_MM
        assert abs(solid.high - body.high) < NEAR_MM


def test_without_systems_all_that_leads_to_heads_is_found(tmp_path: Path) -> None:
    name = FOLDERS[1]
    if not (DATA / name).is_dir():
        pytest.skip(f"no data in {DATA / name}")
    path = built(DATA / name, "IFC4", "m", systems=False).write(tmp_path / "hospital.ifc")
    table, drawn = read_tables(DATA / name), read_ifc([path])
    found = {pipe.id for pipe in drawn.pipes}
    heads = {head.id for head in table.heads}
    assert {pipe.id for pipe in table.pipes if set(pipe.heads) & heads} <= found
    assert {pipe.line for pipe in table.pipes if pipe.id in found} >= {head.line for head in table.heads}
