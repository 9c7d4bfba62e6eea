"""Which stations of a run are blocked at which level, and the levels worth trying."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from router.geometry.solids import TOUCH, Solids, line_spans

if TYPE_CHECKING:
    from router.geometry.plan import FloatArray
    from router.geometry.solids import BoolArray, IntArray
    from router.profiles.frame import RunFrame, Stretch

SAME_LEVEL = 1.0
"""Levels nearer than this are one, mm."""
APART = 1e8
"""mm. More than any run is long: what is kept of several levels in one row lies so far apart."""
NEAR_LEVEL = 10.0
"""Limits of obstructions nearer than this are represented by the stricter one, mm."""


@dataclass(frozen=True)
class Crossing:
    """An obstruction that a stretch passes in plan within reach of its pipe."""

    solid: int
    stretch: Stretch
    ring: FloatArray
    span: tuple[float, float]
    reach: float


def crossings(frame: RunFrame, solids: Solids) -> list[Crossing]:
    """All obstructions (ceilings too) within plan reach of the run's pipe, by stretch."""
    found = []
    for stretch in frame.stretches:
        a, b = stretch.section.point(stretch.start), stretch.section.point(stretch.end)
        margin = stretch.radius + solids.widest
        near = solids.near(min(a[0], b[0]), min(a[1], b[1]), max(a[0], b[0]), max(a[1], b[1]), margin)
        for i in near:
            reach = stretch.radius + float(solids.clearance[i])
            ring = stretch.section.local(solids.rings[i])
            for low, high in line_spans(ring, reach):
                if low < stretch.end - TOUCH and high > stretch.start + TOUCH:
                    span = (max(low, stretch.start), min(high, stretch.end))
                    found.append(Crossing(int(i), stretch, ring, span, reach))
    return found


def limit_levels(frame: RunFrame, solids: Solids, found: list[Crossing]) -> tuple[list[float], list[float]]:
    """Levels just under and just over each crossing: (under, over), at its worse end."""
    under = [float(solids.low[c.solid]) - c.reach - frame.pitch * c.span[1] for c in found]
    over = [float(solids.high[c.solid]) + c.reach - frame.pitch * c.span[0] for c in found]
    return under, over


def merge_levels(frame: RunFrame, fixed: list[float], under: list[float], over: list[float]) -> FloatArray:
    """Levels inside the band, ascending, without near repeats.

    ``fixed`` levels stay; of limits that lie close together the stricter one
    (lowest of the unders, highest of the overs) stands for all.
    """
    low, high = frame.band
    kept: list[float] = []
    for value in fixed:
        if low - TOUCH <= value <= high + TOUCH and all(abs(value - k) > SAME_LEVEL for k in kept):
            kept.append(float(np.clip(value, low, high)))
    for values, sign in ((under, 1.0), (over, -1.0)):
        group: list[float] = []
        for value in sorted((sign * v for v in values if low - TOUCH <= v <= high + TOUCH)):
            if group and value - group[0] <= NEAR_LEVEL:
                continue
            group = [value]
            real = sign * value
            if all(abs(real - k) > SAME_LEVEL for k in kept):
                kept.append(float(np.clip(real, low, high)))
    return np.array(sorted(kept))


class Blocked:
    """Blocked stations of a run for each of its levels.

    Spans are open and conservative on a pitched run: the worse end of each
    obstruction counts for all of it.
    """

    def __init__(self, frame: RunFrame, solids: Solids, found: list[Crossing]) -> None:
        self.spans: list[list[tuple[float, float, int]]] = [[] for _ in frame.levels]
        for c in found:
            low, high = float(solids.low[c.solid]), float(solids.high[c.solid])
            known: dict[float, list[tuple[float, float]]] = {}
            for i, level in enumerate(frame.levels):
                bottom, top = level + frame.pitch * c.span[0], level + frame.pitch * c.span[1]
                gap = max(low - top, bottom - high, 0.0)
                if gap >= c.reach - TOUCH:
                    continue
                rho = c.reach if solids.ceiling[c.solid] else float(np.sqrt(c.reach**2 - gap**2))
                if rho not in known:  # all levels that go right through it have the same
                    known[rho] = line_spans(c.ring, rho)
                for a, b in known[rho]:
                    a, b = max(a, c.stretch.start), min(b, c.stretch.end)
                    if b - a > 2 * TOUCH:
                        self.spans[i].append((a, b, c.solid))
        for spans in self.spans:
            spans.sort()

    def edges(self) -> list[float]:
        """Stations where some level begins or ends to be blocked."""
        return sorted({round(x, 3) for spans in self.spans for a, b, _ in spans for x in (a, b)})

    def by(self, level: int, a: float, b: float) -> list[int]:
        """Obstructions that block ``level`` somewhere between stations ``a`` and ``b``."""
        return [s for x, y, s in self.spans[level] if x < b - TOUCH and y > a + TOUCH]

    def clear(self, level: int, a: float, b: float) -> bool:
        """Whether the run can lie at ``level`` (index) between stations ``a`` and ``b``."""
        return not self.by(level, a, b)

    def clear_at(self, level: IntArray, a: FloatArray, b: FloatArray) -> BoolArray:
        """Give the same for arrays of levels and stations, of shapes that broadcast."""
        begins, farthest, first = self._sorted
        # of the level's spans that begin before b, the one that reaches farthest decides
        before = np.searchsorted(begins, level * APART + (b - TOUCH), side="left")
        none = before == first[level]
        return np.asarray(none | (farthest[before - 1] - level * APART <= a + TOUCH))

    @cached_property
    def _sorted(self) -> tuple[FloatArray, FloatArray, IntArray]:
        """Where spans begin, level after level; how far each and those before it reach; each level's first.

        Stations of a level lie :data:`APART` beyond those of the level below.
        """
        counts = np.array([len(spans) for spans in self.spans], dtype=np.int64)
        shift = np.repeat(np.arange(len(counts)), counts) * APART
        every = np.array([(a, b) for spans in self.spans for a, b, _ in spans]).reshape(-1, 2)
        ends = np.maximum.accumulate(every[:, 1] + shift)
        # one more, so that there is a place before the first
        return every[:, 0] + shift, np.append(ends, -np.inf), np.cumsum(counts) - counts
