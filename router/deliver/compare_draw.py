"""Two routes over each other in one plan: where they differ is seen at a glance."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING

from router.compare import compare
from router.deliver import draw_style as style
from router.deliver.draw_canvas import Canvas, shorten, text_width, wrap
from router.deliver.draw_frame import PlanFrame, plan_points, plan_scale, plan_turn
from router.deliver.draw_labels import Label, Placer
from router.deliver.draw_legend import LEGEND_WIDTH, axes, scale_bar
from router.deliver.draw_plan import PlanView, change_text
from router.deliver.draw_sheet import EDGE, GAP, MIN_SHEET, PLAN_MARGIN, plural
from router.deliver.draw_symbols import R, draw_fitting, draw_head, draw_unserved
from router.deliver.files import save
from router.geometry.plan import PlanLine

if TYPE_CHECKING:
    from router.compare import Comparison, HeadRow, RouteFigures
    from router.deliver.draw_canvas import Box, Xy
    from router.route.model import Route
    from router.scenario.model import Head, Scenario

ROW = 4.8
RING = R + 1.1
COLOURS = {"better": style.GREEN, "worse": style.VERMILION}
JUDGED = {
    "better": "in the second route better",
    "worse": "in the second route worse",
    "equal": "made otherwise at the same cost",
    "neither": "neither is called better",
}


@dataclass(frozen=True)
class Look:
    """How one of the two routes is drawn: colour, share of the usual width, dashes, layer."""

    colour: str
    width: float
    dash: str | None
    layer: str


FIRST = Look(style.BLUE, 1.0, None, "far")
SECOND = Look(style.ORANGE, 0.55, "1.6 0.9", "run")


def compare_svg(
    scenario: Scenario,
    a: tuple[str, Route],
    b: tuple[str, Route],
    comparison: Comparison | None = None,
) -> str:
    """Draw two routes over each other.

    Parameters
    ----------
    scenario : Scenario
        In mm.
    a, b : (name, Route)
        The first is drawn broad and blue, the second narrow, dashed and orange on top of it.
    comparison : Comparison, optional
        Of exactly these two, where it is there already.

    Returns
    -------
    str
        An SVG document, its user unit 1 mm on paper; the same bytes for the same input.

    Raises
    ------
    ValueError
        If both have one name.
    """
    if comparison is None or [r.name for r in comparison.routes] != [a[0], b[0]]:
        comparison = compare(scenario, [a, b])
    return _Overlay(scenario, a, b, comparison).svg()


def write_compare_svg(
    scenario: Scenario,
    a: tuple[str, Route],
    b: tuple[str, Route],
    path: str | Path,
    comparison: Comparison | None = None,
) -> None:
    """Write the drawing of two routes, whole or not at all.

    Raises
    ------
    OutputError
        If the place cannot be written; an older file is then untouched.
    """
    save(Path(path), compare_svg(scenario, a, b, comparison))


class _Overlay:
    """Lays out the sheet: title, plan, legend."""

    def __init__(
        self, scenario: Scenario, a: tuple[str, Route], b: tuple[str, Route], comparison: Comparison
    ) -> None:
        self.scenario, self.comparison = scenario, comparison
        self.routes = ((*a, FIRST), (*b, SECOND))
        self.canvas, self.placer = Canvas(), Placer()
        self.rows = {row.id: row for row in comparison.heads}

    def svg(self) -> str:
        points = [p for _, route, _ in self.routes for p in plan_points(self.scenario, route)]
        turn = plan_turn(self.scenario, points)
        scale = plan_scale(self.scenario, points, turn)
        bare = PlanFrame(scale, turn).extent(points)
        wide, tall = bare[2] - bare[0] + 2 * PLAN_MARGIN, bare[3] - bare[1] + 2 * PLAN_MARGIN
        width = max(MIN_SHEET, wide + LEGEND_WIDTH + 2 * EDGE + GAP)
        y = self._title(width)
        self.canvas.text("frame", (EDGE, y + 2), f"Plan 1:{scale}", style.HEADING_SIZE, bold=True)
        note_at = (EDGE + text_width(f"Plan 1:{scale}", style.HEADING_SIZE) + 4, y + 2)
        note = "all dimensions in mm; levels do not show in plan, offsets are named"
        self.canvas.text("frame", note_at, note, style.SMALL_SIZE, fill=style.GREY)
        y += 4.0
        origin = (EDGE + PLAN_MARGIN - bare[0], y + PLAN_MARGIN - bare[1])
        frame = replace(PlanFrame(scale, turn), origin=origin)
        bounds = (EDGE, y, EDGE + wide, y + tall)
        self._plan(frame, bounds)
        self.canvas.rect("frame", bounds, "none", style.FAINT, 0.2)
        self.placer.settle(self.canvas)
        below = self._legend((EDGE + wide + GAP, y), frame)
        height = max(y + tall, below) + EDGE
        self.canvas.rect("frame", (3.0, 3.0, width - 3.0, height - 3.0), "none", style.INK, 0.4)
        ranking = self.comparison.ranking
        title = f"{self.scenario.name}: {self.routes[0][0]} and {self.routes[1][0]}"
        return self.canvas.svg(width, height, title, f"{ranking.why}. {self.comparison.caution}")

    def _title(self, width: float) -> float:
        """Write what is compared, and which is better. Returns the y below."""
        inner, y = width - 2 * EDGE, EDGE + style.TITLE_SIZE
        ranking = self.comparison.ranking
        better = f"Better: {ranking.best}" if ranking.best is not None else "None is called better"
        name = shorten(self.scenario.name, 120)
        texts = [(name, style.TITLE_SIZE, True), (f"{better}: {ranking.why}", style.HEADING_SIZE, True)]
        for figures, place in zip(self.comparison.routes, ("first", "second"), strict=True):
            texts.append((f"{figures.name} ({place}): {figures_text(figures)}", style.TEXT_SIZE * 1.1, False))
        texts.append((f"Caution: {self.comparison.caution}", style.TEXT_SIZE, False))
        for text, size, bold in texts:
            for line in wrap(shorten(text, 700), size, inner):
                self.canvas.text("frame", (EDGE, y), line, size, bold=bold)
                y += size * 1.3
            y += 0.6
        self.canvas.line("frame", (EDGE, y), (width - EDGE, y), style.INK, 0.3)
        return y + 4.0

    def _plan(self, frame: PlanFrame, bounds: Box) -> None:
        ground = PlanView(self.canvas, self.placer, frame, bounds, self.scenario, self.routes[0][1])
        ground.ceilings()
        ground.obstructions()
        ground.lines()
        for name, route, look in self.routes:
            self._pipes(name, route, look, frame)
            self._offsets(route, look, frame, bounds)
        for head in self.scenario.heads:
            self._head(head, frame, bounds)
        for run in self.scenario.runs:
            line = PlanLine(run.plan)
            label = Label(
                (run.id,), frame.paper(line.point(line.length / 2)), 2.6, (1.2, 0.9), bold=True, rank=0
            )
            self.placer.want(label, bounds)

    def _pipes(self, name: str, route: Route, look: Look, frame: PlanFrame) -> None:
        self.canvas.open_group(look.layer, name, class_="route", data_route=name)
        for piece in route.pieces:
            a, b = frame.paper(piece.start), frame.paper(piece.end)
            if math.dist(a, b) < 0.05:
                continue
            width = style.pipe_width(piece.dn) * look.width
            self.canvas.line(look.layer, a, b, look.colour, width, stroke_dasharray=look.dash)
            self.placer.block_line(a, b, width / 2)
        self.canvas.close_group(look.layer)
        for fitting in sorted(route.fittings, key=lambda f: (f.at[2], f.id)):
            if fitting.kind != "reducer" and not self._in_both(fitting.kind, fitting.at):
                at = frame.paper(fitting.at)
                self.canvas.circle("fittings", at, 0.95, "none", look.colour, 0.3)
                draw_fitting(self.canvas, at, fitting.kind)
                self.placer.block((at[0] - 1, at[1] - 1, at[0] + 1, at[1] + 1))

    def _in_both(self, kind: str, at: tuple[float, float, float]) -> bool:
        """Whether both routes have such a fitting in this place (within 1 mm)."""
        return all(
            any(f.kind == kind and math.dist(f.at, at) <= 1.0 for f in route.fittings)
            for _, route, _ in self.routes
        )

    @cached_property
    def _shared_changes(self) -> set[tuple[str, tuple[float, float], tuple[float, float]]]:
        """Changes of level that both routes make: run, stations and levels."""
        first, second = (
            {(run.id, c.stations, c.levels) for run in route.runs for c in run.level_changes}
            for _, route, _ in self.routes
        )
        return first & second

    def _offsets(self, route: Route, look: Look, frame: PlanFrame, bounds: Box) -> None:
        plans = {run.id: PlanLine(run.plan) for run in self.scenario.runs}
        for run in route.runs:
            for change in run.level_changes if run.id in plans else []:
                at = frame.paper(plans[run.id].point(sum(change.stations) / 2))
                text = (change_text(change.levels),)
                shared = (run.id, change.stations, change.levels) in self._shared_changes
                if shared and look is SECOND:
                    continue  # named once, in black
                colour = style.INK if shared else look.colour
                self.placer.want(
                    Label(text, at, style.SMALL_SIZE, (1.0, 1.0), colour, bold=True, rank=1), bounds
                )

    def _head(self, head: Head, frame: PlanFrame, bounds: Box) -> None:
        row = self.rows[head.id]
        at = frame.paper(head.at)
        judged = row.differences[0].judgement
        changed = row.changed
        self.canvas.open_group(
            "heads", head_text(row), class_="head changed" if changed else "head", data_head=head.id
        )
        if any(way.served for way in row.routes.values()):
            facing = None if head.facing is None else head.facing + frame.turn
            draw_head(self.canvas, at, head.kind, dry=head.dry, facing=facing)
        else:
            draw_unserved(self.canvas, at)
        if changed:
            draw_ring(self.canvas, at, judged, "heads")
        self.canvas.close_group("heads")
        half = RING + 0.4 if changed else R + 0.5
        self.placer.block((at[0] - half, at[1] - half, at[0] + half, at[1] + half))
        text: tuple[str, ...] = (head.id,)
        if not all(way.served for way in row.routes.values()):
            missing = [name for name, way in row.routes.items() if not way.served]
            text = (head.id, f"not served: {', '.join(missing)}")
        label = Label(
            text, at, style.LABEL_SIZE, (half, half), bold=changed, prefer=90.0, rank=0 if changed else 2
        )
        self.placer.want(label, bounds)

    def _legend(self, at: Xy, frame: PlanFrame) -> float:
        """Draw legend, scale bar and axes. Returns the y below."""
        canvas, (x, y) = self.canvas, at
        canvas.text("frame", (x, y), "Legend", style.HEADING_SIZE, bold=True)
        y += 5.5
        for (name, _, look), word in zip(self.routes, ("first", "second"), strict=True):
            canvas.line(
                "frame", (x + 0.5, y), (x + 9.5, y), look.colour, 1.2 * look.width, stroke_dasharray=look.dash
            )
            canvas.text("frame", (x + 12, y + 0.8), f"{word}: {shorten(name, 34)}", style.TEXT_SIZE)
            y += ROW
        for _, _, look in self.routes:
            canvas.circle("frame", (x + 5, y), 0.95, "none", look.colour, 0.3)
            draw_fitting(canvas, (x + 5, y), "tee", "frame")
            word = "first" if look is FIRST else "second"
            canvas.text("frame", (x + 12, y + 0.8), f"fitting of the {word} only", style.TEXT_SIZE)
            y += ROW
        shown = {row.differences[0].judgement for row in self.comparison.heads if row.changed}
        for judged, words in JUDGED.items():
            if judged in shown:
                draw_ring(canvas, (x + 5, y), judged, "frame")
                canvas.text("frame", (x + 12, y + 0.8), f"head {words}", style.TEXT_SIZE)
                y += ROW + 0.8
        canvas.line("frame", (x + 0.5, y), (x + 9.5, y), style.GREY, 0.16, stroke_dasharray="2.2 1")
        canvas.text("frame", (x + 12, y + 0.8), "line as given in the scenario", style.TEXT_SIZE)
        y += ROW
        for kind in sorted({item.kind for item in self.scenario.obstructions}):
            box = [(x + 1, y - 1.5), (x + 9, y - 1.5), (x + 9, y + 1.5), (x + 1, y + 1.5)]
            canvas.polygon("frame", box, style.obstruction_fill(kind), style.GREY, 0.18)
            canvas.hatch("frame", box, style.obstruction_hatch(kind), 1.7, "#9a9a9a")
            canvas.text("frame", (x + 12, y + 0.8), shorten(kind, 40), style.TEXT_SIZE)
            y += ROW
        dropped = self.placer.dropped
        lost = f"{dropped} labels left out for want of room" if dropped else "all labels shown"
        canvas.text(
            "frame", (x, y + 1.5), lost, style.SMALL_SIZE, fill=style.VERMILION if dropped else style.GREY
        )
        scale_bar(canvas, (x + 1.0, y + 9.0), frame)
        axes(canvas, (x + 14.0, y + 33.0), frame)
        return y + 40.0


def draw_ring(canvas: Canvas, at: Xy, judged: str, layer: str) -> None:
    """Mark a head that differs: the form says the same as the colour.

    Better: one ring; worse: two; equal: dashes; neither: dots.
    """
    colour = COLOURS.get(judged, style.PURPLE)
    dash = {"equal": "1.2 0.7", "neither": "0.3 0.7"}.get(judged)
    canvas.circle(layer, at, RING, "none", colour, 0.45, stroke_dasharray=dash)
    if judged == "worse":
        canvas.circle(layer, at, RING + 0.75, "none", colour, 0.3)


def figures_text(figures: RouteFigures) -> str:
    """Sum up one route in a line.

    Returns
    -------
    str
    """
    broken = ", ".join(f"{rule} {n}" for rule, n in figures.breaks.items())
    return ", ".join(
        [
            f"breaks rules ({broken})" if broken else "keeps the rules",
            f"{figures.served} of {figures.heads} heads served",
            plural(figures.fittings_counted, "fitting"),
            plural(figures.level_changes, "level change"),
            plural(figures.drains, "drain"),
            plural(figures.arm_hangers, "arm hanger"),
            f"{figures.pipe_total_m:,.1f} m of pipe",
            f"{figures.steel_kg:,.0f} kg",
            f"{figures.value:,.0f} points",
        ]
    )


def head_text(row: HeadRow) -> str:
    """Say how two routes serve one head: shown when the pointer rests on it.

    Returns
    -------
    str
    """
    ways = [
        f"{name}: {style.STYLE_WORDS.get(way.style or '', 'not served')}" for name, way in row.routes.items()
    ]
    d = row.differences[0]
    return f"{row.id}: {'; '.join(ways)}; {d.judgement}: {d.why}"
