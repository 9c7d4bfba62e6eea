"""What stops a style that has no place, in words."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from router.building.kept_off import SAYS
from router.building.why import alone
from router.explain.records import OtherWay
from router.explain.words import mm, sentence, style_words
from router.route.model import Attempt

if TYPE_CHECKING:
    from collections.abc import Sequence

    from router.building.prepare import Prepared
    from router.explain.lines import LineCosts
    from router.profiles.frame import RunFrame
    from router.scenario.model import Head

UPRIGHT = ("straight_drop", "sprig")
PAIRS = ("shared_nipple", "level_cross")


def stop_words(style: str, rule: str, text: str, run: str = "") -> Attempt:
    """Give an attempt that lacks nothing in mm."""
    return Attempt(
        style=style, run=run, station=None, rule=rule, against=None, has=None, needs=None, short=None,
        text=text,
    )  # fmt: skip


def stopped_way(style: str, attempt: Attempt, *, exact: bool = True, where: str = "") -> OtherWay:
    """Give a style that cannot be had, with what stops it."""
    name = style_words(style)
    text = attempt.text
    if text.startswith("not "):
        text = f"{name} is {text}"
    elif not text.lower().startswith(name):
        text = f"{name}: {text}"
    return OtherWay(
        style=style, costs_more=None, exact=exact, where=where, stopped_by=attempt, text=sentence(text)
    )


def nothing(style: str, run: str) -> Attempt:
    """Say that a style has no place on a run, where no attempt tells more."""
    text = f"{style_words(style)} has no place on {run}"
    if style in PAIRS:
        text = f"{style_words(style)}: no head on the other side of {run} is near enough to share it"
    if style in UPRIGHT:
        way = "over" if style == "straight_drop" else "under"
        text = f"{style_words(style)}: {run} does not pass {way} the head"
    return stop_words(style, "room", text, run)


def tried(line: LineCosts, h: int, head: Head, styles: Sequence[str], level: int | None) -> list[OtherWay]:
    """Say of styles without a candidate what their nearest attempt lacks, near the head's own station.

    ``level``: of the run (index), the one that it has; ``None``: any.
    """
    if not styles:
        return []
    levels = None if level is None else {level}
    found = {a.style: a for a in alone(line.prepared, line.frame, h, levels, 1, styles)}
    return [stopped_way(style, found.get(style) or nothing(style, line.frame.run.id)) for style in styles]


def at_that_level(prepared: Prepared, frame: RunFrame, h: int, style: str, level: float) -> str:
    """Say what stops a style where the run keeps its level, mm; empty where nothing is measured.

    Only for a style that has no candidate at that level.
    """
    k = int(np.argmin(np.abs(frame.levels - level)))
    found = [a for a in alone(prepared, frame, h, {k}, 1, [style]) if a.short is not None]
    if not found:
        return ""
    lack = found[0]
    whom = f" to {lack.against}" if lack.against else ""
    short = f"{mm(lack.short or 0.0)} mm {SAYS.get(lack.rule, lack.rule)}{whom}"
    return f"at the level that {frame.run.id} has there it is {short}"
