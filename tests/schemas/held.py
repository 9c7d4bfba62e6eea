"""What is held: the schemas of all JSON files and the columns of all tables, without their prose."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from router.building.route import route_scenario
from router.cutlist import cut_list
from router.cutlist.sheets import sheets
from router.deliver import cutlist_xlsx, keep
from router.deliver.schemas import SCHEMAS, version_of
from router.deliver.segments_csv import COLUMNS, DRAWN_COLUMNS
from router.readers.csv_tables import HEAD_COLUMNS, PIPE_COLUMNS, SOLID_COLUMNS
from router.readers.segments import ENDS, SIZE_COLUMNS
from router.scenario import read_scenario

HERE = Path(__file__).parent
ROOT = HERE.parents[1]
TABLES = f"tables.{cutlist_xlsx.VERSION}.json"
"""Tables have no version but their header rows; the workbook's stands for the cut list's."""


def bare(schema: Any) -> Any:
    """Leave out what only explains: texts may be improved without a new version."""
    if isinstance(schema, dict):
        return {
            key: bare(part)
            for key, part in schema.items()
            if not (key in ("description", "title") and isinstance(part, str))
        }
    return [bare(part) for part in schema] if isinstance(schema, list) else schema


def tables() -> dict[str, list[str]]:
    """Give the columns of every table that is written or read, by what it is."""
    scenario = read_scenario(ROOT / "scenarios" / "minimal.json")
    made = sheets(cut_list(scenario, route_scenario(scenario)[0]))
    return {
        "written: export, pipes": list(COLUMNS),
        "written: import, the drawn route": list(DRAWN_COLUMNS),
        "written: route --changes": list(keep._COLUMNS),
        **{f"written: cutlist, {sheet.name}": list(sheet.columns) for sheet in made},
        "read: a drawing": [*ENDS, " or ".join(SIZE_COLUMNS)],
        "read: import csv, heads.csv": list(HEAD_COLUMNS),
        "read: import csv, pipes.csv": list(PIPE_COLUMNS),
        "read: import csv, obstructions.csv": list(SOLID_COLUMNS),
    }


def now() -> dict[str, Any]:
    """Give what is to be held, by file name ``NAME.VERSION.json``."""
    schemas = {name: make() for name, make in SCHEMAS.items()}
    files = {f"{name}.{version_of(schema)}.json": bare(schema) for name, schema in schemas.items()}
    return {**files, TABLES: tables()}
