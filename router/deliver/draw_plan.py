"""The plan: to scale, in its true form; obstructions, pipe, fittings, heads and their labels."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from router.deliver import draw_style as style
from router.deliver.draw_canvas import text_width
from router.deliver.draw_hangers import plan_hangers
from router.deliver.draw_labels import Label
from router.deliver.draw_symbols import R, draw_fitting, draw_head, draw_unserved
from router.geometry.plan import PlanLine
from router.trade.sizes import label as size_label

if TYPE_CHECKING:
    from collections.abc import Callable

    from router.deliver.draw_canvas import Box, Canvas
    from router.deliver.draw_frame import PlanFrame
    from router.deliver.draw_labels import Placer
    from router.route.model import Fitting, Piece, Route
    from router.scenario.model import Scenario


def mm_text(value: float) -> str:
    """Write a length in mm.

    Returns
    -------
    str
    """
    return f"{value:,.0f}"


def elevations_text(elevations: tuple[float, float], write: Callable[[float], str] = mm_text) -> str:
    """Write a range of elevations.

    Returns
    -------
    str
    """
    return f"{write(elevations[0])} to {write(elevations[1])}"


def tags_of(part: Piece | Fitting, styles: dict[str, str]) -> dict[str, str | None]:
    """Attributes of a shape: the piece, the run, and the takeoff with its style if it belongs to one.

    Returns
    -------
    dict
    """
    style_ = styles.get(part.owner)
    return {
        "data_piece": part.id if hasattr(part, "make_up") else None,
        "data_run": part.run,
        "data_takeoff": part.owner if style_ else None,
        "data_style": style_,
    }


class PlanView:
    """Draws the plan of one scenario and route on a canvas."""

    def __init__(
        self, canvas: Canvas, placer: Placer, frame: PlanFrame, bounds: Box, scenario: Scenario, route: Route
    ) -> None:
        self.canvas, self.placer, self.frame, self.bounds = canvas, placer, frame, bounds
        self.scenario, self.route = scenario, route
        self.write: Callable[[float], str] = mm_text
        self.styles = {takeoff.id: takeoff.style for takeoff in route.takeoffs}

    def tags(self, part: Piece | Fitting) -> dict[str, str | None]:
        """Give what a page finds a piece or fitting by.

        Returns
        -------
        dict
        """
        return tags_of(part, self.styles)

    def draw(self) -> None:
        """Draw everything; labels wait in the placer."""
        self.ceilings()
        self.obstructions()
        self.keep_out()
        self.lines()
        self.pieces()
        self.fittings()
        plan_hangers(self.canvas, self.frame, self.route.hangers)
        self.heads()
        self.level_changes()

    def ceilings(self) -> None:
        """Outline the ceilings."""
        for ceiling in self.scenario.ceilings:
            points = [self.frame.paper(p) for p in ceiling.polygon]
            self.canvas.polygon("ground", points, "none", style.GREY, 0.2, stroke_dasharray="0.3 1.2")
            corner = max(points, key=lambda p: (round(p[0] + p[1], 3), p))
            text = f"{ceiling.id}: ceiling at {self.write(ceiling.elevation)}"
            self.placer.want(
                Label((text,), corner, style.SMALL_SIZE, (0.3, 0.3), style.GREY, prefer=135.0, rank=4),
                self.bounds,
            )

    def obstructions(self) -> None:
        """Fill, hatch and name the obstructions."""
        for item in self.scenario.obstructions:
            points = [self.frame.paper(p) for p in item.polygon]
            note = f"{item.id} ({item.kind}), {elevations_text(item.elevations)} mm"
            self.canvas.open_group("obstructions", note, class_="obstruction", data_obstruction=item.id)
            self.canvas.polygon("obstructions", points, style.obstruction_fill(item.kind), style.GREY, 0.18)
            self.canvas.hatch("obstructions", points, style.obstruction_hatch(item.kind), 2.4, "#a8a8a8")
            self.canvas.close_group("obstructions")
            for a, b in zip(points, [*points[1:], points[0]], strict=True):
                self.placer.block_line(a, b, 0.1)
            xs, ys = [p[0] for p in points], [p[1] for p in points]
            tall = max(ys) - min(ys) > max(xs) - min(xs)
            centre = (sum(xs) / len(xs), sum(ys) / len(ys))
            # Long ones are named at a quarter of their length: the middle is where pipe crosses.
            far = max(points, key=lambda p: (round(math.dist(p, centre), 2), p))
            anchor = (
                (centre[0], centre[1] + 0.5 * (far[1] - centre[1]))
                if tall
                else (centre[0] + 0.5 * (far[0] - centre[0]), centre[1])
            )
            text = (item.id, elevations_text(item.elevations, self.write))
            self.placer.want(
                Label(text, anchor, style.SMALL_SIZE, clear_of(text, xs, ys), style.GREY, prefer=0.0, rank=3),
                self.bounds,
            )

    def keep_out(self) -> None:
        """Outline and name the keep-out zones."""
        for zone in self.scenario.keep_out:
            points = [self.frame.paper(p) for p in zone.polygon]
            self.canvas.polygon("ground", points, "none", style.VERMILION, 0.25, stroke_dasharray="1.6 1")
            corner = min(points, key=lambda p: (round(p[0] + p[1], 3), p))
            text = f"{zone.id}: keep out{'' if zone.of == 'all' else ' ' + zone.of.replace('_', ' ')}"
            label = Label((text,), corner, style.SMALL_SIZE, (0.3, 0.3), style.VERMILION, rank=3)
            self.placer.want(label, self.bounds)

    def lines(self) -> None:
        """Draw the lines as given (thin, dashed): what was not built stays visible."""
        for run in self.scenario.runs:
            points = [self.frame.paper(p) for p in run.plan]
            self.canvas.polyline("guides", points, style.GREY, 0.16, stroke_dasharray="2.2 1")

    def pieces(self) -> None:
        """Draw the pipes and name runs and sizes."""
        standard = self.scenario.system.standard
        named: set[str] = set()
        size_at: dict[str, int] = {}
        for piece in self.route.pieces:
            a, b = self.frame.paper(piece.start), self.frame.paper(piece.end)
            if math.dist(a, b) < 0.05:
                continue
            layer = "run" if piece.kind == "run" else "far"
            width = style.pipe_width(piece.dn)
            colour, dash = style.PIECE_COLOUR[piece.kind], style.PIECE_DASH.get(piece.kind)
            self.canvas.line(
                layer, a, b, colour, width, stroke_linecap="round", stroke_dasharray=dash, **self.tags(piece)
            )
            self.placer.block_line(a, b, width / 2)
            middle = ((a[0] + b[0]) / 2, (a[1] + b[1]) / 2)
            if piece.kind != "run":
                continue
            size = size_label(piece.dn, standard)
            if piece.run not in named:
                named.add(piece.run)
                text = f"{piece.run}, {size}"
                self.placer.want(
                    Label((text,), middle, 2.6, (1.2, 0.9), style.BLUE, bold=True, rank=0), self.bounds
                )
            elif size_at[piece.run] != piece.dn:
                self.placer.want(
                    Label((size,), middle, style.SMALL_SIZE, (0.6, 0.8), style.BLUE, rank=2), self.bounds
                )
            size_at[piece.run] = piece.dn
        for run in self.scenario.runs:
            if run.id not in named:
                middle = self.frame.paper(PlanLine(run.plan).point(PlanLine(run.plan).length / 2))
                text = f"{run.id}, not built"
                self.placer.want(
                    Label((text,), middle, 2.6, (1.2, 0.9), style.GREY, bold=True, rank=0), self.bounds
                )

    def fittings(self) -> None:
        """Draw fittings, higher ones last; those straight under a head are hidden by it."""
        for fitting in sorted(self.route.fittings, key=lambda f: (f.at[2], f.id)):
            if fitting.kind == "reducer":
                continue
            at = self.frame.paper(fitting.at)
            self.canvas.open_group("fittings", data_fitting=fitting.id, **self.tags(fitting))
            draw_fitting(self.canvas, at, fitting.kind)
            self.canvas.close_group("fittings")
            self.placer.block((at[0] - 0.7, at[1] - 0.7, at[0] + 0.7, at[1] + 0.7))

    def heads(self) -> None:
        """Draw and name the heads; mark those that are not served."""
        results = {h.id: h for h in self.route.heads}
        for head in self.scenario.heads:
            result = results.get(head.id)
            at = self.frame.paper(result.inlet if result is not None else head.at)
            served = result is not None and result.served
            name = (result.style if result else None) or "not served"
            how = style.STYLE_WORDS.get(name, name)
            tags: dict[str, str | None] = {
                "data_style": name if served else None,
                "data_takeoff": result.takeoff if result else None,
                "data_run": result.run if result else None,
            }
            self.canvas.open_group("heads", f"{head.id}: {how}", class_="head", data_head=head.id, **tags)
            facing = None if head.facing is None else head.facing + self.frame.turn
            if served:
                draw_head(self.canvas, at, head.kind, dry=head.dry, facing=facing)
                label = Label((head.id,), at, style.LABEL_SIZE, (R + 0.3, R + 0.3), prefer=90.0, rank=0)
            else:
                draw_unserved(self.canvas, at)
                text = (head.id, "NOT SERVED")
                label = Label(text, at, style.LABEL_SIZE, (2.8, 2.8), style.VERMILION, bold=True, rank=-1)
            self.canvas.close_group("heads")
            half = R + 0.5 if served else 2.7
            self.placer.block((at[0] - half, at[1] - half, at[0] + half, at[1] + half))
            self.placer.want(label, self.bounds)

    def level_changes(self) -> None:
        """Name the offsets of the runs."""
        plans = {run.id: PlanLine(run.plan) for run in self.scenario.runs}
        for run in self.route.runs:
            if run.id not in plans:
                continue
            for change in run.level_changes:
                at = self.frame.paper(plans[run.id].point(sum(change.stations) / 2))
                text = change_text(change.levels, self.write)
                self.placer.want(
                    Label((text,), at, style.SMALL_SIZE, (1.0, 1.0), style.INK, bold=True, rank=1),
                    self.bounds,
                )


def clear_of(text: tuple[str, ...], xs: list[float], ys: list[float]) -> tuple[float, float]:
    """Half size that a label keeps off: nothing where it fits inside the shape, else its thin side.

    ``xs``, ``ys``: corners on paper, mm.

    Returns
    -------
    (x, y) in mm
    """
    wide, tall = max(xs) - min(xs), max(ys) - min(ys)
    need = max(text_width(t, style.SMALL_SIZE) for t in text) + 1.0
    if wide > need and tall > style.SMALL_SIZE * 1.2 * len(text):
        return (0.0, 0.0)
    return (wide / 2, 0.4) if wide < tall else (0.4, tall / 2)


def change_text(levels: tuple[float, float], write: Callable[[float], str] = mm_text) -> str:
    """Say how a run changes its level.

    Returns
    -------
    str
    """
    word = "up" if levels[1] > levels[0] else "down"
    return f"offset {word} {write(abs(levels[1] - levels[0]))}"
