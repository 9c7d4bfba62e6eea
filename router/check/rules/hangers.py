"""Hangers lie on their pipe, near enough to each other and to the end heads, under what they name."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from itertools import pairwise
from math import dist
from typing import TYPE_CHECKING

import shapely

from router.check.arms import NO_ARM, over_100_psi, unsupported_limit
from router.check.distances import plans
from router.check.findings import PRACTICE, TOLERANCE_MM
from router.check.hanging import Hanging, vertical
from router.check.joints import take_out
from router.check.rule import Judge
from router.check.vectors import along, flat_length
from router.trade.hangers import FITTING_CLEARANCE_MM, LONGEST_ROD_MM, HangerLimits, is_structure

if TYPE_CHECKING:
    from collections.abc import Iterator

    from router.check.findings import Finding, RuleInForce
    from router.check.network import Network
    from router.check.survey import Seat, Survey
    from router.check.vectors import Xyz
    from router.route.model import Hanger, Piece
    from router.trade.hangers import Limit

_J = Judge("hangers")
ROOM_MM = 250.0
"""Bare pipe below which the end line's starter is not asked for a hanger: there may be no room."""


def in_force(survey: Survey) -> RuleInForce:
    """Say what the rule asks in this scenario."""
    limits = HangerLimits(survey.tables, survey.rules)
    small, large = limits.spacing(25), limits.spacing(50)
    text = (
        f"DN25 {small.mm:.1f} mm, DN50 {large.mm:.1f} mm; to the end head DN25 "
        f"{limits.to_end(25).mm:.1f} mm, DN50 {limits.to_end(50).mm:.1f} mm; "
        f"to an upright {limits.upright().mm:.1f} mm"
    )
    return _J.of(small.source, small.grade).in_force(
        "hangers are near enough to each other and to the end heads, one to a section of pipe, on long arms, "
        "clear of uprights and fittings, and under the structure that they name",
        text,
    )


def check(survey: Survey, net: Network) -> Iterator[Finding]:
    """Yield hangers out of place and pipe without one; a route that lists none gets one note."""
    if not survey.route.hangers:
        if survey.pieces:
            yield _J.note("route", "the route lists no hangers: where its pipe hangs is not checked")
        return
    hanging = Hanging(survey, net)
    covers = _Covers(survey)
    seen: set[str] = set()
    for hanger in survey.route.hangers:
        if hanger.id in seen:
            yield _J.breaks(hanger.id, f"{hanger.id}: two hangers have this id", place=hanger.at)
        seen.add(hanger.id)
        piece = survey.pieces.get(hanger.piece)
        if piece is None:
            text = f"{hanger.id}: there is no piece {hanger.piece}"
            yield _J.breaks(hanger.id, text, place=hanger.at, against=hanger.piece)
            continue
        yield from _on_piece(hanger, piece)
        yield from _under(survey, covers, hanger, piece)
        if hanger.kind != "sprig_restraint":
            yield from _clear(survey, covers, hanging.limits, hanger, piece)
    for run in survey.built:
        yield from _run(survey, hanging, run)
    yield from _arms(survey, hanging)
    yield from _sprigs(survey, hanging.limits)


def _over(element: str, what: str, measured: float, limit: Limit, place: Xyz | None) -> Iterator[Finding]:
    """Yield a break if a length is above its most."""
    over = measured - limit.mm
    if over > TOLERANCE_MM:
        text = f"{element}: {what} is {measured:.1f} mm, {over:.1f} mm over {limit.mm:.1f} mm"
        judge = _J.of(limit.source, limit.grade)
        yield judge.breaks(element, text, measured=measured, limit=limit.mm, place=place)


