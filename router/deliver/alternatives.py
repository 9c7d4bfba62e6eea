"""Alternatives of a route into a folder: routes, front and picture, all of them or none."""

from __future__ import annotations

import json
import re
from contextlib import suppress
from typing import TYPE_CHECKING

from router.alternatives import OWN, Alternatives, route_name
from router.deliver.alternatives_draw import front_svg
from router.deliver.folder import check_folder, save_all, unfinished
from router.deliver.route_json import route_text

if TYPE_CHECKING:
    from collections.abc import Iterable
    from pathlib import Path

    from router.alternatives import Found

LIST = "alternatives.json"
PICTURE = "front.svg"


def check_alternatives_folder(folder: Path, routes: int, keep: Iterable[Path]) -> None:
    """Refuse a folder that the alternatives could not be written to.

    Parameters
    ----------
    folder
        Where they go; it is made if only itself is missing.
    routes
        So many routes at the most.
    keep
        Files that must not be overwritten.

    Raises
    ------
    OutputError
        Names the place and the reason.
    """
    check_folder(folder, [LIST, PICTURE, OWN, *(route_name(n + 1) for n in range(routes))], keep)


def alternatives_text(record: Alternatives) -> str:
    """Give the list of alternatives as JSON text, the same text for the same scenario.

    Returns
    -------
    str
    """
    return json.dumps(record.model_dump(mode="json"), indent=2, ensure_ascii=False) + "\n"


def write_alternatives(found: Found, folder: Path) -> None:
    """Write routes, list and picture; routes of an earlier list there that are not made anew go.

    Raises
    ------
    OutputError
        If one cannot be written; then none is.
    """
    files = {name: route_text(route).encode() for name, route in found.routes.items()}
    files[LIST] = alternatives_text(found.record).encode()
    files[PICTURE] = front_svg(found.record).encode()
    save_all(folder, files, gone=_earlier(folder) - set(files))


def _earlier(folder: Path) -> set[str]:
    """Names of the route files of an earlier list of ours, and of a run that was ended while writing."""
    named = unfinished(folder)
    with suppress(OSError, ValueError):
        record = Alternatives.model_validate_json((folder / LIST).read_text(encoding="utf-8"))
        points = (*record.points, record.own)
        named |= {point.route for point in points if point is not None and point.route is not None}
    return {name for name in named if re.fullmatch(r"route_(\d+|own)\.json", name)}
