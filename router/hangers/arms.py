"""The arms of a takeoff, and what is asked at each head."""

from __future__ import annotations

from math import dist, hypot
from typing import TYPE_CHECKING

import numpy as np
import shapely

from router.trade.hangers import HIGH_PRESSURE_BAR

if TYPE_CHECKING:
    from router.hangers.structure import Floats
    from router.route.model import HeadResult, Piece, Takeoff
    from router.scenario.model import Scenario

NO_ARM = ("run", "hose", "barrel")
"""Kinds of piece that are no part of an arm: a listed hose has its own anchoring."""
JOIN_MM = 1.0


class Heads:
    """The heads of a scenario: which are upright, and which have the shorter limits."""

    def __init__(self, scenario: Scenario) -> None:
        self.by_id = {head.id: head for head in scenario.heads}
        self.high = (scenario.system.pressure or 0.0) > HIGH_PRESSURE_BAR
        shapes = [shapely.Polygon(item.polygon) for item in scenario.ceilings if len(item.polygon) >= 3]
        self.ceilings = shapely.STRtree(shapes) if shapes else None

    def uprights(self, results: list[HeadResult]) -> Floats:
        """Return where the upright heads are in plan, shape (n, 2), mm."""
        kinds = {name: head.kind for name, head in self.by_id.items()}
        at = [result.inlet[:2] for result in results if kinds.get(result.id) == "upright"]
        return np.array(at, dtype=float).reshape(-1, 2)

    def short(self, name: str) -> bool:
        """Whether a head is a pendent below a ceiling and the pressure is over 100 psi (6.9 bar)."""
        head = self.by_id.get(name)
        if not self.high or head is None or head.kind != "pendent":
            return False
        if self.ceilings is None:
            return True  # none are drawn, which does not say that there are none
        return len(self.ceilings.query(shapely.Point(head.at[:2]), predicate="intersects")) > 0


def way_to(head: HeadResult, takeoff: Takeoff, pieces: dict[str, Piece]) -> list[Piece]:
    """Return the pieces of a takeoff that lead to a head, in the order of the flow."""
    own = [pieces[name] for name in takeoff.pieces if name in pieces]
    ends = [piece for piece in own if _near(piece.end, head.inlet)]
    if not ends:
        return []
    at = min(ends, key=lambda piece: (dist(piece.end, head.inlet), piece.id))
    out = [at]
    while True:
        before = next((p for p in own if dist(p.end, at.start) <= JOIN_MM and p not in out), None)
        if before is None:
            return [piece for piece in out[::-1] if piece.kind not in NO_ARM]
        at = before
        out.append(at)


def level_length(pieces: list[Piece]) -> float:
    """Return the cumulative plan length of pieces, mm."""
    return sum(hypot(p.end[0] - p.start[0], p.end[1] - p.start[1]) for p in pieces)


def _near(point: tuple[float, float, float], inlet: tuple[float, float, float]) -> bool:
    """Whether a pipe's end is at an inlet: in plan it may be off by the alignment's slack."""
    return hypot(point[0] - inlet[0], point[1] - inlet[1]) <= 50.0 and abs(point[2] - inlet[2]) <= JOIN_MM
