"""Part 5: what to buy and cut: fittings, stock, cut list, what is ordered to length, hangers, drains."""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING

from router.cutlist.lengths import length_text, to_mm
from router.deliver.report.hanging import drains, hangers
from router.deliver.report.html import Html, el, join, name
from router.deliver.report.lengths import head as with_unit
from router.deliver.report.lengths import long, mm, prose
from router.deliver.report.ordering import ordered
from router.deliver.report.table import Column, Row, table
from router.deliver.report.where import link, stretch
from router.deliver.report.wording import count, size

if TYPE_CHECKING:
    from collections.abc import Sequence

    from router.cutlist import CutList
    from router.deliver.report.prepare import Contents, Shown

MOST_PIECES = 40
"""Pieces of one mark that are told one by one."""


def buying(contents: Contents, shown: Shown) -> Html:
    """List everything that is bought, cut or made."""
    cuts = shown.cuts
    if cuts is None:
        return el("p", prose(f"No cut list could be made: {shown.cuts_fault}."), class_="note bad")
    broken = len(shown.verdict.breaks)
    says: list[str] = list(cuts.remarks)
    if broken:
        says.insert(
            0, f"{count(broken, 'finding')} of the referee break a rule: settle these before anything is cut."
        )
    notes = el("div", *(el("p", prose(text)) for text in says), class_="note") if says else None
    return join(
        [
            el("p", _sentence(cuts), class_="lead"),
            notes,
            _totals(cuts),
            el("div", _fittings(cuts), _stock(cuts), class_="pair"),
            _groups(shown, cuts),
            ordered(contents, shown, cuts),
            _bars(cuts),
            hangers(contents, shown, cuts),
            drains(shown),
            _joints(cuts),
        ]
    )


def _sentence(cuts: CutList) -> str:
    fittings = sum(line.quantity for line in cuts.fittings)
    bars = sum(stock.bars for stock in cuts.stock)
    ordered = Counter(item.kind for item in cuts.ordered)
    words = [
        count(fittings, "fitting"),
        f"{count(bars, 'length')} of stock pipe, cut into {count(len(cuts.cuts), 'piece')}",
    ]
    words += [f"{count(n, kind)} ordered to length" for kind, n in sorted(ordered.items())]
    drains = sum(d.counts_as is not None for d in cuts.drains)
    words += [count(len(cuts.hangers), "hanger"), count(drains, "drain") if drains else "no drain"]
    return f"To buy: {', '.join(words)}. Pieces that are cut alike share a mark."


def _totals(cuts: CutList) -> Html | None:
    if not cuts.currency:
        return None
    rows = [
        Row(
            [
                t.what,
                t.size,
                f"{t.quantity:,.6g} {t.unit}",
                "" if t.price is None else f"{t.price:,.2f}",
                "" if t.minutes is None else f"{t.minutes:,.0f}",
            ]
        )
        for t in cuts.totals
    ]
    columns = [
        Column("what"),
        Column("size"),
        Column("quantity", "number"),
        Column(f"price, {cuts.currency}", "number"),
        Column("labour, min", "number"),
    ]
    return table(columns, rows, "Price by the scenario's own table")


def _fittings(cuts: CutList) -> Html:
    standard = cuts.standard
    rows = []
    for line in cuts.fittings:
        bushings = ", ".join(f"{size(a, standard)} x {size(b, standard)}" for a, b in line.bushings)
        rows.append(
            Row(
                [
                    str(line.quantity),
                    line.word,
                    line.sizes,
                    line.joining.replace("_", " "),
                    f"each with a bushing {bushings}" if bushings else None,
                ],
                f"fittings:{' '.join(line.ids)}",
            )
        )
    columns = [Column("number", "number"), Column("fitting"), Column("sizes"), Column("joined")]
    if any(line.bushings for line in cuts.fittings):
        columns.append(Column("note", "wide"))
    foot = Row(
        [
            str(sum(line.quantity for line in cuts.fittings)),
            "in all, reducers included",
            *[None] * (len(columns) - 2),
        ]
    )
    return table(columns, rows, "Fittings by kind and sizes", foot=foot)


