"""Why this style and not a simpler one, in a sentence or two."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from router.building.kept_off import SAYS
from router.explain.words import listed, mm, points, sentence, style_words

if TYPE_CHECKING:
    from collections.abc import Sequence

    from router.explain.records import OtherWay
    from router.route.model import Attempt

RANK = {
    "straight_drop": 0,
    "sprig": 0,
    "sidewall": 0,
    "side_arm": 1,
    "level_cross": 1,
    "flexible_drop": 1,
    "shared_nipple": 2,
    "return_bend": 3,
    "lowered_arm": 3,
    "raised_arm": 3,
}
"""By fittings on the way: a style of a lower rank is the one that a fitter tries first."""
LEFT_TO_RULES = frozenset({"level_cross", "flexible_drop"})
"""Nobody asks why these are not used where the scenario does not allow them."""
SAME = 0.05
"""Points."""


def why_words(style: str | None, others: Sequence[OtherWay]) -> str:
    """Say what stops each simpler style, or makes it dearer, and what the next best would cost.

    Empty for a head that is not served.
    """
    if style is None:
        return ""
    simpler = sorted((w for w in others if RANK[w.style] < RANK[style]), key=lambda w: RANK[w.style])
    against: dict[str, list[str]] = {}
    for way in simpler:
        reason = _against(way)
        if reason:
            against.setdefault(reason, []).append(style_words(way.style))
    said = [f"{listed(names)}: {reason}" for reason, names in against.items()]
    if not RANK[style]:
        said.append("nothing is simpler")
    told = {w.style for w in simpler if w.costs_more is not None}
    best = next((w for w in others if w.costs_more is not None), None)
    if best is None:
        said.append("no other style has a place")
    elif best.style not in told:
        said.append(f"next best: {style_words(best.style)}, {_more(best)}")
    return " ".join(sentence(text) for text in said)


def _against(way: OtherWay) -> str:
    if way.stopped_by is not None:
        return "" if way.style in LEFT_TO_RULES else _short(way.stopped_by, style_words(way.style))
    if way.here:
        return f"{way.here}; with the line at another level it costs {_more(way)}"
    return _more(way)


def _more(way: OtherWay) -> str:
    more = way.costs_more or 0.0
    if abs(more) < SAME:
        return "the same" if way.exact else "perhaps the same"
    size = f"{points(abs(more))} {'more' if more > 0 else 'less'}"
    if way.about:
        return f"about {size}"
    return size if way.exact else f"{'at least' if more > 0 else 'perhaps'} {size}"


def _short(attempt: Attempt, name: str) -> str:
    if attempt.short is None:
        text = attempt.text.removeprefix(f"{name}: ").removeprefix(f"{name} is ").removesuffix(".")
        return re.sub(r" \(.*\)$", "", text)  # the source stands with the style itself
    whom = f" to {attempt.against}" if attempt.against else ""
    return f"{mm(attempt.short)} mm {SAYS.get(attempt.rule, attempt.rule)}{whom}"
