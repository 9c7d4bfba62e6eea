"""The sheet: title, plan with legend beside it, sections below, packed in rows."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from router.deliver import draw_style as style
from router.deliver.draw_canvas import Box, Canvas, shorten, text_width, wrap
from router.deliver.draw_frame import (
    PlanFrame,
    SectionFrame,
    plan_points,
    plan_scale,
    plan_turn,
    section_stretch,
)
from router.deliver.draw_labels import Placer
from router.deliver.draw_legend import LEGEND_WIDTH, legend_entries, legend_height, write_legend
from router.deliver.draw_plan import PlanView
from router.deliver.draw_section import SectionView, section_size
from router.deliver.draw_section_data import section_data
from router.trade.tables import Tables

if TYPE_CHECKING:
    from router.route.model import Route
    from router.scenario.model import Scenario

EDGE = 10.0
PLAN_MARGIN = 14.0
GAP = 8.0
MIN_SHEET = 297.0
UNSERVED_LISTED = 12
TALL = 2.1
"""A sheet taller than this times its width takes its sections in two columns."""


@dataclass(frozen=True)
class Sheet:
    """A drawn sheet. ``labels``: boxes of all placed labels; sizes in mm on paper."""

    canvas: Canvas
    width: float
    height: float
    plan: PlanFrame
    sections: dict[str, SectionFrame]
    labels: list[Box]
    dropped: int


def status_text(route: Route) -> str:
    """Say how good the route is, no more than is proven.

    Returns
    -------
    str
    """
    value = route.objective
    if route.status == "optimal":
        return f"optimal: {value.value:,.0f} points, proven over the candidate set"
    if route.status == "feasible":
        share = (value.value - value.bound) / value.value if value.value else 0.0
        below = f"no route can be below {value.bound:,.0f} (gap {share:.1%})"
        return f"feasible: {value.value:,.0f} points, {below}"
    return "infeasible: no route keeps all the rules"


def plural(count: int, word: str) -> str:
    """Write a count with its noun.

    Returns
    -------
    str
    """
    return f"{count:,} {word}{'' if count == 1 else 's'}"


def counts_text(route: Route) -> str:
    """Sum up a route in one line.

    Returns
    -------
    str
    """
    c = route.counts
    parts = [
        f"{c.served} of {c.heads} heads served",
        plural(c.fittings_counted, "fitting"),
        f"{c.fittings_per_head:.2f} for each head at its takeoff",
        plural(c.level_changes, "offset"),
        plural(c.reducers, "reducer"),
        f"{c.pipe_total_m:,.1f} m of pipe",
    ]
    extra = ((c.drains, "drain"), (c.arm_hangers, "arm hanger"), (c.hoses, "hose"))
    parts += [plural(n, w) for n, w in extra if n]
    return ", ".join(parts)


def _title(canvas: Canvas, scenario: Scenario, route: Route, width: float) -> float:
    """Write title, status, counts, caution and the unserved heads. Returns the y below them."""
    left, inner = EDGE, width - 2 * EDGE
    y = EDGE + style.TITLE_SIZE
    for line in wrap(shorten(scenario.name, 160), style.TITLE_SIZE, inner)[:2]:
        canvas.text("frame", (left, y), line, style.TITLE_SIZE, bold=True)
        y += style.TITLE_SIZE * 1.15
    for text, bold in ((status_text(route), True), (counts_text(route), False)):
        for line in wrap(text, style.TEXT_SIZE * 1.2, inner):
            canvas.text("frame", (left, y), line, style.TEXT_SIZE * 1.2, bold=bold)
            y += style.TEXT_SIZE * 1.55
    for line in wrap(f"Caution: {route.caution}", style.TEXT_SIZE, inner):
        canvas.text("frame", (left, y), line, style.TEXT_SIZE)
        y += style.TEXT_SIZE * 1.25
    y += 1.0
    unserved = [h for h in route.heads if not h.served]
    if unserved:
        top = y
        y += 4.2
        text = f"NOT SERVED: {len(unserved)} of {plural(len(route.heads), 'head')}"
        canvas.text("frame", (left + 2, y), text, style.HEADING_SIZE, fill=style.VERMILION, bold=True)
        y += 3.8
        for head in unserved[:UNSERVED_LISTED]:
            reason = head.stopped_by[0].text if head.stopped_by else "no reason recorded"
            for line in wrap(f"{head.id}: {shorten(reason, 400)}", style.TEXT_SIZE, inner - 4)[:3]:
                canvas.text("frame", (left + 2, y), line, style.TEXT_SIZE)
                y += style.TEXT_SIZE * 1.25
        if len(unserved) > UNSERVED_LISTED:
            more = f"and {len(unserved) - UNSERVED_LISTED} more; the report lists all"
            canvas.text("frame", (left + 2, y), more, style.TEXT_SIZE)
            y += style.TEXT_SIZE * 1.25
        canvas.rect("frame", (left, top, width - EDGE, y), "none", style.VERMILION, 0.6)
        y += 2.0
    canvas.line("frame", (left, y), (width - EDGE, y), style.INK, 0.3)
    return y + 4.0


def _pack(sizes: list[tuple[float, float]], width: float, y: float) -> tuple[list[Box], float]:
    """Put blocks side by side in rows, in order. Returns their boxes and the y below."""
    boxes: list[Box] = []
    x, row = EDGE, 0.0
    for w, h in sizes:
        if x > EDGE and x + w > width - EDGE:
            x, y, row = EDGE, y + row + GAP, 0.0
        boxes.append((x, y, x + w, y + h))
        x, row = x + w + GAP, max(row, h)
    return boxes, y + row


def build_sheet(scenario: Scenario, route: Route) -> Sheet:
    """Lay out and draw everything.

    Returns
    -------
    Sheet
    """
    canvas, placer = Canvas(), Placer()
    tables = Tables(scenario.system.standard, scenario.rules.tables or None)
    points = plan_points(scenario, route)
    turn = plan_turn(scenario, points)
    scale = plan_scale(scenario, points, turn)
    bare = PlanFrame(scale, turn).extent(points)
    plan_width, plan_height = bare[2] - bare[0] + 2 * PLAN_MARGIN, bare[3] - bare[1] + 2 * PLAN_MARGIN
    data = section_data(scenario, route)
    stretch = section_stretch([d.elevations[1] - d.elevations[0] for d in data], scale)
    sizes = [section_size(d, scale, stretch) for d in data]
    width = max([MIN_SHEET, plan_width + LEGEND_WIDTH + 2 * EDGE + GAP, *(w + 2 * EDGE for w, _ in sizes)])
    if sizes and plan_height + _pack(sizes, width, 0.0)[1] > TALL * width:
        width = max(width, 2 * max(w for w, _ in sizes) + GAP + 2 * EDGE)

    y = _title(canvas, scenario, route, width)
    heading = f"Plan 1:{scale}"
    canvas.text("frame", (EDGE, y + 2), heading, style.HEADING_SIZE, bold=True)
    note = "all dimensions in mm"
    if abs(turn) > 0.05:
        note += f"; turned {abs(turn):.1f}° {'clockwise' if turn < 0 else 'anticlockwise'}"
    x = EDGE + text_width(heading, style.HEADING_SIZE) + 4
    canvas.text("frame", (x, y + 2), note, style.SMALL_SIZE, fill=style.GREY)
    y += 4.0
    frame = replace(PlanFrame(scale, turn), origin=(EDGE + PLAN_MARGIN - bare[0], y + PLAN_MARGIN - bare[1]))
    plan_box = (EDGE, y, EDGE + plan_width, y + plan_height)
    PlanView(canvas, placer, frame, plan_box, scenario, route).draw()
    canvas.rect("frame", plan_box, "none", style.FAINT, 0.2)
    entries = legend_entries(scenario, route, data)
    legend_at = (EDGE + plan_width + GAP, y)
    y = max(y + plan_height, y + legend_height(entries)) + GAP

    boxes, bottom = _pack(sizes, width, y)
    views = [
        SectionView(canvas, placer, d, box, scale, stretch, tables, scenario.system.standard)
        for d, box in zip(data, boxes, strict=True)
    ]
    for view in views:
        view.draw()
    placer.settle(canvas)
    write_legend(canvas, legend_at, entries, frame, placer.dropped)
    height = bottom + EDGE
    canvas.rect("frame", (3.0, 3.0, width - 3.0, height - 3.0), "none", style.INK, 0.4)
    sections = {view.data.run.id: view.frame for view in views}
    return Sheet(canvas, width, height, frame, sections, placer.placed, placer.dropped)
