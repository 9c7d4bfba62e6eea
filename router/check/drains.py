"""Where a system cannot drain back to its supply, and how much water stays there."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from math import dist, pi
from typing import TYPE_CHECKING

from router.check.findings import TOLERANCE_MM
from router.trade.drains import drain_for

if TYPE_CHECKING:
    from router.check.lines import Line
    from router.check.survey import Survey
    from router.route.model import Piece, Takeoff


def trapped(line: Line, built_to: float) -> list[tuple[float, float]]:
    """Low points that water cannot leave towards the supply, as station ranges in mm.

    Each low point of the profile beyond the supply has its own range: from
    where the pipe begins to fall to where it is that high again, or falls
    anew after a rise, or ends. On a pitched line every fall has its own low
    point, since the pipe beyond it rises.
    """
    found: list[tuple[float, float]] = []
    since: float | None = None
    crest = 0.0
    rising = True
    for (sa, za), (sb, zb) in pairwise(_corners(line, built_to)):
        if zb < za - TOLERANCE_MM:
            if since is not None and rising:
                found.append((since, sa))
                since = None
            if since is None:
                since, crest = sa, za
            rising = False
        elif zb > za + TOLERANCE_MM:
            rising = True
            if since is not None and zb >= crest - TOLERANCE_MM:
                found.append((since, sa + min(max((crest - za) / (zb - za), 0.0), 1.0) * (sb - sa)))
                since = None
    if since is not None:
        found.append((since, built_to))
    return found


def _corners(line: Line, built_to: float) -> list[tuple[float, float]]:
    """(station, z) where the run may turn up or down, up to where it is built."""
    inside = [(s, level) for s, level in line.profile if s <= built_to + 1e-6]
    if not inside:
        return []
    if inside[-1][0] < built_to - 1e-6:
        inside.append((built_to, line.levels(built_to)[0]))
    return [(s, level + line.rise(s)) for s, level in inside]


def can_trap(survey: Survey) -> bool:
    """Only dry and preaction systems have to drain."""
    return survey.system.kind in ("dry", "preaction")


@dataclass(frozen=True)
class Low:
    """A trapped low section as the referee finds it.

    ``stations`` as in the route's record; ``litres`` below the level at which the
    water would spill; ``counts_as`` the term of the objective.
    """

    run: str
    stations: tuple[float, float] | None
    litres: float
    counts_as: str


def downward_children(survey: Survey) -> list[tuple[str, str]]:
    """(takeoff, child run) where a child run starts lower than its parent is there."""
    found: list[tuple[str, str]] = []
    for takeoff in survey.takeoffs.values():
        at = survey.place_of(takeoff)
        for name in takeoff.child_runs:
            child = survey.built.get(name)
            if at is not None and child is not None and child.supply_level < at[2] - TOLERANCE_MM:
                found.append((takeoff.id, name))
    return found


def low_sections(survey: Survey) -> list[Low]:
    """Return the trapped low sections of the whole route, worked out once."""
    if survey.lows is None:
        survey.lows = _low_sections(survey)
    return survey.lows


def _low_sections(survey: Survey) -> list[Low]:
    found: list[Low] = []
    for key, line in survey.lines.items():
        built_to = survey.built[key].built_to
        if can_trap(survey):
            stretches = [(a, b, _height(line, a)) for a, b in trapped(line, built_to)]
        else:
            stretches = [
                (a, b, spill)
                for a, b, spill, foot, rise in dips(line, built_to)
                if not _drained_by_a_head(survey, key, foot, rise)
            ]
        for a, b, spill in stretches:
            litres = sum(
                _water(survey, piece, spill, line, (a, b)) for piece in survey.run_pieces.get(key, [])
            )
            for takeoff in _takeoffs(survey, key):
                if a - TOLERANCE_MM <= takeoff.station <= b + TOLERANCE_MM:
                    litres += _beyond(survey, takeoff, spill)
            found.append(Low(key, (a, b), litres, _term(survey, litres)))
    down: dict[str, list[str]] = {}
    for key, name in downward_children(survey):
        down.setdefault(key, []).append(name)
    for key, lower in down.items():
        # two runs on one nipple meet in its tee, their common low point
        takeoff = survey.takeoffs[key]
        at = survey.place_of(takeoff)
        if at is None or (not can_trap(survey) and any(_feeds_pendent(survey, name) for name in lower)):
            continue
        litres = sum(_whole(survey, name, at[2]) for name in lower)
        litres += sum(_water(survey, p, at[2]) for p in survey.takeoff_pieces.get(takeoff.id, []))
        found.append(Low(lower[0], None, litres, _term(survey, litres)))
    return found


def _term(survey: Survey, litres: float) -> str:
    return drain_for(survey.system.kind, litres, tables=survey.tables).counts_as


def dips(line: Line, built_to: float) -> list[tuple[float, float, float, float, float]]:
    """Hollows of a wet run: (from, to, level at which it spills, foot of its last fall, where it rises).

    Only changes of level make one; the pitch of the line does not.
    """
    found: list[tuple[float, float, float, float, float]] = []
    low: tuple[float, float, float] | None = None
    levels = [(s, level) for s, level in line.profile if s <= built_to + 1e-6]
    for (sa, la), (sb, lb) in pairwise(levels):
        above, beyond = la + line.rise(sa), lb + line.rise(sb)
        if lb < la - TOLERANCE_MM:
            low = (sa, above, sb) if low is None else (low[0], low[1], sb)
        elif lb > la + TOLERANCE_MM and low is not None:
            found.append((low[0], sb, min(low[1], beyond), low[2], sa))
            low = None
    if low is not None:
        found.append((low[0], built_to, low[1], low[2], built_to))
    return found


def _drained_by_a_head(survey: Survey, run: str, foot: float, rise: float) -> bool:
    """Tell whether a pendent head on the hollow, or on a run that goes on from it, empties it."""
    for takeoff in _takeoffs(survey, run):
        at = survey.place_of(takeoff)
        if at is None or not foot - TOLERANCE_MM <= takeoff.station <= rise + TOLERANCE_MM:
            continue
        if _lets_out(survey, takeoff):
            return True
        onward = [survey.built[n] for n in takeoff.child_runs if n in survey.built]
        if any(b.supply_level <= at[2] + TOLERANCE_MM and _feeds_pendent(survey, b.id) for b in onward):
            return True
    return False


def _takeoffs(survey: Survey, run: str) -> list[Takeoff]:
    return survey.takeoffs_of.get(run, [])


def _lets_out(survey: Survey, takeoff: Takeoff) -> bool:
    """Tell whether water runs out where a pendent head is taken off: no pipe to it rises above the outlet."""
    if not any(name in survey.heads and survey.heads[name].kind == "pendent" for name in takeoff.heads):
        return False
    at = survey.place_of(takeoff)
    way = [p for p in survey.takeoff_pieces.get(takeoff.id, []) if p.kind in ("nipple", "arm")]
    return at is None or all(max(p.start[2], p.end[2]) <= at[2] + TOLERANCE_MM for p in way)


def _feeds_pendent(survey: Survey, run: str) -> bool:
    """Tell whether a pendent hangs on a run or below it; by what way is not asked (assumed, no source)."""
    stack, seen = [run], set()
    while stack:
        name = stack.pop()
        if name in seen:
            continue
        seen.add(name)
        for takeoff in _takeoffs(survey, name):
            if any(h in survey.heads and survey.heads[h].kind == "pendent" for h in takeoff.heads):
                return True
            stack += takeoff.child_runs
    return False


def _beyond(survey: Survey, takeoff: Takeoff, spill: float) -> float:
    own = sum(_water(survey, piece, spill) for piece in survey.takeoff_pieces.get(takeoff.id, []))
    return own + sum(_whole(survey, name, spill) for name in takeoff.child_runs)


def _whole(survey: Survey, run: str, spill: float) -> float:
    """Litres below ``spill`` in a run and everything that leaves it."""
    stack, seen, litres = [run], set(), 0.0
    while stack:
        name = stack.pop()
        if name in seen:
            continue
        seen.add(name)
        litres += sum(_water(survey, piece, spill) for piece in survey.run_pieces.get(name, []))
        for takeoff in _takeoffs(survey, name):
            litres += sum(_water(survey, piece, spill) for piece in survey.takeoff_pieces.get(takeoff.id, []))
            stack += takeoff.child_runs
    return litres


def _water(
    survey: Survey,
    piece: Piece,
    spill: float,
    line: Line | None = None,
    stations: tuple[float, float] | None = None,
) -> float:
    """Litres in the part of a piece below ``spill`` (and between two stations), by its bore.

    What stands at a head (drop, sprig, barrel, hose) is emptied there.
    """
    if piece.kind not in ("run", "arm", "nipple"):
        return 0.0
    low, high = 0.0, 1.0
    if line is not None and stations is not None:
        (s, _), (t, _) = (line.nearest(*end[:2]) for end in (piece.start, piece.end))
        if abs(t - s) > TOLERANCE_MM:
            cuts = sorted((x - s) / (t - s) for x in stations)
            low, high = max(low, cuts[0]), min(high, cuts[1])
        elif not stations[0] - TOLERANCE_MM <= s <= stations[1] + TOLERANCE_MM:
            return 0.0
    za, zb = piece.start[2], piece.end[2]
    if abs(zb - za) > TOLERANCE_MM:
        at_spill = (spill - za) / (zb - za)
        low, high = (low, min(high, at_spill)) if zb > za else (max(low, at_spill), high)
    elif min(za, zb) >= spill - TOLERANCE_MM:
        return 0.0
    try:
        bore = float(survey.tables.bore(piece.dn))
    except ValueError:
        return 0.0  # the rule sizes names it
    return max(high - low, 0.0) * dist(piece.start, piece.end) * pi / 4.0 * bore**2 / 1e6


def _height(line: Line, station: float) -> float:
    """Elevation of the line at a station, the higher one at an upright, mm."""
    return line.levels(station)[1] + line.rise(station)
