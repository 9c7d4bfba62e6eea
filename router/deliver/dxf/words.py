"""Labels and dimensions of the plan: placed as on our sheets, written as texts of the drawing."""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING, Any

from router.cutlist import cut_list
from router.deliver import draw_style as style
from router.deliver.draw_frame import PlanFrame
from router.deliver.draw_labels import Label, Placer
from router.deliver.draw_symbols import R
from router.deliver.dxf.layers import DIMENSIONS, FITTINGS, TEXT
from router.deliver.dxf.transcribe import Symbols, Transcript
from router.deliver.sheets.plans import SheetPlan
from router.geometry.plan import PlanLine
from router.trade.sizes import label as size_label

if TYPE_CHECKING:
    from ezdxf.document import Drawing
    from ezdxf.layouts.base import BaseLayout

    from router.deliver.draw_canvas import Box
    from router.route.model import Route
    from router.scenario.model import Scenario

AROUND = 25.0
"""Room for labels around the plan, mm on paper."""


class _Plan(SheetPlan):
    """The sheets' plan, but the lines as given: those are runs of the drawing already."""

    def lines(self) -> None:
        """Leave out."""


def write_words(
    doc: Drawing, layout: BaseLayout, scenario: Scenario, route: Route | None, size: float, box: Box
) -> int:
    """Write the labels of a plan, of the scenario alone where there is no route.

    Parameters
    ----------
    doc, layout
        The drawing, and where in it.
    scenario, route
        In mm.
    size
        mm in the building of 1 mm of the canvas that labels are placed on.
    box
        What the plan shows, mm: lowest x and y, highest x and y.

    Returns
    -------
    int
        How many labels found no place.
    """
    frame = PlanFrame(size, 0.0)
    (x0, y1), (x1, y0) = frame.paper(box[:2]), frame.paper(box[2:])
    bounds = (x0 - AROUND, y0 - AROUND, x1 + AROUND, y1 + AROUND)
    canvas, placer = Symbols(), Placer()
    copy = Transcript(doc, layout, (0.0, 0.0), size)
    if route is None:
        _Given(canvas, placer, frame, bounds, scenario).draw()
    else:
        plan = _Plan(canvas, placer, frame, bounds, scenario, route)
        plan.draw()
        canvas.commands["guides"].clear()
        canvas.commands["fittings"].clear()
        plan.cuts = cut_list(scenario, route)
        plan.draw_chains()
        plan.draw_marks()
        plan.draw_pitch()
        copy.draw(canvas.commands["guides"], DIMENSIONS)
        copy.draw(canvas.commands["fittings"], FITTINGS)
    placer.settle(canvas)
    copy.draw(canvas.commands["leaders"], TEXT)
    copy.draw((c for c in canvas.commands["labels"] if hasattr(c, "text")), TEXT)
    return placer.dropped


class _Given:
    """Labels of a scenario without a route."""

    def __init__(
        self, canvas: Symbols, placer: Placer, frame: PlanFrame, bounds: Box, scenario: Scenario
    ) -> None:
        self.placer, self.frame, self.bounds, self.scenario = placer, frame, bounds, scenario
        nothing: Any = None
        self.areas = _Areas(canvas, placer, frame, bounds, scenario, nothing)

    def draw(self) -> None:
        """Ask for all labels."""
        self.areas.ceilings()
        self.areas.obstructions()
        self.areas.keep_out()
        standard = self.scenario.system.standard
        for run in self.scenario.runs:
            points = [self.frame.paper(p) for p in run.plan]
            for a, b in pairwise(points):
                self.placer.block_line(a, b, 0.3)
            line = PlanLine(run.plan)
            size = "size by schedule" if run.size == "schedule" else size_label(run.size, standard)
            text = f"{run.id}, {size}, at {self.areas.write(run.elevation)}"
            at = self.frame.paper(line.point(line.length / 2))
            self._want(Label((text,), at, 2.6, (1.2, 0.9), style.BLUE, bold=True, rank=0))
        for head in self.scenario.heads:
            at = self.frame.paper(head.at)
            half = R + 0.5
            self.placer.block((at[0] - half, at[1] - half, at[0] + half, at[1] + half))
            self._want(Label((head.id,), at, style.LABEL_SIZE, (R + 0.3, R + 0.3), prefer=90.0, rank=0))

    def _want(self, label: Label) -> None:
        self.placer.want(label, self.bounds)


class _Areas(SheetPlan):
    """The sheets' plan where no route is: only its areas are asked for."""

    def __init__(
        self, canvas: Any, placer: Any, frame: Any, bounds: Any, scenario: Scenario, route: Any
    ) -> None:
        self.canvas, self.placer, self.frame, self.bounds = canvas, placer, frame, bounds
        self.scenario = scenario
        self.write = lambda value: f"{value:,.0f}"
