"""Changes of level where one run ends and another goes straight on from it over or under its end."""

from __future__ import annotations

from math import atan2, degrees
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from router.route.model import Piece, Takeoff

STRAIGHT_ON_DEG = 3.0
FLAT_MM = 1.0
"""Pipe shorter than this in plan has no direction there."""


def between_runs(takeoffs: list[Takeoff], pieces: list[Piece]) -> int:
    """Count them: elbow, upright pipe and elbow, and on in the same direction.

    Within one run the same pipe is a change of level: where a line is cut into
    runs makes no difference.
    """
    ends = {t.run: t.child_runs[0] for t in takeoffs if _is_upright_end(t)}
    if not ends:
        return 0
    first: dict[str, Piece] = {}
    last: dict[str, Piece] = {}
    for piece in pieces:
        if piece.kind == "run" and max(map(abs, _way(piece))) > FLAT_MM:
            first.setdefault(piece.run, piece)
            last[piece.run] = piece
    return sum(
        run in last and child in first and _turn(last[run], first[child]) <= STRAIGHT_ON_DEG
        for run, child in ends.items()
    )


def _is_upright_end(takeoff: Takeoff) -> bool:
    return takeoff.ends_run and len(takeoff.child_runs) == 1 and takeoff.side in ("top", "bottom")


def _way(piece: Piece) -> tuple[float, float]:
    """Give the piece's way in plan, mm."""
    return piece.end[0] - piece.start[0], piece.end[1] - piece.start[1]


def _turn(before: Piece, after: Piece) -> float:
    """Give the angle in plan between two pieces, degrees."""
    (ax, ay), (bx, by) = _way(before), _way(after)
    return abs(degrees(atan2(ax * by - ay * bx, ax * bx + ay * by)))
