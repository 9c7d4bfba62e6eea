"""A stretch of pipe by developed length: its pieces, where a hanger may be, how far the next may lie."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from dataclasses import dataclass, field
from itertools import accumulate
from math import dist, hypot, ulp
from typing import TYPE_CHECKING

from router.hangers.fewest import SLACK_MM, chain
from router.hangers.fittings import upright

if TYPE_CHECKING:
    from router.route.model import Piece, Xyz
    from router.trade.hangers import HangerLimits

Span = tuple[float, float]
MOST_EDGES = 200
"""Edges of structure from which ways are followed, on one run: more would take long and change little."""
STEEP = 0.11
"""Rise over length above which pipe slopes by more than a pitch may."""


@dataclass(frozen=True)
class Part:
    """A piece with the developed lengths of its ends, mm. ``hangs``: whether a hanger may be on it."""

    piece: Piece
    start: float
    end: float
    hangs: bool

    def point(self, x: float) -> Xyz:
        """Return the centre line's point at a developed length, rounded to 0.001 mm."""
        t = (x - self.start) / (self.end - self.start) if self.end > self.start else 0.0
        (ax, ay, az), (bx, by, bz) = self.piece.start, self.piece.end
        return (round(ax + t * (bx - ax), 3), round(ay + t * (by - ay), 3), round(az + t * (bz - az), 3))


