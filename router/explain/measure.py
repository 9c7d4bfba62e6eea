"""What stands in a run's way at any level, measured; where its level changes could sit."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property
from typing import TYPE_CHECKING, Literal

import numpy as np

from router.explain.records import Limit
from router.explain.words import at, listed, mm
from router.geometry.plan import STRAIGHT_DEG
from router.geometry.solids import TOUCH
from router.profiles.blocked import Blocked
from router.profiles.changes import bend_kind, bend_take_out, coupling_half

if TYPE_CHECKING:
    from router.building.prepare import Prepared
    from router.profiles.frame import RunFrame
    from router.route.model import LevelChange, RunResult, Takeoff

MOST_MOVE = 3000.0
"""mm. A level change is not moved farther than this to see what is in its way."""
STEPS = 60
FINE = 0.5
"""mm. So exact is it known how far a level change could move."""


@dataclass
class Measured:
    """A run's frame with what it meets; stations and levels in mm.

    ``room``: stations at its start that the run keeps free.
    """

    prepared: Prepared
    frame: RunFrame
    result: RunResult
    takeoffs: list[Takeoff]
    room: float

    def blocking(self, level: float, a: float, b: float) -> list[tuple[float, float, int]]:
        """Give (from, to, solid) of what blocks the run at a level between two stations."""
        spans = self._spans(round(level, 3))
        return [(x, y, s) for x, y, s in spans if x < b - TOUCH and y > a + TOUCH]

    def _spans(self, level: float) -> list[tuple[float, float, int]]:
        if level not in self._known:
            one = replace(self.frame, levels=np.array([level]))
            crossings = self.prepared.crossings[self.frame.index]
            self._known[level] = _merged(Blocked(one, self.prepared.solids, crossings).spans[0])
        return self._known[level]

    @cached_property
    def _known(self) -> dict[float, list[tuple[float, float, int]]]:
        return {}

    def name(self, solid: int) -> str:
        """Give an obstruction's or ceiling's name, with what it is."""
        ident = self.prepared.solids.ids[solid]
        if self.prepared.solids.ceiling[solid]:
            return ident if "ceiling" in ident.lower() else f"ceiling {ident}"
        kind = next(o.kind for o in self.prepared.scenario.obstructions if o.id == ident)
        return ident if kind.lower() in ident.lower() else f"{kind} {ident}"

    def passes(self, solid: int, *, under: bool) -> float:
        """Return the highest level under (the lowest over) an obstruction, at its worse end, mm."""
        solids, pitch = self.prepared.solids, self.frame.pitch
        here = [c for c in self.prepared.crossings[self.frame.index] if c.solid == solid]
        if under:
            return min(float(solids.low[solid]) - c.reach - pitch * c.span[1] for c in here)
        return max(float(solids.high[solid]) + c.reach - pitch * c.span[0] for c in here)

    def obstruction(self, solid: int, span: tuple[float, float], *, under: bool) -> Limit:
        """Say what an obstruction asks of the run's level."""
        level = round(self.passes(solid, under=under), 1)
        name = self.name(solid)
        word = "<=" if under else ">="
        text = f"{name} needs level {word} {mm(level)} from station {at(span[0])} to {at(span[1])}"
        stations = (round(span[0], 1), round(span[1], 1))
        return Limit(
            kind="obstruction", against=self.prepared.solids.ids[solid], stations=stations, level=level,
            text=text,
        )  # fmt: skip

    @cached_property
    def taken(self) -> list[tuple[float, float, Limit]]:
        """What holds stations of the run: outlets, bends, changes of size, its start."""
        frame = self.frame
        out: list[tuple[float, float, Limit]] = []
        for t in self.takeoffs:
            whose = listed(t.heads or t.child_runs)
            low, high = t.occupies
            kind: Literal["outlet", "tee"] = "outlet" if t.heads else "tee"
            word = "the outlet of" if t.heads else "the tee to"
            limit = Limit(kind=kind, against=whose, stations=(low, high), text=f"{word} {whose}")
            out.append((low, high, limit))
        for v in range(1, len(frame.plan.sections)):
            if frame.plan.turn_at(v) < STRAIGHT_DEG:
                continue
            middle = float(frame.plan.stations[v])
            dn = frame.stretch_at(middle).dn
            kind_of_bend = bend_kind(frame, frame.plan.turn_at(v))
            half = frame.makeup.half(bend_take_out(frame, kind_of_bend, dn), dn,
                                     frame.elbow_joining) + frame.given_excess(dn)  # fmt: skip
            stations = (round(middle - half, 1), round(middle + half, 1))
            out.append((*stations, Limit(kind="bend", against=None, stations=stations,
                        text=f"the bend at station {at(middle)}")))  # fmt: skip
        if frame.uncut:
            for before, after in zip(frame.stretches, frame.stretches[1:], strict=False):
                if before.dn != after.dn:
                    half = coupling_half(frame, before.dn, after.dn)
                    stations = (after.start - half, after.start + half)
                    out.append((*stations, Limit(kind="bend", against=None, stations=stations,
                                text=f"the reducing coupling at station {at(after.start)}")))  # fmt: skip
        if self.room > 0:
            where = (
                "its first fitting at the supply" if frame.parent is None else "its tee on the supply line"
            )
            stations = (0.0, round(self.room, 1))
            out.append((0.0, self.room, Limit(kind="tee", against=None, stations=stations, text=where)))
        return sorted(out, key=lambda item: item[:2])


