"""Make the sample files of this folder: the reading room as other programs would hand it over.

    .venv/bin/python scenarios/coordination/make.py

Three models (sprinklers with a person's route in IFC4 and mm, structure in IFC2X3 and metres, services in
IFC4 and inches), a flat ceiling plan in DXF and a table of ducts. All of it is invented, as the scenario is.
"""

from __future__ import annotations

import csv
import sys
from pathlib import Path

import ezdxf
from ezdxf import units

HERE = Path(__file__).parent
ROOT = HERE.parents[1]
sys.path.insert(0, str(ROOT / "tests" / "readers" / "ifc"))

from building import Building  # noqa: E402  (a helper of the tests)

from router.readers.segments import read_segments  # noqa: E402
from router.scenario import read_scenario  # noqa: E402
from router.trade.tables import Tables  # noqa: E402

INCH = 25.4
STRUCTURE = ("beam", "column")
CLASSES = {"luminaire": "light"}


def sprinklers(folder: Path) -> None:
    """Write heads and the pipes that a person drew; nothing says which pipe is a line and which an arm."""
    room = read_scenario(ROOT / "scenarios" / "reading_room.json")
    tables = Tables(room.system.standard)
    building = Building("IFC4", "mm")
    kind = {"type_name": "Sprinkler pendent K5.6", "predefined": "SPRINKLER"}
    parts = [building.head(head.id, head.at, port=head.at, **kind) for head in room.heads]
    for pipe in read_segments(ROOT / "scenarios" / "reading_room_drawn.csv"):
        made = building.pipe(f"pipe {pipe.id}", pipe.a, pipe.b, tables.od(pipe.dn))
        building.sets(made, "Dimensions", {"Nominal Diameter": f"DN{pipe.dn}"})
        parts.append(made)
    building.system("Fire Protection Wet", parts)
    building.write(folder / "sprinklers.ifc")


def bodies(folder: Path, name: str, schema: str, unit: str, *, structure: bool) -> None:
    """Write the obstructions of one trade."""
    room = read_scenario(ROOT / "scenarios" / "reading_room.json")
    building = Building(schema, unit)
    building.number = 100_000 if structure else 200_000  # ids of their own in each model
    for item in room.obstructions:
        if (item.kind in STRUCTURE) == structure:
            kind = CLASSES.get(item.kind, item.kind)
            building.solid(kind, item.id, item.polygon, *item.elevations)
    building.write(folder / name)


def ceiling(folder: Path) -> None:
    """Write the ceiling plan after a change: flat, in inches, heads as blocks; two rows have moved."""
    room = read_scenario(ROOT / "scenarios" / "reading_room.json")
    drawing = ezdxf.new("R2010", setup=True, units=units.IN)
    block = drawing.blocks.new("SPR-P")
    block.add_circle((0, 0), 2)
    block.add_attdef("NO", (3, 3), dxfattribs={"height": 3})
    plan = drawing.modelspace()
    for layer in ("SPK", "DUCT", "TILES"):
        drawing.layers.add(layer)
    for head in room.heads:
        x, y = head.at[0] / INCH, head.at[1] / INCH
        moved = 6.0 if head.id[-1] in "34" else 0.0
        insert = plan.add_blockref("SPR-P", (round(x, 3), round(y + moved, 3)), dxfattribs={"layer": "SPK"})
        insert.add_attrib("NO", head.id, (x + 3, y + 3), dxfattribs={"height": 3})
    for x in range(110, 781, 24):
        plan.add_line((x, 20), (x, 800), dxfattribs={"layer": "TILES"})
    drawing.saveas(folder / "ceiling.dxf")


def ducts(folder: Path) -> None:
    """Write the ducts as a spreadsheet of a country with decimal commas, in metres, one of them moved."""
    rows = [
        ("duct D1", "duct", "3,81", "18,796", "0,6604", "1,27", "2,972", "0,406"),
        ("duct D2", "duct", "3,81", "11,176", "7,92", "8,2248", "2,972", "0,254"),
    ]
    with (folder / "ducts.csv").open("w", encoding="utf-8", newline="") as stream:
        writer = csv.writer(stream, delimiter=";", lineterminator="\n")
        writer.writerow(("no", "kind", "x min", "x max", "y min", "y max", "bottom", "height"))
        writer.writerows(rows)


def make(folder: Path = HERE) -> None:
    """Write all of them."""
    sprinklers(folder)
    bodies(folder, "structure.ifc", "IFC2X3", "m", structure=True)
    bodies(folder, "services.ifc", "IFC4", "in", structure=False)
    ceiling(folder)
    ducts(folder)


if __name__ == "__main__":
    make()
