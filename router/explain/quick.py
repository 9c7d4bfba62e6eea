"""All heads and runs of a route at once, from what the bounds tell; unserved heads in full.

For every head and style the least cost of any route with it: the true one is
no less, since the bounds do not see clashes between pieces.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from router.building.prepare import prepare
from router.building.stop import Stop
from router.explain.chosen import chosen_words
from router.explain.head import refused
from router.explain.lines import root_down, tree_of
from router.explain.part import Setting, unserved_of
from router.explain.records import Explained, HeadReasons, OtherWay, RunReasons
from router.explain.run import profile_reasons
from router.explain.stops import at_that_level, stop_words, stopped_way, tried
from router.explain.unserved import Budget, reasons_for_head, reasons_for_run
from router.explain.why_this import why_words
from router.explain.words import at, mm, points, sentence, style_words
from router.profiles.graph import NEVER, POINT
from router.route.model import Attempt
from router.route.totals import prices_of
from router.takeoffs.candidates import STYLE_NAMES
from router.trade.styles import STYLES

if TYPE_CHECKING:
    from router.building.prepare import Prepared
    from router.explain.lines import LineCosts
    from router.profiles.graph import Prices
    from router.route.model import HeadResult, Route
    from router.scenario.model import Head, Scenario

TOLD_EACH = 3
"""So many changes at most are told for each of them: the smallest."""
MOST_EACH = 150
"""So many trials at most are made for one of them."""
MOST_TRIES = 900
"""So many trials at most are made for all unserved heads together."""


def explain_route(scenario: Scenario, route: Route, stop: Stop | None = None) -> Explained:
    """Give the reasons for all heads and runs of a route, in the scenario's order.

    ``stop``: ends the work; what is not known by then is said to be so.
    """
    setting = Setting(scenario, route, Stop() if stop is None else stop)
    heads: dict[str, HeadReasons] = {}
    runs: dict[str, RunReasons] = {}
    whole = prepare(scenario)
    prices = prices_of(scenario)
    for root in whole.roots:
        tree = None if setting.stop.asked() else tree_of(whole, root, prices, setting.stop)
        if tree is None:
            continue
        mine = setting.share([whole.frames[root].run.id])
        value = mine.objective.value + _unserved_more(setting, mine)
        slack = _slack(setting, whole, whole.frames[root].run.id, prices)
        results = {r.id: r for r in route.runs}
        for line in root_down(whole, tree, prices, unserved=len(unserved_of(mine))):
            if setting.stop.asked():
                break
            for h in line.frame.heads:
                head = scenario.heads[h]
                heads[head.id] = _head(setting, line, h, head, value + slack)
            result = results.get(line.frame.run.id)
            if result is not None:
                compared = value + slack if setting.proven else line.least()[0]
                runs[result.id] = profile_reasons(setting, line, result, mine, compared)
    budget = Budget(MOST_TRIES, TOLD_EACH, MOST_EACH)
    for head in scenario.heads:
        known = heads.get(head.id)
        if known is not None and not known.served:
            conflict, relaxations, said = reasons_for_head(setting, head, budget)
            update = {"conflict": conflict, "relaxations": relaxations, "chosen": known.chosen + said}
            heads[head.id] = known.model_copy(update=update)
    built = {r.id for r in route.runs}
    for run in scenario.runs:
        if run.id not in built:
            runs[run.id] = _unbuilt(setting, run.id, heads, budget)
    return Explained(
        heads=[heads.get(h.id) or _unknown(setting, h.id) for h in scenario.heads],
        runs=[runs.get(r.id) or _unknown_run(setting, r.id) for r in scenario.runs],
    )


def _unbuilt(setting: Setting, run: str, heads: dict[str, HeadReasons], budget: Budget) -> RunReasons:
    """Take what is known of a head of the run; else look for it."""
    for h in setting.scenario.heads:
        known = heads.get(h.id)
        if setting.run_of[h.id] == run and known is not None and (known.conflict or known.relaxations):
            return RunReasons(
                run=run, built=False, text=f"{run} is not built: what stops {h.id} stops it.",
                conflict=known.conflict, relaxations=known.relaxations,
            )  # fmt: skip
    conflict, relaxations, text = reasons_for_run(setting, run, budget)
    return RunReasons(run=run, built=False, text=text, conflict=conflict, relaxations=relaxations)


def _unserved_more(setting: Setting, mine: Route) -> float:
    """Points that unserved heads of a part cost more by the whole scenario's weight than by the part's."""
    unserved = next(t for t in mine.objective.terms if t.name == "unserved")
    return unserved.amount * (prices_of(setting.scenario).unserved - unserved.weight)


def _slack(setting: Setting, whole: Prepared, root: str, prices: Prices) -> float:
    """Points that trees beside a tree could cost less in a route where it goes otherwise, at the most."""
    if not setting.proven:
        return 0.0
    more = 0.0
    for other in setting.beside(root):
        index = next(r for r in whole.roots if whole.frames[r].run.id == other)
        tree = tree_of(whole, index, prices, setting.stop)
        if tree is None:
            continue
        mine = setting.share([other])
        line = next(iter(root_down(whole, tree, prices, [index], len(unserved_of(mine)))))
        value = mine.objective.value + _unserved_more(setting, mine)
        more += max(value - line.least()[0], 0.0)
    return more


def _head(setting: Setting, line: LineCosts, h: int, head: Head, value: float) -> HeadReasons:
    result = setting.results[head.id]
    others = _ways(setting, line, h, head, value)
    return HeadReasons(
        head=head.id, served=result.served, style=result.style, chosen=chosen_words(setting, head.id),
        why=why_words(result.style, others), others=others,
    )  # fmt: skip


def _ways(setting: Setting, line: LineCosts, h: int, head: Head, value: float) -> list[OtherWay]:
    result = setting.results[head.id]
    columns = line.built.graph.columns
    refs = line.built.candidates.columns
    mine = _arcs_of(line, h)
    through = line.through[mine]
    styles = refs.style[columns.ref[mine]]
    optimal = setting.proven
    if not optimal and result.style is not None:  # compared with the best that has the style as it is
        same = through[styles == STYLE_NAMES.index(result.style)]
        if len(same) and int(same.min()) < NEVER:
            value = int(same.min()) / POINT
    level = None
    takeoff = setting.takeoffs.get(head.id)
    if takeoff is not None and len(line.frame.levels):
        level = int(np.argmin(np.abs(line.frame.levels - takeoff.level)))
    priced: list[OtherWay] = []
    stopped: list[OtherWay] = []
    missing: list[str] = []
    for style in STYLES:
        if style == result.style:
            continue
        why = refused(setting, head, style)
        if why is True:
            continue
        if isinstance(why, Attempt):
            stopped.append(stopped_way(style, why))
            continue
        here = np.flatnonzero(styles == STYLE_NAMES.index(style))
        if not len(here):
            missing.append(style)
            continue
        if not result.served:
            stopped.append(_kept_off(setting, result, line, style))
            continue
        k = here[int(np.argmin(through[here]))]
        way = _bound(setting, line, style, int(mine[k]), int(through[k]), value, optimal)
        if level is not None and not (refs.level[columns.ref[mine[here]]] == level).any():
            said = at_that_level(line.prepared, line.frame, h, style, float(line.frame.levels[level]))
            text = f"{way.text.removesuffix('.')}; {said}." if said else way.text
            way = way.model_copy(update={"text": text, "here": said})
        (stopped if way.costs_more is None else priced).append(way)
    stopped += tried(line, h, head, missing, level)
    priced.sort(key=lambda w: (w.costs_more or 0.0, STYLES.index(w.style)))
    stopped.sort(key=lambda w: STYLES.index(w.style))
    return [*priced, *stopped]


def _kept_off(setting: Setting, result: HeadResult, line: LineCosts, style: str) -> OtherWay:
    """Say what keeps an unserved head's style off its line, where it would fit alone."""
    name = line.frame.run.id
    for attempt in result.stopped_by:
        if attempt.style in (style, "run_takeoff", ""):
            return stopped_way(style, attempt, exact=False)
    if not setting.proven:  # that the route lacks it says nothing of what its line could do
        text = f"{style_words(style)} has a place on {name}"
        lack = stop_words(style, "not_used", text, name)
        return stopped_way(style, lack, exact=False)
    text = f"{style_words(style)} has a place on {name}, but not beside what else {name} serves"
    return stopped_way(style, stop_words(style, "neighbours", text, name), exact=False)


