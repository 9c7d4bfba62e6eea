"""Tables of plain cells, and how lengths and outlets are written in them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from router.cutlist.lengths import length_text, to_mm
from router.trade.sizes import label

if TYPE_CHECKING:
    from collections.abc import Iterable

    from router.cutlist.records import CutList, Outlet

Cell = str | float | int | None


@dataclass(frozen=True)
class Sheet:
    """One table: ``name`` of the file or sheet, ``columns``, ``rows`` of as many cells."""

    name: str
    columns: tuple[str, ...]
    rows: list[list[Cell]]


def mm(value: float | None, digits: int = 1) -> float | None:
    """Round a length for a cell."""
    return None if value is None else round(value, digits) + 0.0


def outlets_text(outlets: Iterable[Outlet], cuts: CutList) -> str:
    """Write outlets as ``812 mm 1 in. top; ...``; stations from the cut's start end."""
    return "; ".join(f"{o.station:.0f} mm {label(o.dn, cuts.standard)} {o.direction}" for o in outlets)


def sizes_cells(cuts: CutList, units: int) -> list[Cell]:
    """Give a rounded length twice: in mm and as it is written on the pipe."""
    return [mm(to_mm(units, cuts.standard)), length_text(units, cuts.standard)]
