"""What was chosen for a head, in words, and how far it is from the best."""

from __future__ import annotations

from typing import TYPE_CHECKING

from router.explain.part import amounts_of, cost_of, unserved_of
from router.explain.words import (
    a,
    fittings_of,
    listed,
    points,
    sentence,
    style_words,
    takeoff_words,
    term_changes,
)

if TYPE_CHECKING:
    from router.explain.part import Setting


def chosen_words(setting: Setting, head: str) -> str:
    """Say how a head is served: style, place, lengths, fittings; or that it is not."""
    takeoff = setting.takeoffs.get(head)
    if takeoff is None and head in setting.missing:
        return f"{head} is not in the route. Its line is {setting.run_of[head]}."
    if takeoff is None:
        return f"{head} is not served. Its line is {setting.run_of[head]}."
    where = takeoff_words(setting.parts, takeoff, head)
    text = f"{head} is served by {a(style_words(takeoff.style))} on {where}"
    fittings = fittings_of(setting.parts, takeoff)
    if fittings:
        text += f"; {fittings}"
    others = [h for h in takeoff.heads if h != head]
    if others:
        text += f", shared with {listed(others)}"
    if takeoff.hangers:
        text += "; an arm of it needs a hanger"
    return sentence(text)


def best_words(setting: Setting, run: str) -> str:
    """Say how much cheaper the best route of a run's tree is; nothing where the given one is the best."""
    roots = [setting.tree_of[run]]
    mine, best = setting.share(roots), setting.best(roots)
    if best is None or best is mine:
        return ""
    lost, won = unserved_of(mine), unserved_of(best)
    less = cost_of(mine) - cost_of(best)
    name = " and ".join(sorted(setting.runs_of(roots))) if len(setting.runs_of(roots)) < 3 else "its lines"
    if len(won) < len(lost):
        more = len(lost) - len(won)
        return f" The best route of {name} would serve {more} {'head' if more == 1 else 'heads'} more."
    if won != lost or less < 0.05:
        return ""
    parts = term_changes(amounts_of(mine), amounts_of(best))
    text = f" The best route of {name} costs {points(less)} less than this one ({', '.join(parts)})"
    return f"{text}; this one keeps an older route." if setting.route.kept is not None else f"{text}."
