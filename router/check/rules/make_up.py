"""The pipe between two fittings: its length, recomputed from take-outs, and at least the shortest nipple."""

from __future__ import annotations

from math import dist
from typing import TYPE_CHECKING

from router.check.findings import NEAR_MM, TOLERANCE_MM
from router.check.joints import NOTHING, Length, engagement, nipple, take_out, worse
from router.check.rule import Judge

if TYPE_CHECKING:
    from collections.abc import Iterator

    from router.check.findings import Finding, RuleInForce
    from router.check.network import Network
    from router.check.survey import Survey
    from router.route.model import Piece

_J = Judge("make_up")
NOT_CUT = ("barrel", "hose")
"""Pieces that are bought to length: they have no make-up."""


def in_force(survey: Survey) -> RuleInForce:
    """Say what the rule asks in this scenario."""
    least = nipple(survey, survey.rules.arm_size, "threaded")
    return _J.of(least.source, least.grade).in_force(
        "centre to centre less take-outs plus engagements is at least the shortest nipple, "
        "and is what the route says",
        f"DN{survey.rules.arm_size} threaded: {least.mm:.1f} mm overall; written within {TOLERANCE_MM:g} mm",
    )


def made_up(survey: Survey, piece: Piece) -> tuple[float, list[Length]]:
    """Bare pipe length of a piece in mm, and the table values it rests on."""
    engaged = engagement(survey, piece.dn, survey.piece_joining(piece))
    ends: list[Length] = []
    length = dist(piece.start, piece.end)
    for end, name in zip(survey.ends(piece), piece.fittings, strict=True):
        fitting = None if name is None else survey.fittings.get(name)
        if fitting is None:
            ends.append(NOTHING)
            continue
        found = take_out(survey, fitting, end.into)
        ends.append(found)
        length += engaged - found.mm
    return length, ends


def check(survey: Survey, net: Network) -> Iterator[Finding]:
    """Yield pieces whose length or make-up is not what is written, or too short."""
    for piece in survey.pieces.values():
        length = dist(piece.start, piece.end)
        if length < TOLERANCE_MM:
            yield _J.breaks(
                piece.id, f"{piece.id}: the piece has no length", measured=length, place=piece.start
            )
            continue
        if abs(length - piece.length) > TOLERANCE_MM:
            text = f"{piece.id}: {length:.1f} mm centre to centre, written {piece.length:.1f} mm"
            yield _J.breaks(piece.id, text, measured=length, limit=piece.length, place=piece.start)
        if piece.kind in NOT_CUT:
            if abs(length - piece.make_up) > TOLERANCE_MM:
                text = f"{piece.id}: a {piece.kind} of {length:.1f} mm, written {piece.make_up:.1f} mm"
                yield _J.breaks(piece.id, text, measured=length, limit=piece.make_up, place=piece.start)
        else:
            yield from _make_up(survey, net, piece)


def _spacing_given(survey: Survey, piece: Piece) -> bool:
    """Tell whether the scenario itself gives how near the piece's two outlets may be."""
    if survey.rules.outlet_spacing is None or piece.kind != "run":
        return False
    owners = [
        survey.takeoffs.get(survey.fittings[name].owner) for name in piece.fittings if name in survey.fittings
    ]
    return len(owners) == 2 and all(t is not None and t.run == piece.run for t in owners)


def _make_up(survey: Survey, net: Network, piece: Piece) -> Iterator[Finding]:
    bare, ends = made_up(survey, piece)
    if ends[0].trouble or ends[1].trouble:
        for found, name in zip(ends, piece.fittings, strict=True):
            if found.trouble:
                text = f"{piece.id}: no take-out for {name}: {found.trouble}"
                yield _J.breaks(piece.id, text, place=piece.start, against=name)
        return
    if abs(bare - piece.make_up) > TOLERANCE_MM:
        text = f"{piece.id}: make-up is {bare:.1f} mm, written {piece.make_up:.1f} mm"
        yield _J.breaks(piece.id, text, measured=bare, limit=piece.make_up, place=piece.start)
    least = nipple(survey, piece.dn, survey.piece_joining(piece))
    if least.trouble:
        yield _J.breaks(piece.id, f"{piece.id}: {least.trouble}", place=piece.start)
        return
    if _spacing_given(survey, piece):
        return
    # A run that goes straight on is one pipe over two records.
    for index in (0, 1):
        other = net.joints.get((piece.id, index))
        if other is not None:
            bare += made_up(survey, survey.pieces[other[0]])[0]
    if bare - least.mm >= NEAR_MM:
        return
    grade = worse(worse(ends[0].grade, ends[1].grade), least.grade)
    judge = _J.of(least.source, grade)
    fittings = sum(name in survey.fittings for name in piece.fittings if name is not None)
    # With one end free a near miss means nothing.
    if fittings == 2 or least.mm - bare > TOLERANCE_MM:
        yield from judge.at_least(piece.id, "make-up", bare, least.mm, place=piece.start)
