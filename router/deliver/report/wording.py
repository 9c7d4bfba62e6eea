"""Words that several parts of the page use."""

from __future__ import annotations

from typing import TYPE_CHECKING

from router.trade.sizes import label

if TYPE_CHECKING:
    from collections.abc import Sequence

    from router.route.model import Takeoff
    from router.trade.sizes import Standard

STYLE_SAYS = {
    "straight_drop": ("straight drop", "an outlet under the line, and straight down to the head"),
    "side_arm": ("side arm", "a side outlet, a level arm to over the head, then down"),
    "return_bend": ("return bend", "a top outlet, up, level across, then down"),
    "raised_arm": ("raised arm", "up from the top, level across over what is in the way, then down"),
    "lowered_arm": ("lowered arm", "down from the bottom, level across under what is in the way, then down"),
    "shared_nipple": ("shared nipple", "one riser nipple feeds two heads through arms to either side"),
    "level_cross": ("level cross", "a cross in the line feeds two heads, one on either side"),
    "sprig": ("sprig", "a top outlet, and straight up to an upright head"),
    "sidewall": ("sidewall outlet", "a side outlet and an arm that meets a sidewall head from behind"),
    "flexible_drop": ("flexible drop", "a listed hose from the outlet to the head"),
    "run_takeoff": ("line", "another line leaves here"),
}
"""Style: its name, and how water goes."""
PIECE = {
    "run": "line pipe",
    "nipple": "riser nipple",
    "arm": "arm",
    "drop": "drop",
    "sprig": "sprig",
    "barrel": "barrel of a dry head",
    "hose": "hose",
}
TERM = {
    "unserved": "heads not served",
    "fitting": "fittings",
    "level_change": "level changes",
    "drain": "drains",
    "large_drain": "two-valve drains, on top",
    "wet_drain": "low sections of a wet system",
    "hanger": "arms that need a hanger",
    "pipe": "pipe",
    "moved": "lines off their wanted level",
    "style": "styles on a line",
    "reducer": "reducers",
    "hose": "hoses",
    "price": "price",
}


def style_name(style: str | None) -> str:
    """Name a style."""
    return STYLE_SAYS[style][0] if style in STYLE_SAYS else (style or "").replace("_", " ")


def size(dn: int, standard: Standard) -> str:
    """Write a nominal size; one that is not made is written as it is."""
    try:
        return label(dn, standard)
    except (KeyError, ValueError):
        return f"DN{dn}"


def count(number: int, noun: str, plural: str = "") -> str:
    """Write a number with its noun."""
    return f"{number:,} {noun if number == 1 else plural or noun + 's'}"


def listed(words: Sequence[str], most: int = 8) -> str:
    """List words: ``a, b and c``; of long lists the first and how many more."""
    if len(words) > most:
        return f"{', '.join(words[: most - 1])} and {len(words) - most + 1:,} more"
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}" if words else ""


def how_made(takeoff: Takeoff, kinds: Sequence[str]) -> str:
    """Say which fittings a takeoff has, outlet first."""
    words = {"elbow_90": "elbow", "elbow_45": "elbow 45", "elbow_odd": "elbow, other angle"}
    return ", ".join(words.get(kind, kind.replace("_", " ")) for kind in kinds)
