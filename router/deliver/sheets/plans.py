"""Plan sheets: one, or several with match lines and a key, all at one usual scale."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import TYPE_CHECKING

from router.deliver import draw_style as style
from router.deliver.draw_frame import PlanFrame, plan_points, plan_turn
from router.deliver.draw_labels import Label, Placer
from router.deliver.draw_plan import PlanView
from router.deliver.sheets.page import HEADING, Page, area, axis_arrow, heading, scale_bar
from router.deliver.sheets.paper import COARSEST_PLAN
from router.geometry.plan import PlanLine

if TYPE_CHECKING:
    from router.cutlist import CutList
    from router.deliver.draw_canvas import Box, Xy
    from router.deliver.sheets.paper import Paper
    from router.route.model import Route
    from router.scenario.model import Scenario

MARGIN = 12.0
"""Room around what a plan shows, for labels, mm."""
AROUND = 500.0
"""Obstructions are shown this far, mm, beyond pipe and heads, and as far as there is paper."""
KEY_ROOM = 11.0
"""Room under a plan for scale bar and key, mm."""


@dataclass
class TilePlacer(Placer):
    """Labels of one sheet of a split plan: each label belongs to the sheet that its anchor lies on."""

    tile: Box | None = None

    def want(self, label: Label, bounds: Box) -> None:
        """Ask for a label; one of another sheet is that sheet's."""
        t = self.tile
        if t is None or (t[0] <= label.anchor[0] < t[2] and t[1] <= label.anchor[1] < t[3]):
            super().want(label, bounds)


class SheetPlan(PlanView):
    """A plan with what a fitter wants besides: marks, a chain of dimensions, pitch, drains."""

    cuts: CutList

    def draw_marks(self) -> None:
        """Tag the pieces that can be seen in plan with the cut list's marks."""
        pieces = {p.id: p for p in self.route.pieces}
        by_piece: dict[str, list[str]] = {}
        for cut in self.cuts.cuts:
            by_piece.setdefault(cut.piece, []).append(cut.mark)
        for item in self.cuts.ordered:
            by_piece.setdefault(item.tag, []).append(item.tag)
        for name, marks in by_piece.items():
            piece = pieces[name]
            a, b = self.frame.paper(piece.start), self.frame.paper(piece.end)
            if math.dist(a, b) < 1.5:
                continue
            middle = ((a[0] + b[0]) / 2, (a[1] + b[1]) / 2)
            text = "+".join(dict.fromkeys(marks))
            self.placer.want(
                Label((text,), middle, style.SMALL_SIZE, (0.5, 0.7), style.INK, bold=True, rank=2), self.bounds
            )

    def draw_chains(self) -> None:
        """Dimension each run from its start from outlet to outlet, beside the pipe."""
        takeoffs: dict[str, list[float]] = {}
        for takeoff in self.route.takeoffs:
            takeoffs.setdefault(takeoff.run, []).append(takeoff.station)
        for run in self.scenario.runs:
            if run.id not in takeoffs:
                continue
            line = PlanLine(run.plan)
            stations = [0.0]
            for station in sorted(takeoffs[run.id]):
                if station - stations[-1] > 1.0:
                    stations.append(station)
            bends = [part.start for part in line.sections[1:]]
            for s0, s1 in pairwise(stations):
                corners = [s0, *(b for b in bends if s0 < b < s1), s1]
                way = [self._beside(line, s, (s0 + s1) / 2) for s in (corners if len(corners) > 2 else (s0, s1))]
                self.canvas.polyline("guides", way, style.GREY, 0.13)
                for end in (way[0], way[-1]):
                    a, b = (end[0] - 0.6, end[1] + 0.6), (end[0] + 0.6, end[1] - 0.6)
                    self.canvas.line("guides", a, b, style.INK, 0.22)
                middle = self._beside(line, (s0 + s1) / 2, (s0 + s1) / 2)
                text = self.write(s1 - s0)
                self.placer.want(
                    Label((text,), middle, style.SMALL_SIZE, (0.1, 0.1), style.GREY, reach=4.5, rank=3),
                    self.bounds,
                )

    def _beside(self, line: PlanLine, station: float, section: float) -> Xy:
        left = line.section_at(section).left
        x, y = line.point(station)
        off = 2.4 * self.frame.scale
        return self.frame.paper((float(x + left[0] * off), float(y + left[1] * off)))

    def draw_pitch(self) -> None:
        """Show which way the runs rise, and where drains are."""
        for result in self.route.runs:
            run = next((r for r in self.scenario.runs if r.id == result.id), None)
            if run is None:
                continue
            line = PlanLine(run.plan)
            if result.pitch:
                s = min(result.built_to, line.length) * 0.5
                a, b = (self.frame.paper(line.point(max(0.0, s + d * self.frame.scale))) for d in (-2.5, 2.5))
                self._arrow(a, b)
                text = f"rises {result.pitch:g} mm/m"
                self.placer.want(
                    Label((text,), b, style.SMALL_SIZE, (1.0, 1.0), style.BLUE, rank=1), self.bounds
                )
        for low in self.route.low_sections:
            if low.counts_as is not None:
                at = self.frame.paper(low.lowest)
                self.canvas.circle("fittings", at, 1.1, "none", style.ORANGE, 0.5)
                self.placer.want(
                    Label(
                        (f"drain, {low.volume_l:.1f} l",), at, style.SMALL_SIZE, (1.3, 1.3), bold=True, rank=0
                    ),
                    self.bounds,
                )

    def _arrow(self, a: Xy, b: Xy) -> None:
        length = math.dist(a, b)
        if length < 1.0:
            return
        c, s = (b[0] - a[0]) / length, (b[1] - a[1]) / length
        wing = [(b[0] - 2 * c + k * 0.8 * s, b[1] - 2 * s - k * 0.8 * c) for k in (1, -1)]
        self.canvas.polygon("fittings", [b, *wing], style.PAPER, style.BLUE, 0.25)


