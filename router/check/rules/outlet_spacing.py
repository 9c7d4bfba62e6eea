"""Neighbouring fittings on a run leave room for the pipe between them and for a wrench."""

from __future__ import annotations

from itertools import pairwise
from math import dist
from typing import TYPE_CHECKING, NamedTuple

from router.check.findings import NEAR_MM, PRACTICE
from router.check.joints import nipple, take_out, worse
from router.check.rule import Judge

if TYPE_CHECKING:
    from collections.abc import Iterator

    from router.check.findings import Finding, RuleInForce
    from router.check.network import Network
    from router.check.survey import Survey
    from router.check.vectors import Xyz
    from router.route.model import Fitting, Piece

_J = Judge("outlet_spacing", *PRACTICE)


class Pair(NamedTuple):
    """Two neighbouring fittings on run pipe, the way from each to the other, and how far it is, mm."""

    piece: Piece
    first: Fitting
    second: Fitting
    onward: Xyz | None
    back: Xyz | None
    apart: float


def in_force(survey: Survey) -> RuleInForce:
    """Say what the rule asks in this scenario."""
    fixed = survey.rules.outlet_spacing
    table = "both take-outs + shortest nipple - two engagements" if fixed is None else f"{fixed:g} mm"
    return _J.in_force(
        "neighbouring fittings on a run keep the made-up distance and a working allowance, centre to "
        "centre; the two elbows of one offset need no allowance",
        f"{table} + {survey.rules.working_allowance:g} mm",
    )


def check(survey: Survey, net: Network) -> Iterator[Finding]:
    """Yield neighbours that are too close, run by run."""
    offsets = {
        frozenset(change.fittings) for built in survey.built.values() for change in built.level_changes
    }
    seated: dict[str, list[tuple[float, Fitting]]] = {}
    for name, seat in survey.seats.items():
        if name not in seat.piece.fittings:
            seated.setdefault(seat.piece.id, []).append((seat.at, survey.fittings[name]))
    stops = {key: _stops(survey, pieces, seated) for key, pieces in survey.run_pieces.items()}
    for by_piece in stops.values():
        for piece_id, found in by_piece.items():
            piece = survey.pieces[piece_id]
            forward, back = survey.ends(piece)[0].into, survey.ends(piece)[1].into
            for (at, a), (beyond, b) in pairwise(found):
                pair = Pair(piece, a, b, forward, back, beyond - at)
                yield from _judge(survey, pair, frozenset((a.id, b.id)) in offsets)
    for one, other in net.joints.items():
        pair_over = _over_joint(survey, stops, one, other) if one < other else None
        if pair_over is not None:
            yield from _judge(survey, pair_over, False)


def _stops(
    survey: Survey, pieces: list[Piece], seated: dict[str, list[tuple[float, Fitting]]]
) -> dict[str, list[tuple[float, Fitting]]]:
    """By piece: the fittings at its ends and on it (``seated``), by distance from its start, in order."""
    found = {piece.id: list(seated.get(piece.id, ())) for piece in pieces}
    for piece in pieces:
        for at, at_end in zip((0.0, dist(piece.start, piece.end)), piece.fittings, strict=True):
            fitting = survey.fittings.get(at_end or "")
            if fitting is not None:
                found[piece.id].append((at, fitting))
        found[piece.id].sort(key=lambda stop: (stop[0], stop[1].id))
    return found


def _over_joint(
    survey: Survey,
    stops: dict[str, dict[str, list[tuple[float, Fitting]]]],
    one: tuple[str, int],
    other: tuple[str, int],
) -> Pair | None:
    """Return the fittings on either side of where a child run goes straight on from its parent."""
    sides = []
    for piece_id, index in (one, other):
        piece = survey.pieces[piece_id]
        found = stops.get(piece.run, {}).get(piece_id, [])
        if not found:
            return None
        at, fitting = found[0] if index == 0 else found[-1]
        gap = at if index == 0 else dist(piece.start, piece.end) - at
        # From the fitting to the joint: against the piece if the joint is at its start.
        way = survey.ends(piece)[1 if index == 0 else 0].into
        sides.append((fitting, way, gap))
    (a, onward, before), (b, back, after) = sides
    return Pair(survey.pieces[one[0]], a, b, onward, back, before + after)


def _judge(survey: Survey, pair: Pair, one_offset: bool) -> Iterator[Finding]:
    joining = survey.joining(pair.piece.run)
    dn = pair.piece.dn
    first = take_out(survey, pair.first, pair.onward)
    second = take_out(survey, pair.second, pair.back)
    least = nipple(survey, dn, joining)
    fixed = survey.rules.outlet_spacing
    if fixed is not None and all(
        _outlet(survey, fitting, pair.piece.run) for fitting in (pair.first, pair.second)
    ):
        need = fixed
        source, grade = "given in the scenario (rules.outlet_spacing)", "none"
    elif first.trouble or second.trouble or least.trouble:
        return  # the rule make_up names it
    else:
        need = float(survey.tables.least_centres(first.mm, second.mm, dn, joining=joining))
        source = f"{first.source}; {least.source}"
        grade = worse(worse(first.grade, second.grade), least.grade)
    if not one_offset:
        need += survey.rules.working_allowance
    if pair.apart - need >= NEAR_MM:
        return
    yield from _J.of(source, grade).at_least(
        pair.first.id,
        "centre to centre",
        pair.apart,
        need,
        place=pair.first.at,
        against=pair.second.id,
    )


def _outlet(survey: Survey, fitting: Fitting, run_id: str) -> bool:
    """Whether a takeoff leaves this run at the fitting (bends, offsets and starts are none)."""
    takeoff = survey.takeoffs.get(fitting.owner)
    if takeoff is None or takeoff.run != run_id:
        return False
    found = survey.run_fitting(takeoff)
    return found is not None and found.id == fitting.id
