"""Symbols of heads, fittings and outlets, at paper size."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from router.deliver import draw_style as style

if TYPE_CHECKING:
    from router.deliver.draw_canvas import Canvas, Xy

R = style.HEAD_RADIUS
F = style.FITTING_RADIUS


def _ring(at: Xy, radius: float, angles: tuple[float, ...]) -> list[Xy]:
    """Points around ``at``, degrees anticlockwise as seen on paper.

    Returns
    -------
    list of Xy
    """
    return [
        (at[0] + radius * math.cos(math.radians(a)), at[1] - radius * math.sin(math.radians(a)))
        for a in angles
    ]


def draw_head(
    canvas: Canvas, at: Xy, kind: str, *, dry: bool, facing: float | None = None, layer: str = "heads"
) -> None:
    """Head: a ring with a triangle that points down (pendent), up (upright) or along the water (sidewall).

    ``facing`` in degrees on paper, anticlockwise. A dry head has a second ring.
    """
    turn = {"pendent": 270.0, "upright": 90.0}.get(kind, facing if facing is not None else 0.0)
    canvas.circle(layer, at, R, style.PAPER, style.INK, 0.28)
    if dry:
        canvas.circle(layer, at, R + 0.5, "none", style.INK, 0.18)
    tip = _ring(at, R * 0.82, (turn, turn + 130, turn + 230))
    solid = kind != "sidewall"
    canvas.polygon(layer, tip, style.INK if solid else style.PAPER, style.INK, 0.22)


def draw_unserved(canvas: Canvas, at: Xy, layer: str = "heads") -> None:
    """Mark an unserved head: a filled octagon with a white cross."""
    angles = tuple(22.5 + 45.0 * k for k in range(8))
    canvas.polygon(layer, _ring(at, 2.7, angles), style.VERMILION, style.INK, 0.3)
    for a in (45.0, 135.0):
        p, q = _ring(at, 1.6, (a, a + 180.0))
        canvas.line(layer, p, q, style.PAPER, 0.6)


def draw_fitting(canvas: Canvas, at: Xy, kind: str, layer: str = "fittings") -> None:
    """Draw a fitting by kind; each has a form of its own."""
    ink, paper = style.INK, style.PAPER
    if kind == "tee":
        canvas.polygon(layer, _ring(at, F * 1.25, (45, 135, 225, 315)), ink, ink, 0.1)
    elif kind == "cross":
        for a in (0.0, 90.0):
            p, q = _ring(at, F * 1.7, (a, a + 180))
            canvas.line(layer, p, q, ink, 0.5)
    elif kind == "elbow_90":
        canvas.circle(layer, at, F * 0.85, paper, ink, 0.25)
    elif kind == "elbow_45":
        canvas.polygon(layer, _ring(at, F * 1.3, (0, 90, 180, 270)), paper, ink, 0.25)
    elif kind == "elbow_odd":
        canvas.polygon(layer, _ring(at, F * 1.3, (30, 150, 270)), paper, ink, 0.25)
    elif kind == "outlet":
        canvas.circle(layer, at, F, paper, ink, 0.3)
        canvas.circle(layer, at, F * 0.3, ink, ink, 0.1)
    elif kind == "reducing_coupling":
        canvas.polygon(layer, _ring(at, F * 1.2, (270, 30, 150)), paper, ink, 0.25)
    elif kind == "reducer":
        canvas.polygon(layer, _ring(at, F * 0.95, (270, 30, 150)), ink, ink, 0.1)
    else:
        p, q = _ring(at, F * 1.4, (0, 180))
        canvas.line(layer, p, q, ink, 0.5)
        if kind == "plug":
            p, q = _ring(at, F * 0.8, (90, 270))
            canvas.line(layer, p, q, ink, 0.4)


def draw_outlet(canvas: Canvas, at: Xy, side: str, half: float, layer: str = "fittings") -> None:
    """Draw an outlet's direction on a section; ``half`` is half the pipe's height on paper, mm.

    The reader stands to the right of the run: right comes towards them (a dot),
    left goes away from them (a cross), as on the feathers of an arrow.
    """
    ink, paper = style.INK, style.PAPER
    if side in ("top", "bottom"):
        sign = -1.0 if side == "top" else 1.0
        y = at[1] + sign * (half + 0.15)
        canvas.polygon(
            layer, [(at[0], y + sign * 1.1), (at[0] - 0.75, y), (at[0] + 0.75, y)], paper, ink, 0.22
        )
    elif side == "end":
        canvas.polygon(
            layer, [(at[0] + 1.2, at[1]), (at[0], at[1] - 0.75), (at[0], at[1] + 0.75)], paper, ink, 0.22
        )
    else:
        canvas.circle(layer, at, 0.95, paper, ink, 0.22)
        if side == "right":
            canvas.circle(layer, at, 0.3, ink, ink, 0.1)
        else:
            for a in (45.0, 135.0):
                p, q = _ring(at, 0.95, (a, a + 180.0))
                canvas.line(layer, p, q, ink, 0.22)
