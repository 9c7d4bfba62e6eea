"""Of part 8: what a route kept of an older one, and what changed and why."""

from __future__ import annotations

from typing import TYPE_CHECKING

from router.deliver.report.html import Html, el, join, name
from router.deliver.report.lengths import head as with_unit
from router.deliver.report.lengths import mm, prose
from router.deliver.report.table import Column, Row, table

if TYPE_CHECKING:
    from router.deliver.report.prepare import Shown

WHAT = {
    "new": "new",
    "gone": "gone",
    "moved": "moved",
    "outlet_stays": "other pipe, outlet stays",
    "unserved": "no longer served",
    "served_again": "served again",
}


def kept(shown: Shown) -> Html | None:
    """Tell what stayed and list what changed; nothing where no older route was kept."""
    found = shown.route.kept
    if found is None:
        return None
    says = (
        f"Kept of the older route of {found.scenario}: {found.heads_kept:,} of {found.heads:,} heads, "
        f"{found.runs_kept:,} of {found.runs:,} lines' begins, {found.level_changes_kept:,} of "
        f"{found.level_changes:,} level changes, {found.pieces_kept:,} of {found.pieces:,} pieces are the "
        "same to the micrometre."
    )
    columns = [
        Column("what"),
        Column("change"),
        Column(with_unit("moved"), "number"),
        Column("before", "wide"),
        Column("now", "wide"),
        Column("why", "wide"),
        Column("points", "number"),
    ]
    rows = [
        Row(
            [
                join([change.kind.replace("_", " "), " ", name(change.id)]),
                WHAT.get(change.what, change.what.replace("_", " ")),
                mm(change.moved, bare=True),
                prose(change.before),
                prose(change.now),
                prose(change.why),
                f"{change.points:,.0f}" if change.counts else "",
            ],
            f"{'change' if change.kind == 'level_change' else change.kind}:{change.id}",
        )
        for change in found.changes
    ]
    return join(
        [
            el("h3", "Kept of the older route", class_="sub"),
            el("p", says),
            table(columns, rows, "What is other than in the older route, and why"),
            el("p", "Older route, SHA-256: ", el("code", found.sha256), class_="small"),
        ]
    )
