"""Pipes that are of no known system and lead to no head: in the way, like other trades' pipes."""

from __future__ import annotations

from math import dist
from typing import TYPE_CHECKING

from router.readers.drawn import DrawnSolid
from router.readers.ifc.bars import bar
from router.trade.sizes import SIZES
from router.trade.tables import Tables

if TYPE_CHECKING:
    from collections.abc import Iterable

    from router.readers.drawn import DrawnPipe

UNKNOWN_DN = 100
"""A pipe without a size may be as thick as this."""


def stray_bodies(pipes: Iterable[DrawnPipe], notes: list[str]) -> list[DrawnSolid]:
    """Give the pipes that are not surely sprinkler pipes as obstructions.

    Parameters
    ----------
    pipes
        Those that are in no run that is kept, mm.
    notes
        Receives a sentence with their names.

    Returns
    -------
    list of DrawnSolid
    """
    strays = [pipe for pipe in pipes if not pipe.sure and dist(pipe.a[:2], pipe.b[:2]) > 1.0]
    tables = Tables()
    solids = []
    for pipe in strays:
        dn = next((size for size in SIZES if size >= (pipe.dn or UNKNOWN_DN)), SIZES[-1])
        for k, (corners, low, high) in enumerate(bar(pipe.a, pipe.b, tables.od(dn) / 2)):
            solids.append(DrawnSolid(f"{pipe.id}/{k + 1}" if k else pipe.id, "pipe", corners, low, high))
    if strays:
        names = ", ".join(pipe.id for pipe in strays[:6]) + (" ..." if len(strays) > 6 else "")
        notes.append(
            f"{len(strays)} pipes of no known system lead to no head, they are obstructions: {names}"
        )
    return solids
