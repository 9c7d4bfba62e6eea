"""The drawings of the page: plan of a storey with legend and scale bar, sections along the lines."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from router.deliver.draw_canvas import Canvas
from router.deliver.draw_frame import PlanFrame, plan_points, plan_scale, plan_turn
from router.deliver.draw_legend import LEGEND_WIDTH, legend_entries, legend_height, write_legend
from router.deliver.report.html import Html
from router.deliver.views import plan_svg, section_svgs

if TYPE_CHECKING:
    from router.deliver.report.prepare import Contents, Shown
    from router.deliver.report.storeys import Storey

GAP = 4.0
WIDE = 460.0
"""A plan wider than that (mm on paper) has its legend on the left, where the eye begins."""
_VIEW = re.compile(r'^<svg ([^>]*?)viewBox="(-?[\d.]+) (-?[\d.]+) ([\d.]+) ([\d.]+)"')


def plan_of(storey: Storey) -> Html:
    """Draw a plan to scale with its legend and scale bar beside it.

    Returns
    -------
    Html
        An SVG whose user unit is 1 mm on paper, its width in ``data-w``.
    """
    scenario, route = storey.scenario, storey.route
    points = plan_points(scenario, route)
    turn = plan_turn(scenario, points)
    plan = plan_svg(scenario, route)
    width, height = _size(plan)
    entries = legend_entries(scenario, route, [])
    canvas = Canvas()
    write_legend(canvas, (0.0, 4.0), entries, PlanFrame(plan_scale(scenario, points, turn), turn), 0)
    tall = legend_height(entries)
    legend = canvas.fragment((0.0, 0.0, LEGEND_WIDTH, tall), "Legend and scale bar")
    all_wide, all_tall = width + GAP + LEGEND_WIDTH, max(height, tall)
    left = width > WIDE
    parts = [
        _placed(plan, (LEGEND_WIDTH + GAP if left else 0.0, 0.0), (width, height)),
        _placed(legend, (2.0 if left else width + GAP, 0.0), (LEGEND_WIDTH, tall)),
    ]
    return embedded(
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {all_wide:.2f} {all_tall:.2f}">'
        f"{''.join(parts)}</svg>"
    )


def sections_of(contents: Contents, shown: Shown) -> dict[str, Html]:
    """Draw a section along every run that has one.

    Returns
    -------
    dict of str to Html
        By run id.
    """
    drawn = section_svgs(contents.scenario, shown.route)
    return {run: embedded(svg) for run, svg in drawn.items()}


def _size(svg: str) -> tuple[float, float]:
    match = _VIEW.match(svg)
    if match is None:
        raise ValueError("a view without a viewBox")
    return float(match[4]), float(match[5])


def _placed(svg: str, at: tuple[float, float], size: tuple[float, float]) -> str:
    """Give a view its place and size within another."""
    where = f'<svg x="{at[0]:.2f}" y="{at[1]:.2f}" width="{size[0]:.2f}" height="{size[1]:.2f}" '
    return where + svg.removeprefix("<svg ")


def embedded(svg: str) -> Html:
    """Tell the page how wide a view is on paper.

    Returns
    -------
    Html
    """
    width, _ = _size(svg)
    return Html(f'<svg data-w="{width:g}" style="--paper:{width:g}mm" {svg.removeprefix("<svg ").rstrip()}')
