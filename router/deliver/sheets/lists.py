"""The last sheets: legend, notes, and the list of marks as the cut list has them."""

from __future__ import annotations

from typing import TYPE_CHECKING

from router.cutlist.lengths import length_text
from router.deliver import draw_style as style
from router.deliver.draw_canvas import shorten, text_width, wrap
from router.deliver.draw_legend import LEGEND_WIDTH, legend_entries, write_entries
from router.deliver.draw_section_data import section_data
from router.deliver.sheets.isometrics import ordered_text
from router.deliver.sheets.page import HEADING, Page, area, heading
from router.trade.sizes import label

if TYPE_CHECKING:
    from router.cutlist import CutList
    from router.deliver.sheets.paper import Paper
    from router.route.model import Route
    from router.scenario.model import Scenario

ROW = 3.9
COLUMNS = (("mark", 13.0), ("quantity", 15.0), ("size", 19.0), ("cut length", 27.0), ("tags", 0.0))
NOTES_WIDTH = 88.0
TABLE_WIDTH = 140.0

NOTES = (
    "Plans and sections are to scale on paper of the size given; isometrics are not.",
    "A mark is shared by all cuts that are alike; a tag names one cut. Both are the cut list's.",
    "Cut lengths are bare pipe, between the ends of its threads or preparations. Dimensions are centre to centre.",
    "Vertical pieces stand as a point in plan; the isometrics tag every piece.",
    "Levels are of the pipe's centre line. The pitch is in the levels given at both ends.",
    "A section is seen from the run's right side, its supply end at the left.",
)


def list_pages(
    scenario: Scenario, route: Route, cuts: CutList, paper: Paper, notes: list[str]
) -> list[Page]:
    """Draw legend, notes and list of marks.

    Returns
    -------
    list of Page
    """
    x0, y0, x1, y1 = area(paper)
    rows = [
        (g.mark, str(len(g.tags)), label(g.dn, cuts.standard), length_text(g.units, cuts.standard), " ".join(g.tags))
        for g in cuts.groups
    ]
    rows += [
        (item.tag, "1", label(item.dn, cuts.standard), ordered_text(item.face, paper), f"{item.kind}, to order")
        for item in cuts.ordered
    ]
    page = Page("Legend, notes and marks", "-", "marks-1")
    heading(page, (x0, y0 + 4.0), "Legend")
    entries = legend_entries(scenario, route, section_data(scenario, route))
    bottom = write_entries(page.canvas, (x0, y0 + HEADING + 2.0), entries)
    left = x0 + LEGEND_WIDTH + 4.0
    if bottom > y1:
        page.notes.append("legend is longer than the sheet")
    heading(page, (left, y0 + 4.0), "Notes")
    y = y0 + HEADING + 2.0
    for text in (*NOTES, *notes, *cuts.remarks, f"Caution: {route.caution}"):
        for k, line in enumerate(wrap(text, style.TEXT_SIZE, NOTES_WIDTH - 4.0)):
            if y > y1 - 2.0:
                break
            if k == 0:
                page.canvas.text("frame", (left, y), "-", style.TEXT_SIZE)
            page.canvas.text("frame", (left + 2.5, y), line, style.TEXT_SIZE)
            y += style.TEXT_SIZE * 1.35
        y += 1.2
    pages = [page]
    left += NOTES_WIDTH + 4.0
    first = left
    start = 0
    while start < len(rows) or start == 0:
        width = min(TABLE_WIDTH, x1 - left)
        if width < min(TABLE_WIDTH, x1 - first) - 1e-6:
            pages.append(Page("List of marks", "-", f"marks-{len(pages) + 1}"))
            left = x0
            continue
        room = int((y1 - y0 - HEADING - 6.0) / ROW)
        start += _table(pages[-1], (left, y0), width, rows[start : start + room], more=start > 0)
        left += width + 4.0
        if not rows:
            break
    return pages


def _table(page: Page, at: tuple[float, float], width: float, rows: list[tuple[str, ...]], *, more: bool) -> int:
    """Write rows of the list; returns how many."""
    heading(page, (at[0], at[1] + 4.0), "Marks" + (" (continued)" if more else ""))
    y = at[1] + HEADING + 2.0
    widths = [w or width - sum(w for _, w in COLUMNS) for _, w in COLUMNS]

    def write(cells: tuple[str, ...], *, bold: bool) -> None:
        x = at[0]
        for cell, wide in zip(cells, widths, strict=True):
            limit = len(cell)
            while limit > 1 and text_width(shorten(cell, limit), style.TEXT_SIZE) > wide - 1.5:
                limit -= 1
            page.canvas.text("frame", (x, y), shorten(cell, limit), style.TEXT_SIZE, bold=bold)
            x += wide

    write(tuple(name for name, _ in COLUMNS), bold=True)
    page.canvas.line("frame", (at[0], y + 1.0), (at[0] + width, y + 1.0), style.INK, 0.25)
    for cells in rows:
        y += ROW
        write(cells, bold=False)
    return len(rows)