def _arcs_of(line: LineCosts, h: int) -> np.ndarray:
    """Takeoff arcs of a head on its line."""
    columns = line.built.graph.columns
    item = line.frame.heads.index(h)
    return np.flatnonzero((columns.items == item).any(axis=1))


def _bound(
    setting: Setting, line: LineCosts, style: str, arc: int, least: int, value: float, optimal: bool
) -> OtherWay:
    graph = line.built.graph
    candidate = line.built.candidates[int(graph.columns.ref[arc])]
    level = float(line.frame.levels[candidate.level])
    where = f"{line.frame.run.id} at station {at(candidate.station)}, line at level {mm(level)}"
    name = style_words(style)
    more = least / POINT - value
    if least >= NEVER or more >= line.programme.prices.unserved * 0.5:
        lack = stop_words(style, "neighbours", f"{name} fits only if some other head goes without water",
                          line.frame.run.id)  # fmt: skip
        return OtherWay(style=style, costs_more=None, exact=True, where=where, stopped_by=lack,
                        text=sentence(lack.text))  # fmt: skip
    if not optimal:
        size = "the same" if abs(more) < 0.05 else f"{points(abs(more))} {'more' if more > 0 else 'less'}"
        text = f"{name} costs about {size}, all else at its best; cheapest at {where}"
    elif more >= 0.05:
        text = f"{name} costs at least {points(more)} more; cheapest at {where}"
    else:
        text, more = f"{name} may cost the same; cheapest at {where}", 0.0
    return OtherWay(style=style, costs_more=round(more, 3), exact=False, about=not optimal, where=where,
                    text=sentence(text))  # fmt: skip


def _unknown(setting: Setting, head: str) -> HeadReasons:
    result = setting.results[head]
    why = f" Other ways were not looked at: {setting.stop.why}." if setting.stop.hit else ""
    chosen = chosen_words(setting, head) + why
    return HeadReasons(head=head, served=result.served, style=result.style, chosen=chosen)


def _unknown_run(setting: Setting, run: str) -> RunReasons:
    why = setting.stop.why if setting.stop.hit else "nothing of its line is known"
    built = any(r.id == run for r in setting.route.runs)
    return RunReasons(run=run, built=built, text=f"{run}: not looked at, {why}.")
