"""A dry head's barrel is long enough between its fitting and the ceiling, so that its inlet stays warm."""

from __future__ import annotations

from math import dist
from typing import TYPE_CHECKING

import shapely

from router.check.joints import take_out
from router.check.rule import Judge

if TYPE_CHECKING:
    from collections.abc import Iterator

    from router.check.findings import Finding, RuleInForce
    from router.check.network import Network
    from router.check.survey import End, Survey
    from router.scenario.model import Head

_J = Judge("exposed_barrel", "given in the scenario (heads: exposed, as the head's listing asks)", "none")


def in_force(survey: Survey) -> RuleInForce:
    """Say what the rule asks in this scenario."""
    given = [head.exposed for head in survey.heads.values() if head.dry and head.exposed is not None]
    limit = "no head asks for it"
    if given:
        least, most = min(given), max(given)
        span = f"{least:.1f} mm" if least == most else f"{least:.1f} to {most:.1f} mm"
        limit = f"{len(given)} head{'s' if len(given) > 1 else ''}, {span}"
    return _J.in_force(
        "a dry head's barrel between the end of its fitting and the lowest ceiling over the head (or its own "
        "end, where it goes through none) is at least as long as the head asks for",
        limit,
    )


def check(survey: Survey, net: Network) -> Iterator[Finding]:
    """Yield dry heads whose barrel is too short above the ceiling."""
    for head in survey.heads.values():
        if not head.dry or head.exposed is None:
            continue
        end = _in_fitting(survey, net, head.id)
        if end is None:
            continue  # served, connected or style_shape names it
        name = end.piece.fittings[end.side]
        fitting = survey.fittings[name or ""]
        found = take_out(survey, fitting, end.into)
        if found.trouble:
            yield _J.breaks(head.id, f"{head.id}: no take-out for {name}: {found.trouble}", place=end.at)
            continue
        length, stop = _reach(survey, head, end)
        what = f"barrel from {fitting.id} to {stop}"
        judge = _J.of(f"{_J.source}; take-out: {found.source}", found.grade)
        yield from judge.at_least(head.id, what, length - found.mm, head.exposed, place=end.at)


def _in_fitting(survey: Survey, net: Network, head_id: str) -> End | None:
    """Return the end of a head's barrel that stands in a fitting."""
    legs = net.way_to(head_id)
    if not legs or legs[-1].piece.kind != "barrel":
        return None
    piece = legs[-1].piece
    ends = survey.ends(piece)
    return next((end for end in ends if piece.fittings[end.side] in survey.fittings), None)


def _reach(survey: Survey, head: Head, end: End) -> tuple[float, str]:
    """Return how far the barrel goes from its fitting's centre to the ceiling or its end, mm, and to what."""
    other = end.piece.end if end.side == 0 else end.piece.start
    whole = dist(end.at, other)
    at = shapely.Point(other[:2])
    over = [
        (item.elevation, item.id)
        for item in survey.scenario.ceilings
        if item.elevation > other[2]  # one below the barrel, as a canopy's, cuts nothing
        and len(item.polygon) >= 3
        and shapely.Polygon(item.polygon).covers(at)
    ]
    if not over or other[2] >= end.at[2]:
        return whole, "its end"
    level, name = min(over)
    return whole * (end.at[2] - level) / (end.at[2] - other[2]), f"ceiling {name}"
