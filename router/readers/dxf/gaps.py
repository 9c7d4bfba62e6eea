"""Ends of lines that lie near each other, yet farther apart than the mapping lets them be one point."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Final

import shapely

from router.readers.dxf.ends import STRAIGHT_DEG, direction, turn
from router.readers.dxf.mapping import MOST_TOLERANCE_MM
from router.scenario.errors import number_text

if TYPE_CHECKING:
    from collections.abc import Sequence

    from router.readers.drawn import Xyz
    from router.readers.dxf.walk import Reading

FEW: Final = 3
MOST_PAIRS: Final = 300_000
"""Lines as dense as those of a hatch have no gaps to tell of."""


def tell_gaps(reading: Reading, layer: str, ways: Sequence[Sequence[Xyz]], *, straight: bool = False) -> None:
    """Note the gaps between the ends of lines of one layer that a larger tolerance would close.

    Parameters
    ----------
    ways
        Points of each line, mm.
    straight
        Count only gaps in a line that goes straight on.
    """
    gaps = _gaps(ways, reading.mapping.tolerance_mm, straight)
    if not gaps:
        return
    least, most = (number_text(round(gap, 1)) for gap in (gaps[0][0], gaps[-1][0]))
    size = f"{least} mm" if least == most else f"{least} to {most} mm"
    places = "; ".join(reading.place(at) for _, at in gaps[:FEW]) + ("; ..." if len(gaps) > FEW else "")
    now = number_text(reading.mapping.tolerance_mm)
    reading.notes.append(
        f"{len(gaps)} gaps of {size} between ends of lines on layer {layer}, at {places}: tolerance_mm in "
        f"the mapping ({now} mm now, {MOST_TOLERANCE_MM:g} mm at most) says up to where ends are joined"
    )


def _gaps(ways: Sequence[Sequence[Xyz]], tolerance: float, straight: bool) -> list[tuple[float, Xyz]]:
    """Give width and place of gaps, the narrowest first; no end is in two."""
    ends = [end for way in ways for end in (way[0], way[-1])]
    if not ends:
        return []
    points = shapely.points([end[:2] for end in ends])
    pairs = shapely.STRtree(points).query(points, predicate="dwithin", distance=MOST_TOLERANCE_MM)
    if len(pairs[0]) > MOST_PAIRS:
        return []
    found = []
    for a, b in zip(*(side.tolist() for side in pairs), strict=True):
        gap = math.dist(ends[a], ends[b])
        same = a // 2 == b // 2 and (straight or len(ways[a // 2]) < 3)
        if a < b and not same and gap <= MOST_TOLERANCE_MM and (not straight or _goes_on(ways, a, b)):
            found.append((gap, a, b))
    used: set[int] = set()
    gaps = []
    for gap, a, b in sorted(found):
        if a not in used and b not in used:
            used |= {a, b}
            if gap > tolerance:
                gaps.append((gap, ends[a]))
    return gaps


def _goes_on(ways: Sequence[Sequence[Xyz]], a: int, b: int) -> bool:
    """Tell whether the line of one end, carried on over the gap, is the line of the other."""
    from_a, from_b = direction(ways, a), direction(ways, b)
    first, second = (ways[end // 2][0 if end % 2 == 0 else -1] for end in (a, b))
    gap = math.dist(first, second)
    if gap < 1e-9 or turn(from_a, from_b) > STRAIGHT_DEG:
        return gap < 1e-9
    over = tuple((q - p) / gap for p, q in zip(first, second, strict=True))
    return turn(from_a, over) <= STRAIGHT_DEG