def _merged(spans: list[tuple[float, float, int]]) -> list[tuple[float, float, int]]:
    """Join what an obstruction blocks of parts of the run that meet, where its size changes."""
    out: list[tuple[float, float, int]] = []
    for a, b, solid in sorted(spans, key=lambda span: (span[2], span[0])):
        if out and out[-1][2] == solid and a <= out[-1][1] + FINE:
            out[-1] = (out[-1][0], max(b, out[-1][1]), solid)
        else:
            out.append((a, b, solid))
    return sorted(out)


@dataclass(frozen=True)
class Move:
    """How far a level change could move one way, mm, and what is in the way then."""

    far: float
    limits: list[Limit]


class Offset:
    """One level change of a run, as it is, and moved along the run."""

    def __init__(self, measured: Measured, change: LevelChange) -> None:
        self.of, self.change = measured, change
        frame = measured.frame
        self.first, self.second = change.stations
        self.la, self.lb = change.levels
        self.stretch = frame.stretch_at(self.first)
        kind = "elbow_45" if change.angle == 45 else "elbow_90"
        self.half = frame.elbow_half(kind, self.stretch.dn)
        self.begin, self.end = self.first - self.half, self.second + self.half

    def move(self, *, later: bool) -> Move:
        """Find how far it could move, and what stops it there."""
        way = 1.0 if later else -1.0
        most, fixed = self._fixed(later=later)
        most = max(most, 0.0)
        far, limits = 0.0, []
        step = max(most / STEPS, FINE)
        steps = [min(k * step, most) for k in range(1, STEPS + 1)] if most > FINE else []
        for d in steps:
            met = self._meets(way * d)
            if met:
                low, high = far, d
                while high - low > FINE:
                    middle = (low + high) / 2
                    found = self._meets(way * middle)
                    low, high, met = (low, middle, found) if found else (middle, high, met)
                return Move(low, met)
            far = d
        if most <= FINE and not fixed:
            limits = self._meets(way * 2 * FINE)
        return Move(most, [fixed] if fixed is not None else limits)

    def _fixed(self, *, later: bool) -> tuple[float, Limit | None]:
        """Return how far the room between what holds stations lets it go, and what ends it."""
        best, limit = MOST_MOVE, None
        for low, high, what in self._beside():
            middle = (low + high) / 2
            if later and middle > (self.begin + self.end) / 2 and low - self.end < best:
                text = f"{what.text} begins at {at(low)}"
                best, limit = low - self.end, what.model_copy(update={"text": text})
            if not later and middle < (self.begin + self.end) / 2 and self.begin - high < best:
                text = f"{what.text} ends at {at(high)}"
                best, limit = self.begin - high, what.model_copy(update={"text": text})
        return best, limit

    def _beside(self) -> list[tuple[float, float, Limit]]:
        out = list(self.of.taken)
        for other in self.of.result.level_changes:
            if other.id != self.change.id:
                o = Offset(self.of, other)
                limit = Limit(
                    kind="bend", against=other.id, stations=(round(o.begin, 1), round(o.end, 1)),
                    text=f"the level change at station {at(o.first)}",
                )  # fmt: skip
                out.append((o.begin, o.end, limit))
        end = self.stretch.section.end
        out.append((end, end + 1e3, Limit(kind="bend", against=None, text="the end of this straight part")))
        return out

    def _meets(self, d: float) -> list[Limit]:
        """Say what the change would meet if it were moved by ``d``, with the pipe before and after it."""
        of, frame, solids = self.of, self.of.frame, self.of.prepared.solids
        found: dict[int, Limit] = {}
        stays = of.blocking(self.la, self.begin + min(d, 0.0), self.first + d)
        goes = of.blocking(self.lb, self.second + d, self.end + max(d, 0.0))
        for level, spans in ((self.la, stays), (self.lb, goes)):
            for a, b, s in spans:
                under = (self.la > self.lb) == (level == self.la)
                found.setdefault(s, of.obstruction(s, (a, b), under=under))
        ends = [
            np.array([*frame.plan.point(x), float(frame.z(z, x))])
            for x, z in ((self.first + d, self.la), (self.second + d, self.lb))
        ]
        low, high = np.minimum(*ends), np.maximum(*ends)
        margin = self.stretch.radius + solids.widest
        for s in solids.near(low[0], low[1], high[0], high[1], margin).tolist():
            gap = solids.segment_distance(ends[0], ends[1], s) - self.stretch.radius
            if s not in found and gap < float(solids.clearance[s]) - TOUCH:
                text = f"{of.name(s)} is in the way of its slanted pipe"
                found[s] = Limit(kind="obstruction", against=solids.ids[s], text=text)
        return list(found.values())
