"""A section along one run: stations to the right, elevations up, seen from the run's right side."""

from __future__ import annotations

import math
from itertools import pairwise
from typing import TYPE_CHECKING

from router.deliver import draw_style as style
from router.deliver.draw_frame import SectionFrame
from router.deliver.draw_hangers import section_hangers
from router.deliver.draw_labels import Label
from router.deliver.draw_plan import change_text, clear_of, elevations_text, mm_text, tags_of
from router.deliver.draw_section_data import band_of
from router.deliver.draw_section_heads import SectionHeads
from router.deliver.draw_symbols import R, draw_fitting, draw_outlet
from router.trade.sizes import label as size_label

if TYPE_CHECKING:
    from collections.abc import Callable

    from router.deliver.draw_canvas import Box, Canvas, Xy
    from router.deliver.draw_labels import Placer
    from router.deliver.draw_section_data import SectionData
    from router.route.model import Fitting, Piece, Takeoff
    from router.trade.sizes import Standard
    from router.trade.tables import Tables

AXIS_WIDTH, RIGHT = 15.0, 14.0
TITLE_HEIGHT, STRIP = 9.0, 15.0
MIN_WIDTH = 95.0
MIN_LINE = 0.35
STATION_PITCH = 2.5


DRAIN_WORDS = {"drain": "drain", "large_drain": "two-valve drain", "wet_drain": "cap or valve"}
"""What a low section needs, in short."""


def label_room(data: SectionData) -> tuple[float, float]:
    """Room for labels above and below a section, mm: more where heads are.

    Returns
    -------
    (above, below)
    """
    kinds = {item.head.kind for item in data.heads}
    return 17.0 if "upright" in kinds else 8.0, 18.0 if kinds - {"upright"} else 6.0


def section_size(data: SectionData, scale: float, stretch: float) -> Xy:
    """Width and height of a section's block on paper, mm.

    Returns
    -------
    (width, height)
    """
    width = (data.stations[1] - data.stations[0]) / scale + AXIS_WIDTH + RIGHT
    height = (data.elevations[1] - data.elevations[0]) * stretch / scale
    return max(width, MIN_WIDTH), height + TITLE_HEIGHT + sum(label_room(data)) + STRIP


def spread(wanted: list[float], pitch: float, low: float, high: float) -> list[float]:
    """Move ascending places apart to at least ``pitch``, as little as a simple sweep can.

    Returns
    -------
    list of float
    """
    places: list[float] = []
    for value in wanted:
        places.append(max(value, places[-1] + pitch) if places else max(value, low))
    limit = high
    for k in range(len(places) - 1, -1, -1):
        places[k] = min(places[k], limit)
        limit = places[k] - pitch
    return places


