"""What a piece is for, in the words of a drawing."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from router.route.model import Route


def roles(route: Route) -> dict[str, str]:
    """Give the role of each piece, as the drawing table says it (``deliver/segments_csv.py``).

    Returns
    -------
    dict of str
        By piece id: ``main``, ``branch``, ``head_arm`` or ``hose``.
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
