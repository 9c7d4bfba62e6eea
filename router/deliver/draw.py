"""One SVG sheet of a route: plan and sections. Needs nothing but the file to be seen or printed."""

from __future__ import annotations

import os
import tempfile
from pathlib import Path
from typing import TYPE_CHECKING

from router.deliver.draw_sheet import build_sheet, counts_text, status_text

if TYPE_CHECKING:
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
    target = Path(path)
    text = draw_svg(scenario, route)
    handle, name = tempfile.mkstemp(dir=target.parent, prefix=f".{target.name}.", suffix=".part")
    try:
        with os.fdopen(handle, "w", encoding="utf-8", newline="\n") as file:
            file.write(text)
        umask = os.umask(0)
        os.umask(umask)
        Path(name).chmod(0o666 & ~umask)
        Path(name).replace(target)
    except BaseException:
        Path(name).unlink(missing_ok=True)
        raise