class SectionView:
    """Draws one section; ``box`` is its block on the sheet."""

    def __init__(
        self,
        canvas: Canvas,
        placer: Placer,
        data: SectionData,
        box: Box,
        scale: float,
        stretch: float,
        tables: Tables,
        standard: Standard,
    ) -> None:
        self.canvas, self.placer, self.data, self.box = canvas, placer, data, box
        self.tables, self.standard = tables, standard
        self.bounds = (box[0] + AXIS_WIDTH - 2, box[1] + TITLE_HEIGHT, box[2], box[3] - STRIP)
        origin = (box[0] + AXIS_WIDTH, box[1] + TITLE_HEIGHT + label_room(data)[0])
        self.write: Callable[[float], str] = mm_text
        self.styles = {takeoff.id: takeoff.style for takeoff in data.takeoffs}
        self.frame = SectionFrame(scale, stretch, data.stations[0], data.elevations[1], origin)

    def draw(self) -> None:
        """Draw everything; labels wait in the placer."""
        self.canvas.open_group("frame", class_="section", data_run=self.data.run.id)
        self.title()
        self.axes()
        self.canvas.close_group("frame")
        self.boxes()
        self.guides()
        self.run_pipe()
        for takeoff in self.data.takeoffs:
            self.takeoff(takeoff)
        heads = SectionHeads(self.canvas, self.placer, self.frame, self.data, self.bounds)
        heads.write = self.write
        heads.draw()
        self.stations()

    def title(self) -> None:
        """Name the section and say how it is to be read."""
        result = self.data.result
        at = (self.box[0], self.box[1] + 4.0)
        self.canvas.text("frame", at, f"Section along {self.data.run.id}", style.HEADING_SIZE, bold=True)
        if data_part := self.data.part:
            self.canvas.text("frame", (at[0] + 1.0, at[1] + 6.0), data_part, style.SMALL_SIZE, fill=style.GREY)
        fall = f", rising {result.pitch:g} mm/m" if result.pitch else ""
        stretch = (
            f", heights drawn {self.frame.stretch:g} times as tall"
            if self.frame.stretch != 1
            else ", true heights"
        )
        text = f"supply end at {self.write(result.supply_level)}{fall}{stretch}"
        self.canvas.text("frame", (at[0], at[1] + 3.0), text, style.SMALL_SIZE, fill=style.GREY)

    def axes(self) -> None:
        """Draw elevation ticks on the left."""
        low, high = self.data.elevations
        per_mm = self.frame.stretch / self.frame.scale
        step = next((s for s in (50, 100, 200, 250, 500, 1000, 2000) if s * per_mm >= 5.0), 5000)
        x = self.frame.origin[0] - 3.0
        self.canvas.line("frame", (x, self.frame.y(low)), (x, self.frame.y(high)), style.GREY, 0.18)
        for k in range(math.ceil(low / step), math.floor(high / step) + 1):
            y = self.frame.y(k * step)
            self.canvas.line("frame", (x - 1.0, y), (x, y), style.GREY, 0.18)
            where = (x - 1.5, y + 0.65)
            self.canvas.text("frame", where, self.write(k * step), style.SMALL_SIZE, fill=style.GREY, anchor="end")

    def boxes(self) -> None:
        """Draw the obstructions: full outline across the run, dashed where only arms meet them."""
        low, high = self.data.elevations
        s0, s1 = self.data.stations
        for item in sorted(self.data.boxes, key=lambda b: (b.on_run, b.id, b.stations)):
            bottom, top = max(item.elevations[0], low), min(item.elevations[1], high)
            left, right = max(item.stations[0], s0), min(item.stations[1], s1)
            if top <= bottom or right <= left:
                continue
            a, b = self.frame.paper(left, top), self.frame.paper(right, bottom)
            outline = [a, (b[0], a[1]), b, (a[0], b[1])]
            dash = None if item.on_run else "1 0.6"
            note = f"{item.id} ({item.kind}), {elevations_text(item.elevations)} mm"
            self.canvas.open_group("obstructions", note, class_="obstruction", data_obstruction=item.id)
            fill = style.obstruction_fill(item.kind)
            opacity = None if item.on_run else 0.45
            self.canvas.polygon(
                "obstructions", outline, fill, style.GREY, 0.18, stroke_dasharray=dash, fill_opacity=opacity
            )
            if item.on_run:
                self.canvas.hatch("obstructions", outline, style.obstruction_hatch(item.kind), 1.7, "#9a9a9a")
            self.canvas.close_group("obstructions")
            for p, q in zip(outline, [*outline[1:], outline[0]], strict=True):
                self.placer.block_line(p, q, 0.1)
            centre = ((a[0] + b[0]) / 2, (a[1] + b[1]) / 2)
            beside = "" if item.on_run else ", beside the run"
            text = (item.id, elevations_text(item.elevations, self.write) + beside)
            clear = clear_of(text, [a[0], b[0]], [a[1], b[1]])
            extent = ((b[0] - a[0]) / 2, (b[1] - a[1]) / 2)
            if clear != (0.0, 0.0):
                clear = extent
            self.placer.want(
                Label(text, centre, style.SMALL_SIZE, clear, style.GREY, prefer=90.0, rank=3, extent=extent),
                self.bounds,
            )

    def guides(self) -> None:
        """Draw the band and ceilings."""
        start, end = max(0.0, self.data.stations[0]), self.data.stations[1] - 100.0
        for word, level in zip(("lowest", "highest"), band_of(self.data.run), strict=True):
            a, b = (
                self.frame.paper(start, self.data.z(level, start)),
                self.frame.paper(end, self.data.z(level, end)),
            )
            self.canvas.line("guides", a, b, style.GREY, 0.15, stroke_dasharray="1.6 1")
            text = f"{word} level {self.write(level)}"
            self.placer.want(
                Label((text,), a, style.SMALL_SIZE, (0.2, 0.4), style.GREY, prefer=45.0, rank=5), self.bounds
            )
        low, high = self.data.elevations
        for part in self.data.line.sections[1:]:
            if part.start < self.data.result.built_to:
                a, b = self.frame.paper(part.start, high), self.frame.paper(part.start, low)
                self.canvas.line("guides", a, b, style.GREY, 0.18, stroke_dasharray="3 0.8 0.6 0.8")
                words = ("bend in plan",)
                label = Label(words, a, style.SMALL_SIZE, (0.2, 0.2), style.GREY, prefer=90.0, rank=4)
                self.placer.want(label, self.bounds)
        for name, first, last, elevation in self.data.ceilings:
            if low <= elevation <= high:
                a, b = self.frame.paper(first, elevation), self.frame.paper(last, elevation)
                self.canvas.line("guides", a, b, style.INK, 0.35, stroke_dasharray="0.4 1.1")
                text = f"{name} {self.write(elevation)}"
                self.placer.want(
                    Label((text,), a, style.SMALL_SIZE, (0.2, 0.5), style.GREY, prefer=315.0, rank=5),
                    self.bounds,
                )

    def _pipe(self, layer: str, a: Xy, b: Xy, piece: Piece) -> None:
        """Draw a pipe with its true outside diameter in the direction across it, as far as it can be seen."""
        dx, dy = abs(b[0] - a[0]), abs(b[1] - a[1])
        lying = dx / math.hypot(dx, dy)
        od = self.tables.od(piece.dn) if piece.kind not in ("barrel", "hose") else 26.0
        across = od / self.frame.scale * (lying * self.frame.stretch + (1 - lying))
        width = max(MIN_LINE, across)
        dash = style.PIECE_DASH.get(piece.kind)
        tags = tags_of(piece, self.styles)
        self.canvas.line(layer, a, b, style.PIECE_COLOUR[piece.kind], width, stroke_dasharray=dash, **tags)
        self.placer.block_line(a, b, width / 2)

    def _fitting(self, fitting: Fitting, at: Xy) -> None:
        self.canvas.open_group("fittings", data_fitting=fitting.id, **tags_of(fitting, self.styles))
        draw_fitting(self.canvas, at, fitting.kind)
        self.canvas.close_group("fittings")

    def run_pipe(self) -> None:
        """Draw the run with its offsets, sizes, levels and trapped parts."""
        data, frame = self.data, self.frame
        sizes: list[tuple[Xy, int]] = []
        for piece in data.run_pieces:
            (sa, _), (sb, _) = (data.line.nearest(p[:2]) for p in (piece.start, piece.end))
            a, b = frame.paper(sa, piece.start[2]), frame.paper(sb, piece.end[2])
            if math.dist(a, b) < 0.02:
                continue
            self._pipe("run", a, b, piece)
            if not sizes or sizes[-1][1] != piece.dn:
                sizes.append((((a[0] + b[0]) / 2, (a[1] + b[1]) / 2), piece.dn))
        for middle, dn in sizes:
            text = size_label(dn, self.standard)
            half = self.tables.od(dn) * frame.stretch / frame.scale / 2 + 0.2
            self.placer.want(
                Label((text,), middle, style.SMALL_SIZE, (0.3, half), style.BLUE, prefer=90.0, rank=2),
                self.bounds,
            )
        for fitting in data.run_fittings:
            station = data.line.nearest(fitting.at[:2])[0]
            self._fitting(fitting, frame.paper(station, fitting.at[2]))
        for change in data.result.level_changes:
            mid = sum(change.stations) / 2
            at = frame.paper(mid, data.z(sum(change.levels) / 2, mid))
            bend = " at the bend" if change.at_bend else ""
            lines = (
                change_text(change.levels, self.write) + bend,
                f"2 elbows of {change.angle}°, to level {self.write(change.levels[1])}",
            )
            half = (change.stations[1] - change.stations[0]) / 2 / frame.scale + 0.8
            tall = abs(change.levels[1] - change.levels[0]) / 2 * frame.stretch / frame.scale + 0.8
            self.placer.want(
                Label(lines, at, style.SMALL_SIZE, (half, tall), bold=True, prefer=90.0, rank=0), self.bounds
            )
        section_hangers(self.canvas, frame, data)
        for low in data.lows:
            first, last = low.stations or (0.0, data.result.built_to)
            first, last = max(first, data.stations[0]), min(last, data.stations[1])
            p, q = (frame.paper(s, data.z(self._level_at(s), s)) for s in (first, last))
            y = max(p[1], q[1]) + 2.0
            self.canvas.polyline(
                "near", [(p[0], y - 0.8), (p[0], y), (q[0], y), (q[0], y - 0.8)], style.ORANGE, 0.5
            )
            where = ((p[0] + q[0]) / 2, y)
            self.placer.want(
                Label(
                    (f"trapped {low.volume_l:.1f} l: {DRAIN_WORDS[low.counts_as or 'drain']}",),
                    where,
                    style.SMALL_SIZE,
                    (1, 0.5),
                    bold=True,
                    prefer=270.0,
                    rank=0,
                ),
                self.bounds,
            )

    def _level_at(self, station: float) -> float:
        """Level of the run at a station, from its profile.

        Returns
        -------
        float
        """
        points = self.data.result.profile
        for before, after in pairwise(points):
            if before.station <= station <= after.station and after.station > before.station:
                share = (station - before.station) / (after.station - before.station)
                return before.level + share * (after.level - before.level)
        return points[-1].level if points else self.data.result.supply_level

    def takeoff(self, takeoff: Takeoff) -> None:
        """Draw what leaves the run: its pieces, fittings, and the direction of the outlet."""
        data, frame = self.data, self.frame
        outlet = frame.paper(takeoff.station, data.z(takeoff.level, takeoff.station))
        marks = [outlet]
        for piece in data.pieces.get(takeoff.id, []):
            (sa, la), (sb, lb) = (
                data.local(piece.start, takeoff.station),
                data.local(piece.end, takeoff.station),
            )
            layer = "far" if la + lb > 1.0 else "near"
            a, b = frame.paper(sa, piece.start[2]), frame.paper(sb, piece.end[2])
            if math.dist(a, b) >= 0.15:
                self._pipe(layer, a, b, piece)
            elif abs(lb - la) > 1.0 and math.dist(a, outlet) > 1.0:
                side = "left" if lb > la else "right"
                draw_outlet(self.canvas, a, side, 0.0)
                marks.append(a)
        upwards = any(piece.kind == "sprig" for piece in data.pieces.get(takeoff.id, []))
        for fitting in data.fittings.get(takeoff.id, []):
            station = data.local(fitting.at, takeoff.station)[0]
            at = frame.paper(station, fitting.at[2])
            if fitting.kind != "reducer" and all(math.dist(at, m) > 0.6 for m in marks[1:]):
                self._fitting(fitting, at)
            elif fitting.kind == "reducer":
                self._fitting(fitting, (at[0], at[1] + (R + 0.6) * (1 if upwards else -1)))
        dn = max((p.dn for p in data.run_pieces), default=25)
        half = max(MIN_LINE, self.tables.od(dn) * frame.stretch / frame.scale) / 2
        self.canvas.open_group("fittings", takeoff.id, class_="outlet", data_takeoff=takeoff.id, data_style=takeoff.style)
        draw_outlet(self.canvas, outlet, takeoff.side, half)
        self.canvas.close_group("fittings")
        for mark in marks:
            self.placer.block((mark[0] - 1.1, mark[1] - 1.1, mark[0] + 1.1, mark[1] + 1.1))
        if takeoff.child_runs:
            side = f"line, {takeoff.side}"
            self.placer.want(
                Label(
                    (", ".join(takeoff.child_runs), side),
                    outlet,
                    style.LABEL_SIZE,
                    (1.2, 1.4),
                    style.BLUE,
                    rank=0,
                ),
                self.bounds,
            )

    def stations(self) -> None:
        """Write the stations of all takeoffs in a strip under the section."""
        if not self.data.takeoffs:
            return
        top = self.box[3] - STRIP
        places = sorted({self.write(t.station): t.station for t in self.data.takeoffs}.values())
        wanted = [self.frame.x(s) for s in places]
        xs = spread(wanted, STATION_PITCH, self.box[0] + 2.0, self.box[2] - 1.0)
        first, last = self.frame.x(max(0.0, self.data.stations[0])), self.frame.x(self.data.result.built_to)
        self.canvas.line("frame", (first, top), (last, top), style.GREY, 0.15)
        where = (self.frame.origin[0] - 1.5, top + 0.7)
        self.canvas.text("frame", where, "station", style.SMALL_SIZE, fill=style.GREY, anchor="end")
        for station, real, shown in zip(places, wanted, xs, strict=True):
            self.canvas.polyline(
                "frame", [(real, top - 0.8), (real, top + 0.8), (shown, top + 2.6)], style.GREY, 0.13
            )
            self.canvas.text(
                "frame",
                (shown + 0.65, top + 3.0),
                self.write(station),
                style.SMALL_SIZE,
                anchor="end",
                turn=-90.0,
            )
