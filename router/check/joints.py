"""Which port of a fitting a pipe is in, and what the trade tables say of it."""

from __future__ import annotations

from itertools import combinations
from typing import TYPE_CHECKING, NamedTuple

from router.check.vectors import Xyz, angle

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


def opening(fitting: Fitting, way: Xyz, tolerance: float) -> int | None:
    """Index of the fitting's opening that points ``way`` within a tolerance in degrees."""
    found = [(angle(direction, way), k) for k, direction in enumerate(fitting.directions)]
    best = min(found, default=(180.0, -1))
    return best[1] if best[0] <= tolerance else None


def match_tolerance(survey: Survey) -> float:
    """Degrees within which a pipe matches an opening."""
    return max(MATCH_DEG, survey.rules.square_tolerance_deg)


def straight_pairs(fitting: Fitting, tolerance: float) -> list[tuple[int, int]]:
    """Pairs of openings that face away from each other."""
    ways = fitting.directions
    return [
        (i, j) for i, j in combinations(range(len(ways)), 2) if angle(ways[i], ways[j]) >= 180.0 - tolerance
    ]


def take_out(survey: Survey, fitting: Fitting, way: Xyz | None) -> Length:
    """Centre-to-end length of a fitting towards a pipe that leaves it ``way``.

    An outlet on an uncut run is asked along the run as well: then it is half
    the room that it needs there.
    """
    if fitting.kind in ("plug", "cap"):
        return NOTHING
    tolerance = match_tolerance(survey)
    at = None if way is None else opening(fitting, way, tolerance)
    sizes = fitting.sizes
    if fitting.kind == "outlet":
        seat = survey.seats.get(fitting.id)
        if seat is None or not sizes:
            return Length(0.0, "", "none", "it sits on no pipe of its run")
        port = "run" if at is None or _along_seat(survey, fitting, way) else "outlet"
        return _found(survey, fitting, port, seat.piece.dn, min(sizes))
    if at is None or at >= len(sizes):
        return Length(0.0, "", "none", "no opening of it points along the pipe")
    large, small = max(sizes), min(sizes)
    if fitting.kind in ("tee", "cross"):
        pairs = sorted(straight_pairs(fitting, tolerance), key=lambda p: -max(_sizes(fitting, p)))
        if not pairs or max(pairs[0]) >= len(sizes):
            return Length(0.0, "", "none", "none of its openings are in line")
        run = max(_sizes(fitting, pairs[0]))
        branch = max((size for k, size in enumerate(sizes) if k not in pairs[0]), default=run)
        return _found(survey, fitting, "run" if at in pairs[0] else "outlet", run, branch)
    port = "run" if sizes[at] == large else "outlet"
    return _found(survey, fitting, port, large, small)


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
    return max((g for g in (a, b) if g != "none"), default="none")


def nipple(survey: Survey, dn: int, joining: str) -> Length:
    """Shortest pipe between two fittings, mm overall."""
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
    try:
        return float(survey.tables.engagement(dn, joining=joining))
    except ValueError:
        return 0.0
