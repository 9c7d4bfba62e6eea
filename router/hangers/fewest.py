"""The fewest hangers on one stretch of pipe, chosen from a set of positions.

A stretch is held at its start. From a hanger (or the start) at ``x`` the next
one lies no further than ``reach(x)``, which never falls as ``x`` grows. So the
positions got by always going as far as one may are enough for the fewest over
all allowed positions: :func:`chain` gives them. The dynamic programme then
takes, among all ways with that many, the one with most hangers under structure,
then the one nearest to the positions' own middles.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections import deque
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence

SLACK_MM = 1e-6
_COUNT, _UNDER = 10**12, 10**7
_SHORT = 10**15
"""Where there is no position within reach the next one is taken: rather one gap too wide than none."""


def chain(
    start: float, lows: Sequence[float], highs: Sequence[float], reach: Callable[[float], float]
) -> Iterator[float]:
    """Yield the positions of always going as far as one may.

    Parameters
    ----------
    start : float
        Position of what holds the stretch, mm.
    lows, highs : sequence of float
        Where a hanger may be: from each of ``lows`` to its own of ``highs``, mm, ascending and apart.
    reach : callable
        The furthest position of the next hanger.
    """
    at = start
    while True:
        far = reach(at)
        k = bisect_right(lows, far + SLACK_MM) - 1
        best = min(far, highs[k]) if k >= 0 else at
        if best <= at + SLACK_MM:
            k = bisect_right(lows, at + SLACK_MM)
            if k >= len(lows):
                return
            best = lows[k]
        yield best
        at = best


def fewest(
    start: float,
    positions: Sequence[float],
    under: Sequence[bool],
    off: Sequence[float],
    reach: Callable[[float], float],
    last: float,
    *,
    none: bool = True,
) -> list[int]:
    """Choose positions: the fewest, then the most under structure, then the least ``off``.

    Parameters
    ----------
    start : float
        Position of what holds the stretch, mm.
    positions : sequence of float
        Ascending, mm.
    under : sequence of bool
        Whether each is under structure.
    off : sequence of float
        How far each is from where it would best be, mm.
    reach : callable
        The furthest position of the next hanger; never falls as its argument grows.
    last : float
        Nothing before it may be the last hanger, mm.
    none : bool
        Whether no hanger at all is an answer (if the start itself is not before ``last``).

    Returns
    -------
    list of int
        Indices into ``positions``, ascending.
    """
    n = len(positions)
    if not n or (none and start >= last - SLACK_MM):
        return []
    spot = [start, *positions]
    far = [reach(x) + SLACK_MM for x in spot]
    own = [_COUNT - _UNDER * bool(u) + round(min(o, 9000.0)) for u, o in zip(under, off, strict=True)]
    best, before = [0], [0]
    least = deque([0])
    """Of those in reach the first with the least cost, then of those after it, and so on."""
    for j in range(1, n + 1):
        first = bisect_left(far, spot[j], 0, j)
        while least and least[0] < first:
            least.popleft()
        k = least[0] if least else j - 1
        best.append(best[k] + own[j - 1] + (0 if least else _SHORT))
        before.append(k)
        while least and best[least[-1]] > best[j]:
            least.pop()
        least.append(j)
    begin = min(1 + bisect_left(positions, last - SLACK_MM), n)
    j = min(range(begin, n + 1), key=best.__getitem__)
    chosen: list[int] = []
    while j > 0:
        chosen.append(j - 1)
        j = before[j]
    return chosen[::-1]