def plan_layout(paper: Paper, size: Xy) -> tuple[int, int, int]:
    """Choose the finest scale among those that take the fewest sheets.

    Parameters
    ----------
    paper
        The sheet.
    size
        Width and height of the plan in mm.

    Returns
    -------
    scale, columns, rows
    """
    x0, y0, x1, y1 = area(paper)
    room = (x1 - x0 - 2 * MARGIN, y1 - y0 - HEADING - KEY_ROOM - 2 * MARGIN)
    allowed = [s for s in paper.scales if s <= COARSEST_PLAN]
    counts = {s: (math.ceil(size[0] / s / room[0] - 1e-9), math.ceil(size[1] / s / room[1] - 1e-9)) for s in allowed}
    scale = min(allowed, key=lambda s: (max(1, counts[s][0]) * max(1, counts[s][1]), s))
    return scale, max(1, counts[scale][0]), max(1, counts[scale][1])


def _points(scenario: Scenario, route: Route) -> list[tuple[float, float]]:
    """Corners of all that is piped, with what is around it: a building's far end needs no sheet."""
    own = scenario.model_copy(update={"obstructions": [], "ceilings": []})
    return [(x + dx, y + dy) for x, y in plan_points(own, route) for dx in (-AROUND, AROUND) for dy in (-AROUND, AROUND)]


