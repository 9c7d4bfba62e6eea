"""Layers, colours, line types and text styles of our drawings in DXF.

Colours are indices of DXF's own palette next to those of our other drawings.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from router.deliver import draw_style as style
from router.readers.dxf import names

if TYPE_CHECKING:
    from ezdxf.document import Drawing

INK, GREY, FAINT, BLUE, GREEN, ORANGE, VERMILION, PURPLE = 7, 8, 9, 142, 124, 40, 20, 233

COLOURS: Final = {
    style.INK: INK,
    style.GREY: GREY,
    style.FAINT: FAINT,
    style.BLUE: BLUE,
    style.GREEN: GREEN,
    style.ORANGE: ORANGE,
    style.VERMILION: VERMILION,
    style.PURPLE: PURPLE,
}

HATCH: Final = "ROUTER-HATCH"
FITTINGS: Final = "ROUTER-FITTINGS"
HANGERS: Final = "ROUTER-HANGERS"
UNSERVED: Final = "ROUTER-UNSERVED"
TEXT: Final = "ROUTER-TEXT"
DIMENSIONS: Final = "ROUTER-DIMENSIONS"
SHEET: Final = "ROUTER-SHEET"
VIEWPORT: Final = "ROUTER-VIEWPORT"

SECTION: Final = {
    "ground": "ROUTER-SECTION-OBSTRUCTIONS",
    "obstructions": "ROUTER-SECTION-OBSTRUCTIONS",
    "guides": "ROUTER-SECTION-GUIDES",
    "far": "ROUTER-SECTION-PIPE",
    "run": "ROUTER-SECTION-PIPE",
    "near": "ROUTER-SECTION-PIPE",
    "fittings": "ROUTER-SECTION-FITTINGS",
    "heads": "ROUTER-SECTION-HEADS",
    "leaders": "ROUTER-SECTION-TEXT",
    "labels": "ROUTER-SECTION-TEXT",
    "frame": "ROUTER-SECTION-TEXT",
}
"""Layers of a section by those of our canvas."""

LAYERS: Final = (
    (names.OBSTRUCTIONS, GREY, 25, "Continuous"),
    (HATCH, FAINT, 9, "Continuous"),
    (names.CEILINGS, GREY, 18, "ROUTER-DASH-0.3-1.2"),
    (names.KEEP_OUT, VERMILION, 25, "ROUTER-DASH-1.6-1"),
    (names.RUNS, GREY, 18, "ROUTER-DASH-2.2-1"),
    (names.PIPE_RUNS, BLUE, 50, "Continuous"),
    (names.PIPE_ARMS, GREEN, 50, "Continuous"),
    (names.PIPE_HOSES, ORANGE, 50, "Continuous"),
    (FITTINGS, INK, 25, "Continuous"),
    (HANGERS, INK, 18, "Continuous"),
    (names.HEADS, INK, 25, "Continuous"),
    (UNSERVED, VERMILION, 35, "Continuous"),
    (TEXT, INK, 18, "Continuous"),
    (DIMENSIONS, GREY, 13, "Continuous"),
    ("ROUTER-SECTION-OBSTRUCTIONS", GREY, 18, "Continuous"),
    ("ROUTER-SECTION-GUIDES", GREY, 13, "Continuous"),
    ("ROUTER-SECTION-PIPE", BLUE, 25, "Continuous"),
    ("ROUTER-SECTION-FITTINGS", INK, 25, "Continuous"),
    ("ROUTER-SECTION-HEADS", INK, 25, "Continuous"),
    ("ROUTER-SECTION-TEXT", INK, 18, "Continuous"),
    (SHEET, INK, 25, "Continuous"),
    (VIEWPORT, FAINT, 9, "Continuous"),
)
"""Name, colour, line weight in hundredths of a millimetre, line type."""

PLAIN, BOLD = "ROUTER", "ROUTER-BOLD"
CAP: Final = 0.72
"""Height of capitals over the size of letters as our canvas gives it, for common sans-serif letters."""

WEIGHTS: Final = (5, 9, 13, 15, 18, 20, 25, 30, 35, 40, 50, 53, 60, 70, 80, 90, 100, 106, 120, 140, 158, 200)


def line_weight(width: float) -> int:
    """Give the line weight next to a width in mm (DXF knows a fixed set), hundredths of a millimetre.

    Returns
    -------
    int
    """
    return min(WEIGHTS, key=lambda w: abs(w - 100.0 * width))


def colour(hexed: str) -> int:
    """Give the index of a colour; unknown ones are greys.

    Returns
    -------
    int
    """
    return COLOURS.get(hexed, FAINT)


def dash_name(doc: Drawing, dash: str) -> str:
    """Give the line type of a dash pattern in mm on paper (``"2.2 1"``), made where it is new.

    Returns
    -------
    str
    """
    parts = [float(part) for part in dash.split()]
    parts += parts if len(parts) % 2 else []
    name = "ROUTER-DASH-" + "-".join(f"{part:g}" for part in parts)
    if name not in doc.linetypes:
        steps = [part if k % 2 == 0 else -part for k, part in enumerate(parts)]
        doc.linetypes.add(name, [sum(parts), *steps], description=f"dashes, mm on paper: {dash}")
    return name


def set_up(doc: Drawing, scale: float) -> None:
    """Make layers, line types and text styles. ``scale``: N of 1:N, for dashes as long on paper as meant."""
    doc.header["$LTSCALE"] = float(scale)
    doc.header["$PSLTSCALE"] = 0
    doc.styles.add(PLAIN, font="arial.ttf")
    doc.styles.add(BOLD, font="arialbd.ttf")
    for name, aci, weight, dash in LAYERS:
        if dash.startswith("ROUTER-DASH-"):
            dash_name(doc, dash.removeprefix("ROUTER-DASH-").replace("-", " "))
        layer = doc.layers.add(name, color=aci, linetype=dash, lineweight=weight)
        layer.dxf.plot = 0 if name == VIEWPORT else 1
