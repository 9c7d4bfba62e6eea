"""What a reader of the tables must know: remarks, assumptions, the caution."""

from __future__ import annotations

from typing import TYPE_CHECKING

from router.cutlist.cells import Sheet
from router.cutlist.lengths import length_text

if TYPE_CHECKING:
    from router.cutlist.cells import Cell
    from router.cutlist.records import CutList


def notes_sheet(cuts: CutList) -> Sheet:
    """Give the notes, one a row, by what they are about."""
    stocks = ", ".join(length_text(units, cuts.standard) for units in cuts.stock_units)
    rounded = "1/16 in." if cuts.standard == "inch" else "1 mm"
    rows: list[list[Cell]] = [
        ["scenario", cuts.scenario],
        ["cut length", "centre to centre less take-outs plus thread engagement, rounded to " + rounded],
        ["grade", "how sure the take-outs are: A published, B and C from memory, D doubtful; check D first"],
        ["end at the supply", "cut to the point given; what it is joined to there is not known"],
        ["stock", f"{stocks}; each saw cut eats {length_text(cuts.saw_units, cuts.standard)}"],
    ]
    if any(cut.outlets for cut in cuts.cuts):
        rows.append(
            [
                "outlets",
                "centres from the bare pipe's start end; directions looking along the pipe from that end, "
                "top is up (on a vertical pipe: +y)",
            ]
        )
    if cuts.couplings:
        rows.append(
            [
                "couplings",
                "join pipe to pipe and are no fittings of the route; those for stock length stand clear of "
                "outlets; length of straight couplings from memory (grade C)",
            ]
        )
    if cuts.currency:
        rows.append(["prices", f"by the scenario's own table, {cuts.currency}; pipe by the metre as cut"])
    rows += [["remark", remark] for remark in cuts.remarks]
    rows.append(["caution", cuts.caution])
    return Sheet("notes", ("about", "note"), rows)
