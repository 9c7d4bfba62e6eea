"""The legend, only of what the sheet shows; scale bar and the plan's axes."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from router.deliver import draw_style as style
from router.deliver.draw_hangers import hanger_on_plan, hanger_on_section
from router.deliver.draw_symbols import draw_fitting, draw_head, draw_outlet, draw_unserved

if TYPE_CHECKING:
    from router.deliver.draw_canvas import Canvas, Xy
    from router.deliver.draw_frame import PlanFrame
    from router.deliver.draw_section_data import SectionData
    from router.route.model import Route
    from router.scenario.model import Scenario

LEGEND_WIDTH = 62.0
ROW = 4.6
FOOT = 44.0
Form = Literal["pipe", "head", "fitting", "outlet", "area", "guide", "unserved", "trapped", "hanger"]


@dataclass(frozen=True)
class Entry:
    """One row: ``form`` says what is drawn, ``key`` which variant."""

    form: Form
    key: str
    text: str


def legend_entries(scenario: Scenario, route: Route, sections: list[SectionData]) -> list[Entry]:
    """List the rows of the legend.

    Returns
    -------
    list of Entry
    """
    entries: list[Entry] = []
    kinds = {p.kind for p in route.pieces}
    if "run" in kinds:
        entries.append(Entry("pipe", "run", "run (main or line)"))
    if kinds & {"nipple", "arm", "drop", "sprig"}:
        entries.append(Entry("pipe", "arm", "arm, drop, sprig, riser nipple"))
    if "barrel" in kinds:
        entries.append(Entry("pipe", "barrel", "barrel of a dry head"))
    if "hose" in kinds:
        entries.append(Entry("pipe", "hose", "hose of a flexible drop"))
    entries.append(Entry("guide", "given", "line as given in the scenario"))
    for kind in sorted({(h.kind, h.dry) for h in scenario.heads}):
        words = style.HEAD_WORDS[kind[0]] + (", dry" if kind[1] else "")
        entries.append(Entry("head", f"{kind[0]}{' dry' if kind[1] else ''}", words))
    if any(not h.served for h in route.heads):
        entries.append(Entry("unserved", "", "head NOT SERVED"))
    for name, words in style.FITTING_WORDS.items():
        if any(f.kind == name for f in route.fittings):
            entries.append(Entry("fitting", name, words))
    if sections:
        sides = {t.side for data in sections for t in data.takeoffs}
        for side, words in (
            ("top", "outlet upwards"),
            ("bottom", "outlet downwards"),
            ("right", "outlet or arm to the right: towards you"),
            ("left", "outlet or arm to the left: away from you"),
            ("end", "goes on from the run's end"),
        ):
            if side in sides or (side in ("left", "right") and sides):
                entries.append(Entry("outlet", side, words))
        entries.append(Entry("guide", "band", "lowest and highest level allowed"))
    if scenario.keep_out:
        entries.append(Entry("guide", "keep_out", "keep-out zone"))
    if scenario.ceilings:
        entries.append(Entry("guide", "ceiling", "ceiling"))
    if any(low.counts_as for low in route.low_sections):
        entries.append(Entry("trapped", "", "trapped part, needs a drain"))
    if route.hangers:
        entries.append(Entry("hanger", "plan", "hanger, in plan"))
    if sections and any(data.hangers for data in sections):
        if any(h.structure is not None for data in sections for h in data.hangers):
            entries.append(Entry("hanger", "held", "hanger from the structure above"))
        if any(h.structure is None for data in sections for h in data.hangers):
            entries.append(Entry("hanger", "free", "hanger; structure above not given"))
    entries += [Entry("area", kind, kind) for kind in sorted({o.kind for o in scenario.obstructions})]
    if any(not box.on_run for data in sections for box in data.boxes):
        entries.append(Entry("area", "\0beside", "section: beside the run, met by arms"))
    return entries


def legend_height(entries: list[Entry]) -> float:
    """Height of legend, scale bar and axes, mm.

    Returns
    -------
    float
    """
    return 8.0 + ROW * len(entries) + FOOT


def _symbol(canvas: Canvas, at: Xy, entry: Entry) -> None:
    x, y = at
    left, right = (x - 4.5, y), (x + 4.5, y)
    if entry.form == "pipe":
        width = 1.1 if entry.key == "run" else 0.75
        dash = style.PIECE_DASH.get(entry.key)
        canvas.line("frame", left, right, style.PIECE_COLOUR[entry.key], width, stroke_dasharray=dash)
    elif entry.form == "head":
        draw_head(canvas, at, entry.key.split()[0], dry=entry.key.endswith(" dry"), layer="frame")
    elif entry.form == "fitting":
        draw_fitting(canvas, at, entry.key, "frame")
    elif entry.form == "outlet":
        canvas.line("frame", left, right, style.BLUE, 1.1)
        draw_outlet(canvas, at, entry.key, 0.55, "frame")
    elif entry.form == "unserved":
        draw_unserved(canvas, at, "frame")
    elif entry.form == "hanger" and entry.key == "plan":
        hanger_on_plan(canvas, at, "frame")
    elif entry.form == "hanger":
        hanger_on_section(canvas, (x, y + 1.4), (x, y - 1.4), held=entry.key == "held", layer="frame")
    elif entry.form == "trapped":
        canvas.polyline("frame", [(x - 4.5, y - 0.8), left, right, (x + 4.5, y - 0.8)], style.ORANGE, 0.5)
    elif entry.form == "guide":
        colour, width, dash = {
            "given": (style.GREY, 0.16, "2.2 1"),
            "band": (style.GREY, 0.15, "1.6 1"),
            "keep_out": (style.VERMILION, 0.25, "1.6 1"),
        }.get(entry.key, (style.INK, 0.35, "0.4 1.1"))
        canvas.line("frame", left, right, colour, width, stroke_dasharray=dash)
    else:
        box = [(x - 4, y - 1.5), (x + 4, y - 1.5), (x + 4, y + 1.5), (x - 4, y + 1.5)]
        if entry.key == "\0beside":
            canvas.polygon("frame", box, style.OTHER_FILL, style.GREY, 0.18, stroke_dasharray="1 0.6")
        else:
            canvas.polygon("frame", box, style.obstruction_fill(entry.key), style.GREY, 0.18)
            canvas.hatch("frame", box, style.obstruction_hatch(entry.key), 1.7, "#9a9a9a")


def write_entries(canvas: Canvas, at: Xy, entries: list[Entry]) -> float:
    """Draw the rows of the legend from ``at`` down.

    Returns
    -------
    float
        The y below them.
    """
    x, y = at
    for entry in entries:
        _symbol(canvas, (x + 5.0, y), entry)
        text = entry.text if len(entry.text) <= 44 else entry.text[:43] + "…"
        canvas.text("frame", (x + 12.0, y + 0.8), text, style.TEXT_SIZE * 0.96)
        y += ROW
    return y


def write_legend(canvas: Canvas, at: Xy, entries: list[Entry], frame: PlanFrame, dropped: int) -> None:
    """Draw legend, scale bar, axes and the count of labels without a place."""
    x, y = at
    canvas.text("frame", (x, y), "Legend", style.HEADING_SIZE, bold=True)
    y = write_entries(canvas, (x, y + 5.0), entries)
    lost = f"{dropped} labels left out for want of room" if dropped else "all labels shown"
    canvas.text(
        "frame", (x, y + 1.5), lost, style.SMALL_SIZE, fill=style.VERMILION if dropped else style.GREY
    )
    y += 9.0
    scale_bar(canvas, (x + 1.0, y), frame)
    axes(canvas, (x + 14.0, y + 24.0), frame)


def scale_bar(canvas: Canvas, at: Xy, frame: PlanFrame) -> None:
    """Draw the scale bar, its left end at ``at``."""
    step = max((s for s in (100, 200, 500, 1000, 2000, 5000, 10000) if s / frame.scale <= 12.5), default=100)
    length = step / frame.scale
    for k in range(4):
        fill = style.INK if k % 2 == 0 else style.PAPER
        x = at[0] + k * length
        canvas.rect("frame", (x, at[1], x + length, at[1] + 1.4), fill, style.INK, 0.18)
    for k in (0, 2, 4):
        text = f"{k * step / 1000:g} m" if k == 4 else f"{k * step / 1000:g}"
        canvas.text("frame", (at[0] + k * length, at[1] - 0.8), text, style.SMALL_SIZE, anchor="middle")


def axes(canvas: Canvas, at: Xy, frame: PlanFrame) -> None:
    """Draw the scenario's x and y directions as they lie on the sheet."""
    for name, angle in (("x", frame.turn), ("y", frame.turn + 90.0)):
        c, s = math.cos(math.radians(angle)), -math.sin(math.radians(angle))
        tip = (at[0] + 9 * c, at[1] + 9 * s)
        canvas.line("frame", at, tip, style.INK, 0.35)
        wing = [(tip[0] - 2 * c + k * 0.7 * s, tip[1] - 2 * s - k * 0.7 * c) for k in (1, -1)]
        canvas.polygon("frame", [tip, *wing], style.INK, style.INK, 0.1)
        where = (at[0] + 11.5 * c, at[1] + 11.5 * s + 0.8)
        canvas.text("frame", where, name, style.TEXT_SIZE, anchor="middle", bold=True)
    canvas.text(
        "frame", (at[0] + 14.0, at[1] + 0.8), "plan axes of the scenario", style.SMALL_SIZE, fill=style.GREY
    )
