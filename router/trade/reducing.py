"""Reducing fittings in one piece, and the bushings that serve where none is made.

NFPA 13 wants a one-piece reducing fitting at every change of size and lets a
bushing serve only where the fitting is not made (from memory). Which ones are
made stands in ``data/reducing_fittings.json``: the pairs of the reducing tee
table are known in part (B, C), larger ones and tees whose run reduces are
assumed (D). Every row may be given in the scenario.
"""

from __future__ import annotations

from itertools import product
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Sequence

    from router.trade.tables import Tables

PORTS = {
    "tee": 3,
    "cross": 4,
    "elbow_90": 2,
    "elbow_45": 2,
    "elbow_odd": 2,
    "reducer": 2,
    "reducing_coupling": 2,
}
"""How many openings a kind of fitting has whose sizes may differ."""

ONE_OPENING = ("outlet", "plug", "cap")
"""Kinds that have one size, or are made for theirs (a welded or mechanical outlet)."""


def one_piece(kind: str, sizes: Sequence[int], *, tables: Tables) -> bool:
    """Whether a threaded fitting of these sizes is made in one piece.

    Parameters
    ----------
    kind : str
        Kind of fitting, as in a route.
    sizes : sequence of int
        DN of its openings: the two of the run first, then its outlets (tee,
        cross); any order (elbow, reducer, reducing coupling).
    tables : Tables

    Raises
    ------
    ValueError
        Names a kind that there is not, or a number of sizes that does not fit it.
    """
    if kind in ONE_OPENING:
        return True
    if kind not in PORTS:
        raise ValueError(f"fitting {kind!r} is not one of {', '.join((*PORTS, *ONE_OPENING))}")
    if len(sizes) != PORTS[kind]:
        raise ValueError(f"a {kind} has {PORTS[kind]} openings, not {len(sizes)}: {list(sizes)}")
    if len(set(sizes)) == 1:
        return True
    large, small = max(sizes), min(sizes)
    if kind in ("reducer", "reducing_coupling"):
        return _steps(tables, small, large) <= tables.number("reducing_coupling_steps", "steps")
    if kind == "elbow_90":
        return _made(tables, "reducing_elbow_made", large, small)
    if kind in ("tee", "cross"):
        return _branching(kind, sizes, tables)
    return False  # no other elbow reduces


def bushings_for(kind: str, sizes: Sequence[int], tables: Tables) -> list[tuple[int, int]]:
    """Return the bushings with which a fitting that is made serves these sizes.

    For threaded fittings; nothing takes a bushing in a grooved or welded joint.
    Of all fittings that are made and have room for every pipe, the one that
    takes the fewest bushings, then the smallest openings. One bushing reduces
    by any number of sizes (assumed, doubtful).

    Parameters
    ----------
    kind, sizes, tables
        As for :func:`one_piece`.

    Returns
    -------
    list of (int, int)
        ``(outer, inner)`` DN of each bushing, in the order of ``sizes``; empty
        if the fitting is made in one piece.
    """
    if one_piece(kind, sizes, tables=tables):
        return []
    known = sorted({*tables.sizes, *sizes})
    room = [[dn for dn in known if size <= dn <= max(sizes)] for size in sizes]
    made = [openings for openings in product(*room) if one_piece(kind, openings, tables=tables)]
    # the straight fitting of the largest size is always among them
    best = min(made, key=lambda openings: (_changed(openings, sizes), sum(openings), openings))
    return [(outer, inner) for outer, inner in zip(best, sizes, strict=True) if outer != inner]


def _changed(openings: Sequence[int], sizes: Sequence[int]) -> int:
    return sum(opening != size for opening, size in zip(openings, sizes, strict=True))


def _branching(kind: str, sizes: Sequence[int], tables: Tables) -> bool:
    run, outlets = sizes[:2], sizes[2:]
    large = max(run)
    if len(set(outlets)) > 1:
        return False
    if _steps(tables, min(run), large) > tables.number("reducing_run_steps", f"{kind} run"):
        return False
    outlet = outlets[0]
    if outlet == large:
        return True
    if outlet > large:
        if kind == "cross" or run[0] != run[1]:
            return False
        return _steps(tables, large, outlet) <= tables.number("reducing_run_steps", "tee outlet larger")
    return _made(tables, f"reducing_{kind}_made", large, outlet)


def _made(tables: Tables, table: str, large: int, small: int) -> bool:
    return tables.has(table, (large, small)) and tables.number(table, (large, small)) != 0


def _steps(tables: Tables, small: int, large: int) -> int:
    return sum(small < dn <= large for dn in tables.sizes)
