"""One page: frame, title block (our own design), scale bar, the scenario's axes, key of a split plan."""

from __future__ import annotations

import hashlib
import math
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import router
from router.deliver import draw_style as style
from router.deliver.draw_canvas import Box, Xy, shorten, text_width, wrap
from router.deliver.sheets.recorder import Recorder

if TYPE_CHECKING:
    from router.deliver.sheets.paper import Paper
    from router.route.model import Route
    from router.scenario.model import Scenario

LEFT, EDGE = 20.0, 10.0
"""Margins, mm: the left one for filing, as in ISO 5457."""
BLOCK = 30.0
PAD = 3.0
HEADING = 9.0


@dataclass
class Page:
    """A sheet being drawn. ``labels``: boxes of placed labels; ``dropped``: labels without a place."""

    title: str
    scale: str
    name: str
    canvas: Recorder = field(default_factory=Recorder)
    labels: list[Box] = field(default_factory=list)
    dropped: int = 0
    notes: list[str] = field(default_factory=list)


def area(paper: Paper) -> Box:
    """Give what a sheet leaves for its views, mm.

    Returns
    -------
    Box
    """
    return (LEFT + PAD, EDGE + PAD, paper.width - EDGE - PAD, paper.height - EDGE - BLOCK - PAD)


def heading(page: Page, at: Xy, text: str, note: str = "") -> None:
    """Write the name of a view and a note beside it."""
    page.canvas.text("frame", at, text, style.HEADING_SIZE, bold=True)
    if note:
        x = at[0] + text_width(text, style.HEADING_SIZE) * 1.06 + 3.0
        page.canvas.text("frame", (x, at[1]), note, style.SMALL_SIZE, fill=style.GREY)


@dataclass(frozen=True)
class Block:
    """What stands in every title block."""

    scenario: Scenario
    route: Route
    paper: Paper
    count: int
    date: str


def finish(page: Page, number: int, block: Block) -> None:
    """Draw frame and title block of sheet ``number``."""
    canvas, paper = page.canvas, block.paper
    canvas.window = None
    x0, y0, x1, y1 = LEFT, EDGE, paper.width - EDGE, paper.height - EDGE
    top = y1 - BLOCK
    canvas.rect("frame", (x0, y0, x1, y1), "none", style.INK, 0.5)
    canvas.line("frame", (x0, top), (x1, top), style.INK, 0.5)
    shares = (0.31, 0.17, 0.22, 0.17, 0.13)
    xs = [x0]
    for share in shares:
        xs.append(xs[-1] + share * (x1 - x0))
    for x in xs[1:-1]:
        canvas.line("frame", (x, top), (x, y1), style.INK, 0.25)
    _names(page, (xs[0], top, xs[1], y1), block)
    rows = [
        ("scale", page.scale),
        ("paper", f"{paper.name}, {paper.standard}"),
        ("lengths", _lengths(block)),
        ("date", block.date),
    ]
    _rows(page, (xs[1], top, xs[2], y1), rows)
    rows = [
        ("made by", f"branch-router {router.__version__}"),
        ("route", route_hash(block.route)),
        ("scenario", block.route.scenario_sha256[:12]),
        ("labels left out", str(page.dropped) if page.dropped else "none"),
    ]
    _rows(page, (xs[2], top, xs[3], y1), rows)
    _rows(page, (xs[3], top, xs[4], y1), [("drawn", ""), ("checked", ""), ("approved", "")])
    middle = (xs[4] + xs[5]) / 2
    canvas.text("frame", (xs[4] + 1.5, top + 4.0), "sheet", style.SMALL_SIZE, fill=style.GREY)
    canvas.text("frame", (middle, top + 17.0), str(number), 9.0, anchor="middle", bold=True)
    canvas.text("frame", (middle, top + 24.0), f"of {block.count}", style.HEADING_SIZE, anchor="middle")


