"""One head: why it is served as it is, what every other style would cost, verified by solving."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from router.building.graphs import binding_stations, wanted
from router.building.prepare import prepare
from router.building.stop import Stop
from router.explain.chosen import best_words, chosen_words
from router.explain.part import Setting, amounts_of, cost_of, solved, unserved_of
from router.explain.records import HeadReasons, OtherWay
from router.explain.stops import at_that_level, nothing, stop_words, stopped_way
from router.explain.unserved import reasons_for_head
from router.explain.why_this import why_words
from router.explain.words import (
    Parts,
    a,
    costs_more,
    listed,
    neighbours_words,
    sentence,
    style_words,
    takeoff_words,
    term_changes,
)
from router.route.model import Attempt
from router.scenario.model import HeadPin
from router.takeoffs.propose import propose_heads
from router.trade.styles import STYLES

if TYPE_CHECKING:
    from collections.abc import Iterable

    from router.route.model import Route
    from router.scenario.model import Head, Scenario


SAME_LEVEL = 1.0
"""mm. Levels nearer than this are one."""


def explain_head(scenario: Scenario, route: Route, head_id: str, stop: Stop | None = None) -> HeadReasons:
    """Say why a head is served as it is, each other style tried by solving with it.

    Only the tree of runs that serves the head is solved; another one joins it
    where their pieces would come too near to each other.

    Raises
    ------
    ValueError
        If the scenario has no such head.
    """
    setting = Setting(scenario, route, Stop() if stop is None else stop)
    head = next((h for h in scenario.heads if h.id == head_id), None)
    if head is None:
        raise ValueError(f"no head {head_id!r} in the scenario")
    result = setting.results[head_id]
    others = list(other_ways(setting, head))
    chosen = chosen_words(setting, head_id)
    if result.served:
        better = best_words(setting, setting.run_of[head_id])
        return HeadReasons(
            head=head_id,
            served=True,
            style=result.style,
            chosen=f"{chosen}{better}",
            why=why_words(result.style, others),
            others=others,
        )
    conflict, relaxations, said = reasons_for_head(setting, head)
    return HeadReasons(
        head=head_id, served=False, style=None, chosen=f"{chosen}{said}", others=others,
        conflict=conflict, relaxations=relaxations,
    )  # fmt: skip


def other_ways(setting: Setting, head: Head) -> Iterable[OtherWay]:
    """Give every style that suits the head but the chosen one: cheapest first, then what is stopped."""
    result = next(h for h in setting.route.heads if h.id == head.id)
    ways = [
        way
        for style in STYLES
        if style != result.style
        for way in [_way(setting, head, style)]
        if way is not None
    ]
    return sorted(ways, key=lambda w: (w.costs_more is None, w.costs_more or 0.0, STYLES.index(w.style)))


def refused(setting: Setting, head: Head, style: str) -> Attempt | bool | None:
    """Give what forbids a style to a head beforehand; ``True`` where the style is for other heads."""
    scenario, why = setting.scenario, setting.styles(head)[style]
    if not why.allowed:
        if why.text.startswith("style_for_head"):
            return True
        rule, _, text = why.text.partition(": ")
        source = "" if why.source == "scenario" else f" ({why.source})"
        return stop_words(style, rule, f"not allowed: {text}{source}")
    pin = scenario.pins.heads.get(head.id)
    if pin is not None and pin.style is not None and pin.style != style:
        return stop_words(style, "pins", f"{head.id} is pinned to {style_words(pin.style)}")
    if pin is not None and pin.styles is not None and style not in pin.styles:
        names = listed([style_words(s) for s in pin.styles], "or")
        return stop_words(style, "pins", f"{head.id} is pinned to {names}")
    return None


def pinned(scenario: Scenario, head: str, style: str) -> Scenario:
    """Give the scenario with one head pinned to a style; its other pins stay."""
    old = scenario.pins.heads.get(head, HeadPin())
    heads = {**scenario.pins.heads, head: old.model_copy(update={"style": style})}
    return scenario.model_copy(update={"pins": scenario.pins.model_copy(update={"heads": heads})})


def _way(setting: Setting, head: Head, style: str) -> OtherWay | None:
    why = refused(setting, head, style)
    if why is True:
        return None
    name = style_words(style)
    if isinstance(why, Attempt):
        return stopped_way(style, why)
    own = setting.tree_of[setting.run_of[head.id]]
    roots = [own, *setting.gave_way(own)]
    near: list[str] = []
    while True:
        found = solved(pinned(setting.cut(roots), head.id, style), setting.stop)
        if found is None:
            text = f"{name}: not tried, {setting.stop.why}"
            return OtherWay(style=style, costs_more=None, exact=False, text=sentence(text))
        near = setting.too_near(found, roots)
        if not near or not setting.may_join([*roots, *near]):
            break
        roots += near
    lost = unserved_of(found) - unserved_of(setting.share(roots))
    if head.id in unserved_of(found):
        return _stopped(setting, head, style, found)
    if lost:
        names = listed(sorted(lost))
        lack = stop_words(style, "neighbours", f"{names} would go without water", setting.run_of[head.id])
        return OtherWay(
            style=style, costs_more=None, exact=found.status == "optimal", stopped_by=lack,
            where=_where(found, head.id),
            text=sentence(f"{name} fits only if {names} {'goes' if len(lost) == 1 else 'go'} without water"),
        )  # fmt: skip
    return _priced(setting, head, style, found, roots, near)


def _priced(
    setting: Setting, head: Head, style: str, found: Route, roots: list[str], near: list[str]
) -> OtherWay:
    mine, chosen = _with_chosen(setting, head, roots)
    more = round(cost_of(found) - cost_of(mine), 3)
    exact = found.status == "optimal" and not near
    served = any(h.id == head.id and h.served for h in setting.route.heads)
    where = _where(found, head.id)
    text = f"{style_words(style)} {costs_more(more)}"
    if chosen:
        text += f" than {a(style_words(chosen))}, all else at its best"
    if not served:
        text = f"{style_words(style)} would serve it"
    if not exact and more > 0:
        text += " at the least" if near else " by what is known so far"
    parts = term_changes(amounts_of(mine), amounts_of(found))
    if parts:
        text += f" ({', '.join(parts)})"
    if where:
        text += f"; best at {where}"
    here = _where_it_is(setting, head, style, found)
    if here:
        text += f"; {here}"
    beside = neighbours_words(mine, found, head.id)
    if beside:
        text += f"; {listed(beside)}"
    if near:
        lines = listed(sorted(setting.runs_of(near)))
        text += f"; it comes too near to {lines}, which would have to give way"
    return OtherWay(style=style, costs_more=more, exact=exact, where=where, here=here, text=sentence(text))


def _with_chosen(setting: Setting, head: Head, roots: list[str]) -> tuple[Route, str]:
    """Give what another style is compared with, and the chosen style where that is not the given route.

    A route that is proven: itself. Of another one all else is at its best in both,
    so that the difference is what this head's style makes.
    """
    mine = setting.share(roots)
    style = setting.results[head.id].style
    if setting.proven or style is None:
        return mine, ""
    key = (head.id, *roots)
    if key not in setting.chosen:
        setting.chosen[key] = solved(pinned(setting.cut(roots), head.id, style), setting.stop)
    best = setting.chosen[key]
    if best is None or unserved_of(best) - unserved_of(mine):
        return mine, ""
    return best, style


def _where_it_is(setting: Setting, head: Head, style: str, found: Route) -> str:
    """Say what stops a style where the line is as the route has it, if the style needs another level."""
    old = setting.takeoffs.get(head.id)
    new = next((t for t in found.takeoffs if head.id in t.heads), None)
    if old is None or new is None or old.run != new.run or abs(old.level - new.level) < SAME_LEVEL:
        return ""
    prepared = prepare(setting.cut([setting.tree_of[old.run]]))
    frame = next(f for f in prepared.frames if f.run.id == old.run)
    index = next(i for i, h in enumerate(prepared.scenario.heads) if h.id == head.id)
    level = old.level
    k = int(np.argmin(np.abs(frame.levels - level)))
    edges = np.array(binding_stations(prepared, frame))
    there = propose_heads(frame, prepared.scenario, prepared.solids_at(frame), edges,
                          wanted(prepared, frame))  # fmt: skip
    if any(c.style == style and c.level == k for c in there.of_head(index)):
        return ""  # it fits there, but for what is beside it
    return at_that_level(prepared, frame, index, style, level)


def _where(route: Route, head: str) -> str:
    takeoff = next((t for t in route.takeoffs if head in t.heads), None)
    return "" if takeoff is None else takeoff_words(Parts(route), takeoff, head)


def _stopped(setting: Setting, head: Head, style: str, found: Route) -> OtherWay:
    """Say what stops a style: by the nearest attempt of the line on which only it was allowed."""
    tries = next(h for h in found.heads if h.id == head.id).stopped_by
    # the pin is ours: what stops the style is behind it
    own = [t for t in tries if t.style in (style, "", "run_takeoff") and t.rule != "pins"]
    attempt = own[0] if own else nothing(style, setting.run_of[head.id])
    return stopped_way(style, attempt, exact=found.status == "optimal")
