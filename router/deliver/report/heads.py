"""Part 1: how each head is connected, by style and head by head, with the reasons."""

from __future__ import annotations

from math import hypot
from typing import TYPE_CHECKING

from router.deliver.report.html import Html, bullets, el, join, name
from router.deliver.report.lengths import head as with_unit
from router.deliver.report.lengths import mm, prose
from router.deliver.report.style_cards import kinds_of, reasons_of, style_cards
from router.deliver.report.table import Column, Row, table
from router.deliver.report.wording import count, how_made, listed, style_name
from router.explain import KEPT
from router.explain.words import sentence

if TYPE_CHECKING:
    from router.deliver.report.prepare import Contents, Shown
    from router.explain.records import HeadReasons
    from router.route.model import HeadResult

OTHERS_SHOWN = 3
MANY_HEADS = 400


def heads(contents: Contents, shown: Shown) -> Html:
    """Give the styles used with their pictures, then every head."""
    return join([style_cards(contents, shown), _unserved(shown), _table(contents, shown), _no_reasons(shown)])


def _unserved(shown: Shown) -> Html | None:
    missing = [head for head in shown.route.heads if not head.served]
    if not missing:
        return None
    reasons = reasons_of(shown)
    parts = []
    for head in missing[:40]:
        own: list[Html] = [prose(attempt.text) for attempt in head.stopped_by]
        why = reasons.get(head.id)
        if why is not None:
            own += [join(["Cannot all hold: ", prose("; ".join(why.conflict))])] if why.conflict else []
            own += [join(["Would serve it: ", prose(r.text)]) for r in why.relaxations]
        parts.append(el("li", el("strong", name(head.id)), " is not served.", bullets(own) if own else None))
    more = f"and {len(missing) - 40:,} more, see the table" if len(missing) > 40 else None
    return el(
        "div",
        el("h3", f"{count(len(missing), 'head')} not served"),
        el("ul", *parts),
        el("p", more) if more else None,
        class_="note bad",
    )


def _reasons(shown: Shown) -> dict[str, HeadReasons]:
    return {} if shown.explained is None else {item.head: item for item in shown.explained.heads}


def _table(contents: Contents, shown: Shown) -> Html:
    reasons = reasons_of(shown)
    given = {head.id: head for head in contents.scenario.heads}
    columns = [
        Column("head"),
        Column("line"),
        Column("style"),
        Column(with_unit("station"), "number"),
        Column("side"),
        Column(with_unit("line level"), "number"),
        Column(with_unit("arm elevation"), "number"),
        Column(with_unit("arm length"), "number"),
        Column("fittings", "number"),
        Column("made of", "some"),
    ]
    if reasons:
        columns.append(Column("why this way and not another", "widest"))
    rows = []
    many = len(shown.route.heads) > MANY_HEADS
    for result in shown.route.heads:
        cells = _cells(shown, result)
        if reasons:
            cells.append(_why(reasons.get(result.id), many))
        kind = given.get(result.id)
        tag = " dry" if kind is not None and kind.dry else ""
        note = f"{kind.kind}{tag}" if kind is not None else ""
        cells[0] = join(
            [
                el(
                    "button",
                    name(result.id),
                    type="button",
                    class_="go",
                    data_go=f"head:{result.id}",
                    title=f"{result.id}, {note}: show in 3D",
                )
            ]
        )
        rows.append(Row(cells, f"head:{result.id}", None if result.served else "bad"))
    return table(columns, rows, "Heads")


def _cells(shown: Shown, result: HeadResult) -> list[str | Html | None]:
    takeoff = shown.takeoffs.get(result.takeoff or "")
    if not result.served or takeoff is None:
        run = name(result.run) if result.run else None
        return ["", run, el("strong", "NOT SERVED"), *[None] * 7]
    kinds = kinds_of(shown, takeoff)
    arms = [shown.pieces[k] for k in takeoff.pieces if k in shown.pieces and shown.pieces[k].kind == "arm"]
    counted = sum(kind != "reducer" for kind in kinds)
    shared = [other for other in takeoff.heads if other != result.id]
    made = how_made(takeoff, kinds)
    if takeoff.dogleg:
        made += "; one elbow more because outlet and head do not line up"
    if shared:
        made += f"; shared with {listed(shared)}"
    return [
        "",
        name(takeoff.run),
        style_name(takeoff.style),
        mm(takeoff.station, bare=True),
        takeoff.side,
        mm(takeoff.level, bare=True),
        mm(takeoff.arm_level, bare=True) if arms else None,
        mm(_across(shown, result.id), bare=True) if arms else None,
        str(counted),
        made,
    ]


def _across(shown: Shown, head: str) -> float:
    """Horizontal pipe on the way from the line to one head, mm (of a shared takeoff only its own arm)."""
    legs = shown.ways.way_to(head) or []
    return sum(hypot(leg.end[0] - leg.start[0], leg.end[1] - leg.start[1]) for leg in legs)


def _why(reasons: HeadReasons | None, many: bool) -> Html | None:
    """Say what stops simpler styles and what is next best; all ways unfold, or three on large floors."""
    if reasons is None:
        return None
    others = [prose(other.text) for other in reasons.others]
    if not others:
        return prose(reasons.chosen)
    if many:
        return prose(reasons.why) if reasons.why else bullets(others[:OTHERS_SHOWN])
    lead, rest = (prose(reasons.why), others) if reasons.why else (others[0], others[1:])
    unfolded = [el("p", prose(reasons.chosen)), bullets(rest) if rest else None]
    return join([lead, el("details", el("summary", f"its way, and {count(len(rest), 'other')}"), *unfolded)])


def _no_reasons(shown: Shown) -> Html | None:
    if shown.explained is not None:
        kept = None if shown.route.kept is None else el("p", sentence(KEPT), class_="small")
        if len(shown.route.heads) <= MANY_HEADS:
            return kept
        text = (
            f"With over {MANY_HEADS} heads the {OTHERS_SHOWN} nearest other ways are given for each head; "
            "branch-router explain tells all."
        )
        return join([kept, el("p", text, class_="small")])
    return el("p", f"The reasons head by head are not in this report: {shown.no_reasons}.", class_="small")