def _on_piece(hanger: Hanger, piece: Piece) -> Iterator[Finding]:
    _, away = along(piece.start, piece.end, hanger.at)
    if away > TOLERANCE_MM:
        text = f"{hanger.id}: it is {away:.1f} mm off the axis of {piece.id}"
        yield _J.breaks(hanger.id, text, measured=away, limit=0.0, place=hanger.at, against=piece.id)
    kinds = {"run": piece.kind == "run", "sprig_restraint": piece.kind == "sprig"}
    if not kinds.get(hanger.kind, piece.kind not in NO_ARM) or hanger.run != piece.run:
        text = (
            f"{hanger.id}: a hanger of kind {hanger.kind} on {hanger.run}, "
            f"but {piece.id} is {piece.kind} pipe of {piece.run}"
        )
        yield _J.breaks(hanger.id, text, place=hanger.at, against=piece.id)
    if hanger.kind != "sprig_restraint" and vertical(piece):
        text = f"{hanger.id}: {piece.id} is vertical"
        yield _J.of(*PRACTICE).breaks(hanger.id, text, place=hanger.at, against=piece.id)


class _Covers:
    """What covers a point in plan, which uprights are near it, which outlets sit on its piece."""

    def __init__(self, survey: Survey) -> None:
        self.solids = [item for item in survey.scenario.obstructions if len(item.polygon) >= 3]
        self.shapes = plans([item.polygon for item in self.solids])
        self.tree = shapely.STRtree(self.shapes)
        self.at = {item.id: k for k, item in enumerate(self.solids)}
        self.heads = [
            (name, result.inlet)
            for name, result in survey.results.items()
            if name in survey.heads and survey.heads[name].kind == "upright"
        ]
        self.points = shapely.STRtree([shapely.Point(inlet[:2]) for _, inlet in self.heads])
        self.seats: dict[str, list[tuple[str, Seat]]] = {}
        for name, seat in survey.seats.items():
            self.seats.setdefault(seat.piece.id, []).append((name, seat))

    def uprights(self, point: Xyz, within: float) -> list[tuple[str, Xyz]]:
        """Upright heads nearer in plan than ``within``."""
        if not self.heads:
            return []
        found = self.points.query(shapely.Point(point[:2]), predicate="dwithin", distance=within)
        return [self.heads[int(k)] for k in sorted(found)]

    def between(self, point: Xyz, low: float, high: float) -> list[str]:
        """Ids of what covers a point with its underside from ``low`` to below ``high``."""
        found = self.tree.query(shapely.Point(point[:2]), predicate="within")
        return [
            self.solids[int(k)].id
            for k in sorted(found)
            if low - TOLERANCE_MM <= min(self.solids[int(k)].elevations) < high - TOLERANCE_MM
        ]


def _under(survey: Survey, covers: _Covers, hanger: Hanger, piece: Piece) -> Iterator[Finding]:
    name, at = hanger.structure, hanger.at
    if name is None:
        return
    k = covers.at.get(name)
    if k is None or not is_structure(covers.solids[k].kind):
        what = "there is none of that id" if k is None else f"it is a {covers.solids[k].kind}"
        yield _J.breaks(hanger.id, f"{hanger.id}: nothing hangs from {name}: {what}", place=at, against=name)
        return
    away = float(shapely.distance(covers.shapes[k], shapely.Point(at[:2])))
    if away > TOLERANCE_MM:
        text = f"{hanger.id}: {name} is {away:.1f} mm beside it in plan"
        yield _J.breaks(hanger.id, text, measured=away, limit=0.0, place=at, against=name)
        return
    low, top = min(covers.solids[k].elevations), at[2] + survey.radius(piece)
    if low < top - TOLERANCE_MM:
        text = f"{hanger.id}: the underside of {name} is {top - low:.1f} mm below the pipe's top"
        yield _J.breaks(hanger.id, text, measured=low, limit=top, place=at, against=name)
        return
    if hanger.rod is None or abs(hanger.rod - (low - at[2])) > TOLERANCE_MM:
        text = f"{hanger.id}: {name} is {low - at[2]:.1f} mm above the centre line, its rod is {hanger.rod}"
        yield _J.breaks(hanger.id, text, measured=hanger.rod, limit=low - at[2], place=at, against=name)
    if low - at[2] > LONGEST_ROD_MM + TOLERANCE_MM:
        text = f"{hanger.id}: {name} is {low - at[2]:.1f} mm above the pipe: another storey's structure"
        measured, limit = low - at[2], LONGEST_ROD_MM
        yield _J.of(*PRACTICE).breaks(hanger.id, text, measured=measured, limit=limit, place=at, against=name)
    for other in covers.between(at, top, low):
        if other != name:
            text = f"{hanger.id}: {other} is in the way of its rod to {name}"
            yield _J.of(*PRACTICE).breaks(hanger.id, text, place=at, against=other)


