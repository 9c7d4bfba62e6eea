"""Part 1: how each head is connected, by style and head by head, with the reasons."""

from __future__ import annotations

from collections import Counter, defaultdict
from typing import TYPE_CHECKING

from router.deliver.report.html import Html, bullets, el, join, name
from router.deliver.report.lengths import head as with_unit
from router.deliver.report.lengths import mm, prose
from router.deliver.report.style_pictures import style_picture
from router.deliver.report.table import Column, Row, table
from router.deliver.report.wording import STYLE_SAYS, count, how_made, listed, style_name

if TYPE_CHECKING:
    from router.deliver.report.prepare import Contents, Shown
    from router.explain.records import HeadReasons
    from router.route.model import HeadResult, Takeoff

OTHERS_SHOWN = 3
MANY_HEADS = 400


def heads(contents: Contents, shown: Shown) -> Html:
    """Give the styles used with their pictures, then every head."""
    return join([_styles(shown), _unserved(shown), _table(contents, shown), _no_reasons(shown)])


def _styles(shown: Shown) -> Html:
    served = Counter(head.style for head in shown.route.heads if head.served and head.style)
    lines: dict[str, Counter[str]] = defaultdict(Counter)
    made: dict[str, Counter[str]] = defaultdict(Counter)
    for takeoff in shown.route.takeoffs:
        if takeoff.heads:
            lines[takeoff.style][takeoff.run] += len(takeoff.heads)
            made[takeoff.style][how_made(takeoff, _kinds(shown, takeoff))] += 1
    cards = []
    for style, n in served.most_common():
        title, says = STYLE_SAYS.get(style, (style_name(style), ""))
        on = listed([f"{run} ({m})" for run, m in sorted(lines[style].items())], 6)
        fittings, often = made[style].most_common(1)[0] if made[style] else ("", 0)
        next_best = _next_best(shown, style)
        usual = "" if often == sum(made[style].values()) else "mostly "
        cards.append(
            el(
                "li",
                style_picture(style),
                el(
                    "div",
                    el("h3", title),
                    el("p", el("b", count(n, "head")), f": {says}."),
                    el("p", f"Made of {usual}{fittings}. On {on}.", class_="small"),
                    el("p", "Instead: ", next_best, class_="small") if next_best else None,
                ),
            )
        )
    if not cards:
        return el("p", "No head is served.", class_="none")
    return el("ul", *cards, class_="cards")


def _next_best(shown: Shown, style: str) -> str:
    """Say for the heads of a style what the next best would be and from how many points more on."""
    costs: dict[str, list[float]] = defaultdict(list)
    none = 0
    for reasons in _reasons(shown).values():
        if not reasons.served or reasons.style != style:
            continue
        known = [
            (o.costs_more, o.style) for o in reasons.others if o.costs_more is not None and o.style != style
        ]
        if known:
            more, other = min(known)
            costs[other].append(more)
        else:
            none += 1
    says = [
        f"{style_name(other)} would cost at least {min(more):,.0f} points more ({count(len(more), 'head')})"
        for other, more in sorted(costs.items(), key=lambda item: (-len(item[1]), item[0]))
    ]
    if none:
        says.append(f"no other style can be had for {count(none, 'head')}")
    return f"{'; '.join(says[:3])}." if says else ""


def _kinds(shown: Shown, takeoff: Takeoff) -> list[str]:
    return [shown.fittings[k].kind for k in takeoff.fittings if k in shown.fittings]


def _unserved(shown: Shown) -> Html | None:
    missing = [head for head in shown.route.heads if not head.served]
    if not missing:
        return None
    reasons = _reasons(shown)
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
    reasons = _reasons(shown)
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
        Column("made of", "wide"),
    ]
    if reasons:
        columns.append(Column("why this way and not another", "wide"))
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
    kinds = _kinds(shown, takeoff)
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
        mm(sum(piece.length for piece in arms), bare=True) if arms else None,
        str(counted),
        made,
    ]


def _why(reasons: HeadReasons | None, many: bool) -> Html | None:
    """Say what the next best would be; the chosen way and the others unfold, or three on large floors."""
    if reasons is None:
        return None
    others = [prose(other.text) for other in reasons.others]
    if not others:
        return prose(reasons.chosen)
    if many:
        return bullets(others[:OTHERS_SHOWN])
    rest = [el("p", prose(reasons.chosen)), bullets(others[1:]) if others[1:] else None]
    return join(
        [others[0], el("details", el("summary", f"and {count(len(others) - 1, 'other way')}"), *rest)]
    )


def _no_reasons(shown: Shown) -> Html | None:
    if shown.explained is not None:
        if len(shown.route.heads) <= MANY_HEADS:
            return None
        text = (
            f"With over {MANY_HEADS} heads the {OTHERS_SHOWN} nearest other ways are given for each head; "
            "branch-router explain tells all."
        )
        return el("p", text, class_="small")
    return el("p", f"The reasons head by head are not in this report: {shown.no_reasons}.", class_="small")
