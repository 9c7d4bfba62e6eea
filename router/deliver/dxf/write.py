"""A scenario or a route as the text of a DXF file, the same bytes for the same input."""

from __future__ import annotations

import io
from contextlib import contextmanager
from typing import TYPE_CHECKING, Final

from router.deliver import draw_style as style
from router.deliver.draw_canvas import shorten, wrap
from router.deliver.draw_frame import plan_scale
from router.deliver.dxf.layers import BOLD, CAP, PLAIN, TEXT, set_up
from router.deliver.dxf.words import AROUND
from router.deliver.files import OutputError
from router.readers.dxf.names import APPID
from router.route.model import CAUTION
from router.scenario.carried import settings_text

if TYPE_CHECKING:
    from collections.abc import Iterator

    from ezdxf.document import Drawing

    from router.deliver.draw_canvas import Box
    from router.route.model import Route
    from router.scenario.model import Scenario

VERSION: Final = "R2010"
MILLIMETRES: Final = 4
SCALES: Final = (10, 20, 25, 50, 100, 200, 500)
LETTER_MM: Final = 2.5
"""Height of the labels' capitals on paper (one of the heights of ISO 3098, from memory)."""

LETTERS: Final = LETTER_MM / (CAP * style.LABEL_SIZE)
"""mm on paper of 1 mm of the canvas, where a label is as high as that."""

WIDEST: Final = (1189.0 - 40.0, 841.0 - 60.0)
"""Room for a plan on the largest sheet, mm."""


def scenario_dxf(scenario: Scenario, scale: int | None = None) -> str:
    """Give a scenario as a drawing that :func:`router.readers.dxf.read_dxf` reads back.

    Parameters
    ----------
    scenario
        In mm.
    scale
        N of the 1:N that texts and symbols are made for; default: by how close heads stand.

    Returns
    -------
    str
        DXF, in mm, at true places and elevations.

    Raises
    ------
    OutputError
        Without the extra dxf.
    """
    return _Maker(scenario, None, scale).text()


def route_dxf(scenario: Scenario, route: Route, scale: int | None = None) -> str:
    """Give a route with its scenario as a drawing: plan and sections.

    Parameters
    ----------
    scenario, route
        In mm.
    scale
        N of the 1:N that the plan's texts and symbols are made for; default: by how close heads stand.

    Returns
    -------
    str
        DXF, in mm. The plan stands at true places and elevations, the sections below it.

    Raises
    ------
    OutputError
        Without the extra dxf.
    """
    return _Maker(scenario, route, scale).text()


def _extent(scenario: Scenario, route: Route | None) -> Box:
    points = [p for run in scenario.runs for p in run.plan]
    points += [head.at[:2] for head in scenario.heads]
    for areas in (scenario.obstructions, scenario.ceilings, scenario.keep_out):
        points += [p for area in areas for p in area.polygon]
    if route is not None:
        points += [(x, y) for piece in route.pieces for x, y, _ in (piece.start, piece.end)]
    xs, ys = [p[0] for p in points], [p[1] for p in points]
    return (min(xs), min(ys), max(xs), max(ys))


def _scale(scenario: Scenario, box: Box) -> int:
    """Choose the scale at which neighbouring symbols have room, coarser where no sheet takes it."""
    wanted = plan_scale(scenario, [box[:2], box[2:]], 0.0) * 1.2 / LETTERS
    start = max((s for s in SCALES if s <= wanted), default=SCALES[0])
    width, height = box[2] - box[0], box[3] - box[1]
    for scale in (s for s in SCALES if start <= s <= max(start, 100)):
        room = 2 * AROUND * LETTERS
        if width / scale + room <= WIDEST[0] and height / scale + room <= WIDEST[1]:
            return scale
    return max(start, 100)