def _lengths(block: Block) -> str:
    cut_in_inches = block.scenario.system.standard == "inch"
    if block.paper.inch == cut_in_inches:
        return "feet and inches" if block.paper.inch else "mm"
    return "feet and inches; cut in mm" if block.paper.inch else "mm; cut in feet and inches"


def route_hash(route: Route) -> str:
    """Give the first 12 figures of the sha256 of a route's content.

    Returns
    -------
    str
    """
    return hashlib.sha256(route.model_dump_json().encode()).hexdigest()[:12]


def _names(page: Page, box: Box, block: Block) -> None:
    canvas, room = page.canvas, box[2] - box[0] - 4.0
    y = box[1] + 5.0
    name = shorten(block.scenario.name, 120)
    for line in wrap(name, style.HEADING_SIZE * 1.1, room)[:2]:
        canvas.text("frame", (box[0] + 2.0, y), line, style.HEADING_SIZE, bold=True)
        y += 4.0
    canvas.text("frame", (box[0] + 2.0, y + 0.6), shorten(page.title, int(room / 1.9)), style.HEADING_SIZE)
    y += 4.6
    caution = f"Caution: {block.route.caution}"
    size = 1.9
    lines = wrap(caution, size, room)
    while len(lines) * size * 1.2 > box[3] - y - 0.5 and size > 1.2:
        size -= 0.05
        lines = wrap(caution, size, room)
    for line in lines:
        canvas.text("frame", (box[0] + 2.0, y + 0.6), line, size)
        y += size * 1.2


def _rows(page: Page, box: Box, rows: list[tuple[str, str]]) -> None:
    height = (box[3] - box[1]) / len(rows)
    for k, (word, value) in enumerate(rows):
        y = box[1] + k * height
        if k:
            page.canvas.line("frame", (box[0], y), (box[2], y), style.GREY, 0.18)
        page.canvas.text("frame", (box[0] + 1.5, y + 2.6), word, 1.8, fill=style.GREY)
        limit = max(int((box[2] - box[0] - 4.0) / 1.5), 4)
        at = (box[0] + 1.5, y + height - 1.2)
        page.canvas.text("frame", at, shorten(value, limit), style.TEXT_SIZE)


def scale_bar(page: Page, at: Xy, scale: float, *, inch: bool, most: float = 60.0) -> None:
    """Draw a scale bar of four parts, its left end at ``at``."""
    unit = 304.8 if inch else 1000.0
    steps = (0.25, 0.5, 1, 2, 4, 5, 10, 20) if inch else (0.1, 0.2, 0.5, 1, 2, 5, 10)
    step = max((s for s in steps if 4 * s * unit / scale <= most), default=steps[0])
    length = step * unit / scale
    for k in range(4):
        fill = style.INK if k % 2 == 0 else style.PAPER
        x = at[0] + k * length
        page.canvas.rect("frame", (x, at[1], x + length, at[1] + 1.4), fill, style.INK, 0.18)
    for k in (0, 2, 4):
        text = f"{k * step:g}" + ((" ft" if inch else " m") if k == 4 else "")
        page.canvas.text(
            "frame", (at[0] + k * length, at[1] - 0.8), text, style.SMALL_SIZE, anchor="middle"
        )


def axis_arrow(page: Page, at: Xy, turn: float) -> None:
    """Draw the scenario's +y, as a north arrow is drawn; the scenario says nothing of north."""
    angle = turn + 90.0
    c, s = math.cos(math.radians(angle)), -math.sin(math.radians(angle))
    tail, tip = (at[0] - 3.5 * c, at[1] - 3.5 * s), (at[0] + 3.5 * c, at[1] + 3.5 * s)
    page.canvas.line("frame", tail, tip, style.INK, 0.35)
    wing = [(tip[0] - 2 * c + k * 0.7 * s, tip[1] - 2 * s - k * 0.7 * c) for k in (1, -1)]
    page.canvas.polygon("frame", [tip, *wing], style.INK, style.INK, 0.1)
    page.canvas.text("frame", (at[0] - 5.0, at[1] + 0.8), "scenario +y", style.SMALL_SIZE, anchor="end")
