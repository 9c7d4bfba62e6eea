"""A route as a plain drawing: one CSV row per straight pipe, no fittings."""

from __future__ import annotations

import csv
import io
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from router.readers.drawn import DrawnPipe
    from router.route.model import Route

COLUMNS = ("x1", "y1", "z1", "x2", "y2", "z2", "size", "id", "role")
DRAWN_COLUMNS = (*COLUMNS, "line_id", "head_ids")


def write_segments(route: Route, *, decimals: int = 3) -> str:
    """Spell a route's pipes as a person would draw them: axes, centre to centre, and sizes.

    Parameters
    ----------
    route
        Any route.
    decimals
        Digits behind the point, mm; 0 draws to the millimetre.

    Returns
    -------
    str
        CSV with a header row; lengths in mm, sizes as DN; roles as :func:`roles` gives them.
    """
    role_of = roles(route)
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(COLUMNS)
    for piece in route.pieces:
        ends = [_number(value, decimals) for value in (*piece.start, *piece.end)]
        writer.writerow([*ends, piece.dn, piece.id, role_of[piece.id]])
    return out.getvalue()


def write_drawing(pipes: list[DrawnPipe], *, decimals: int = 3) -> str:
    """Spell pipes as another program drew them.

    Parameters
    ----------
    pipes
        Lines and arms, mm.
    decimals
        Digits behind the point, mm.

    Returns
    -------
    str
        CSV that ``check``, ``compare`` and ``draw`` take as a drawing; an unknown size is left empty.
    """
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(DRAWN_COLUMNS)
    for pipe in pipes:
        ends = [_number(value, decimals) for value in (*pipe.a, *pipe.b)]
        writer.writerow([*ends, pipe.dn or "", pipe.id, pipe.role, pipe.line, ";".join(pipe.heads)])
    return out.getvalue()


def roles(route: Route) -> dict[str, str]:
    """Give what each piece is for, in the words of a drawing.

    Returns
    -------
    dict of str
        By piece id: ``main`` for a run that feeds others and for nipples between runs, ``branch``
        for other runs, ``head_arm`` for what serves heads, ``hose`` for a hose.
    """
    feeding = {takeoff.run for takeoff in route.takeoffs if takeoff.child_runs}
    between = {takeoff.id for takeoff in route.takeoffs if takeoff.child_runs}
    found = {}
    for piece in route.pieces:
        if piece.kind == "run":
            found[piece.id] = "main" if piece.run in feeding else "branch"
        elif piece.kind == "hose":
            found[piece.id] = "hose"
        else:
            found[piece.id] = "main" if piece.owner in between else "head_arm"
    return found


def _number(value: float, decimals: int) -> str:
    text = f"{value:.{decimals}f}"
    if "." in text:
        text = text.rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text
