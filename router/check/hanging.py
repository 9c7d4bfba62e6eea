"""Hangers as the referee sees them: how far along their run or arm, and what lies between."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from dataclasses import dataclass
from itertools import pairwise
from math import dist
from operator import attrgetter
from typing import TYPE_CHECKING

from router.check.arms import NO_ARM
from router.check.findings import TOLERANCE_MM
from router.check.vectors import along, flat_length
from router.trade.hangers import HangerLimits, Limit

if TYPE_CHECKING:
    from router.check.network import Leg, Network
    from router.check.survey import Survey
    from router.check.vectors import Xyz
    from router.route.model import Hanger, Piece, Takeoff

_start_of, _end_of = attrgetter("start"), attrgetter("end")
STANDS = 0.1
"""Plan length over length below which a piece is vertical."""


@dataclass(frozen=True)
class Stretch:
    """A piece on a run with the developed lengths of its ends; ``back``: it is drawn against the flow."""

    piece: Piece
    start: float
    end: float
    back: bool


@dataclass(frozen=True)
class Section:
    """Pipe between two fittings that part it. ``first``: it begins at the supply end."""

    start: float
    end: float
    first: bool

    @property
    def length(self) -> float:
        """Developed length, mm."""
        return self.end - self.start


def vertical(piece: Piece) -> bool:
    """Whether a piece stands."""
    return flat_length(piece.start, piece.end) < STANDS * dist(piece.start, piece.end)


class Hanging:
    """The hangers of a route by run and by piece."""

    def __init__(self, survey: Survey, net: Network) -> None:
        self.survey, self.net = survey, net
        self.limits = HangerLimits(survey.tables, survey.rules)
        self.on_piece: dict[str, list[Hanger]] = {}
        for hanger in survey.route.hangers:
            if hanger.kind != "sprig_restraint":
                self.on_piece.setdefault(hanger.piece, []).append(hanger)
        self.fed_by: dict[str, Takeoff] = {
            child: takeoff for takeoff in survey.takeoffs.values() for child in takeoff.child_runs
        }
        self.last_of: dict[str, Takeoff] = {}
        for takeoff in survey.takeoffs.values():
            other = self.last_of.get(takeoff.run)
            if other is None or takeoff.station >= other.station:
                self.last_of[takeoff.run] = takeoff
        self._stretches: dict[str, list[Stretch]] = {}
        self._sections: dict[str, list[Section]] = {}
        self._hangers: dict[str, list[tuple[float, Hanger]]] = {}
        self._close: dict[str, list[Section]] = {}

    # -- runs -------------------------------------------------------------------------------

    def stretches(self, run: str) -> list[Stretch]:
        """Return a run's pieces in the order of the flow, found from where their ends meet."""
        if run not in self._stretches:
            self._stretches[run] = self._walk(run)
        return self._stretches[run]

    def _walk(self, run: str) -> list[Stretch]:
        left = list(self.survey.run_pieces.get(run, []))
        line = self.survey.lines.get(run)
        if not left or line is None:
            return []
        built = self.survey.built[run]
        begin: Xyz = (*line.point(0.0), built.supply_level)
        out: list[Stretch] = []
        at, length, slack = begin, 0.0, float("inf")
        while left:
            if at in (left[0].start, left[0].end):  # the next one begins here, as in any route of ours
                away, k = 0.0, 0
            else:
                away, k = min((min(dist(at, p.start), dist(at, p.end)), k) for k, p in enumerate(left))
            if away > slack:
                break
            piece, slack = left.pop(k), TOLERANCE_MM
            back = dist(at, piece.end) < dist(at, piece.start)
            full = dist(piece.start, piece.end)
            # a riser that is longer than hangers may be apart has supports of its own
            counts = 0.0 if vertical(piece) and full > self.limits.spacing(piece.dn).mm else full
            out.append(Stretch(piece, length, length + counts, back))
            at, length = (piece.start if back else piece.end), length + counts
        return out

    def length(self, run: str) -> float:
        """Developed length of a run, mm."""
        stretches = self.stretches(run)
        return stretches[-1].end if stretches else 0.0

    def hangers(self, run: str) -> list[tuple[float, Hanger]]:
        """Return a run's hangers by developed length from its supply end, mm."""
        if run not in self._hangers:
            self._hangers[run] = self._find_hangers(run)
        return self._hangers[run]

    def _find_hangers(self, run: str) -> list[tuple[float, Hanger]]:
        out = []
        for stretch in self.stretches(run):
            for hanger in self.on_piece.get(stretch.piece.id, []):
                t, _ = along(stretch.piece.start, stretch.piece.end, hanger.at)
                t = 1.0 - t if stretch.back else t
                out.append((stretch.start + t * (stretch.end - stretch.start), hanger))
        return sorted(out, key=lambda pair: (pair[0], pair[1].id))

    def held(self, run: str) -> float:
        """Position of what holds a run's start: 0, or before it where its parent ends in it, mm."""
        lead, seen = 0.0, {run}
        feed = self.fed_by.get(run)
        while feed is not None and feed.ends_run and feed.run not in seen:
            seen.add(feed.run)
            found = self.hangers(feed.run)
            lead += self.length(feed.run) - (found[-1][0] if found else 0.0)
            feed = None if found else self.fed_by.get(feed.run)
        return -lead

    def sections(self, run: str) -> list[Section]:
        """Return the sections of a run, and what lies between takeoffs where other fittings part it."""
        if run not in self._sections:
            self._sections[run] = self._find_sections(run)
        return self._sections[run]

    def _find_sections(self, run: str) -> list[Section]:
        stretches = self.stretches(run)
        if not stretches:
            return []
        cuts, takeoffs = [0.0], [0.0]
        for one, other in pairwise(stretches):
            shared = set(one.piece.fittings) & set(other.piece.fittings) - {None}
            for name in sorted(str(each) for each in shared):
                fitting = self.survey.fittings.get(name)
                if fitting is None or fitting.kind == "outlet":
                    continue
                cuts.append(one.end)
                takeoff = self.survey.takeoffs.get(fitting.owner)
                if takeoff is not None and takeoff.run == run:
                    takeoffs.append(one.end)
        cuts.append(stretches[-1].end)
        takeoffs.append(stretches[-1].end)
        spans = dict.fromkeys([*pairwise(cuts), *pairwise(takeoffs)])
        return [Section(low, high, low == 0.0) for low, high in spans if high - low > TOLERANCE_MM]

    def spacing(self, run: str, low: float, high: float) -> Limit:
        """Return how far two hangers may be apart, by the smallest pipe between them."""
        stretches = self.stretches(run)
        # both stand in the order of the flow: what begins before ``low`` and ends there is passed over
        sizes = [
            stretches[k].piece.dn
            for k in range(
                bisect_right(stretches, low + TOLERANCE_MM, key=_end_of),
                bisect_left(stretches, high - TOLERANCE_MM, key=_start_of),
            )
        ]
        limits = [self.limits.spacing(dn) for dn in dict.fromkeys(sizes)]
        close, least = self.limits.close_spacing(), self.limits.close_heads().mm
        if run not in self._close:
            self._close[run] = [
                s for s in self.sections(run) if not s.first and s.length < least - TOLERANCE_MM
            ]
        for section in self._close[run]:
            if low - TOLERANCE_MM <= section.start and section.end <= high + TOLERANCE_MM:
                limits.append(close)
                break
        return min(limits, key=lambda limit: limit.mm, default=close)

    # -- arms -------------------------------------------------------------------------------

    def arm(self, head: str) -> tuple[float, list[float], list[Leg]]:
        """Return the way to a head: plan length of its arm, where on it hangers are, and its pieces."""
        legs = [leg for leg in self.net.way_to(head) or [] if leg.piece.kind not in NO_ARM]
        at, spots = 0.0, []
        for leg in legs:
            span = flat_length(leg.start, leg.end)
            for hanger in self.on_piece.get(leg.piece.id, []):
                if not vertical(leg.piece):
                    t, _ = along(leg.start, leg.end, hanger.at)
                    spots.append(at + t * span)
            at += span
        return at, sorted(spots), legs