def _clear(
    survey: Survey, covers: _Covers, limits: HangerLimits, hanger: Hanger, piece: Piece
) -> Iterator[Finding]:
    """Yield uprights and fittings that the hanger is too near to."""
    least = limits.upright()
    for name, inlet in covers.uprights(hanger.at, least.mm):
        away = flat_length(hanger.at, inlet)
        if away < least.mm - TOLERANCE_MM:
            text = (
                f"{hanger.id}: {away:.1f} mm from the centre line of upright {name}, "
                f"the least is {least.mm:.1f} mm"
            )
            judge = _J.of(least.source, least.grade)
            yield judge.breaks(hanger.id, text, measured=away, limit=least.mm, place=hanger.at, against=name)
    ends = []
    for end, at_end in zip(survey.ends(piece), piece.fittings, strict=True):
        fitting = survey.fittings.get(at_end or "")
        if fitting is not None:
            ends.append((fitting.id, dist(end.at, hanger.at), take_out(survey, fitting, end.into).mm))
    bare = dist(piece.start, piece.end) - sum(covered for _, _, covered in ends)
    wanted = min(FITTING_CLEARANCE_MM, max(bare, 0.0) / 2)
    for name, seat in covers.seats.get(piece.id, []):
        if name not in piece.fittings:
            covered = take_out(survey, survey.fittings[name], None).mm
            ends.append((name, abs(dist(piece.start, hanger.at) - seat.at), covered))
    for name, away, covered in ends:
        if away - covered < wanted - TOLERANCE_MM:
            text = (
                f"{hanger.id}: {away - covered:.1f} mm of bare pipe to {name}, the least is {wanted:.1f} mm"
            )
            yield _J.of(*PRACTICE).breaks(
                hanger.id, text, measured=away - covered, limit=wanted, place=hanger.at, against=name
            )


def _run(survey: Survey, hanging: Hanging, run: str) -> Iterator[Finding]:
    stretches = hanging.stretches(run)
    if not stretches:
        return
    found, held, length = hanging.hangers(run), hanging.held(run), hanging.length(run)
    spots = [held, *(x for x, _ in found)]
    for k, (low, high) in enumerate(pairwise(spots)):
        name = f"from the run's start to {found[0][1].id}" if k == 0 else f"to {found[k][1].id}"
        limit = hanging.spacing(run, low, high)
        element = run if k == 0 else found[k - 1][1].id
        yield from _over(element, f"the distance {name}", high - low, limit, found[k][1].at)
    feed = hanging.fed_by.get(run)
    limits = hanging.limits
    last_line = feed is not None and feed.ends_run and len(feed.child_runs) == 1 and not feed.heads
    for section in hanging.sections(run):
        limit = limits.starter() if section.first else limits.close_heads()
        first = stretches[0].piece
        bound = section.first and last_line and first.fittings != (None, None) and None not in first.fittings
        asked = limit.mm + TOLERANCE_MM
        if bound and not vertical(first) and first.make_up >= ROOM_MM:
            asked = 0.0
        if section.length < asked or _any_between(spots, section.start, section.end):
            continue
        level = any(
            not vertical(s.piece)
            and s.start >= section.start - TOLERANCE_MM
            and s.end <= section.end + TOLERANCE_MM
            for s in stretches
        )
        if level:
            at = next(s for s in stretches if s.end > section.start).piece
            text = (
                f"{run}: a section of {section.length:.1f} mm has no hanger, "
                f"from {limit.mm:.1f} mm on it needs one"
            )
            if asked == 0.0:
                text = f"{run}: the first section of the end line has no hanger"
            judge = _J.of(limit.source, limit.grade)
            yield judge.breaks(
                run, text, measured=section.length, limit=limit.mm, place=at.start, against=at.id
            )
    yield from _end(survey, hanging, run, length - spots[-1])


