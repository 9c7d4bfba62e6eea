"""Section sheets: every run, several on a sheet; a long one is broken into parts."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from router.deliver.draw_frame import section_stretch
from router.deliver.draw_labels import Placer
from router.deliver.draw_section import AXIS_WIDTH, RIGHT, SectionView, section_size
from router.deliver.draw_section_data import section_data
from router.deliver.sheets.page import HEADING, Page, area, heading, scale_bar
from router.trade.tables import Tables

if TYPE_CHECKING:
    from router.deliver.draw_canvas import Xy
    from router.deliver.draw_section_data import SectionData
    from router.deliver.sheets.paper import Paper
    from router.route.model import Piece, Route
    from router.scenario.model import Scenario

GAP = 7.0
FOOT = 9.0
FINEST, COARSEST = 25, 100
"""Sections finer than 1:25 tell nothing more; one that does not fit at 1:100 (inch: 1:96) is broken."""


def _clipped(piece: Piece, data: SectionData, first: float, last: float) -> Piece | None:
    """Give the part of a run's piece between two stations."""
    a, b = (data.line.nearest(p[:2])[0] for p in (piece.start, piece.end))
    low, high = max(min(a, b), first), min(max(a, b), last)
    if high < low or (high - low < 1e-6 and abs(b - a) > 1e-6):
        return None
    if abs(b - a) < 1e-6:
        return piece
    start, end = np.array(piece.start), np.array(piece.end)
    cut = sorted(((low - a) / (b - a), (high - a) / (b - a)))
    ends = [tuple(float(v) for v in start + t * (end - start)) for t in cut]
    return piece.model_copy(update={"start": ends[0], "end": ends[1]})


def parts_of(data: SectionData, longest: float) -> list[SectionData]:
    """Break a section into parts of at most ``longest`` mm, between its takeoffs.

    Returns
    -------
    list of SectionData
    """
    s0, s1 = data.stations
    count = math.ceil((s1 - s0) / longest - 1e-9)
    if count <= 1:
        return [data]
    cuts = [s0 + (s1 - s0) * k / count for k in range(count + 1)]
    parts = []
    for k, (a, b) in enumerate(zip(cuts, cuts[1:], strict=False)):
        last = k == count - 1
        takeoffs = [t for t in data.takeoffs if a <= t.station < b or (last and t.station >= b)]
        names = {t.id for t in takeoffs}
        heads = [
            h
            for h in data.heads
            if (h.result.takeoff in names if h.result is not None and h.result.takeoff else a <= h.station < b)
        ]
        run_pieces = [p for p in (_clipped(q, data, a, b) for q in data.run_pieces) if p is not None]
        stations = [h.station for h in heads] + [
            data.local(p, t.station)[0] for t in takeoffs for q in data.pieces.get(t.id, []) for p in (q.start, q.end)
        ]
        parts.append(
            replace(
                data,
                takeoffs=takeoffs,
                heads=heads,
                run_pieces=run_pieces,
                run_fittings=[f for f in data.run_fittings if a <= data.line.nearest(f.at[:2])[0] < b or last],
                boxes=[x for x in data.boxes if x.stations[0] < b and x.stations[1] > a],
                lows=[x for x in data.lows if x.stations is None or (x.stations[0] < b and x.stations[1] > a)],
                hangers=[x for x in data.hangers if a <= data.line.nearest(x.at[:2])[0] < b],
                result=data.result.model_copy(
                    update={
                        "level_changes": [c for c in data.result.level_changes if a <= sum(c.stations) / 2 < b],
                        "built_to": min(data.result.built_to, b),
                    }
                ),
                ceilings=[(n, max(f, a), min(e, b), z) for n, f, e, z in data.ceilings if f < b and e > a],
                stations=(min([a, *(s - 60 for s in stations)]), max([b, *(s + 60 for s in stations)])),
                part=f"part {k + 1} of {count}",
            )
        )
    return parts


def section_scale(paper: Paper, data: list[SectionData], room: float) -> int:
    """Choose the finest usual scale at which the longest section fits, within bounds.

    Returns
    -------
    int
        N of 1:N.
    """
    longest = max((d.stations[1] - d.stations[0] for d in data), default=1.0)
    usual = [s for s in paper.scales if FINEST * 0.9 <= s <= COARSEST]
    return next((s for s in usual if longest / s <= room - AXIS_WIDTH - RIGHT), usual[-1])


def section_pages(scenario: Scenario, route: Route, paper: Paper) -> list[Page]:
    """Draw all sections.

    Returns
    -------
    list of Page
    """
    x0, y0, x1, y1 = area(paper)
    data = section_data(scenario, route)
    if not data:
        return []
    scale = section_scale(paper, data, x1 - x0)
    longest = (x1 - x0 - AXIS_WIDTH - RIGHT - 8.0) * scale
    shown = [part for d in data for part in parts_of(d, longest)]
    stretch = section_stretch([d.elevations[1] - d.elevations[0] for d in data], scale)
    height = y1 - y0 - HEADING - FOOT
    while stretch > 1 and max(section_size(d, scale, stretch)[1] for d in shown) > height:
        stretch -= 1
    sizes = [section_size(d, scale, stretch) for d in shown]
    tables = Tables(scenario.system.standard, scenario.rules.tables or None)
    pages: list[Page] = []
    placer = Placer()
    for item, at in zip(shown, _pack(sizes, (x1 - x0, height)), strict=True):
        if at is None or not pages:
            if pages:
                _settle(pages[-1], placer)
            placer = Placer()
            pages.append(Page("Sections", paper.scales[scale], f"sections-{len(pages) + 1}"))
            tall = f"heights drawn {stretch} times as tall" if stretch > 1 else "true heights"
            heading(pages[-1], (x0, y0 + 4.0), "Sections along the runs", f"scale {paper.scales[scale]}; {tall}")
            scale_bar(pages[-1], (x0 + 3.0, y1 - 3.0), scale, inch=paper.inch)
        x, y = at or (0.0, 0.0)
        width, tall_ = section_size(item, scale, stretch)
        box = (x0 + x, y0 + HEADING + y, x0 + x + width, y0 + HEADING + y + tall_)
        view = SectionView(
            pages[-1].canvas, placer, item, box, scale, stretch, tables, scenario.system.standard
        )
        view.write = paper.write
        view.draw()
    _settle(pages[-1], placer)
    return pages


def _settle(page: Page, placer: Placer) -> None:
    placer.settle(page.canvas)
    page.labels, page.dropped = placer.placed, placer.dropped


def _pack(sizes: list[Xy], room: Xy) -> list[Xy | None]:
    """Put blocks in rows, in order; ``None``: at the corner of a new sheet."""
    places: list[Xy | None] = []
    x = y = row = 0.0
    for width, height in sizes:
        if x > 0 and x + width > room[0]:
            x, y, row = 0.0, y + row + GAP, 0.0
        if places and y + height > room[1]:
            x, y, row = 0.0, 0.0, 0.0
            places.append(None)
        else:
            places.append((x, y))
        x, row = x + width + GAP, max(row, height)
    return places
