"""Which fitting makes pipes meet as they do."""

from __future__ import annotations

from itertools import combinations
from typing import TYPE_CHECKING

import numpy as np

from router.route.parts import Workshop

if TYPE_CHECKING:
    from router.infer.meets import Vector
    from router.infer.remarks import Remarks
    from router.route.model import FittingKind, Piece
    from router.route.parts import Draft, Joint
    from router.trade.tables import Tables

STOCK_DEG = 3.0
"""Within this of 45 or 90 degrees an elbow is a stock one; so near to 0 there is none."""
INLINE_DEG = 15.0
"""Two openings so near to a straight line are the run of a tee."""


def angle(a: Vector, b: Vector) -> float:
    """Angle between two unit vectors, degrees."""
    return float(np.degrees(np.arctan2(np.linalg.norm(np.cross(a, b)), float(a @ b))))


def elbow_kind(a: Vector, b: Vector) -> FittingKind | None:
    """Elbow between two pipes that leave one place ``a`` and ``b``; ``None``: they go straight on."""
    turn = 180.0 - angle(a, b)
    if abs(turn - 90.0) <= STOCK_DEG:
        return "elbow_90"
    if abs(turn - 45.0) <= STOCK_DEG:
        return "elbow_45"
    return None if turn <= STOCK_DEG else "elbow_odd"


def in_line(ways: list[Vector], sizes: list[int]) -> tuple[int, int] | None:
    """Give the pair of openings that is a tee's or cross's run: in line, the larger first."""
    pairs = [
        (-max(sizes[i], sizes[j]), -angle(ways[i], ways[j]), i, j)
        for i, j in combinations(range(len(ways)), 2)
        if angle(ways[i], ways[j]) >= 180.0 - INLINE_DEG
    ]
    return min(pairs)[2:] if pairs else None


class Shop(Workshop):
    """A workshop for fittings that a person drew: what the tables lack is remarked, not refused."""

    def __init__(self, tables: Tables, remarks: Remarks) -> None:
        super().__init__(tables)
        self.remarks = remarks

    def take_out(self, joint: Joint, port: str) -> float:
        """Take-out of a port, mm; 0 with a remark where the tables have none."""
        if joint.kind in ("cap", "plug"):
            return 0.0
        try:
            return super().take_out(joint, port)
        except ValueError as fault:
            self.remarks.add("fitting", joint.id, f"{joint.id}: no take-out of its {port}: {fault}", joint.at)
            return 0.0

    def finish_piece(self, draft: Draft) -> Piece:
        """Give the piece's record; its length for make-up where its size is not made."""
        try:
            return super().finish_piece(draft)
        except ValueError as fault:
            self.remarks.add("size", draft.id, f"{draft.id}: {fault}", draft.start)
            bare = draft.joints
            draft.joints = (None, None)
            piece = super().finish_piece(draft)
            names = tuple(j.id if j is not None else None for j in bare)
            return piece.model_copy(update={"fittings": names})
