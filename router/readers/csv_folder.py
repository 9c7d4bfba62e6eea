"""A folder of CSV tables (heads, pipes, obstructions) becomes a scenario."""

from __future__ import annotations

from pathlib import Path

from router.readers.csv_tables import read_tables
from router.readers.floor import ImportResult, floor


def read_csv_folder(folder: str | Path, name: str | None = None) -> ImportResult:
    """Read ``heads.csv``, ``pipes.csv`` and ``obstructions.csv`` of a folder.

    Parameters
    ----------
    folder
        The tables hold lengths in mm and sizes as DN.
    name
        Name of the scenario; default: the folder's.

    Returns
    -------
    ImportResult

    Raises
    ------
    ScenarioError
        With every fault by file, row, column and value.
    """
    path = Path(folder)
    return floor(read_tables(path), name or path.name)
