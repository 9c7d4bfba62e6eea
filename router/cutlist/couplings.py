"""Pipe longer than stock is made of several lengths, joined away from its outlets.

Such a joint (a coupling, a grooved coupling, a girth weld) is no fitting of the
route and is counted apart.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal

if TYPE_CHECKING:
    from collections.abc import Sequence

    from router.trade.tables import Tables

_INCH_W = {
    15: 1.34,
    20: 1.52,
    25: 1.67,
    32: 1.93,
    40: 2.15,
    50: 2.53,
    65: 2.88,
    80: 3.18,
    90: 3.43,
    100: 3.69,
}
"""ASME B16.3 class 150, end to end of straight couplings, in.; from memory (grade C)."""
_METRIC_A = {
    15: 36.0,
    20: 39.0,
    25: 45.0,
    32: 50.0,
    40: 55.0,
    50: 65.0,
    65: 74.0,
    80: 80.0,
    100: 94.0,
}
"""EN 10242 socket M2 (270), end to end, mm; from memory (grade C)."""
GRADE = "C"
_STEP_MM = 1.0


def kind_of(joining: str) -> Literal["coupling", "grooved coupling", "girth weld"]:
    """Name the joint of two pipes for a joining method."""
    if joining == "threaded":
        return "coupling"
    return "grooved coupling" if joining == "grooved" else "girth weld"


def gap(tables: Tables, dn: int, joining: str) -> float:
    """Give the distance that a joint keeps between two pipe ends, mm (0 where the ends are welded).

    A threaded coupling: its length less both engagements, at least 0. Sizes
    without a row (5 and 6 in.) take the ends as touching.
    """
    if joining == "grooved":
        return tables.shortest_nipple(dn, joining=joining)
    if joining != "threaded":
        return 0.0
    long = _INCH_W.get(dn, 0.0) * 25.4 if tables.standard == "inch" else _METRIC_A.get(dn, 0.0)
    return max(0.0, long - 2 * tables.engagement(dn, joining=joining))


def split(
    bare: float, longest: float, between: float, least: float, blocked: Sequence[tuple[float, float]] = ()
) -> list[tuple[float, float]] | None:
    """Divide a pipe into lengths that stock gives: full lengths first, the rest last.

    Parameters
    ----------
    bare
        Bare length of the whole, mm.
    longest
        Longest stock length, mm.
    between
        Gap that a joint keeps between two pipe ends, mm.
    least
        Shortest length worth cutting (the shortest nipple), mm.
    blocked
        Stretches, in mm from the start, where no joint's centre may stand.

    Returns
    -------
    list of (start, length) or None
        ``None`` if there is no place for a joint.
    """
    parts: list[tuple[float, float]] = []
    start = 0.0
    while bare - start > longest + 1e-6:
        end = min(start + longest, bare - between - least)
        for low, high in sorted(blocked, reverse=True):
            if low < end + between / 2 < high:
                end = low - between / 2
        if end - start < max(least, _STEP_MM):
            return None
        parts.append((start, end - start))
        start = end + between
    parts.append((start, bare - start))
    return parts
