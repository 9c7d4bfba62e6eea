"""Layouts on paper: a sheet for the plan and one for the sections, each with a viewport at its scale."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from router.deliver.draw_canvas import wrap
from router.deliver.dxf.layers import BOLD, PLAIN, SHEET, VIEWPORT
from router.deliver.sheets.paper import PAPERS

if TYPE_CHECKING:
    from ezdxf.document import Drawing

    from router.deliver.draw_canvas import Box

MARGIN, TITLE = 10.0, 28.0
LETTERS = 2.5


LONG = {
    "A4 x 3": (630.0, 297.0),
    "A4 x 4": (841.0, 297.0),
    "A3 x 3": (891.0, 420.0),
    "A3 x 4": (1189.0, 420.0),
}
"""Elongated sheets, mm (ISO 5457, from memory): for sections, which are long and low."""

SIZES = {name: PAPERS[name][:2] for name in ("A4", "A3", "A2", "A1", "A0")} | LONG


def paper_for(width: float, height: float) -> tuple[str, float, float]:
    """Give the smallest sheet of the ISO A series that takes a view in mm, or one of its own size.

    Returns
    -------
    name, width, height
    """
    room = (width + 2 * MARGIN + 4.0, height + 2 * MARGIN + TITLE + 4.0)
    for name, (wide, tall) in sorted(SIZES.items(), key=lambda item: item[1][0] * item[1][1]):
        for across, down in ((wide, tall), (tall, wide)):
            if room[0] <= across and room[1] <= down:
                return name, across, down
    return "own size", float(round(room[0])), float(round(room[1]))


def add_sheet(doc: Drawing, name: str, title: str, caution: str, box: Box, scale: int) -> None:
    """Add a layout that shows a part of model space.

    Parameters
    ----------
    doc
        The drawing.
    name, title, caution
        Of the layout, and what stands in its title block.
    box
        What it shows: lowest x and y, highest x and y, mm in model space.
    scale
        N of 1:N.
    """
    width, height = (box[2] - box[0]) / scale, (box[3] - box[1]) / scale
    paper, across, down = paper_for(width, height)
    layout: Any = doc.layout(name) if name in doc.layouts else doc.layouts.new(name)
    layout.page_setup(size=(across, down), margins=(0, 0, 0, 0), units="mm", name="", device="")
    # Dashes in a viewport are as long as in model space, as $PSLTSCALE says for all of the drawing.
    layout.dxf_layout.dxf.layout_flags &= ~1
    port = layout.add_viewport(
        center=(across / 2, (down + TITLE) / 2),
        size=(width, height),
        view_center_point=((box[0] + box[2]) / 2, (box[1] + box[3]) / 2),
        view_height=box[3] - box[1],
        dxfattribs={"layer": VIEWPORT},
    )
    port.dxf.flags = port.dxf.get("flags", 0) | 16384  # locked: the scale stays as it is
    frame = [
        (MARGIN, MARGIN),
        (across - MARGIN, MARGIN),
        (across - MARGIN, down - MARGIN),
        (MARGIN, down - MARGIN),
    ]
    layout.add_lwpolyline(frame, close=True, dxfattribs={"layer": SHEET, "lineweight": 50})
    layout.add_line((MARGIN, MARGIN + TITLE), (across - MARGIN, MARGIN + TITLE), dxfattribs={"layer": SHEET})
    rows = [(title, 3.5, BOLD), (f"{name}, 1:{scale} on {paper}, lengths in mm", LETTERS, PLAIN)]
    rows += [(line, 1.8, PLAIN) for line in wrap(caution, 2.5, across - 2 * MARGIN - 6.0)[:4]]
    y = MARGIN + TITLE - 2.0
    for text, tall, letters in rows:
        y -= tall * 1.7
        attributes = {"layer": SHEET, "style": letters}
        layout.add_text(text, height=tall, dxfattribs=attributes).set_placement((MARGIN + 3.0, y))
