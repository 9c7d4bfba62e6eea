"""Building models (ISO 16739: IFC2X3, IFC4, IFC4X3) become what every reader gives.

Files are read one by one in a process of their own (``router.readers.ifc.process``),
then brought together (``router.readers.ifc.assemble``).
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from router.readers.ifc.assemble import Assembly
from router.readers.ifc.limits import DEFAULT, Limits
from router.readers.ifc.mapping import Mapping, read_mapping
from router.readers.ifc.process import read_file
from router.scenario.errors import Fault, ScenarioError

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from router.readers.drawn import Drawn

__all__ = ["Limits", "Mapping", "read_ifc", "read_mapping"]


def read_ifc(
    files: list[Path],
    mapping: Mapping | None = None,
    tell: Callable[[str, int, int], None] | None = None,
    limits: Limits = DEFAULT,
    peak: dict[str, int] | None = None,
) -> Drawn:
    """Read one or more models of the same building.

    Parameters
    ----------
    files
        ``.ifc`` or ``.ifczip``; each one's placements are the world's.
    mapping
        What is meant; default: words of the trade.
    tell
        Called with what is done, how much of it, of how much.
    limits
        What reading may take.
    peak
        Receives the most memory that reading each file took, MB.

    Returns
    -------
    Drawn
        In mm; notes say what was taken, left out and decided.

    Raises
    ------
    ScenarioError
        If a file cannot be read, or what our own export wrote into it is damaged.
    """
    mapping = mapping or Mapping()
    if not files:
        raise ScenarioError([Fault("(file)", "", "0", "files", "at least one model expected")], "")
    names: list[str] = []
    for path in files:
        name, number = path.name, 1
        while name in names:
            number += 1
            name = f"{path.name} ({number})"
        names.append(name)
    found = [
        read_file(path, name, mapping, limits, tell, peak) for path, name in zip(files, names, strict=True)
    ]
    name = next((path.stem for path, each in zip(files, found, strict=True) if each.heads), files[0].stem)
    return Assembly(found, mapping, limits, name).assemble()
