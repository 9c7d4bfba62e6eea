"""Sections along the runs, below the plan in model space, in true size."""

from __future__ import annotations

from typing import TYPE_CHECKING

from router.deliver import draw_style as style
from router.deliver.draw_labels import Placer
from router.deliver.draw_section import SectionView, section_size
from router.deliver.draw_section_data import section_data
from router.deliver.dxf.layers import SECTION
from router.deliver.dxf.transcribe import PIPE_LAYERS, Transcript
from router.deliver.sheets.recorder import Recorder, Words
from router.trade.tables import Tables

if TYPE_CHECKING:
    from ezdxf.document import Drawing
    from ezdxf.layouts.base import BaseLayout

    from router.deliver.draw_canvas import Box, Xy
    from router.deliver.draw_section_data import SectionData
    from router.route.model import Route
    from router.scenario.model import Scenario

GAP = 12.0
SCALES = (10, 20, 25, 50, 100)
WIDEST, COMPACT = 1100.0, 740.0
"""Longest section on paper, mm: what an A0 and what an A1 sheet takes."""
SHALLOW = 15.0
"""Sections lower than this on paper, mm, would hide their drops: they get the larger sheet."""
NARROWEST = 250.0
"""Sections stand side by side up to this width on paper, mm, or that of the longest."""


class Sections:
    """All sections of a route. ``scale``: N of 1:N that they are made to be plotted at."""

    def __init__(self, scenario: Scenario, route: Route, scale: int, letters: float) -> None:
        self.scenario = scenario
        self.data = section_data(scenario, route)
        self.scale = _scale(self.data, scale)
        self.size = self.scale * letters
        self.dropped = 0

    def draw(self, doc: Drawing, layout: BaseLayout, corner: Xy, plan_scale: int) -> Box:
        """Draw all sections to the right of and below ``corner`` (mm).

        Returns
        -------
        Box
            What they take: lowest x and y, highest x and y, mm.
        """
        canvas = Recorder()
        canvas.text("frame", (0.0, 4.0), "Sections along the runs", style.TITLE_SIZE, bold=True)
        note = f"drawn in true size, lettered for 1:{self.scale}; seen from the right of each run"
        canvas.text("frame", (0.0, 9.0), note, style.TEXT_SIZE)
        width, height = self._place(canvas)
        copy = Transcript(doc, layout, corner, self.size, dashes=self.scale / plan_scale)
        for name, commands in canvas.commands.items():
            copy.as_pipe = name in PIPE_LAYERS
            shown = [c for c in commands if name != "labels" or isinstance(c, Words)]
            copy.draw(shown, SECTION[name])
        return (corner[0], corner[1] - height * self.size, corner[0] + width * self.size, corner[1])

    def _place(self, canvas: Recorder) -> Xy:
        """Draw every section in rows on the canvas; give width and height of all, mm on it."""
        tables = Tables(self.scenario.system.standard, self.scenario.rules.tables or None)
        x, y, row, widest = 0.0, 14.0, 0.0, 120.0
        sizes = [section_size(item, self.size, 1.0) for item in self.data]
        room = max([NARROWEST, *(width for width, _ in sizes)])
        for item, (width, height) in zip(self.data, sizes, strict=True):
            if x > 0.0 and x + width > room:
                x, y, row = 0.0, y + row + GAP, 0.0
            self._one(canvas, item, (x, y, x + width, y + height), tables)
            x, row = x + width + GAP, max(row, height)
            widest = max(widest, x - GAP)
        return widest, y + row

    def _one(self, canvas: Recorder, item: SectionData, box: Box, tables: Tables) -> None:
        placer = Placer()
        view = SectionView(canvas, placer, item, box, self.size, 1.0, tables, self.scenario.system.standard)
        view.draw()
        placer.settle(canvas)
        self.dropped += placer.dropped


def _scale(data: list[SectionData], plan_scale: int) -> int:
    """Choose the finest usual scale that a sheet takes, no coarser than it must be for low sections.

    Returns
    -------
    int
        N of 1:N.
    """
    longest = max((d.stations[1] - d.stations[0] for d in data), default=0.0)
    heights = sorted(d.elevations[1] - d.elevations[0] for d in data)
    height = heights[len(heights) // 2] if heights else 0.0
    finest = max((s for s in SCALES if s <= min(plan_scale, 25)), default=SCALES[0])
    usual = [s for s in SCALES if s >= finest]
    large = next((s for s in usual if longest / s <= WIDEST), SCALES[-1])
    compact = next((s for s in usual if longest / s <= COMPACT), SCALES[-1])
    return compact if height / compact >= SHALLOW else large