def _any_between(spots: list[float], low: float, high: float) -> bool:
    """Whether one of ascending places, but for the first, is between two."""
    return bisect_left(spots, low, 1) < bisect_right(spots, high, 1)


def _end(survey: Survey, hanging: Hanging, run: str, beyond: float) -> Iterator[Finding]:
    """Yield what is too long from a run's last hanger to its end heads, or to its end without any."""
    piece, last = hanging.stretches(run)[-1].piece, hanging.last_of.get(run)
    if last is None or not last.heads:
        limit = hanging.limits.to_end(piece.dn)._replace(source=PRACTICE[0], grade=PRACTICE[1])
        yield from _over(run, "the distance from its last hanger to its end", beyond, limit, piece.end)
        return
    for head in last.heads:
        arm, spots, legs = hanging.arm(head)
        if spots:
            limit = min(
                (hanging.limits.spacing(p.dn) for p in [piece, *(leg.piece for leg in legs)]),
                key=lambda one: one.mm,
            )
            yield from _over(
                run, f"the distance to the first hanger of {head}'s arm", beyond + spots[0], limit, piece.end
            )
            continue
        limit = hanging.limits.to_end(piece.dn, over_100_psi(survey, head))
        place = survey.results[head].inlet if head in survey.results else piece.end
        what = f"the distance from its last hanger to its end head {head}"
        yield from _over(run, what, beyond + arm, limit, place)


def _arms(survey: Survey, hanging: Hanging) -> Iterator[Finding]:
    for takeoff in survey.takeoffs.values():
        for head in takeoff.heads:
            length, spots, legs = hanging.arm(head)
            mm, source, grade = unsupported_limit(survey, head)
            free = length - (spots[-1] if spots else 0.0)
            what = (
                f"the arm to {head} beyond its last hanger"
                if spots
                else f"the arm to {head}, without a hanger,"
            )
            for low, high in pairwise([0.0, *spots]):
                wide = min((hanging.limits.spacing(leg.piece.dn) for leg in legs), key=lambda one: one.mm)
                yield from _over(takeoff.id, f"a gap on the arm to {head}", high - low, wide, legs[-1].end)
            if free > mm + TOLERANCE_MM:
                text = f"{takeoff.id}: {what} is {free:.1f} mm, {free - mm:.1f} mm over {mm:.1f} mm"
                place = survey.place_of(takeoff)
                yield _J.of(source, grade).breaks(takeoff.id, text, measured=free, limit=mm, place=place)


def _sprigs(survey: Survey, limits: HangerLimits) -> Iterator[Finding]:
    limit = limits.sprig()
    held = {hanger.piece for hanger in survey.route.hangers if hanger.kind == "sprig_restraint"}
    for piece in survey.pieces.values():
        length = dist(piece.start, piece.end)
        if piece.kind == "sprig" and length >= limit.mm + TOLERANCE_MM and piece.id not in held:
            text = (
                f"{piece.id}: a sprig of {length:.1f} mm has no restraint, "
                f"from {limit.mm:.1f} mm on it needs one"
            )
            judge = _J.of(limit.source, limit.grade)
            yield judge.breaks(piece.id, text, measured=length, limit=limit.mm, place=piece.end)
