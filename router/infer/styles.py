"""Which of our styles a takeoff as drawn is, by where its pipes go."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from router.infer.meets import Drawing
    from router.infer.trees import RawTakeoff, Step
    from router.scenario.model import Head

ONE_HEAD: list[tuple[str, str]] = [
    ("D", "straight_drop"),
    ("U", "sprig"),
    ("HH?[DU]", "side_arm"),
    ("UHH?D", "return_bend"),
    ("UHH?U", "raised_arm"),
    ("DHH?[DU]", "lowered_arm"),
]
"""Ups (U), downs (D) and level legs (H) from the run to one head, and what that is called."""

TWO_HEADS: list[tuple[str, str]] = [("UHH?[DU]", "shared_nipple"), ("HH?[DU]", "level_cross")]
NEAREST_TWO = {"U": "shared_nipple", "D": "shared_nipple", "H": "level_cross", "X": "level_cross"}


@dataclass(frozen=True)
class Named:
    """A style's name. ``remark``: why it is only the nearest name, empty where it is the style itself."""

    style: str
    dogleg: bool
    remark: str = ""


def letter(drawing: Drawing, step: Step, slack: float) -> str:
    """``U``, ``D`` or ``H`` for a pipe that goes up, down or level, ``X`` for a sloping one."""
    v = drawing.at[step[2]] - drawing.at[step[1]]
    flat, up = float(np.hypot(v[0], v[1])), float(v[2])
    if flat <= slack and abs(up) > flat:
        return "U" if up > 0 else "D"
    return "H" if abs(up) <= slack else "X"


def ways(drawing: Drawing, takeoff: RawTakeoff, slack: float) -> dict[str, list[Step]]:
    """By head: the pipes from the run to it, in the order of the flow."""
    into = {step[2]: step for step in reversed(takeoff.steps)}
    found = {}
    for node, head in takeoff.heads:
        way: list[Step] = []
        at = node
        while at in into and into[at] not in way:
            way.append(into[at])
            at = into[at][1]
        found[head.id] = way[::-1]
    return found


def name_style(letters: dict[str, str], heads: list[Head], hose: bool) -> Named:
    """Name a takeoff of heads.

    Parameters
    ----------
    letters
        Head id to its way as letters, outlet first.
    heads
        The heads that it serves.
    hose
        Whether any of its pieces is a hose.

    Returns
    -------
    Named
        A pendent's way up, across and down is a ``return_bend``; whether its arm
        was raised over something, the caller looks up.
    """
    all_ways = [letters[head.id] for head in heads]
    if any("X" in way for way in all_ways):
        named = name_style({name: way.replace("X", "H") for name, way in letters.items()}, heads, hose)
        return Named(named.style, named.dogleg, named.remark or "an arm of it slopes")
    dogleg = any("HH" in way for way in all_ways)
    if hose:
        remark = "" if len(heads) == 1 else f"{len(heads)} heads on one hose"
        return Named("flexible_drop", dogleg, remark)
    if len(heads) == 1:
        return _one(all_ways[0], heads[0], dogleg)
    for pattern, style in TWO_HEADS:
        if all(re.fullmatch(pattern, way) for way in all_ways):
            bent = sum("HH" in way for way in all_ways)
            remark = ""
            if len(heads) > 2:
                remark = f"{len(heads)} heads on one {style}"
            elif bent > 1:
                remark = f"{bent} of its arms have a dogleg"
            return Named(style, dogleg, remark)
    going = ", ".join(dict.fromkeys(all_ways))
    style = NEAREST_TWO[all_ways[0][:1] or "X"]
    if any("U" in way for way in all_ways):
        style = "shared_nipple"
    return Named(style, dogleg, f"its ways go {going}; {style} is the nearest of our styles")


def _one(way: str, head: Head, dogleg: bool) -> Named:
    if head.kind == "sidewall" and way.endswith("H"):
        return Named("sidewall", False)
    for pattern, style in ONE_HEAD:
        if re.fullmatch(pattern, way):
            return Named(style, dogleg)
    first = way[:1]
    if first == "U":
        style = "return_bend" if way.endswith("D") and "H" in way else "raised_arm"
        style = style if "H" in way else "sprig"
    elif first == "D":
        style = "lowered_arm" if "H" in way else "straight_drop"
    else:
        style = "side_arm"
    return Named(style, dogleg, f"its way goes {way or 'nowhere'}; {style} is the nearest of our styles")
