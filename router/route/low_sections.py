"""Trapped low sections of a finished route: where, how much water, which drain."""

from __future__ import annotations

from collections import defaultdict
from itertools import pairwise
from math import dist, hypot
from typing import TYPE_CHECKING, NamedTuple

from router.route.low_points import SLACK_MM, trapped
from router.route.model import LowSection, Piece, RunResult, Takeoff, Xyz
from router.trade.drains import drain_for

if TYPE_CHECKING:
    from router.scenario.model import Scenario
    from router.trade.tables import Tables

HANGS = ("drop", "sprig", "barrel", "hose")
"""Pieces at the heads: what stands in them is emptied there, not by the section's drain."""


class LowSections:
    """Finds the low sections of a route's runs.

    ``pieces``: finished, each run's pipe in the order of its stations.
    """

    def __init__(
        self,
        scenario: Scenario,
        tables: Tables,
        runs: list[RunResult],
        takeoffs: list[Takeoff],
        pieces: list[Piece],
    ) -> None:
        self.scenario, self.tables = scenario, tables
        self.runs = {run.id: run for run in runs}
        self.takeoffs: dict[str, list[Takeoff]] = defaultdict(list)
        for takeoff in takeoffs:
            self.takeoffs[takeoff.run].append(takeoff)
        self.run_pieces: dict[str, list[Piece]] = defaultdict(list)
        self.own: dict[str, list[Piece]] = defaultdict(list)
        for piece in pieces:
            if piece.kind == "run":
                self.run_pieces[piece.run].append(piece)
            else:
                self.own[piece.owner].append(piece)
        self.kinds = {head.id: head.kind for head in scenario.heads}

    def find(self) -> list[LowSection]:
        """Return all low sections, run by run, a run's own before those of what leaves it downwards."""
        wet = self.scenario.system.kind == "wet"
        out: list[LowSection] = []
        for run in self.runs.values():
            corners = [(p.station, p.level + run.pitch / 1000.0 * p.station) for p in run.profile]
            if any(b < a - SLACK_MM for (a, _), (b, _) in pairwise(corners)):
                corners = []  # drawn in parts that lie over each other: which is the line cannot be told
            if wet:
                sections = [
                    h.section for h in hollows(corners, run.pitch) if not self._emptied(run, *h.bottom)
                ]
            else:
                sections = [(a, b, _at(corners, a)) for a, b in trapped(corners)]
            for a, b, spill in sections:
                low = min((z, s) for s, z in [*corners, (a, spill), (b, _at(corners, b))] if a <= s <= b)
                place = self._place(run.id, low[1], low[0])
                out.append(self._section(run.id, (a, b), place, self._volume(run.id, a, b, spill)))
            out += self._downward(run, corners, wet)
        return out

    def _downward(self, run: RunResult, corners: list[tuple[float, float]], wet: bool) -> list[LowSection]:
        """Return the runs that leave this one downwards: each takeoff is one low point."""
        out = []
        for takeoff in self.takeoffs[run.id]:
            below = [
                c
                for c in takeoff.child_runs
                if c in self.runs and self._starts(c) < self._spill(takeoff, run)
            ]
            if not below or (wet and any(self._pendents(c) for c in below)):
                continue
            spill = self._spill(takeoff, run) + SLACK_MM
            volume = sum(self._all_below(c, spill) for c in below)
            volume += sum(self._held(p, spill) for p in self.own[takeoff.id])
            first = self.run_pieces[below[0]]
            at = first[0].start if first else (0.0, 0.0, self._starts(below[0]))
            out.append(self._section(below[0], None, at, volume))
        return out

    def _spill(self, takeoff: Takeoff, run: RunResult) -> float:
        return takeoff.level + run.pitch / 1000.0 * takeoff.station - SLACK_MM

    def _starts(self, run: str) -> float:
        return self.runs[run].supply_level

    def _section(
        self, run: str, stations: tuple[float, float] | None, lowest: Xyz, volume: float
    ) -> LowSection:
        drain = drain_for(self.scenario.system.kind, volume, tables=self.tables)
        return LowSection(
            run=run,
            stations=None if stations is None else (round(stations[0], 3), round(stations[1], 3)),
            lowest=(round(lowest[0], 3), round(lowest[1], 3), round(lowest[2], 3)),
            volume_l=round(volume, 4),
            drain=drain.name,
            text=drain.text,
            counts_as=drain.counts_as,
            source=drain.source,
            grade=drain.grade,
        )

    def _emptied(self, run: RunResult, a: float, b: float) -> bool:
        """Whether a pendent head on the hollow, or on a level run from it, empties it."""
        for takeoff in self.takeoffs[run.id]:
            if not a - SLACK_MM <= takeoff.station <= b + SLACK_MM:
                continue
            if self._empties(takeoff):
                return True
            at = takeoff.level + run.pitch / 1000.0 * takeoff.station
            if any(
                self._starts(c) <= at + SLACK_MM and self._pendents(c)
                for c in takeoff.child_runs
                if c in self.runs
            ):
                return True
        return False

    def _empties(self, takeoff: Takeoff) -> bool:
        """Whether water runs out where a head of it is taken off: not if its way goes over the top first."""
        if not any(self.kinds.get(name) == "pendent" for name in takeoff.heads):
            return False
        at = takeoff.level + self.runs[takeoff.run].pitch / 1000.0 * takeoff.station
        way = [p for p in self.own[takeoff.id] if p.kind in ("nipple", "arm")]
        return all(max(p.start[2], p.end[2]) <= at + SLACK_MM for p in way)

    def _pendents(self, run: str) -> bool:
        """Whether a pendent head hangs on a run or below it, by whatever way: that is assumed to empty it."""
        for takeoff in self.takeoffs[run]:
            if any(self.kinds.get(name) == "pendent" for name in takeoff.heads):
                return True
            if any(self._pendents(c) for c in takeoff.child_runs if c in self.runs):
                return True
        return False

    def _place(self, run: str, station: float, z: float) -> Xyz:
        """Point of the run's pipe at a station, mm."""
        for piece, s, t in self._stations(run):
            if s - SLACK_MM <= station <= t + SLACK_MM and t > s:
                part = (station - s) / (t - s)
                x = piece.start[0] + part * (piece.end[0] - piece.start[0])
                y = piece.start[1] + part * (piece.end[1] - piece.start[1])
                return (x, y, z)
        pieces = self.run_pieces[run]
        return (pieces[-1].end[0], pieces[-1].end[1], z) if pieces else (0.0, 0.0, z)

    def _stations(self, run: str) -> list[tuple[Piece, float, float]]:
        """Return the run's pieces with the stations of their two ends, mm."""
        out, at = [], 0.0
        for piece in self.run_pieces[run]:
            to = at + hypot(piece.end[0] - piece.start[0], piece.end[1] - piece.start[1])
            out.append((piece, at, to))
            at = to
        return out

    def _volume(self, run: str, a: float, b: float, spill: float) -> float:
        """Litres in the run's pipe between two stations and in all that leaves it there, below ``spill``."""
        total = 0.0
        for piece, s, t in self._stations(run):
            if t < a - SLACK_MM or s > b + SLACK_MM:
                continue
            inside = 1.0 if t <= s else max(0.0, min(t, b) - max(s, a)) / (t - s)
            clipped = piece
            if inside < 1.0:
                low, high = ((max(s, a) - s) / (t - s), (min(t, b) - s) / (t - s))
                clipped = piece.model_copy(update={"start": _along(piece, low), "end": _along(piece, high)})
            total += self._held(clipped, spill)
        for takeoff in self.takeoffs[run]:
            if a - SLACK_MM <= takeoff.station <= b + SLACK_MM:
                total += self._taken_off(takeoff, spill)
        return total

    def _taken_off(self, takeoff: Takeoff, spill: float) -> float:
        total = sum(self._held(p, spill) for p in self.own[takeoff.id])
        return total + sum(self._all_below(c, spill) for c in takeoff.child_runs if c in self.runs)

    def _all_below(self, run: str, spill: float) -> float:
        total = sum(self._held(p, spill) for p in self.run_pieces[run])
        return total + sum(self._taken_off(t, spill) for t in self.takeoffs[run])

    def _held(self, piece: Piece, spill: float) -> float:
        """Litres of the part of a piece that lies below ``spill``; bore of the tables."""
        if piece.kind in HANGS:
            return 0.0
        low, high = sorted((piece.start[2], piece.end[2]))
        if high - low <= SLACK_MM:
            part = float(low < spill - SLACK_MM)
        else:
            part = min(max((spill - low) / (high - low), 0.0), 1.0)
        if piece.dn not in self.tables.sizes:
            return 0.0  # drawn with a size that is not made, which is remarked
        return part * dist(piece.start, piece.end) / 1000.0 * self.tables.litres_per_m(piece.dn)


