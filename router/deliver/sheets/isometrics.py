"""Isometrics of the lines, as a fitter takes them to the bench: several on a sheet."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np
import shapely
import shapely.affinity

from router.cutlist.fittings import sizes_text
from router.cutlist.lengths import length_text
from router.deliver import draw_style as style
from router.deliver.draw_hangers import hanger_on_plan
from router.deliver.draw_labels import Label, Placer
from router.deliver.draw_plan import change_text
from router.deliver.draw_symbols import R, draw_fitting, draw_head
from router.deliver.sheets.page import HEADING, Page, area, heading
from router.deliver.sheets.projection import Isometry
from router.deliver.sheets.strips import Lines

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from router.cutlist import CutList
    from router.deliver.draw_canvas import Box, Canvas, Xy
    from router.deliver.sheets.paper import Paper
    from router.deliver.sheets.strips import Stretch, Strip
    from router.route.model import Fitting, Hanger, Route
    from router.scenario.model import Scenario

if TYPE_CHECKING:
    Drawn = Callable[[Strip, float, Xy, Canvas, Placer], None]

ROOM = 19.0
"""Room around an isometric for its labels, mm."""
BESIDE, STEP = 12.0, 6
"""Isometrics on a sheet keep twice this off each other, mm; places are tried in such steps."""
WIDER = (1.0, 1.25, 1.55, 1.9)
MOST_PARTS = 60


def ordered_text(length: float, paper: Paper) -> str:
    """Write the length of what is ordered.

    Returns
    -------
    str
    """
    return paper.write(length) + ("" if paper.inch else " mm")


def tags(cuts: CutList, paper: Paper) -> dict[str, tuple[str, ...]]:
    """Give each piece's tag as lines: mark and tag, then the cut length, as the cut list has them.

    Returns
    -------
    dict of str to tuple of str
    """
    found: dict[str, tuple[str, ...]] = {}
    for cut in cuts.cuts:
        line = (f"{cut.mark} {cut.tag}".strip(), length_text(cut.units, cuts.standard))
        found[cut.piece] = (*found.get(cut.piece, ()), *line)
    for item in cuts.ordered:
        wanted = item.stock if item.kind == "hose" and item.stock is not None else item.face
        found[item.tag] = (f"{item.kind} {item.tag}", ordered_text(wanted, paper))
    return found


@dataclass
class View:
    """Draws one strip."""

    canvas: Canvas
    placer: Placer
    strip: Strip
    frame: Isometry
    bounds: Box
    lines: Lines
    cuts: CutList
    paper: Paper
    tags: dict[str, tuple[str, ...]]

    def draw(self) -> None:
        """Draw everything; labels wait in the placer."""
        for stretch in self.strip.stretches:
            if stretch.piece.kind == "run":  # what passes behind the run is broken, as on any isometric
                points = [self._at(p) for p in stretch.points]
                self.canvas.polyline("run", points, style.PAPER, 2.8)
        for stretch in self.strip.stretches:
            self._pipe(stretch)
        kinds = {h.id: h for h in self.lines.scenario.heads}
        reducers = {f.at: f for f in self.strip.fittings if f.kind == "reducer"}
        for fitting in self.strip.fittings:
            if fitting.kind != "reducer":
                self._fitting(fitting)
        for result in self.strip.heads:
            head, at = kinds[result.id], self._at(result.inlet)
            self.canvas.open_group("heads", result.id, class_="iso-head", data_head=result.id)
            facing = None if head.facing is None else self._facing(head.facing)
            draw_head(self.canvas, at, head.kind, dry=head.dry, facing=facing)
            self.canvas.close_group("heads")
            half = R + 0.5
            self.placer.block((at[0] - half, at[1] - half, at[0] + half, at[1] + half))
            lines = [result.id]
            if result.inlet in reducers:
                lines.append(f"reducer {self._sizes(reducers.pop(result.inlet))}")
            prefer = 90.0 if head.kind == "upright" else 270.0
            self._want(tuple(lines), at, (half, half), prefer=prefer, head_bold=True, rank=0)
        for fitting in reducers.values():
            self._fitting(fitting)
        for hanger in self.strip.hangers:
            at = self._hung(hanger)
            hanger_on_plan(self.canvas, at)
            self.placer.block((at[0] - 0.7, at[1] - 0.7, at[0] + 0.7, at[1] + 0.7))
        first = min(self.strip.stretches, key=lambda s: s.piece.kind != "run").points[0]
        title = Label((self.strip.title,), self._at(first), 3.0, (1.2, 1.2), bold=True, prefer=200.0, rank=-1)
        self.placer.want(title, self.bounds)
        self._levels()
        self._others()

    def _at(self, point: Sequence[float]) -> Xy:
        return self.frame.paper(self.strip.level(point))

    def _hung(self, hanger: Hanger) -> Xy:
        """Give a hanger's place on the pipe as drawn: by its share of the pipe's true length."""
        pairs = [
            pair for s in self.strip.stretches if s.piece.id == hanger.piece for pair in pairwise(s.points)
        ]
        best = min(pairs, key=lambda ab: math.dist(ab[0], hanger.at) + math.dist(ab[1], hanger.at) - math.dist(*ab))
        share = math.dist(best[0], hanger.at) / (math.dist(*best) or 1.0)
        a, b = self._at(best[0]), self._at(best[1])
        share = min(share, 1.0)
        return (a[0] + share * (b[0] - a[0]), a[1] + share * (b[1] - a[1]))

    def _want(
        self,
        lines: tuple[str, ...],
        at: Xy,
        clear: Xy,
        *,
        fill: str = style.INK,
        head_bold: bool = False,
        prefer: float | None = None,
        rank: int = 1,
    ) -> None:
        label = Label(
            lines, at, style.SMALL_SIZE, clear, fill, head_bold=head_bold, prefer=prefer, rank=rank
        )
        self.placer.want(label, self.bounds)

    def _pipe(self, stretch: Stretch) -> None:
        piece = stretch.piece
        points = [self._at(p) for p in stretch.points]
        colour, dash = style.PIECE_COLOUR[piece.kind], style.PIECE_DASH.get(piece.kind)
        behind = piece.kind != "run" and self._lateral(stretch) > 1.0
        layer = "far" if behind else "run" if piece.kind == "run" else "near"
        width = 1.0 if piece.kind == "run" else 0.65
        self.canvas.polyline(layer, points, colour, width, stroke_dasharray=dash, data_piece=piece.id)
        for a, b in zip(points, points[1:], strict=False):
            self.placer.block_line(a, b, 0.5)
        for k, goes_on in ((0, stretch.open[0]), (-1, stretch.open[1])):
            if goes_on:
                x, y = points[k]
                wave = [(x - 0.6, y - 2.0), (x + 0.6, y - 0.7), (x - 0.6, y + 0.7), (x + 0.6, y + 2.0)]
                self.canvas.polyline("fittings", wave, style.INK, 0.25)
        if stretch.tagged and piece.id in self.tags:
            longest = max(zip(points, points[1:], strict=False), key=lambda ab: round(math.dist(*ab), 3))
            middle = ((longest[0][0] + longest[1][0]) / 2, (longest[0][1] + longest[1][1]) / 2)
            # along 30 degrees a text keeps off by its own slant
            self._want(self.tags[piece.id], middle, (0.4, 0.4), head_bold=True, rank=0)

    def _lateral(self, stretch: Stretch) -> float:
        """How far a pipe's middle lies to the left of the strip's direction, mm from the run."""
        a, b = stretch.points[0], stretch.points[-1]
        section = self.strip.line.section_at(self.strip.line.nearest(((a[0] + b[0]) / 2, (a[1] + b[1]) / 2))[0])
        return float(section.local(np.array([[(a[0] + b[0]) / 2, (a[1] + b[1]) / 2]]))[0, 1])

    def _fitting(self, fitting: Fitting) -> None:
        at = self._at(fitting.at)
        self.canvas.open_group("fittings", data_fitting=fitting.id)
        draw_fitting(self.canvas, at, fitting.kind)
        self.canvas.close_group("fittings")
        self.placer.block((at[0] - 1.0, at[1] - 1.0, at[0] + 1.0, at[1] + 1.0))
        word = style.FITTING_WORDS[fitting.kind].split(" on ")[0]
        self._want((word, self._sizes(fitting)), at, (1.0, 1.0), fill=style.GREY, rank=2)

    def _sizes(self, fitting: Fitting) -> str:
        return sizes_text(tuple(fitting.sizes), self.cuts.standard)

    def _facing(self, facing: float) -> float:
        c, s = math.cos(math.radians(facing)), math.sin(math.radians(facing))
        a = self.frame.along
        x, y = a[0] * c + a[1] * s, -a[1] * c + a[0] * s
        return math.degrees(math.atan2((x + y) / 2, (x - y) * 0.8660254))

    def _levels(self) -> None:
        """Write levels at the strip's ends and at offsets, and which way the run rises."""
        write, run = self.paper.write, [s for s in self.strip.stretches if s.piece.kind == "run"]
        if not run:
            return
        first, last = run[0].points[0], run[-1].points[-1]
        for point, prefer in ((first, 180.0), (last, 0.0)):
            at = self._at(point)
            self._want((f"level {write(point[2])}",), at, (1.2, 1.2), fill=style.BLUE, prefer=prefer, rank=1)
        pieces = {s.piece.id: s for s in run}
        for change in self.strip.changes:
            shown = [pieces[p] for p in change.pieces if p in pieces]
            if not shown:
                continue
            points = [self._at(p) for p in (shown[0].points[0], shown[-1].points[-1])]
            at = ((points[0][0] + points[1][0]) / 2, (points[0][1] + points[1][1]) / 2)
            lines = (change_text(change.levels, write), f"to level {write(change.levels[1])}")
            self._want(lines, at, (1.0, 1.0), head_bold=True, prefer=90.0)
        if self.strip.result.pitch:
            a, b = (self._at(p) for p in run[0].points[:2])
            length = math.dist(a, b) or 1.0
            c, s = (b[0] - a[0]) / length, (b[1] - a[1]) / length
            tip = (a[0] + 0.7 * (b[0] - a[0]), a[1] + 0.7 * (b[1] - a[1]))
            wing = [(tip[0] - 2.2 * c + k * 0.9 * s, tip[1] - 2.2 * s - k * 0.9 * c) for k in (1, -1)]
            self.canvas.polygon("fittings", [tip, *wing], style.PAPER, style.BLUE, 0.25)
            text = f"rises {self.strip.result.pitch:g} mm/m this way"
            self._want((text,), tip, (1.2, 1.2), fill=style.BLUE, rank=1)

    def _others(self) -> None:
        """Name the lines that leave this one, and where this one comes from."""
        for takeoff in self.strip.takeoffs:
            if takeoff.child_runs:
                ends = [s.points[-1] for s in self.strip.stretches if s.piece.owner == takeoff.id]
                own = [f.at for f in self.strip.fittings if f.owner == takeoff.id]
                where = ends[-1] if ends else own[0] if own else None
                if where is not None:
                    text = f"to {', '.join(takeoff.child_runs)}"
                    self._want((text,), self._at(where), (1.5, 1.5), fill=style.BLUE, head_bold=True, rank=0)