class _Maker:
    def __init__(self, scenario: Scenario, route: Route | None, scale: int | None) -> None:
        self.scenario, self.route = scenario, route
        self.box = _extent(scenario, route)
        self.scale = scale or _scale(scenario, self.box)
        self.size = self.scale * LETTERS

    def text(self) -> str:
        with _fixed():
            doc = self._doc()
            stream = io.StringIO()
            doc.write(stream)
        return stream.getvalue()

    def _doc(self) -> Drawing:
        # Loaded here: the extra dxf is wanted only where a drawing is.
        from ezdxf.filemanagement import new

        from router.deliver.dxf.items import draw_items
        from router.deliver.dxf.pieces import draw_parts, draw_pieces
        from router.deliver.dxf.sections import Sections
        from router.deliver.dxf.sheets import add_sheet
        from router.deliver.dxf.words import write_words
        from router.readers.dxf.carrying import carry_settings

        doc = new(VERSION, setup=False, units=MILLIMETRES)
        doc.appids.add(APPID)
        set_up(doc, self.scale)
        carry_settings(doc, settings_text(self.scenario))
        space = doc.modelspace()
        draw_items(doc, space, self.scenario, self.size)
        if self.route is not None:
            draw_pieces(doc, space, self.route)
            draw_parts(doc, space, self.scenario, self.route, self.size)
        dropped = write_words(doc, space, self.scenario, self.route, self.size, self.box)
        room = AROUND * self.size
        plan = (self.box[0] - room, self.box[1] - room, self.box[2] + room, self.box[3] + room)
        bottom = self._title(doc, dropped)
        title, caution = shorten(self.scenario.name, 80), self._caution()
        doc.layouts.rename("Layout1", "Plan")
        add_sheet(doc, "Plan", title, caution, plan, self.scale)
        whole = (plan[0], bottom, plan[2], plan[3])
        if self.route is not None:
            sections = Sections(self.scenario, self.route, self.scale, LETTERS)
            corner = (self.box[0], bottom - 5.0 * self.size)
            taken = sections.draw(doc, space, corner, self.scale)
            add_sheet(doc, "Sections", title, caution, _wider(taken, 5.0 * sections.size), sections.scale)
            whole = (min(plan[0], taken[0]), taken[1], max(plan[2], taken[2]), plan[3])
        space.reset_extents((whole[0], whole[1], 0.0), (whole[2], whole[3], 0.0))
        centre = ((whole[0] + whole[2]) / 2, (whole[1] + whole[3]) / 2)
        doc.set_modelspace_vport(1.05 * max(whole[3] - whole[1], (whole[2] - whole[0]) / 1.6), centre)
        return doc

    def _caution(self) -> str:
        return f"Caution: {CAUTION if self.route is None else self.route.caution}"

    def _title(self, doc: Drawing, dropped: int) -> float:
        """Write title and caution under the plan; give the y of their lower end."""
        what = "Scenario" if self.route is None else "Route"
        rows = [(f"{what}: {shorten(self.scenario.name, 80)}", style.TITLE_SIZE, BOLD)]
        rows.append((f"Plan, 1:{self.scale}, lengths and elevations in mm", style.TEXT_SIZE, PLAIN))
        if self.route is not None:
            unserved = [head.id for head in self.route.heads if not head.served]
            if unserved:
                few = ", ".join(unserved[:12]) + (", ..." if len(unserved) > 12 else "")
                rows.append((shorten(f"NOT SERVED: {few}", 120), style.TEXT_SIZE, BOLD))
        if dropped:
            rows.append((f"{dropped} labels left out for want of room", style.SMALL_SIZE, PLAIN))
        width = max((self.box[2] - self.box[0]) / self.size, 150.0)
        rows += [(line, style.SMALL_SIZE, PLAIN) for line in wrap(self._caution(), style.SMALL_SIZE, width)]
        y = self.box[1] - (AROUND + 2.0) * self.size
        for text, tall, letters in rows:
            y -= 1.5 * tall * self.size
            height = round(CAP * tall * self.size, 6)
            label = doc.modelspace().add_text(
                text.replace("%%", "% %"), height=height, dxfattribs={"layer": TEXT, "style": letters}
            )
            label.set_placement((self.box[0], y))
        return y - 4.0 * self.size


def _wider(box: Box, by: float) -> Box:
    return (box[0] - by, box[1] - by, box[2] + by, box[3] + by)


@contextmanager
def _fixed() -> Iterator[None]:
    """Write no time and no random ids while a drawing is made."""
    try:
        from ezdxf import options  # type: ignore[attr-defined]  # public, as its manual says
    except ImportError as error:
        raise OutputError("DXF needs the extra dxf: pip install 'branch-drop-router[dxf]'") from error
    before = options.write_fixed_meta_data_for_testing
    options.write_fixed_meta_data_for_testing = True
    try:
        yield
    finally:
        options.write_fixed_meta_data_for_testing = before
