"""A model built from the tables of a real hospital, as a designer's export would hold it.

Source of the tables: West Riverside Hospital models, CC BY 3.0, Open IFC Model
Repository no. 308 (``../shared/open-data``; not part of the project).
"""

from __future__ import annotations

import csv
from typing import TYPE_CHECKING, Any

from building import Building, Xyz

if TYPE_CHECKING:
    from pathlib import Path

KINDS = {"cable_tray": "tray", "plumbing_pipe": "pipe"}


def rows(folder: Path, name: str) -> list[dict[str, str]]:
    """Read a table."""
    with (folder / name).open(encoding="utf-8-sig", newline="") as stream:
        return list(csv.DictReader(stream))


def built(folder: Path, schema: str, unit: str, *, systems: bool = True, turned: float = 0.0) -> Building:
    """Heads with ports, pipes with the diameters of the model and without roles, fittings and bodies."""
    building = Building(schema, unit, turned, (12000.0, -3000.0, 600.0) if turned else (0.0, 0.0, 0.0))
    water: list[Any] = []
    for row in rows(folder, "heads.csv"):
        at = _point(row, "")
        low: Xyz = (at[0], at[1], float(row["z_deflector"]))
        water.append(building.head(row["id"], low, port=at, type_name="Sprinkler pendent K5.6"))
    for row in rows(folder, "pipes.csv"):
        a, b = _point(row, "1"), _point(row, "2")
        water.append(building.pipe(row["id"], a, b, float(row["modelled_d"])))
    for row in rows(folder, "fittings.csv"):
        x0, y0, x1, y1 = (float(row[key]) for key in ("xmin", "ymin", "xmax", "ymax"))
        corners = [(x0, y0), (x1, y0), (x1, y1), (x0, y1)]
        water.append(building.solid("fitting", row["id"], corners, float(row["zmin"]), float(row["zmax"])))
    if systems:
        building.system("Fire Protection Wet", water)
    cold = []
    for number, row in enumerate(rows(folder, "obstructions.csv"), start=2):
        corners = [(float(row[f"x{k}"]), float(row[f"y{k}"])) for k in range(1, 5)]
        kind = KINDS.get(row["kind"], row["kind"])
        low_z, high_z = float(row["zmin"]), float(row["zmax"])
        made = building.solid(kind, f"{row['kind']}-{number}", corners, low_z, high_z)
        if kind == "pipe":
            cold.append(made)
    if cold:
        building.system("Domestic Cold Water", cold)
    return building


def _point(row: dict[str, str], end: str) -> Xyz:
    return (float(row[f"x{end}"]), float(row[f"y{end}"]), float(row[f"z{end}"]))
