"""Barrels of dry heads and hoses: ordered to length, not cut from pipe."""

from __future__ import annotations

from math import dist, pi
from typing import TYPE_CHECKING

from router.cutlist.ends import WORDS
from router.cutlist.pieces import head_at
from router.cutlist.records import Ordered

if TYPE_CHECKING:
    from router.cutlist.ends import Ends
    from router.route.model import Piece


def ordered_of(ends: Ends) -> list[Ordered]:
    """Give all barrels and hoses; a hose of several straight stretches is one."""
    owners = {p: t.id for t in ends.route.takeoffs for p in t.pieces}
    found = []
    hoses: list[list[Piece]] = []
    for piece in ends.route.pieces:
        if piece.kind == "barrel":
            found.append(_one(ends, "barrel", [piece], owners.get(piece.id, "")))
        elif piece.kind == "hose":
            if hoses and hoses[-1][-1].owner == piece.owner and dist(hoses[-1][-1].end, piece.start) < 0.01:
                hoses[-1].append(piece)
            else:
                hoses.append([piece])
    found += [_one(ends, "hose", pieces, owners.get(pieces[0].id, "")) for pieces in hoses]
    return found


def _one(ends: Ends, kind: str, pieces: list[Piece], takeoff: str) -> Ordered:
    first, last = pieces[0], pieces[-1]
    centres = sum(piece.length for piece in pieces)
    fitting = ends.fittings.get(first.fittings[0] or "")
    starts = f"{WORDS[fitting.kind]} {fitting.id}" if fitting is not None else "open end"
    try:
        out = ends.take_out(fitting, first, 0)[0] if fitting is not None else 0.0
    except ValueError:
        out = 0.0
    stock = _stock_hose(ends, centres, len(pieces) - 1) if kind == "hose" else None
    return Ordered(
        tag=first.id,
        kind="hose" if kind == "hose" else "barrel",
        run=first.run,
        takeoff=takeoff,
        head=head_at(ends, last),
        dn=first.dn,
        centres=round(centres, 3),
        face=round(centres - out, 3),
        stock=stock,
        starts=starts,
    )


def _stock_hose(ends: Ends, way: float, bends: int) -> float | None:
    """Give the shortest stock hose for a way drawn with square corners: bends cut them off."""
    rules, tables = ends.scenario.rules, ends.tables
    radius = tables.hose_bend_radius() if rules.hose_bend_radius is None else rules.hose_bend_radius
    needs = way - bends * (2 - pi / 2) * radius
    for length in sorted(tables.hose_lengths() if rules.hose_lengths is None else rules.hose_lengths):
        most = tables.hose_max_bends(length) if rules.hose_max_bends is None else rules.hose_max_bends
        if length >= needs - 0.01 and most >= bends:
            return length
    return None