def _stock(cuts: CutList) -> Html:
    standard = cuts.standard
    weight = {t.size: t.quantity for t in cuts.totals if t.what == "weight of pipe"}
    rows = []
    for stock in cuts.stock:
        label = size(stock.dn, standard)
        bars = Counter(bar.stock_units for bar in cuts.bars if bar.dn == stock.dn)
        lengths = ", ".join(f"{n} of {length_text(u, standard)}" for u, n in sorted(bars.items()))
        metres = sum(cut.exact for cut in cuts.cuts if cut.dn == stock.dn) / 1000.0
        bought = to_mm(stock.bought_units, standard) / 1000.0
        rows.append(
            Row(
                [
                    label,
                    lengths,
                    long(bought),
                    long(metres, 2),
                    f"{100 * (bought - metres) / bought:.0f} %" if bought else "",
                    "proven" if stock.proven else f"at least {stock.fewest} bars",
                    f"{weight[label]:,.0f}" if label in weight else "",
                ],
                values=[stock.dn],
            )
        )
    columns = [
        Column("size"),
        Column("stock lengths"),
        Column("bought", "number"),
        Column("cut", "number"),
        Column("not used", "number"),
        Column("fewest?"),
        Column("kg cut", "number"),
    ]
    return table(columns, rows, "Stock pipe to buy")


def _groups(shown: Shown, cuts: CutList) -> Html:
    standard = cuts.standard
    grades: dict[str, str] = {}
    pieces: dict[str, dict[str, str]] = {}
    for cut in cuts.cuts:
        grades[cut.mark] = max(grades.get(cut.mark, ""), cut.grade)
        pieces.setdefault(cut.mark, {})[cut.tag] = cut.piece
    rows = []
    for group in cuts.groups:
        outlets = ", ".join(f"{length_text_mm(o.station)} {o.direction}" for o in group.outlets)
        of_mark = pieces.get(group.mark, {})
        rows.append(
            Row(
                [
                    group.mark,
                    str(len(group.tags)),
                    size(group.dn, standard),
                    mm(to_mm(group.units, standard), 1, bare=True, cut=True),
                    length_text(group.units, standard),
                    _ends(group.preparations),
                    _from_to(shown, of_mark),
                    prose(outlets) if outlets else None,
                    grades.get(group.mark, ""),
                ],
                f"pieces:{' '.join(sorted(set(of_mark.values())))}",
                values=[None, None, group.dn],
            )
        )
    columns = [
        Column("mark"),
        Column("number", "number"),
        Column("size"),
        Column(with_unit("cut length"), "number"),
        Column("tape, ft-in", "tape") if standard == "inch" else Column("tape, mm", "number"),
        Column("ends"),
        Column("from and to, or for which head", "wide"),
        Column("outlets from start end", "wide"),
        Column("grade"),
    ]
    made = table(columns, rows, "Cut list, by mark")
    note = el(
        "p",
        "Grade: how sure the take-outs are that the cut length rests on. A published, B and C from "
        "memory, D doubtful: check D first.",
        class_="small",
    )
    return join([made, note])


def _ends(ends: Sequence[str]) -> str:
    return f"both {ends[0]}" if len(ends) == 2 and ends[0] == ends[1] else " / ".join(ends)


def _from_to(shown: Shown, pieces: dict[str, str]) -> Html:
    """Say for every piece of a mark between what it goes; a few of many."""
    told: list[Html] = []
    for tag, piece_id in list(pieces.items())[:MOST_PIECES]:
        piece = shown.pieces.get(piece_id)
        where = join([name(piece.run), ", ", stretch(shown, piece)]) if piece is not None else ""
        told.append(join([link(piece_id, "piece") if tag == piece_id else tag, " ", where]))
    more = len(pieces) - len(told)
    return join([join(told, "; "), f"; and {more:,} more" if more > 0 else None])


def length_text_mm(value: float) -> str:
    """Write a length within a sentence."""
    return f"{value:,.0f} mm"


def _bars(cuts: CutList) -> Html | None:
    if not cuts.bars:
        return None
    standard = cuts.standard
    rows = [
        Row(
            [
                str(bar.number),
                size(bar.dn, standard),
                length_text(bar.stock_units, standard),
                ", ".join(f"{cut.mark} ({length_text(cut.units, standard)})" for cut in bar.cuts),
                str(bar.saw_cuts),
                mm(to_mm(bar.left_units, standard), bare=True),
            ],
            values=[bar.number, bar.dn],
        )
        for bar in cuts.bars
    ]
    columns = [
        Column("bar", "number"),
        Column("size"),
        Column("stock length"),
        Column("cut in this order", "wide"),
        Column("saw cuts", "number"),
        Column(with_unit("left over"), "number"),
    ]
    return el(
        "details",
        el("summary", f"Which piece comes out of which of the {count(len(cuts.bars), 'bar')}"),
        table(columns, rows, "Stock list"),
    )


def _joints(cuts: CutList) -> Html | None:
    kinds = Counter((c.kind, c.dn) for c in cuts.couplings)
    if not kinds:
        return None
    rows = [
        Row([str(n), kind, size(dn, cuts.standard)], values=[None, None, dn])
        for (kind, dn), n in sorted(kinds.items())
    ]
    return table(
        [Column("number", "number"), Column("joint"), Column("size")],
        rows,
        "Joints of pipe to pipe (no fittings of the route)",
        plain=True,
    )
