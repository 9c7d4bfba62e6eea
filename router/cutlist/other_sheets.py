"""Tables of what is not cut: fittings, hangers, drains; and the totals."""

from __future__ import annotations

from typing import TYPE_CHECKING

from router.cutlist.cells import Cell, Sheet, mm
from router.cutlist.fittings import sizes_text
from router.trade.sizes import label

if TYPE_CHECKING:
    from router.cutlist.records import CutList


def fittings_sheet(cuts: CutList) -> Sheet:
    """Give fittings by kind and sizes, then couplings, which are none of the route's fittings."""
    columns = ("kind", "sizes", "joining", "quantity", "bushings for each", "tags")
    rows: list[list[Cell]] = [
        [
            line.word,
            line.sizes,
            line.joining,
            line.quantity,
            "; ".join(sizes_text(pair, cuts.standard) for pair in line.bushings),
            " ".join(line.ids),
        ]
        for line in cuts.fittings
    ]
    # no fittings of the route: they join pipe to pipe
    alike: dict[tuple[str, int, str], list[str]] = {}
    for joint in cuts.couplings:
        alike.setdefault((joint.kind, joint.dn, joint.why), []).append(joint.at)
    rows += [
        [kind, label(dn, cuts.standard), why, len(at), "", "; ".join(at)]
        for (kind, dn, why), at in sorted(alike.items())
    ]
    return Sheet("fittings", columns, rows)


def hangers_sheet(cuts: CutList) -> Sheet:
    """Give hangers with their places."""
    columns = (
        "tag",
        "kind",
        "run",
        "piece",
        "size",
        "from piece start mm",
        "x mm",
        "y mm",
        "z mm",
        "hangs from",
        "rod mm",
        "why",
    )
    rows: list[list[Cell]] = [
        [
            line.hanger.id,
            line.hanger.kind.replace("_", " "),
            line.hanger.run,
            line.hanger.piece,
            label(line.dn, cuts.standard) if line.dn is not None else "",
            mm(line.station),
            *(mm(value) for value in line.hanger.at),
            line.hanger.structure or "",
            mm(line.hanger.rod),
            line.hanger.why,
        ]
        for line in cuts.hangers
    ]
    return Sheet("hangers", columns, rows)


def drains_sheet(cuts: CutList) -> Sheet:
    """Give trapped low sections and the drain that each asks for."""
    columns = (
        "run",
        "from station mm",
        "to station mm",
        "lowest x mm",
        "lowest y mm",
        "lowest z mm",
        "volume l",
        "drain",
        "counts as",
        "text",
        "source",
        "grade",
    )
    rows: list[list[Cell]] = [
        [
            low.run,
            *([mm(s) for s in low.stations] if low.stations is not None else [None, None]),
            *(mm(value) for value in low.lowest),
            round(low.volume_l, 2),
            low.drain.replace("_", " "),
            (low.counts_as or "").replace("_", " "),
            low.text,
            low.source,
            low.grade,
        ]
        for low in cuts.drains
    ]
    return Sheet("drains", columns, rows)


def totals_sheet(cuts: CutList) -> Sheet:
    """Give the totals, priced if the scenario has a price table."""
    priced = bool(cuts.currency)
    columns: tuple[str, ...] = ("what", "size", "quantity", "unit")
    if priced:
        columns += (f"price {cuts.currency}", "labour minutes")
    rows: list[list[Cell]] = [
        [
            line.what,
            line.size,
            line.quantity,
            line.unit,
            *((line.price, line.minutes) if priced else ()),
        ]
        for line in cuts.totals
    ]
    return Sheet("totals", columns, rows)
