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
UPRIGHT = {"drop": "drop", "sprig": "sprig", "barrel": "barrel", "hose": "hose"}
"""Pieces that end in a head."""


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
        Column("style, side", "some"),
        Column(with_unit("station"), "number"),
        Column(with_unit("line level at supply end"), "number"),
        Column(with_unit("line centre at its outlet"), "number"),
        Column(with_unit("arm centre"), "number"),
        Column(with_unit("arm length"), "number"),
        Column("arm's cut mark"),
        Column(with_unit(_uprights(shown)), "number"),
        Column("fittings", "some"),
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
        style = style_name(result.style) if result.served else "not served"
        rows.append(Row(cells, f"head:{result.id}", None if result.served else "bad", group=style))
    points = (
        "What a way costs is counted in points; "
        f"{contents.scenario.weights.fitting:,.6g} points is one fitting (see Weights and rules). "
        "The line's centre is its level at the supply end and its pitch up to the station. Lengths are "
        "centre to centre; cut lengths stand by mark in What to buy."
    )
    note = (
        "Other ways of each head: see the page itself, or branch-router explain."
        if reasons and not many
        else ""
    )
    return join(
        [
            el("p", points, class_="small"),
            table(columns, rows, "Heads", grouped="style"),
            el("p", note, class_="small print-only") if note else None,
        ]
    )


def _uprights(shown: Shown) -> str:
    """Name the upright pipes to heads that this route has."""
    kinds = {piece.kind for piece in shown.route.pieces}
    words = [word for kind, word in UPRIGHT.items() if kind in kinds]
    return " or ".join(words) or "drop"


def _cells(shown: Shown, result: HeadResult) -> list[str | Html | None]:
    takeoff = shown.takeoffs.get(result.takeoff or "")
    if not result.served or takeoff is None:
        run = name(result.run) if result.run else None
        return ["", run, el("strong", "NOT SERVED"), *[None] * 8]
    kinds = kinds_of(shown, takeoff)
    arms = [shown.pieces[k] for k in takeoff.pieces if k in shown.pieces and shown.pieces[k].kind == "arm"]
    counted = sum(kind != "reducer" for kind in kinds)
    shared = [other for other in takeoff.heads if other != result.id]
    made = f"{counted}: {how_made(takeoff, [kind for kind in kinds if kind != 'reducer'])}" if kinds else "0"
    if len(kinds) > counted:
        made += f" + {count(len(kinds) - counted, 'reducer')}"
    if takeoff.dogleg:
        made += "; one elbow more because outlet and head do not line up"
    if shared:
        made += f"; shared with {listed(shared)}"
    way = [leg.piece for leg in shown.ways.way_to(result.id) or []]
    upright = next((p for p in way if p.kind in UPRIGHT), None)
    marks = [mark for p in way if p.kind == "arm" and (mark := shown.marks.get(p.id))]
    built = next((r for r in shown.route.runs if r.id == takeoff.run), None)
    pitch = built.pitch if built is not None else 0.0
    return [
        "",
        name(takeoff.run),
        f"{style_name(takeoff.style)}, {takeoff.side}",
        mm(takeoff.station, bare=True),
        mm(takeoff.level, bare=True),
        mm(takeoff.level + pitch * takeoff.station / 1000.0, bare=True),
        mm(takeoff.arm_level, bare=True) if arms else None,
        mm(_across(shown, result.id), bare=True) if arms else None,
        ", ".join(dict.fromkeys(marks)) or None,
        mm(upright.length, bare=True) if upright is not None else None,
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
