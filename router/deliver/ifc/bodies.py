"""How far pipe and fittings reach: the fitting to its take-out, the pipe from there on."""

from __future__ import annotations

from math import dist
from typing import TYPE_CHECKING, Final

from router.deliver.ifc.solids import plus
from router.route.model import Piece

if TYPE_CHECKING:
    from router.cutlist.ends import Ends
    from router.deliver.ifc.lines import Xyz
    from router.route.model import Fitting

_LEAST_MM: Final = 2.0
"""Pipe that is always shown between two fittings, however near they stand (or half of what there is)."""


class Bodies:
    """Measures what is shown of pieces and fittings.

    Parameters
    ----------
    ends
        Of the route: they know the take-outs.
    """

    def __init__(self, ends: Ends) -> None:
        self.ends = ends
        self.pieces = {piece.id: piece for piece in ends.route.pieces}

    def span(self, piece: Piece) -> tuple[float, float]:
        """Give where the pipe's body begins and ends, mm from the start of its axis."""
        whole = dist(piece.start, piece.end)
        out = [self._take_out(piece, which) for which in (0, 1)]
        room = max(whole - min(_LEAST_MM, whole / 2), 0.0)
        if sum(out) > room:
            out = [each * room / sum(out) for each in out]
        return out[0], whole - out[1]

    def _take_out(self, piece: Piece, which: int) -> float:
        fitting = self.ends.fittings.get(piece.fittings[which] or "")
        if fitting is None:
            return 0.0
        try:
            return max(float(self.ends.take_out(fitting, piece, which)[0]), 0.0)
        except ValueError:
            return 0.0

    def opening(self, fitting: Fitting, way: Xyz, dn: int) -> float:
        """Give how far an opening reaches that no piece comes to, mm."""
        far = plus(fitting.at, way, 1000.0)
        piece = Piece(
            id="",
            kind="arm",
            owner=fitting.owner,
            run=fitting.run,
            start=fitting.at,
            end=far,
            dn=dn,
            length=1000.0,
            make_up=1000.0,
            fittings=(fitting.id, None),
        )
        return self._take_out(piece, 0)
