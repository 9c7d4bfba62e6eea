"""A folder of sound files of every kind, of which cases are broken copies."""

from __future__ import annotations

import json
import shutil
from typing import TYPE_CHECKING

from typer.testing import CliRunner

from bad_input.case import MINIMAL, TREE
from bad_input.table_cases import DRAWN, HEADS, PIPES, SOLIDS
from router.cli import app

if TYPE_CHECKING:
    from pathlib import Path

SOUND = {
    "scenario": "tree.json",
    "route": "route.json",
    "drawing": "drawn.csv",
    "folder": "folder",
    "heads": "heads.csv",
    "obstructions": "solids.csv",
    "pipes": "pipes.csv",
    "columns": "columns.yaml",
    "dxf": "drawn.dxf",
    "dxf mapping": "layers.yaml",
    "ifc": "model.ifc",
    "ifc mapping": "words.yaml",
    "weights": "fitting=900,1000",
}
"""The sound file of each kind."""


def make_sound(folder: Path) -> None:
    """Write them, and outputs that stand there already."""
    (folder / "scenario.json").write_text(json.dumps(MINIMAL))
    (folder / "tree.json").write_text(json.dumps(TREE))
    (folder / "drawn.csv").write_text(DRAWN)
    (folder / "heads.csv").write_text(HEADS)
    (folder / "solids.csv").write_text(SOLIDS)
    (folder / "pipes.csv").write_text(PIPES)
    (folder / "columns.yaml").write_text("units: mm\n")
    (folder / "words.yaml").write_text("ceilings: true\n")
    layers = "layers: {ROUTER-HEADS: {holds: heads}, ROUTER-RUNS: {holds: runs}, '*': {holds: nothing}}"
    (folder / "layers.yaml").write_text(layers)
    (folder / "folder").mkdir()
    (folder / "folder" / "heads.csv").write_text(
        "id,x,y,z,orientation,conn_dn,line_id\nH1,1500,0,2700,pendent,15,B1\n"
    )
    (folder / "folder" / "pipes.csv").write_text(
        "id,x1,y1,z1,x2,y2,z2,dn,role,line_id\nL1,0,0,3200,8100,0,3200,32,branch,B1\n"
    )
    (folder / "folder" / "obstructions.csv").write_text("kind,zmin,zmax,x1,y1,x2,y2,x3,y3,x4,y4\n")
    for command in (
        ["route", "scenario.json", "-o", "route.json", "--quiet"],
        ["export", "scenario.json", "-o", "drawn.dxf"],
        ["export", "scenario.json", "-o", "model.ifc"],
    ):
        given = [str(folder / part) if "." in part else part for part in command]
        result = CliRunner().invoke(app, given)
        assert result.exit_code == 0, result.output
    shutil.copy(folder / "route.json", folder / "route2.json")
    for name in ("out.json", "out.svg", "out.html", "out.dxf", "out.bcf", "out.csv"):
        (folder / name).write_bytes(b"what stood here before")
