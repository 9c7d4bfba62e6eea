"""What a way to a head lacks, in mm, and its corners: what the nearest attempts are made of."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from math import dist
from typing import TYPE_CHECKING

from router.takeoffs.sites import EXACT

if TYPE_CHECKING:
    from router.takeoffs.candidate import Xyz

ARM_STYLES = ("side_arm", "return_bend", "raised_arm", "lowered_arm", "shared_nipple", "level_cross")
AT_MOST = ("alignment", "reach", "rise", "head_level", "hose_length", "straight_length")
"""Rules that give the most that is allowed; all others give the least that is needed."""


@dataclass(frozen=True)
class Lack:
    """One thing that an attempt lacks: what it ``needs`` and ``has``, mm; ``against``: id of what is met.

    Of a rule in :data:`AT_MOST` ``needs`` is the most that is allowed. Inside an
    obstruction ``has`` is negative: less the way out of it, up, down or sideways.
    ``plug``: it is the plugged end of a dry head's tee that lacks it.
    """

    rule: str
    needs: float
    has: float
    against: str | None = None
    plug: bool = False

    @property
    def short(self) -> float:
        """How much is missing, or too much, mm."""
        return abs(self.needs - self.has)


@dataclass
class Way:
    """A way to a head that is looked at: its corners, and what it lacks but for obstructions."""

    style: str
    row: int
    level: int
    corners: list[Xyz]
    lacks: list[Lack]
    note: str = ""
    """What figures alone do not say of it."""
    drops: bool = True
    """Whether its last piece is the vertical to the head, which may pass a ceiling."""
    station: float | None = None
    """Where its outlet is, mm, if not at the row's own station."""

    def need(self, rule: str, needs: float, has: float, against: str | None = None) -> None:
        """Note what it lacks of a rule, if anything."""
        if (has - needs if rule in AT_MOST else needs - has) > EXACT:
            self.lacks.append(Lack(rule, needs, has, against))

    def axes(self) -> list[tuple[bool, Xyz, Xyz]]:
        """Its pieces, with whether each is the vertical to the head, which may pass a ceiling."""
        last = len(self.corners) - 2
        return [(self.drops and n == last, a, b) for n, (a, b) in enumerate(pairwise(self.corners))]

    def plug(self, reach: float) -> list[tuple[Xyz, Xyz]]:
        """Axis from the centre of a dry head's tee to its plug, ``reach`` mm on; none without an arm."""
        if reach <= 0.0 or self.style not in (*ARM_STYLES, "sidewall") or len(self.corners) < 3:
            return []
        before, tee = self.corners[-3:-1]
        length = dist(before, tee)
        if length <= EXACT:
            return []
        x, y, z = (b + (b - a) * reach / length for a, b in zip(before, tee, strict=True))
        return [(tee, (x, y, z))]