class Hollow(NamedTuple):
    """A low part of a wet run, mm: (from, to, level at which it spills), and the stations of its bottom."""

    section: tuple[float, float, float]
    bottom: tuple[float, float]


def hollows(corners: list[tuple[float, float]], pitch: float = 0.0) -> list[Hollow]:
    """Low parts of a wet run.

    The bottom runs from the foot of a fall to where the next rise begins, or to
    the run's end; water spills over the lower of its two sides. ``corners``:
    (station, elevation). A pitched line rises all along, and its ``pitch`` (mm per m) is
    not a rise here: only changes of level are.
    """
    out: list[Hollow] = []
    foot: float | None = None
    crest, top = 0.0, 0.0
    for (sa, za), (sb, zb) in pairwise(corners):
        change = zb - za - pitch / 1000.0 * (sb - sa)
        if change < -SLACK_MM - 1e-6:
            if foot is None:
                crest, top = za, sa
            foot = sb
        elif change > SLACK_MM + 1e-6 and foot is not None:
            out.append(Hollow((top, sb, min(crest, zb)), (foot, sa)))
            foot = None
    if foot is not None:
        out.append(Hollow((top, corners[-1][0], crest), (foot, corners[-1][0])))
    return out


def _at(corners: list[tuple[float, float]], station: float) -> float:
    """Elevation of a run at a station, mm; at an upright the first."""
    for (sa, za), (sb, zb) in pairwise(corners):
        if sa <= station <= sb:
            return za if sb <= sa else za + (zb - za) * (station - sa) / (sb - sa)
    return corners[-1][1]


def _along(piece: Piece, part: float) -> Xyz:
    x, y, z = (a + part * (b - a) for a, b in zip(piece.start, piece.end, strict=True))
    return (x, y, z)
