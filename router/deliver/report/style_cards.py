"""Of part 1: a card for every style that the route uses."""

from __future__ import annotations

from collections import Counter, defaultdict
from typing import TYPE_CHECKING

from router.deliver.report.html import Html, el, join
from router.deliver.report.lengths import mm
from router.deliver.report.style_pictures import style_picture
from router.deliver.report.wording import STYLE_SAYS, count, how_made, listed, style_name

if TYPE_CHECKING:
    from router.deliver.report.prepare import Contents, Shown
    from router.explain.records import HeadReasons
    from router.route.model import Takeoff


def style_cards(contents: Contents, shown: Shown) -> Html:
    """Give every style used: picture, how it goes, what of, where its heads lie, what else would cost."""
    served = Counter(head.style for head in shown.route.heads if head.served and head.style)
    lines: dict[str, Counter[str]] = defaultdict(Counter)
    made: dict[str, Counter[str]] = defaultdict(Counter)
    for takeoff in shown.route.takeoffs:
        if takeoff.heads:
            lines[takeoff.style][takeoff.run] += len(takeoff.heads)
            made[takeoff.style][how_made(takeoff, kinds_of(shown, takeoff))] += 1
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
                    el(
                        "p",
                        f"Made of {usual}{fittings}. On {on}. ",
                        _lie(contents, shown, style),
                        class_="small",
                    ),
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
    for reasons in reasons_of(shown).values():
        if not reasons.served or reasons.style != style:
            continue
        known = [
            (o.costs_more, o.style) for o in reasons.others if o.costs_more is not None and o.style != style
        ]
        if known:
            more, other = known[0]
            costs[other].append(more)
        else:
            none += 1
    says = [
        f"{style_name(other)} {_more(min(more))} ({count(len(more), 'head')})"
        for other, more in sorted(costs.items(), key=lambda item: (-len(item[1]), item[0]))
    ]
    if none:
        says.append(f"no other style can be had for {count(none, 'head')}")
    return f"{'; '.join(says[:3])}." if says else ""


def _more(points: float) -> str:
    return f"would cost at least {points:,.0f} points more" if points >= 0.5 else "may cost the same"


def _lie(contents: Contents, shown: Shown, style: str) -> Html | None:
    """Say how far to the side of their line the heads of a style lie: often that alone decides."""
    aside = [
        contents.lines[head.run].nearest(head.inlet[:2])[1]
        for head in shown.route.heads
        if head.served and head.style == style and head.run in contents.lines
    ]
    if not aside:
        return None
    low, high = min(aside), max(aside)
    if high < 0.5:
        return el("span", "These heads are straight under or over their line.")
    far = [mm(high)] if round(high) - round(low) < 1 else [mm(low), " to ", mm(high)]
    return join(["These heads are ", *far, " to the side of their line."])


def reasons_of(shown: Shown) -> dict[str, HeadReasons]:
    """Give the reasons by head, as far as they are known."""
    return {} if shown.explained is None else {item.head: item for item in shown.explained.heads}


def kinds_of(shown: Shown, takeoff: Takeoff) -> list[str]:
    """Give the kinds of a takeoff's fittings, outlet first."""
    return [shown.fittings[k].kind for k in takeoff.fittings if k in shown.fittings]
