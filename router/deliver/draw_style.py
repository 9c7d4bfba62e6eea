"""Colours, widths and letter sizes of the drawing, in millimetres on paper.

Colours come from the general palette of Okabe and Ito (2008), made to be told
apart with any kind of colour vision; its green and purple are darkened for
thin lines. Nothing rests on colour alone.
"""

from __future__ import annotations

INK = "#1a1a1a"
GREY = "#5a5a5a"
FAINT = "#b5b5b5"
PAPER = "#ffffff"
BLUE = "#0072B2"
GREEN = "#007a59"
ORANGE = "#E69F00"
VERMILION = "#D55E00"
PURPLE = "#a8457f"

FONT = "Helvetica, Arial, 'Liberation Sans', sans-serif"
TITLE_SIZE = 5.5
HEADING_SIZE = 3.4
TEXT_SIZE = 2.7
LABEL_SIZE = 2.7
SMALL_SIZE = 2.15

PIECE_COLOUR = {
    "run": BLUE,
    "nipple": GREEN,
    "arm": GREEN,
    "drop": GREEN,
    "sprig": GREEN,
    "barrel": PURPLE,
    "hose": ORANGE,
}
PIECE_DASH = {"barrel": "2 0.5", "hose": "1 0.5"}

OBSTRUCTION_FILL = {
    "beam": "#dedede",
    "duct": "#e2eff8",
    "tray": "#fbf0d0",
    "column": "#c4c4c4",
    "pipe": "#e4f3ec",
}
"""Fill by kind; any other kind takes ``OTHER_FILL``."""
OTHER_FILL = "#f0f0f0"

HATCH_ANGLES: dict[str, tuple[float, ...]] = {
    "beam": (45.0,),
    "duct": (135.0,),
    "tray": (90.0,),
    "column": (45.0, 135.0),
    "pipe": (0.0,),
}
"""Direction of the hatch lines by kind, degrees; so kinds differ in black and white too."""
OTHER_HATCH: tuple[float, ...] = (60.0,)

HEAD_RADIUS = 1.35
FITTING_RADIUS = 0.62

STYLE_WORDS = {
    "straight_drop": "straight drop",
    "side_arm": "side arm",
    "return_bend": "return bend",
    "raised_arm": "raised arm",
    "lowered_arm": "lowered arm",
    "shared_nipple": "shared nipple",
    "level_cross": "level cross",
    "sprig": "sprig",
    "sidewall": "sidewall",
    "flexible_drop": "flexible drop",
    "run_takeoff": "line",
}
FITTING_WORDS = {
    "tee": "tee",
    "cross": "cross",
    "elbow_90": "elbow 90°",
    "elbow_45": "elbow 45°",
    "elbow_odd": "elbow, other angle",
    "outlet": "outlet on an uncut pipe",
    "cap": "cap",
    "plug": "plug",
    "reducer": "reducer",
    "reducing_coupling": "reducing coupling",
}
HEAD_WORDS = {"pendent": "pendent head", "upright": "upright head", "sidewall": "sidewall head"}


def obstruction_fill(kind: str) -> str:
    """Fill colour of an obstruction kind.

    Returns
    -------
    str
    """
    return OBSTRUCTION_FILL.get(kind.lower(), OTHER_FILL)


def obstruction_hatch(kind: str) -> tuple[float, ...]:
    """Hatch directions of an obstruction kind, degrees.

    Returns
    -------
    tuple of float
    """
    return HATCH_ANGLES.get(kind.lower(), OTHER_HATCH)


def pipe_width(dn: int) -> float:
    """Line width of a pipe in plan, mm on paper: grows with the size, never hides its neighbours.

    Returns
    -------
    float
    """
    return min(0.45 + dn * 0.012, 1.6)
