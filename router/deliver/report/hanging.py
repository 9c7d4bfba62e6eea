"""Of part 5: hangers with their places, drains of low sections."""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING

from router.deliver.report.html import Html, bullets, el, join, name
from router.deliver.report.lengths import head as with_unit
from router.deliver.report.lengths import mm, place, prose
from router.deliver.report.table import Column, Row, table
from router.deliver.report.where import link, whereabouts
from router.deliver.report.wording import count, size

if TYPE_CHECKING:
    from router.cutlist import CutList
    from router.deliver.report.prepare import Contents, Shown


def hangers(contents: Contents, shown: Shown, cuts: CutList) -> Html:
    """List the hangers by size, then each with its place."""
    rows = []
    for line in cuts.hangers:
        hanger = line.hanger
        rows.append(
            Row(
                [
                    link(hanger.id, "hanger"),
                    {"run": "on line", "arm": "on arm"}.get(hanger.kind, "sprig restraint"),
                    link(hanger.piece, "piece"),
                    whereabouts(contents, shown, hanger.piece, hanger.at),
                    size(line.dn, cuts.standard) if line.dn else None,
                    place(hanger.at),
                    name(hanger.structure) if hanger.structure else "not given",
                    mm(hanger.rod, bare=True) if hanger.rod is not None else None,
                    prose(hanger.why),
                ],
                f"hanger:{hanger.id}",
            )
        )
    columns = [
        Column("hanger"),
        Column("what"),
        Column("pipe"),
        Column("where"),
        Column("size"),
        Column(join(["place x, y, z, ", el("span", "mm", class_="unit")])),
        Column("hangs from"),
        Column(with_unit("rod"), "number"),
        Column("why", "wide"),
    ]
    made = table(columns, rows, "Hangers")
    if len(rows) <= 12:
        return made
    kinds = Counter((line.hanger.kind, line.dn) for line in cuts.hangers)
    says = [
        f"{n} for {size(dn, cuts.standard) if dn else 'pipe'} "
        f"{'on arms' if kind == 'arm' else 'on lines' if kind == 'run' else 'as sprig restraints'}"
        for (kind, dn), n in sorted(kinds.items(), key=lambda i: (i[0][0], i[0][1] or 0))
    ]
    return join(
        [
            el("h3", f"{count(len(rows), 'hanger')}", class_="sub"),
            bullets(says, class_="inline"),
            el("details", el("summary", "Every hanger with its place"), made),
        ]
    )


def drains(shown: Shown) -> Html:
    """List the low sections that need a drain."""
    rows = []
    for low in shown.route.low_sections:
        if low.counts_as is None:
            continue
        ends = join([mm(low.stations[0]), " to ", mm(low.stations[1])]) if low.stations else "all of it"
        rows.append(
            Row(
                [name(low.run), ends, place(low.lowest), f"{low.volume_l:.1f}", prose(low.text)],
                f"run:{low.run}",
            )
        )
    columns = [
        Column("line"),
        Column("stations"),
        Column(join(["lowest point x, y, z, ", el("span", "mm", class_="unit")])),
        Column("water, l", "number"),
        Column("what it needs", "wide"),
    ]
    return table(columns, rows, "Drains of low sections")
