"""Pipes and plugged openings of different takeoffs and runs keep clear of each other, surface to surface."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from router.check.distances import between_segments, close_pairs
from router.check.findings import NEAR_MM, PRACTICE, TOLERANCE_MM
from router.check.plugs import bodies, plugged
from router.check.rule import Judge

if TYPE_CHECKING:
    from collections.abc import Iterator

    from router.check.findings import Finding, RuleInForce
    from router.check.network import Network
    from router.check.plugs import Plugged
    from router.check.survey import Survey
    from router.route.model import Fitting, Piece

_J = Judge("piece_clearance", *PRACTICE)


def in_force(survey: Survey) -> RuleInForce:
    """Say what the rule asks in this scenario."""
    return _J.in_force(
        "pipes (and plugged openings of fittings) of different takeoffs and runs keep clear of each other, "
        "unless they share a fitting; a takeoff's pipe at its outlet is free of its own run",
        f"{survey.rules.piece_clearance:g} mm",
    )


def check(survey: Survey, net: Network) -> Iterator[Finding]:
    """Yield pairs of pipes and plugs that are too close, or nearly."""
    need = survey.rules.piece_clearance
    plugs = plugged(survey, net)
    every = bodies(survey, plugs)
    # Half of what the pair needs on either side finds every pair once.
    i, j = close_pairs(every.axes, every.radii + (max(need, 0.0) + NEAR_MM + TOLERANCE_MM) / 2)
    parts: list[Piece | Fitting] = [*survey.order, *(each.plug for each in plugs)]
    owners = np.array([part.owner for part in parts], dtype=object)
    other = owners[i] != owners[j]
    i, j = i[other], j[other]
    away, place = between_segments(every.axes[i], every.axes[j])
    gaps = away - every.radii[i] - every.radii[j]
    at_fitting = _fittings_at(survey)
    at_fitting |= {each.plug.id: {each.host.id} for each in plugs}
    first = _outlet_parts(survey, at_fitting, plugs)
    for row in np.flatnonzero(gaps < need + NEAR_MM):
        a, b = parts[i[row]], parts[j[row]]
        if at_fitting[a.id] & at_fitting[b.id] or _joined(net, a, b) or _exempt(a, b, first):
            continue
        words = every.words[i[row]]
        yield from _J.at_least(
            a.id,
            f"clearance of {words}" if words else "clearance",
            float(gaps[row]),
            need,
            place=(float(place[row, 0]), float(place[row, 1]), float(place[row, 2])),
            against=b.id,
        )


def _fittings_at(survey: Survey) -> dict[str, set[str]]:
    """By piece: the fittings at its ends and the outlets that sit on it (those the route has)."""
    found = {
        piece.id: {name for name in piece.fittings if name is not None and name in survey.fittings}
        for piece in survey.order
    }
    for name, seat in survey.seats.items():
        found[seat.piece.id].add(name)
    return found


def _outlet_parts(survey: Survey, at_fitting: dict[str, set[str]], plugs: list[Plugged]) -> dict[str, str]:
    """Pieces and plugs at their takeoff's outlet -> the run that the takeoff leaves."""
    found: dict[str, str] = {}
    closes = {each.host.id: each.plug.id for each in plugs}
    for takeoff in survey.takeoffs.values():
        fitting = survey.run_fitting(takeoff)
        if fitting is None:
            continue
        for piece in survey.takeoff_pieces.get(takeoff.id, []):
            if fitting.id in at_fitting[piece.id]:
                found[piece.id] = takeoff.run
        if fitting.id in closes:
            found[closes[fitting.id]] = takeoff.run
    return found


def _joined(net: Network, a: Piece | Fitting, b: Piece | Fitting) -> bool:
    return any(net.joints.get((a.id, k), ("", 0))[0] == b.id for k in (0, 1))


def _exempt(a: Piece | Fitting, b: Piece | Fitting, first: dict[str, str]) -> bool:
    """Run pipe of one run, and a takeoff's first piece (or its plug) against its own run."""
    if a.kind == "run" and b.kind == "run":
        return a.run == b.run
    if b.kind == "run" and first.get(a.id) == b.run:
        return True
    return a.kind == "run" and first.get(b.id) == a.run
