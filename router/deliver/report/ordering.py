"""Of part 5: barrels and hoses, which are ordered to length, with what to measure before ordering."""

from __future__ import annotations

from typing import TYPE_CHECKING

from shapely.geometry import Point, Polygon

from router.deliver.report.html import Html, el, join, name
from router.deliver.report.lengths import head as with_unit
from router.deliver.report.lengths import mm
from router.deliver.report.table import Column, Row, table
from router.deliver.report.where import link
from router.deliver.report.wording import size

if TYPE_CHECKING:
    from router.cutlist import CutList
    from router.deliver.report.prepare import Contents, Shown
    from router.route.model import Piece


def ordered(contents: Contents, shown: Shown, cuts: CutList) -> Html | None:
    """List them, each with its room over and under the ceiling and a cell for the measured length."""
    if not cuts.ordered:
        return None
    rows = []
    for o in cuts.ordered:
        piece = shown.pieces.get(o.tag)
        ceiling = _ceiling(contents, piece) if piece is not None and o.kind == "barrel" else None
        above = below = None
        if piece is not None and ceiling is not None:
            above = max(piece.start[2], piece.end[2]) - ceiling - (o.centres - o.face)
            below = ceiling - min(piece.start[2], piece.end[2])
        rows.append(
            Row(
                [
                    o.tag,
                    o.kind,
                    link(o.head, "head"),
                    name(o.run),
                    size(o.dn, cuts.standard),
                    mm(o.centres, 1, bare=True, cut=True),
                    mm(above, 1, bare=True, cut=True) if above is not None else None,
                    mm(below, 1, bare=True, cut=True) if below is not None else None,
                    mm(o.face, 1, bare=True, cut=True),
                    o.starts,
                    mm(o.stock, bare=True) if o.stock is not None else None,
                    None,
                ],
                f"piece:{o.tag}",
                values=[None, None, None, None, o.dn],
            )
        )
    columns = [
        Column("piece"),
        Column("what"),
        Column("head"),
        Column("line"),
        Column("size"),
        Column(with_unit("from fitting's centre to head's inlet"), "number"),
        Column(with_unit("fitting's face to ceiling"), "number"),
        Column(with_unit("below ceiling"), "number"),
        Column(with_unit("from face, in all"), "number"),
        Column("starts in"),
        Column(with_unit("stock length"), "number"),
        Column("measured on site", "blank", keep=True),
    ]
    made = table(columns, rows, "Ordered to length: barrels and hoses")
    note = (
        "Ceiling: the elevation given for the lowest one that the barrel goes through. "
        "Below it: from there down to the head's inlet."
    )
    return join([made, el("p", note, class_="small") if contents.scenario.ceilings else None])


def _ceiling(contents: Contents, piece: Piece) -> float | None:
    """Elevation of the lowest ceiling that an upright piece goes through."""
    low, high = sorted((piece.start[2], piece.end[2]))
    at = Point(piece.end[0], piece.end[1])
    found = [
        c.elevation
        for c in contents.scenario.ceilings
        if low - 0.5 <= c.elevation <= high and Polygon(c.polygon).covers(at)
    ]
    return min(found, default=None)
