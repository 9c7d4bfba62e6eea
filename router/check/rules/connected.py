"""Pieces, fittings and heads form one tree from each root run's supply."""

from __future__ import annotations

from math import dist
from typing import TYPE_CHECKING

from router.check.findings import TOLERANCE_MM
from router.check.joints import match_tolerance, opening
from router.check.rule import Judge
from router.check.vectors import Xyz, angle, minus, unit

if TYPE_CHECKING:
    from collections.abc import Iterator

    from router.check.findings import Finding, RuleInForce
    from router.check.network import Network
    from router.check.survey import Survey
    from router.route.model import Fitting

_J = Judge("connected")


def in_force(survey: Survey) -> RuleInForce:
    """Say what the rule asks in this scenario."""
    return _J.in_force(
        "every pipe end meets a fitting, a head's inlet or the supply; every fitting's openings are each "
        "taken by one pipe, plug or head; water reaches everything, over one way",
        f"{TOLERANCE_MM:g} mm; directions within {match_tolerance(survey):g} degrees",
    )


def check(survey: Survey, net: Network) -> Iterator[Finding]:
    """Yield loose ends, unreached things, loops and openings that do not fit."""
    for end in net.loose:
        piece = end.piece
        name = piece.fittings[end.side]
        which = ("start", "end")[end.side]
        if name is None:
            text = f"{piece.id}: its {which} meets no fitting, head or supply"
            yield _J.breaks(piece.id, text, place=end.at)
        elif name not in survey.fittings:
            text = f"{piece.id}: its {which} names fitting {name}, which the route has not"
            yield _J.breaks(piece.id, text, place=end.at, against=name)
        else:
            gap = dist(end.at, survey.fittings[name].at)
            text = f"{piece.id}: its {which} is {gap:.1f} mm from the centre of {name}"
            yield _J.breaks(piece.id, text, measured=gap, limit=0.0, place=end.at, against=name)
    yield from _reached(survey, net)
    yield from _loops(net)
    for fitting in survey.fittings.values():
        yield from _openings(survey, net, fitting)


def _reached(survey: Survey, net: Network) -> Iterator[Finding]:
    if not net.all_reached:
        yield from _unreached(survey, net)
    for key, built in survey.built.items():
        run = survey.runs.get(key)
        if run is not None and run.supply is None and built.takeoffs and not net.beside["supply", key]:
            yield _J.breaks(key, f"{key}: no pipe starts at its supply")


def _unreached(survey: Survey, net: Network) -> Iterator[Finding]:
    for piece in survey.pieces.values():
        if ("piece", piece.id) not in net.upstream:
            yield _J.breaks(piece.id, f"{piece.id}: water from no supply reaches it", place=piece.start)
    for fitting in survey.fittings.values():
        if ("fitting", fitting.id) not in net.upstream:
            yield _J.breaks(fitting.id, f"{fitting.id}: water from no supply reaches it", place=fitting.at)
    for result in survey.results.values():
        if result.served and ("head", result.id) not in net.upstream:
            yield _J.breaks(result.id, f"{result.id}: water from no supply reaches it", place=result.inlet)


def _loops(net: Network) -> Iterator[Finding]:
    """Two ways to one thing: pipes here form trees."""
    if net.is_forest:
        return
    for part in net.parts():
        edges = sum(len(net.beside[node]) for node in part) // 2
        supplies = sum(1 for node in part if node[0] == "supply")
        if edges >= len(part) or supplies > 1:
            ring = min(part)
            text = f"{ring[1]}: more than one way from a supply leads to it, or to what it joins"
            yield _J.breaks(ring[1], text)


def _openings(survey: Survey, net: Network, fitting: Fitting) -> Iterator[Finding]:
    if len(fitting.sizes) != len(fitting.directions):
        text = f"{fitting.id}: {len(fitting.directions)} openings but {len(fitting.sizes)} sizes"
        yield _J.breaks(fitting.id, text, place=fitting.at)
    if fitting.kind in ("plug", "cap"):
        ends_pipe = fitting.kind == "cap" and len(survey.meeting[fitting.id]) == 1
        if fitting.id not in net.hosts and not ends_pipe:
            text = f"{fitting.id}: a {fitting.kind} that closes no opening"
            yield _J.breaks(fitting.id, text, place=fitting.at)
        return
    free = set(range(len(fitting.directions)))
    for end in survey.meeting[fitting.id]:
        if end.into is None or dist(end.at, fitting.at) > TOLERANCE_MM:
            continue  # reported as a loose end, or as a piece without length by make_up
        at = opening(survey, fitting, end.into)
        if at is None or at not in free:
            text = f"{fitting.id}: none of its free openings points along {end.piece.id}"
            yield _J.breaks(fitting.id, text, place=fitting.at, against=end.piece.id)
        else:
            free.discard(at)
    if free:
        free -= _closed(survey, net, fitting, free)
    for k in sorted(free):
        yield _J.breaks(fitting.id, f"{fitting.id}: opening {k + 1} is open", place=fitting.at)


def _closed(survey: Survey, net: Network, fitting: Fitting, free: set[int]) -> set[int]:
    """Return openings that something other than a pipe end takes: plugs, the head, the uncut run."""
    tolerance = match_tolerance(survey)
    closed: set[int] = set()
    for name in net.plugs.get(fitting.id, []):
        plug = survey.fittings[name]
        ways: list[Xyz] = [w for d in plug.directions for w in (d, (-d[0], -d[1], -d[2]))]
        outward = unit(minus(plug.at, fitting.at))
        if outward is not None:
            ways = [outward]
        for k in sorted(free - closed):
            if any(angle(fitting.directions[k], way) <= tolerance for way in ways):
                closed.add(k)
                break
    if fitting.kind == "reducer" and any(n[0] == "head" for n in net.beside["fitting", fitting.id]):
        closed |= set(sorted(free)[:1])
    seat = survey.seats.get(fitting.id)
    if seat is not None:
        forward = survey.ends(seat.piece)[0].into
        for k in free:
            turn = angle(fitting.directions[k], forward) if forward is not None else 90.0
            if turn < tolerance or turn > 180.0 - tolerance:
                closed.add(k)
    return closed
