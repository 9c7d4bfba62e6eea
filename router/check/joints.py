"""Which port of a fitting a pipe is in, and what the trade tables say of it."""

from __future__ import annotations

from itertools import combinations
from math import acos, degrees
from typing import TYPE_CHECKING, NamedTuple

from router.check.vectors import Xyz, angle, unit

if TYPE_CHECKING:
    from router.check.survey import Survey
    from router.route.model import Fitting

MATCH_DEG = 1.0
"""A pipe fits an opening if its direction is that close (more, if the rules' squareness is laxer)."""


class Length(NamedTuple):
    """A table value: mm, source and grade. ``trouble`` says why there is none (then mm is 0)."""

    mm: float
    source: str
    grade: str
    trouble: str = ""


NOTHING = Length(0.0, "no fitting at this end", "none")


def opening(survey: Survey, fitting: Fitting, way: Xyz) -> int | None:
    """Index of the fitting's opening that points ``way``, as near as a pipe has to."""
    key = (fitting.id, way)
    if key not in survey.openings:
        survey.openings[key] = _opening(survey, fitting, way)
    return survey.openings[key]


def _opening(survey: Survey, fitting: Fitting, way: Xyz) -> int | None:
    units = survey.units.get(fitting.id)
    if units is None:
        units = survey.units[fitting.id] = [unit(direction) for direction in fitting.directions]
    towards = unit(way)
    if towards is None or not units:
        return None
    x, y, z = towards
    cosines = [-1.0 if each is None else each[0] * x + each[1] * y + each[2] * z for each in units]
    most = max(cosines)
    turned = degrees(acos(max(-1.0, min(1.0, most))))
    return cosines.index(most) if turned <= match_tolerance(survey) else None


def match_tolerance(survey: Survey) -> float:
    """Degrees within which a pipe matches an opening."""
    if survey.match_deg is None:
        survey.match_deg = max(MATCH_DEG, survey.rules.square_tolerance_deg)
    return survey.match_deg


def turns(survey: Survey, fitting: Fitting) -> dict[tuple[int, int], float]:
    """Angle between every two openings, degrees, by their indices (the lower first)."""
    found = survey.turns.get(fitting.id)
    if found is None:
        ways = fitting.directions
        found = {(i, j): angle(ways[i], ways[j]) for i, j in combinations(range(len(ways)), 2)}
        survey.turns[fitting.id] = found
    return found


def straight_pairs(survey: Survey, fitting: Fitting, tolerance: float) -> list[tuple[int, int]]:
    """Pairs of openings that face away from each other."""
    return [pair for pair, turn in turns(survey, fitting).items() if turn >= 180.0 - tolerance]


def take_out(survey: Survey, fitting: Fitting, way: Xyz | None) -> Length:
    """Centre-to-end length of a fitting towards a pipe that leaves it ``way``.

    An outlet on an uncut run is asked along the run as well: then it is half
    the room that it needs there.
    """
    found = survey.take_outs.get((fitting.id, way))
    if found is None:
        found = survey.take_outs[fitting.id, way] = _take_out(survey, fitting, way)
    return found


def _take_out(survey: Survey, fitting: Fitting, way: Xyz | None) -> Length:
    if fitting.kind in ("plug", "cap"):
        return NOTHING
    at = None if way is None else opening(survey, fitting, way)
    sizes = fitting.sizes
    if fitting.kind == "outlet":
        seat = survey.seats.get(fitting.id)
        if seat is None or not sizes:
            return Length(0.0, "", "none", "it sits on no pipe of its run")
        port = "run" if at is None or _along_seat(survey, fitting, way) else "outlet"
        return _found(survey, fitting, port, seat.piece.dn, min(sizes))
    if at is None or at >= len(sizes):
        return Length(0.0, "", "none", "no opening of it points along the pipe")
    if fitting.kind in ("tee", "cross"):
        pair, run, branch = _in_line(survey, fitting)
        if not pair:
            return Length(0.0, "", "none", "none of its openings are in line")
        return _found(survey, fitting, "run" if at in pair else "outlet", run, branch)
    large, small = max(sizes), min(sizes)
    port = "run" if sizes[at] == large else "outlet"
    return _found(survey, fitting, port, large, small)


def _in_line(survey: Survey, fitting: Fitting) -> tuple[tuple[int, ...], int, int]:
    """Return the run of a tee or cross, its largest openings in line: which, their DN, and its branch's DN.

    No openings where none are in line.
    """
    found = survey.in_line.get(fitting.id)
    if found is None:
        pairs = straight_pairs(survey, fitting, match_tolerance(survey))
        pair = min(pairs, key=lambda pair: -max(_sizes(fitting, pair)), default=())
        found = ((), 0, 0)
        if pair and max(pair) < len(fitting.sizes):
            run = max(_sizes(fitting, pair))
            branch = max((size for k, size in enumerate(fitting.sizes) if k not in pair), default=run)
            found = (pair, run, branch)
        survey.in_line[fitting.id] = found
    return found


def _sizes(fitting: Fitting, pair: tuple[int, int]) -> list[int]:
    return [fitting.sizes[k] for k in pair if k < len(fitting.sizes)] or [0]


def _along_seat(survey: Survey, fitting: Fitting, way: Xyz | None) -> bool:
    piece = survey.seats[fitting.id].piece
    forward = survey.ends(piece)[0].into
    if way is None or forward is None:
        return True
    turn = angle(way, forward)
    return turn < 45.0 or turn > 135.0


def _found(survey: Survey, fitting: Fitting, port: str, dn: int, outlet_dn: int) -> Length:
    try:
        found = survey.tables.found(
            fitting.kind, port, dn, outlet_dn, joining=survey.fitting_joining(fitting)
        )
    except ValueError as fault:
        return Length(0.0, "", "none", str(fault))
    return Length(found.mm, found.source, str(found.sure))


def worse(a: str, b: str) -> str:
    """Return the less sure of two grades (A is surest, ``none`` is no table value and does not count)."""
    if a == "none" or b == "none":
        return b if a == "none" else a
    return max(a, b)


def nipple(survey: Survey, dn: int, joining: str) -> Length:
    """Shortest pipe between two fittings, mm overall."""
    found = survey.nipples.get((dn, joining))
    if found is None:
        found = survey.nipples[dn, joining] = _nipple(survey, dn, joining)
    return found


def _nipple(survey: Survey, dn: int, joining: str) -> Length:
    table = "nipple_shouldered" if joining == "threaded" else "grooved_gap"
    if survey.system.standard == "metric" and joining == "threaded":
        table = "nipple_bare_metric"
    try:
        least = survey.tables.shortest_nipple(dn, joining=joining)
    except ValueError as fault:
        return Length(0.0, "", "none", str(fault))
    if joining in ("welded", "butt_weld"):
        return Length(least, "welded ends may touch", "none")
    source, grade = survey.tables.source(table)
    return Length(least, source, str(grade))


def engagement(survey: Survey, dn: int, joining: str) -> float:
    """How far a pipe end goes into a fitting, mm; 0 for a size that has none (its nipple reports it)."""
    found = survey.engagements.get((dn, joining))
    if found is None:
        try:
            found = float(survey.tables.engagement(dn, joining=joining))
        except ValueError:
            found = 0.0
        survey.engagements[dn, joining] = found
    return found
