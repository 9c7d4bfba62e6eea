"""Single views as SVG for a page: a plan, or the section of one run. No frame, no title block.

Shapes carry ``data-piece``, ``data-fitting``, ``data-head``, ``data-takeoff``, ``data-run``,
``data-style`` and ``data-obstruction``, so that a page can highlight and filter.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from router.deliver.draw_canvas import Canvas
from router.deliver.draw_frame import PlanFrame, plan_points, plan_scale, plan_turn, section_stretch
from router.deliver.draw_labels import Placer
from router.deliver.draw_plan import PlanView
from router.deliver.draw_section import SectionView, section_size
from router.deliver.draw_section_data import section_data
from router.trade.tables import Tables

if TYPE_CHECKING:
    from router.deliver.draw_section_data import SectionData
    from router.route.model import Route
    from router.scenario.model import Scenario

MARGIN = 14.0


def plan_svg(scenario: Scenario, route: Route, *, scale: float | None = None) -> str:
    """Draw the plan to scale.

    Parameters
    ----------
    scenario, route
        In mm.
    scale
        N of 1:N; ``None`` chooses a usual one with room for the labels.

    Returns
    -------
    str
        An ``<svg>`` element without a size; 1 user unit is 1 mm on paper at the scale.
    """
    points = plan_points(scenario, route)
    turn = plan_turn(scenario, points)
    frame = PlanFrame(scale or plan_scale(scenario, points, turn), turn)
    x0, y0, x1, y1 = frame.extent(points)
    frame = replace(frame, origin=(MARGIN - x0, MARGIN - y0))
    box = (0.0, 0.0, x1 - x0 + 2 * MARGIN, y1 - y0 + 2 * MARGIN)
    canvas, placer = Canvas(), Placer()
    PlanView(canvas, placer, frame, box, scenario, route).draw()
    placer.settle(canvas)
    return canvas.fragment(box, f"Plan 1:{frame.scale:g}")


def section_runs(scenario: Scenario, route: Route) -> list[str]:
    """Ids of the runs that have a section, in the scenario's order.

    Returns
    -------
    list of str
    """
    return [data.run.id for data in section_data(scenario, route)]


def section_svg(scenario: Scenario, route: Route, run_id: str, *, scale: float | None = None) -> str:
    """Draw the section along one run.

    Parameters
    ----------
    scenario, route
        In mm.
    run_id
        One of :func:`section_runs`.
    scale
        N of 1:N; ``None`` takes the plan's.

    Returns
    -------
    str
        An ``<svg>`` element without a size.

    Raises
    ------
    KeyError
        If there is no such run, or it has nothing to show.
    """
    found = next((d for d in section_data(scenario, route) if d.run.id == run_id), None)
    if found is None:
        raise KeyError(run_id)
    return _section(scenario, route, found, scale)


def section_svgs(scenario: Scenario, route: Route, *, scale: float | None = None) -> dict[str, str]:
    """Draw every section, by run: faster than one by one.

    Returns
    -------
    dict of str to str
    """
    return {d.run.id: _section(scenario, route, d, scale) for d in section_data(scenario, route)}


def _section(scenario: Scenario, route: Route, data: SectionData, scale: float | None) -> str:
    if scale is None:
        points = plan_points(scenario, route)
        scale = plan_scale(scenario, points, plan_turn(scenario, points))
    stretch = section_stretch([data.elevations[1] - data.elevations[0]], scale)
    width, height = section_size(data, scale, stretch)
    box = (0.0, 0.0, width, height)
    canvas, placer = Canvas(), Placer()
    tables = Tables(scenario.system.standard, scenario.rules.tables or None)
    SectionView(canvas, placer, data, box, scale, stretch, tables, scenario.system.standard).draw()
    placer.settle(canvas)
    return canvas.fragment(box, f"Section along {data.run.id}, 1:{scale:g}")
