"""All sheets of a route, in order."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from router.cutlist import cut_list
from router.deliver.draw_sheet import plural
from router.deliver.sheets.isometrics import isometric_pages
from router.deliver.sheets.lists import list_pages
from router.deliver.sheets.page import Block, Page, finish
from router.deliver.sheets.pdf import pdf_bytes, unreadable
from router.deliver.sheets.plans import plan_pages
from router.deliver.sheets.sections import section_pages

if TYPE_CHECKING:
    from router.deliver.sheets.paper import Paper
    from router.route.model import Route
    from router.scenario.model import Scenario

PDF = "sheets.pdf"


@dataclass(frozen=True)
class Set:
    """Finished sheets on one paper."""

    title: str
    caution: str
    paper: Paper
    pages: list[Page]

    @property
    def dropped(self) -> int:
        """Labels that found no place, over all sheets."""
        return sum(page.dropped for page in self.pages)

    def svgs(self) -> dict[str, str]:
        """Give every sheet as an SVG document, by file name.

        Returns
        -------
        dict of str to str
        """
        return {
            f"{k:02d}-{page.name}.svg": page.canvas.svg(
                self.paper.width, self.paper.height, f"{self.title}: {page.title}", self.caution
            )
            for k, page in enumerate(self.pages, 1)
        }

    def pdf(self) -> bytes:
        """Give all sheets as one PDF.

        Returns
        -------
        bytes
        """
        canvases = [page.canvas for page in self.pages]
        return pdf_bytes(canvases, self.paper.width, self.paper.height, self.title)


def sheet_set(scenario: Scenario, route: Route, paper: Paper, date: str = "") -> Set:
    """Draw all sheets.

    Parameters
    ----------
    scenario, route
        In mm.
    paper
        Size, and whether lengths are in feet and inches.
    date
        What stands in the title block; empty to be filled in by hand.

    Returns
    -------
    Set

    Raises
    ------
    ValueError
        As :func:`router.cutlist.cut_list`.
    """
    cuts = cut_list(scenario, route)
    pages = plan_pages(scenario, route, cuts, paper)
    pages += section_pages(scenario, route, paper)
    pages += isometric_pages(scenario, route, cuts, paper)
    notes = []
    unserved = [h.id for h in route.heads if not h.served]
    if unserved:
        few = ", ".join(unserved[:12]) + (", ..." if len(unserved) > 12 else "")
        notes.append(f"NOT SERVED: {plural(len(unserved), 'head')}: {few}.")
    dropped = sum(page.dropped for page in pages)
    if dropped:
        notes.append(f"{plural(dropped, 'label')} left out for want of room; title blocks say where.")
    spelled = unreadable([page.canvas for page in pages])
    if spelled:
        notes.append(
            f"{plural(len(spelled), 'name')} in letters that the PDF's fonts lack: there without accents, or by "
            "Unicode numbers in brackets. The SVG sheets have them as given."
        )
    pages += list_pages(scenario, route, cuts, paper, notes)
    block = Block(scenario, route, paper, len(pages), date)
    for number, page in enumerate(pages, 1):
        finish(page, number, block)
    return Set(scenario.name, route.caution, paper, pages)
