"""One SVG sheet of a route: plan and sections. Needs nothing but the file to be seen or printed."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from router.deliver.draw_sheet import build_sheet, counts_text, status_text
from router.scenario.write import write_text

if TYPE_CHECKING:
    import os

    from router.route.model import Route
    from router.scenario.model import Scenario


def draw_svg(scenario: Scenario, route: Route) -> str:
    """Draw a route.

    Parameters
    ----------
    scenario : Scenario
        As read: in mm.
    route : Route
        The answer to that scenario.

    Returns
    -------
    str
        An SVG document, its user unit 1 mm on paper; the same bytes for the same input.
    """
    sheet = build_sheet(scenario, route)
    description = f"{status_text(route)}; {counts_text(route)}. {route.caution}"
    return sheet.canvas.svg(sheet.width, sheet.height, scenario.name, description)


def write_drawing(scenario: Scenario, route: Route, path: str | os.PathLike[str]) -> None:
    """Write the drawing of a route to ``path``, whole or not at all.

    Raises
    ------
    OSError
        If the folder cannot be written to; what stood at ``path`` stays.
    """
    write_text(Path(path), draw_svg(scenario, route))
