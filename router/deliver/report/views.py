"""Part 3 and the sections of part 2: the drawings. A thin layer over the drawing code."""

from __future__ import annotations

import re
from dataclasses import replace
from typing import TYPE_CHECKING

from router.deliver.draw_canvas import Canvas
from router.deliver.draw_frame import PlanFrame, plan_points, plan_scale, plan_turn, section_stretch
from router.deliver.draw_labels import Placer
from router.deliver.draw_legend import LEGEND_WIDTH, legend_entries, legend_height, write_legend
from router.deliver.draw_plan import PlanView
from router.deliver.draw_section import SectionView, section_size
from router.deliver.draw_section_data import section_data
from router.deliver.report.html import Html

if TYPE_CHECKING:
    from router.deliver.report.prepare import Contents, Shown

MARGIN = 14.0
_XML = re.compile(r"^\s*<\?xml[^>]*\?>\s*")
_SIZE = re.compile(r'^<svg ([^>]*?)width="([\d.]+)mm" height="([\d.]+)mm"')


def plan_of(contents: Contents, shown: Shown) -> Html:
    """Draw the plan with legend and scale bar.

    Returns
    -------
    Html
        An SVG; its user unit is 1 mm on paper.
    """
    scenario, route = contents.scenario, shown.route
    canvas, placer = Canvas(), Placer()
    points = plan_points(scenario, route)
    turn = plan_turn(scenario, points)
    scale = plan_scale(scenario, points, turn)
    bare = PlanFrame(scale, turn).extent(points)
    width, height = bare[2] - bare[0] + 2 * MARGIN, bare[3] - bare[1] + 2 * MARGIN
    frame = replace(PlanFrame(scale, turn), origin=(MARGIN - bare[0], MARGIN - bare[1]))
    PlanView(canvas, placer, frame, (0.0, 0.0, width, height), scenario, route).draw()
    placer.settle(canvas)
    entries = legend_entries(scenario, route, [])
    write_legend(canvas, (width + 4.0, 4.0), entries, frame, placer.dropped)
    height = max(height, legend_height(entries))
    return embedded(canvas.svg(width + LEGEND_WIDTH + 6.0, height, f"Plan of {scenario.name}", ""))


def sections_of(contents: Contents, shown: Shown) -> dict[str, Html]:
    """Draw a section along every run that has one.

    Returns
    -------
    dict of str to Html
        By run id.
    """
    scenario, route = contents.scenario, shown.route
    points = plan_points(scenario, route)
    scale = plan_scale(scenario, points, plan_turn(scenario, points))
    data = section_data(scenario, route)
    stretch = section_stretch([d.elevations[1] - d.elevations[0] for d in data], scale)
    result = {}
    for item in data:
        canvas, placer = Canvas(), Placer()
        width, height = section_size(item, scale, stretch)
        box = (2.0, 0.0, width + 2.0, height)
        SectionView(
            canvas, placer, item, box, scale, stretch, contents.tables, scenario.system.standard
        ).draw()
        placer.settle(canvas)
        result[item.run.id] = embedded(
            canvas.svg(width + 4.0, height + 2.0, f"Section along {item.run.id}", "")
        )
    return result


def embedded(svg: str) -> Html:
    """Make an SVG document part of a page: no XML head, its size told to the style sheet.

    Returns
    -------
    Html
    """
    text = _XML.sub("", svg)
    match = _SIZE.match(text)
    if match is None:
        return Html(text)
    rest, width, height = match.groups()
    return Html(
        f'<svg {rest}width="{width}mm" height="{height}mm" data-w="{width}" style="--paper:{width}mm"'
        f"{text[match.end() :]}"
    )