@dataclass
class Way:
    """Parts in the order of the flow, with what is asked of hangers on them.

    ``held``: the position of what holds its start (negative where the last hanger
    of the pipe before it lies further back). ``need``: sections with at least
    one hanger. ``close``: shorter ones, over which hangers may be ``close_mm``
    apart at most. ``last``: nothing before it may be the last hanger.
    """

    parts: list[Part]
    limits: HangerLimits
    allowed: list[tuple[float, float, int]] = field(default_factory=list)
    held: float = 0.0
    need: list[Span] = field(default_factory=list)
    close: list[Span] = field(default_factory=list)
    last: float = 0.0
    none: bool = True
    _marks: set[float] = field(default_factory=set)
    _starts: list[float] = field(default_factory=list)
    _ends: list[float] = field(default_factory=list)
    _wide: list[float] = field(default_factory=list)
    _narrow: list[float] = field(default_factory=list)
    _close_ends: list[float] = field(default_factory=list)
    _need_ends: list[float] = field(default_factory=list)
    _close_mm: float = 0.0

    @property
    def length(self) -> float:
        """Developed length, mm."""
        return self.parts[-1].end if self.parts else 0.0

    def reach(self, x: float) -> float:
        """Return the furthest position of the hanger after one at ``x`` (or after the start)."""
        starts, ends, wide, narrow = self._starts, self._ends, self._wide, self._narrow
        spacing = float("inf")
        for k in range(bisect_right(ends, x + SLACK_MM), len(ends)):
            start = starts[k]
            if start >= x + spacing - SLACK_MM:
                break
            if ends[k] > start:  # a smaller pipe counts only if the gap goes on over it
                own = wide[k] if wide[k] >= start - x else start - x
                if own < spacing:
                    spacing = own
                if spacing <= narrow[k]:
                    break  # no pipe beyond asks for less
        far = x + spacing
        if self.close:
            for k in range(bisect_right(self._close_ends, x), len(self.close)):
                low, high = self.close[k]
                if high > far:
                    break
                if low >= x - SLACK_MM:
                    far = min(far, max(high - SLACK_MM, x + self._close_mm))
        for k in range(bisect_right(self._need_ends, x), len(self.need)):
            low, high = self.need[k]
            if low >= x - SLACK_MM:
                return min(far, high - SLACK_MM)
        return far

    def settle(self) -> None:
        """Make ready for :meth:`reach`.

        Sections that have no room for a hanger are dropped, and the last hanger
        comes after all those that need one begin.
        """
        lows = [low for low, _, _ in self.allowed]

        def room(low: float, high: float) -> bool:
            k = bisect_right(lows, high) - 1
            return k >= 0 and self.allowed[k][1] > low

        self.need = [span for span in self.need if room(*span)]
        self.last = max([self.last, *(low + 10 * SLACK_MM for low, _ in self.need)])
        self.need.sort(key=lambda span: span[1])
        self.close.sort(key=lambda span: span[1])
        self._need_ends = [high for _, high in self.need]
        self._close_ends = [high for _, high in self.close]
        self._marks = set()
        self._starts = [part.start for part in self.parts]
        self._ends = [part.end for part in self.parts]
        self._wide = [self.limits.spacing(part.piece.dn).mm for part in self.parts]
        self._narrow = list(accumulate(self._wide[::-1], min))[::-1]
        self._close_mm = self.limits.close_spacing().mm

    def positions(self, crossings: list[list[Span]]) -> list[tuple[float, int, float]]:
        """Return candidate positions: (developed length, part, how far from where it would best be).

        The ends and middle of each allowed stretch and of each part of it under
        structure; the ways of always going as far as one may, from the start and
        from each edge and centre of structure; and the way back of the least
        positions that still reach the end.
        """
        found: dict[tuple[int, int], tuple[float, int, float]] = {}
        lows = [low for low, _, _ in self.allowed]
        highs = [high for _, high, _ in self.allowed]
        edges: list[float] = [self.held]

        def add(x: float, off: float | None = None) -> None:
            at = bisect_right(lows, x + SLACK_MM) - 1
            if at < 0 or x > self.allowed[at][1] + SLACK_MM:
                return
            low, high, k = self.allowed[at]
            off = abs(x - (low + high) / 2) if off is None else off
            key = (k, round(x * 1000))
            if key not in found or found[key][2] > off:
                found[key] = (x, k, off)

        for low, high, k in self.allowed:
            for x in (low, (low + high) / 2, high):
                add(x)
            part = self.parts[k]
            for t, u in crossings[k]:
                a = max(low, part.start + t * (part.end - part.start))
                b = min(high, part.start + u * (part.end - part.start))
                if a > b:
                    continue
                narrow = b - a < 0.5 * (high - low)  # a beam, not a slab all over
                for x, off in ((a, (b - a) / 2), ((a + b) / 2, 0.0), (b, (b - a) / 2)):
                    add(x, off if narrow else None)
                edges += [a, b] if len(edges) < MOST_EDGES else []
        seen: set[float] = set()
        for x in sorted(set(edges)):
            for step in chain(x, lows, highs, self.reach):
                if step in seen:
                    break  # another way came by here: from here on they are the same
                seen.add(step)
                add(step)
        for x in self._back(lows, highs):
            add(x)
        return sorted(found.values())

    def _back(self, lows: list[float], highs: list[float]) -> list[float]:
        """Return the least position that may be last, the least that reaches that, and so on."""
        out: list[float] = []
        goal = self.last
        while True:
            at = bisect_right(highs, goal - SLACK_MM)
            if at == len(lows) or (out and max(goal, lows[at]) >= out[-1]):
                return out
            out.append(max(goal, lows[at]))
            if self.reach(self.held) >= out[-1] - SLACK_MM:
                return out
            goal = self._least_to(out[-1])

    def _least_to(self, goal: float) -> float:
        """Return the least position from which ``goal`` is within reach; it is not from the start.

        Reach never falls, so it is found by halving. Where it changes is known but for
        rounding: halves that are clear of where it comes to the goal need not be asked.
        """
        if not self._marks:
            edges = [edge for span in self.need + self.close for edge in span] + self._ends
            self._marks = {x for edge in edges for x in (edge, edge + SLACK_MM, edge - SLACK_MM)}
        marks = sorted(self._marks.union(goal - wide for wide in {*self._wide, self._close_mm}))
        marks = marks[bisect_right(marks, self.held) : bisect_left(marks, goal)]
        close = 16 * ulp(max(abs(goal), abs(self.held)))
        at = bisect_left(marks, True, key=lambda mark: self.reach(mark + close) >= goal)
        short, enough = self.held, goal
        if at < len(marks):
            enough = marks[at] + close
            if self.reach(marks[at] - close) < goal:
                short = marks[at] - close
        low, high = self.held, goal
        for _ in range(60):
            middle = (low + high) / 2
            if middle >= enough or (middle > short and self.reach(middle) >= goal):
                high = middle
            else:
                low = middle
        return high


def make_way(pieces: list[Piece], limits: HangerLimits, *, flat: bool = False) -> Way:
    """Lay pieces out one after the other.

    ``flat``: an arm, of which only what is not vertical counts, by its plan
    length. Otherwise everything counts, except risers longer than hangers may
    be apart: they have supports of their own.
    """
    parts: list[Part] = []
    at = 0.0
    for piece in pieces:
        stands = upright(piece)
        length = dist(piece.start, piece.end)
        if flat:
            counts = hypot(piece.end[0] - piece.start[0], piece.end[1] - piece.start[1])
        else:
            counts = 0.0 if stands and length > limits.spacing(piece.dn).mm else length
        steep = abs(piece.end[2] - piece.start[2]) > STEEP * length and length < limits.close_heads().mm
        parts.append(Part(piece, at, at + counts, counts > 0.0 and not stands and not steep))
        at += counts
    return Way(parts, limits)