def fitted(strip: Strip, wider: float) -> tuple[Isometry, Xy]:
    """Lay out a strip. Returns its isometry, its block's corner at (0, 0), and the block's size.

    Returns
    -------
    Isometry, Xy
    """
    frame = Isometry.of(strip.along(), strip.points(), strip.pipes(), wider)
    shown = [frame.paper(p) for p in strip.points()]
    xs, ys = [p[0] for p in shown], [p[1] for p in shown]
    frame = replace(frame, origin=(ROOM - min(xs), ROOM - min(ys)))
    return frame, (max(xs) - min(xs) + 2 * ROOM, max(ys) - min(ys) + 2 * ROOM)


def isometric_pages(scenario: Scenario, route: Route, cuts: CutList, paper: Paper) -> list[Page]:
    """Draw an isometric of every line that has pipe.

    Returns
    -------
    list of Page
    """
    lines, words = Lines(scenario, route), tags(cuts, paper)
    x0, y0, x1, y1 = area(paper)
    room = (x1 - x0, y1 - y0 - HEADING)

    def drawn(strip: Strip, wider: float, at: Xy, canvas: Canvas, placer: Placer) -> None:
        frame, size = fitted(strip, wider)
        frame = replace(frame, origin=(frame.origin[0] + at[0], frame.origin[1] + at[1]))
        box = (at[0], at[1], at[0] + size[0], at[1] + size[1])
        View(canvas, placer, strip, frame, box, lines, cuts, paper, words).draw()
        placer.settle(canvas)

    blocks: list[tuple[Strip, float, Xy]] = []
    for run_id in lines.ids():
        blocks += _blocks(lines, run_id, room, drawn)
    pages: list[Page] = []
    placer, taken = Placer(), shapely.Polygon()
    for strip, wider, size in blocks:
        shape = _ground(strip, wider)
        at = _free(shape, size, room, taken) if pages else None
        if at is None:
            placer, taken, at = Placer(), shapely.Polygon(), (0.0, 0.0)
            pages.append(Page("Isometrics of the lines", "not to scale", f"isometric-{len(pages) + 1}"))
            note = "not to scale; marks, tags and cut lengths as in the cut list; levels are centre lines"
            heading(pages[-1], (x0, y0 + 4.0), "Isometrics of the lines", note)
        page, before = pages[-1], len(placer.placed)
        drawn(strip, wider, (x0 + at[0], y0 + HEADING + at[1]), page.canvas, placer)
        page.labels, page.dropped = placer.placed, placer.dropped
        written = [
            shapely.box(b[0] - x0 - 1.0, b[1] - y0 - HEADING - 1.0, b[2] - x0 + 1.0, b[3] - y0 - HEADING + 1.0)
            for b in placer.placed[before:]
        ]
        taken = shapely.union_all([taken, shapely.affinity.translate(shape, *at), *written])
    return pages