def plan_pages(scenario: Scenario, route: Route, cuts: CutList, paper: Paper) -> list[Page]:
    """Draw the plan.

    Returns
    -------
    list of Page
    """
    points = _points(scenario, route)
    turn = plan_turn(scenario, points)
    bare = PlanFrame(1.0, turn).extent(points)
    size = (bare[2] - bare[0], bare[3] - bare[1])
    scale, columns, rows = plan_layout(paper, size)
    x0, y0, x1, y1 = area(paper)
    view = (x0, y0 + HEADING, x1, y1 - KEY_ROOM)
    step = (view[2] - view[0] - 2 * MARGIN, view[3] - view[1] - 2 * MARGIN)
    slack = [(n * step[k] - size[k] / scale) / 2 for k, n in ((0, columns), (1, rows))]
    pages = []
    for row in range(rows):
        for column in range(columns):
            many = rows * columns > 1
            number = row * columns + column + 1
            title = f"Plan, part {number} of {rows * columns}" if many else "Plan"
            page = Page(title, paper.scales[scale], f"plan-{number}" if many else "plan")
            origin = (
                view[0] + MARGIN + slack[0] - column * step[0] - bare[0] / scale,
                view[1] + MARGIN + slack[1] - row * step[1] - bare[1] / scale,
            )
            frame = replace(PlanFrame(scale, turn), origin=origin)
            tile = (
                view[0] + MARGIN if column else view[0],
                view[1] + MARGIN if row else view[1],
                view[2] - MARGIN if column < columns - 1 else view[2],
                view[3] - MARGIN if row < rows - 1 else view[3],
            )
            placer = TilePlacer(tile=tile)
            page.canvas.window = tile
            sheet = SheetPlan(page.canvas, placer, frame, _inside(tile, 0.8), scenario, route)
            sheet.cuts, sheet.write = cuts, paper.write
            sheet.draw_chains()
            sheet.draw()
            sheet.draw_marks()
            sheet.draw_pitch()
            page.canvas.window = None
            placer.settle(page.canvas)
            page.labels, page.dropped = placer.placed, placer.dropped
            note = f"scale {paper.scales[scale]}; dimensions centre to centre"
            if abs(turn) > 0.05:
                note += f"; turned {abs(turn):.1f}° {'clockwise' if turn < 0 else 'anticlockwise'}"
            heading(page, (x0, y0 + 4.0), title, note)
            scale_bar(page, (x0 + 3.0, y1 - 3.0), scale, inch=paper.inch)
            axis_arrow(page, (x0 + 105.0, y1 - 4.0), turn)
            if many:
                _match_lines(page, tile, (column, row), (columns, rows))
                _key(page, (x1, y1), (column, row), (columns, rows))
            pages.append(page)
    return pages


def _inside(box: Box, by: float) -> Box:
    return (box[0] + by, box[1] + by, box[2] - by, box[3] - by)


def _match_lines(page: Page, tile: Box, at: tuple[int, int], count: tuple[int, int]) -> None:
    x0, y0, x1, y1 = tile
    edges = (
        (-1, 0, (x0, y0), (x0, y1)),
        (1, 0, (x1, y0), (x1, y1)),
        (0, -1, (x0, y0), (x1, y0)),
        (0, 1, (x0, y1), (x1, y1)),
    )
    for dx, dy, a, b in edges:
        column, row = at[0] + dx, at[1] + dy
        if not (0 <= column < count[0] and 0 <= row < count[1]):
            continue
        page.canvas.line("frame", a, b, style.INK, 0.5, stroke_dasharray="6 1.5 1 1.5")
        text = f"match line: goes on in part {row * count[0] + column + 1}"
        middle = ((a[0] + b[0]) / 2 + 6.0 * dx, (a[1] + b[1]) / 2 + 6.0 * dy + 0.8)
        page.canvas.text("frame", middle, text, style.SMALL_SIZE, anchor="middle", turn=-90.0 if dx else 0.0)


def _key(page: Page, corner: Xy, at: tuple[int, int], count: tuple[int, int]) -> None:
    """Show which part of the plan the sheet has, at the lower right."""
    cell = min(9.0 / count[1], 40.0 / count[0])
    x0, y0 = corner[0] - cell * 1.6 * count[0], corner[1] - cell * count[1]
    page.canvas.text("frame", (x0 - 2.0, corner[1] - 1.0), "key plan", style.SMALL_SIZE, anchor="end")
    for row in range(count[1]):
        for column in range(count[0]):
            x, y = x0 + 1.6 * cell * column, y0 + cell * row
            here = (column, row) == at
            box = (x, y, x + 1.6 * cell, y + cell)
            page.canvas.rect("frame", box, style.FAINT if here else style.PAPER, style.INK, 0.2)
            text = str(row * count[0] + column + 1)
            size = min(style.SMALL_SIZE, cell * 0.7)
            page.canvas.text("frame", (x + 0.8 * cell, y + cell * 0.7), text, size, anchor="middle")
