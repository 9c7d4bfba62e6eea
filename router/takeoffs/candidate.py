"""A takeoff candidate: everything the choice and the route need to know of it."""

from __future__ import annotations

import itertools
from dataclasses import dataclass

Xyz = tuple[float, float, float]


@dataclass(frozen=True, slots=True)
class Branch:
    """One way from where the takeoff splits (or its outlet) to a head.

    ``points``: the corners after the split, the head's inlet last, mm. ``hose``:
    length of the listed hose that replaces the pipe, 0 for pipe.
    """

    head: int
    points: tuple[Xyz, ...]
    dogleg: bool = False
    hose: float = 0.0


@dataclass(frozen=True, slots=True)
class Feed:
    """A child run fed by the takeoff, at one of its levels (index) and that elevation."""

    run: int
    level: int
    z: float


@dataclass(frozen=True, slots=True)
class Candidate:
    """One way that something may leave a run. Lengths in mm.

    ``level``: index into the run's levels. ``outlet``: centre of the run fitting.
    ``trunk``: corners between the outlet and the split (empty: branches start at
    the outlet). ``half``: stations that its fitting needs to either side;
    ``end_half``: beyond it when it is the run's last. ``fittings`` /
    ``end_fittings``: tees, elbows and so on it costs, as the run's last too.
    ``may_end`` / ``may_pass``: whether it can stand last, and whether the run
    can go on behind it. ``pipe``: its own pipe without the run's. ``drains``: low
    sections that it makes. ``steps``: changes of level that it is, as the run's last.
    """

    run: int
    style: str
    side: str
    station: float
    level: int
    outlet: Xyz
    trunk: tuple[Xyz, ...]
    branches: tuple[Branch, ...]
    half: float
    fittings: int
    end_fittings: int
    pipe: float
    hangers: int = 0
    reducers: int = 0
    hoses: int = 0
    drains: int = 0
    steps: int = 0
    end_half: float = 0.0
    may_end: bool = True
    may_pass: bool = True
    feeds: tuple[Feed, ...] = ()

    @property
    def arm_z(self) -> float:
        """Elevation of the horizontal part, or of the outlet where there is none, mm."""
        return self.trunk[-1][2] if self.trunk else self.outlet[2]

    @property
    def dogleg(self) -> bool:
        """Whether any of its arms has a dogleg."""
        return any(b.dogleg for b in self.branches)

    def axes(self) -> list[tuple[Xyz, Xyz]]:
        """All its pipe axes, the one at the outlet first."""
        chain = (self.outlet, *self.trunk)
        out = list(itertools.pairwise(chain))
        for branch in self.branches:
            points = (chain[-1], *branch.points)
            out += list(itertools.pairwise(points))
        return out