def _ground(strip: Strip, wider: float) -> shapely.Geometry:
    """Give the paper that a strip's pipes and the labels beside them take, its block's corner at (0, 0)."""
    frame, _ = fitted(strip, wider)
    ways = [shapely.LineString([frame.paper(p) for p in pair]) for pair in strip.pipes()]
    return shapely.union_all(ways).buffer(BESIDE, quad_segs=2).simplify(0.5)


def _free(shape: shapely.Geometry, size: Xy, room: Xy, taken: shapely.Geometry) -> Xy | None:
    """Find the first place, from the top and then from the left, where a shape lies free."""
    shapely.prepare(taken)
    for y in range(0, int(room[1] - size[1]) + 1, STEP):
        for x in range(0, int(room[0] - size[0]) + 1, STEP):
            if not taken.intersects(shapely.affinity.translate(shape, x, y)):
                return (float(x), float(y))
    return None


def _blocks(lines: Lines, run_id: str, room: Xy, drawn: Drawn) -> list[tuple[Strip, float, Xy]]:
    """Break a run into as few parts as fit a sheet with all their labels, or with the most that can be."""
    most = max(1, len([t for t in lines.route.takeoffs if t.run == run_id]))
    found: list[tuple[Strip, float, Xy]] = []
    whole: tuple[int, list[tuple[Strip, float, Xy]]] | None = None
    for parts in range(1, min(most, MOST_PARTS) + 1):
        found, lost = [], 0
        for part in range(1, parts + 1):
            best = _block(lines.strip(run_id, part, parts), room, drawn)
            if best is None:
                break
            found.append(best[1])
            lost += best[0]
        else:
            if not lost or (whole is not None and lost >= whole[0]):
                return found if not lost or whole is None else whole[1]
            whole = (lost, found)
    if whole is not None:
        return whole[1]
    # even one takeoff is too large for the paper: shown as it is, smaller than its labels want
    strips = [lines.strip(run_id, part, most) for part in range(1, most + 1)]
    return [(strip, 0.6, fitted(strip, 0.6)[1]) for strip in strips if strip.stretches]


def _block(strip: Strip, room: Xy, drawn: Drawn) -> tuple[int, tuple[Strip, float, Xy]] | None:
    """Find the narrowest layout in which all labels have a place; ``None`` if the strip is too large."""
    best: tuple[int, float, Xy] | None = None
    for wider in WIDER:
        size = fitted(strip, wider)[1]
        if size[0] > room[0] or size[1] > room[1]:
            break
        canvas = Page("", "", "").canvas
        placer = Placer()
        drawn(strip, wider, (0.0, 0.0), canvas, placer)
        if best is None or placer.dropped < best[0]:
            best = (placer.dropped, wider, size)
        if not placer.dropped:
            break
    return (best[0], (strip, best[1], best[2])) if best is not None else None
