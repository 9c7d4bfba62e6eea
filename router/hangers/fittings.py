"""How much of a pipe each of its fittings covers."""

from __future__ import annotations

from math import dist, hypot
from typing import TYPE_CHECKING

from router.trade.joining import joining_for

if TYPE_CHECKING:
    from router.route.model import Fitting, Piece, Route, Xyz
    from router.scenario.model import Scenario
    from router.trade.tables import Tables


class Fittings:
    """The fittings of a route, by what they cover of the pipe that meets them."""

    def __init__(self, scenario: Scenario, route: Route, tables: Tables) -> None:
        self.tables = tables
        self.by_id = {fitting.id: fitting for fitting in route.fittings}
        given = {run.id: run.joining for run in scenario.runs}
        written = {run.id: run.joining for run in route.runs}
        largest: dict[str, int] = {}
        on_run: dict[str, str] = {}
        for piece in route.pieces:
            if piece.kind == "run":
                largest[piece.run] = max(piece.dn, largest.get(piece.run, 0))
                for name in piece.fittings:
                    # where a child's pipe meets its parent's fitting, the parent's comes first in the route
                    if name is not None:
                        on_run.setdefault(name, piece.run)
        self.joinings = {
            run: given.get(run) or written.get(run) or joining_for(scenario.system.joining, dn)
            for run, dn in largest.items()
        }
        self.on_run = on_run
        self._straight: dict[str, tuple[int, int]] = {}

    def covers(self, name: str | None, way: Xyz) -> float:
        """Return a fitting's centre-to-end length towards a pipe that leaves it ``way``, mm; 0 if unknown."""
        fitting = self.by_id.get(name or "")
        if fitting is None or fitting.kind in ("plug", "cap"):
            return 0.0
        sizes, at = fitting.sizes, _opening(fitting, way)
        large, small = max(sizes), min(sizes)
        run_dn, port = large, "run" if sizes[at] == large else "outlet"
        if fitting.kind in ("tee", "cross"):
            i, j = self._straight.get(fitting.id) or self._straight.setdefault(fitting.id, _straight(fitting))
            run_dn = max(sizes[i], sizes[j])
            small = max((size for k, size in enumerate(sizes) if k not in (i, j)), default=run_dn)
            port = "run" if at in (i, j) else "outlet"
        elif fitting.kind == "outlet":
            return self.half_outlet(fitting, large, "outlet")
        run = self.on_run.get(fitting.id)
        joining = "threaded" if run is None else self.joinings.get(run, "threaded")
        return self._take_out(fitting.kind, port, run_dn, small, joining)

    def half_outlet(self, outlet: Fitting, dn: int, port: str = "run") -> float:
        """Return half of what an outlet covers of the uncut pipe ``dn`` it sits on, mm."""
        joining = self.joinings.get(outlet.run, "welded")
        return self._take_out("outlet", port, dn, min(outlet.sizes), joining)

    def _take_out(self, kind: str, port: str, dn: int, other: int, joining: str) -> float:
        try:
            return self.tables.take_out(kind, port, dn, other, joining=joining)
        except ValueError:
            return 0.0  # a size that is not made: other rules speak of it

    def ends(self, piece: Piece) -> tuple[float, float]:
        """Return what the fittings at a piece's two ends cover of it, mm."""
        length = dist(piece.start, piece.end) or 1.0
        (ax, ay, az), (bx, by, bz) = piece.start, piece.end
        x, y, z = (bx - ax) / length, (by - ay) / length, (bz - az) / length
        return self.covers(piece.fittings[0], (x, y, z)), self.covers(piece.fittings[1], (-x, -y, -z))


def seat(outlet: Fitting, piece: Piece, within: float = 1.0) -> float | None:
    """Return how far from a piece's start an outlet sits on it, mm; ``None`` if it does not."""
    length = dist(piece.start, piece.end)
    if length <= 0.0:
        return None
    along = [(b - a) / length for a, b in zip(piece.start, piece.end, strict=True)]
    t = sum((p - a) * c for p, a, c in zip(outlet.at, piece.start, along, strict=True))
    if not -within <= t <= length + within:
        return None
    foot = [a + t * c for a, c in zip(piece.start, along, strict=True)]
    return t if dist(outlet.at, foot) <= within else None


def upright(piece: Piece) -> bool:
    """Whether a piece is vertical: nothing hangs on it."""
    return hypot(piece.end[0] - piece.start[0], piece.end[1] - piece.start[1]) < 0.1 * dist(
        piece.start, piece.end
    )


def _opening(fitting: Fitting, way: Xyz) -> int:
    x, y, z = way
    turns = [a * x + b * y + c * z for a, b, c in fitting.directions]
    return turns.index(max(turns))


def _straight(fitting: Fitting) -> tuple[int, int]:
    """Return the pair of openings most nearly in line; of two such pairs the larger size."""
    ways, sizes = fitting.directions, fitting.sizes
    pairs = [(i, j) for i in range(len(ways)) for j in range(i + 1, len(ways))]

    def rank(pair: tuple[int, int]) -> tuple[float, int]:
        i, j = pair
        (a, b, c), (x, y, z) = ways[i], ways[j]
        turn = a * x + b * y + c * z
        return round(turn, 2), -max(sizes[i], sizes[j])

    return min(pairs, key=rank)
