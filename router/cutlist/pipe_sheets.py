"""Tables of what is cut: every piece, alike pieces together, and bar by bar."""

from __future__ import annotations

from typing import TYPE_CHECKING

from router.cutlist.cells import Cell, Sheet, mm, outlets_text, sizes_cells
from router.cutlist.lengths import length_text, to_mm
from router.cutlist.stock import waste
from router.trade.sizes import label

if TYPE_CHECKING:
    from router.cutlist.records import Bar, Cut, CutList, Ordered


def cuts_sheet(cuts: CutList) -> Sheet:
    """Give every cut in the route's order, then what is ordered to length."""
    columns = (
        "tag",
        "mark",
        "run",
        "takeoff",
        "kind",
        "size",
        "centre to centre mm",
        "cut length mm",
        "cut length",
        "exact mm",
        "start end",
        "start at",
        "other end",
        "other at",
        "grade",
        "outlets from start end",
        "note",
    )
    rows = [_cut(cut, cuts) for cut in cuts.cuts]
    rows += [_ordered(item, cuts) for item in cuts.ordered]
    return Sheet("cut_list", columns, rows)


def _cut(cut: Cut, cuts: CutList) -> list[Cell]:
    start, other = cut.ends
    return [
        cut.tag,
        cut.mark,
        cut.run,
        cut.takeoff,
        cut.kind,
        label(cut.dn, cuts.standard),
        mm(cut.centres),
        *sizes_cells(cuts, cut.units),
        mm(cut.exact),
        start.preparation,
        start.stands,
        other.preparation,
        other.stands,
        cut.grade,
        outlets_text(cut.outlets, cuts),
        cut.note,
    ]


def _ordered(item: Ordered, cuts: CutList) -> list[Cell]:
    if item.kind == "barrel":
        note = f"to order: dry head barrel, {item.face:.0f} mm from the fitting's face to its lower end"
    elif item.stock is None:
        note = "to order: hose, longer than any stock hose"
    else:
        note = f"to order: hose, stock length {item.stock:.0f} mm"
    return [
        item.tag,
        "",
        item.run,
        item.takeoff,
        item.kind,
        label(item.dn, cuts.standard),
        mm(item.centres),
        None,
        "",
        None,
        "",
        item.starts,
        "",
        f"head {item.head}" if item.head else "",
        "",
        "",
        note,
    ]


def groups_sheet(cuts: CutList) -> Sheet:
    """Give cuts that are alike together."""
    columns = (
        "mark",
        "quantity",
        "size",
        "cut length mm",
        "cut length",
        "ends",
        "outlets from start end",
        "tags",
    )
    rows: list[list[Cell]] = [
        [
            group.mark,
            len(group.tags),
            label(group.dn, cuts.standard),
            *sizes_cells(cuts, group.units),
            " / ".join(group.preparations),
            outlets_text(group.outlets, cuts),
            " ".join(group.tags),
        ]
        for group in cuts.groups
    ]
    return Sheet("pieces_grouped", columns, rows)


def stock_sheet(cuts: CutList) -> Sheet:
    """Give bar by bar what is cut from it, a sum for each size, and what no bar gives."""
    columns = (
        "bar",
        "size",
        "stock length mm",
        "stock length",
        "marks",
        "cut lengths",
        "tags",
        "saw cuts",
        "left over mm",
        "left over",
        "note",
    )
    rows: list[list[Cell]] = []
    for size in cuts.stock:
        rows += [_bar(bar, cuts) for bar in cuts.bars if bar.dn == size.dn]
        lost, share = waste(size, cuts.standard)
        least = to_mm(size.least_units, cuts.standard)
        bars = "bar" if size.bars == 1 else "bars"
        proven = (
            "no plan buys less"
            if size.proven
            else f"not proven: at least {size.fewest} bars and {least:.0f} mm are needed"
        )
        total = [
            "all",
            label(size.dn, cuts.standard),
            *sizes_cells(cuts, size.bought_units),
            "",
            f"{size.bars} {bars}",
            "",
            sum(bar.saw_cuts for bar in cuts.bars if bar.dn == size.dn),
            mm(lost),
            f"{share:.1f} % not used, saw cuts included",
            proven,
        ]
        rows.append(list(total))
    for cut in cuts.not_nested:
        rows.append(
            [
                "none",
                label(cut.dn, cuts.standard),
                None,
                "",
                cut.mark,
                length_text(cut.units, cuts.standard),
                cut.tag,
                None,
                None,
                "",
                cut.note,
            ]
        )
    return Sheet("stock_list", columns, rows)


def _bar(bar: Bar, cuts: CutList) -> list[Cell]:
    return [
        bar.number,
        label(bar.dn, cuts.standard),
        *sizes_cells(cuts, bar.stock_units),
        " ".join(cut.mark for cut in bar.cuts),
        " + ".join(length_text(cut.units, cuts.standard) for cut in bar.cuts),
        " ".join(cut.tag for cut in bar.cuts),
        bar.saw_cuts,
        *sizes_cells(cuts, bar.left_units),
        "",
    ]
