"""Where the fabricator drills uncut pipe: outlets by station and direction."""

from __future__ import annotations

from math import atan2, degrees
from typing import TYPE_CHECKING

from router.cutlist.ends import dot
from router.cutlist.records import Outlet

if TYPE_CHECKING:
    from router.cutlist.ends import Ends
    from router.route.model import Fitting, Piece, Xyz

_QUARTERS = {0: "top", 90: "right", 180: "bottom", 270: "left"}
_NEAR_DEG = 5.0
"""So near to a quarter an outlet is called by its word alone."""


def _cross(a: Xyz, b: Xyz) -> Xyz:
    return (a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0])


def _unit(a: Xyz) -> Xyz:
    length = max(dot(a, a) ** 0.5, 1e-12)
    return (a[0] / length, a[1] / length, a[2] / length)


def clock(piece: Piece, way: Xyz) -> float | None:
    """Give the angle of a direction about a pipe, looking along it from its start.

    Parameters
    ----------
    piece
        The pipe.
    way
        Direction of the outlet, a vector of any length.

    Returns
    -------
    float or None
        Degrees clockwise, 0 to under 360. 0 is up; on a vertical pipe, +y.
        ``None`` if it points along the pipe.
    """
    ahead = _unit(
        (piece.end[0] - piece.start[0], piece.end[1] - piece.start[1], piece.end[2] - piece.start[2])
    )
    zenith: Xyz = (0.0, 0.0, 1.0) if abs(ahead[2]) < 0.99 else (0.0, 1.0, 0.0)
    right = _unit(_cross(ahead, zenith))
    up = _cross(right, ahead)
    x, y = dot(way, right), dot(way, up)
    if x * x + y * y < 0.25 * dot(way, way):
        return None
    return round(degrees(atan2(x, y)), 1) % 360.0


def direction(angle: float) -> str:
    """Name a clock angle: ``top``, ``right``, ``bottom``, ``left``, else by the hour, as ``2 o'clock``."""
    quarter = round(angle / 90.0) * 90
    if abs(angle - quarter) <= _NEAR_DEG:
        return _QUARTERS[quarter % 360]
    return f"{round(angle / 30.0) % 12 or 12} o'clock"


def outlets_of(ends: Ends, piece: Piece, before: float) -> tuple[Outlet, ...]:
    """Give the outlets on a piece, by station.

    Parameters
    ----------
    ends
        Of the route.
    piece
        A run piece.
    before
        How far the bare pipe begins behind the piece's start, mm: stations are
        measured from the pipe's own end, where the fabricator puts the tape.
    """
    found = []
    for name, (seat, along) in ends.seats.items():
        if seat.id != piece.id:
            continue
        fitting = ends.fittings[name]
        for k, way in enumerate(fitting.directions):
            angle = clock(piece, way)
            if angle is None or k >= len(fitting.sizes):
                continue
            found.append(_outlet(fitting, along - before, fitting.sizes[k], angle))
    return tuple(sorted(found, key=lambda o: (o.station, o.clock, o.fitting)))


def _outlet(fitting: Fitting, station: float, dn: int, angle: float) -> Outlet:
    return Outlet(fitting.id, round(station, 3), dn, direction(angle), angle)
