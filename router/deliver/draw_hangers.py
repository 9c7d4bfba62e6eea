"""Hangers on plan and section: where the pipe hangs, and from what."""

from __future__ import annotations

from typing import TYPE_CHECKING

from router.deliver import draw_style as style

if TYPE_CHECKING:
    from router.deliver.draw_canvas import Canvas, Xy
    from router.deliver.draw_frame import PlanFrame, SectionFrame
    from router.deliver.draw_section_data import SectionData
    from router.route.model import Hanger

SHORT_ROD = 3.0
"""mm on paper: length of a rod that hangs from a structure that the scenario does not give."""


def hanger_on_plan(canvas: Canvas, at: Xy, layer: str = "fittings") -> None:
    """Draw a hanger seen from above: a small square."""
    x, y = at
    canvas.rect(layer, (x - 0.6, y - 0.6, x + 0.6, y + 0.6), style.PAPER, style.INK, 0.18)


def hanger_on_section(
    canvas: Canvas, foot: Xy, top: Xy, *, held: bool, cut: bool = False, layer: str = "fittings"
) -> None:
    """Draw a rod from the pipe up to its structure (``held``), or a short one without.

    ``cut``: the structure is higher than the section shows; the rod ends in a break.
    """
    canvas.line(layer, foot, top, style.INK, 0.22, stroke_dasharray=None if held else "0.7 0.5")
    if cut:
        for y in (top[1], top[1] + 0.8):
            canvas.line(layer, (top[0] - 0.9, y + 0.4), (top[0] + 0.9, y - 0.4), style.INK, 0.22)
    else:
        canvas.line(layer, (top[0] - 0.9, top[1]), (top[0] + 0.9, top[1]), style.INK, 0.4 if held else 0.22)
    canvas.circle(layer, foot, 0.35, style.PAPER, style.INK, 0.18)


def plan_hangers(canvas: Canvas, frame: PlanFrame, hangers: list[Hanger]) -> None:
    """Draw all hangers on the plan."""
    for hanger in hangers:
        hanger_on_plan(canvas, frame.paper(hanger.at))


def section_hangers(canvas: Canvas, frame: SectionFrame, data: SectionData) -> None:
    """Draw the run's own hangers on its section."""
    for hanger in data.hangers:
        station = data.line.nearest(hanger.at[:2])[0]
        foot = frame.paper(station, hanger.at[2])
        held = hanger.structure is not None and hanger.rod is not None
        above = hanger.at[2] + (hanger.rod or 0.0)
        cut = held and above > frame.top
        top = frame.paper(station, min(above, frame.top)) if held else (foot[0], foot[1] - SHORT_ROD)
        hanger_on_section(canvas, foot, top, held=held, cut=cut)
