"""All pipe stays above a ceiling, but the last vertical to a head."""

from __future__ import annotations

from typing import TYPE_CHECKING

import shapely

from router.check.findings import PRACTICE
from router.check.rule import Judge
from router.check.vectors import Xyz, flat_length

if TYPE_CHECKING:
    from collections.abc import Iterator

    from router.check.findings import Finding, RuleInForce
    from router.check.network import Network
    from router.check.survey import Survey
    from router.route.model import Piece

_J = Judge("ceiling", *PRACTICE)


def in_force(survey: Survey) -> RuleInForce:
    """Say what the rule asks in this scenario."""
    return _J.in_force(
        "where a pipe is over a ceiling its underside stays above it, but the last vertical to a head (and "
        "what follows it to a sidewall) and a hose",
        f"{survey.rules.ceiling_clearance:g} mm",
    )


def check(survey: Survey, net: Network) -> Iterator[Finding]:
    """Yield pipes whose underside is too low over a ceiling."""
    ceilings = [item for item in survey.scenario.ceilings if len(item.polygon) >= 3]
    if not ceilings or not survey.order:
        return
    free = _last_verticals(survey, net)
    pieces = [piece for piece in survey.order if piece.id not in free and piece.kind != "hose"]
    plans = [_plan(survey, piece) for piece in pieces]
    shapes = [shapely.Polygon(item.polygon) for item in ceilings]
    tree = shapely.STRtree(plans)
    for item, shape in zip(ceilings, shapes, strict=True):
        for k in sorted(int(k) for k in tree.query(shape, predicate="intersects")):
            if shapely.touches(plans[k], shape):
                continue  # beside it, not over it
            piece = pieces[k]
            low = _lowest(survey, piece, shape)
            yield from _J.at_least(
                piece.id,
                "height over the ceiling",
                low[2] - survey.radius(piece) - item.elevation,
                survey.rules.ceiling_clearance,
                place=low,
                against=item.id,
            )


def _plan(survey: Survey, piece: Piece) -> shapely.Polygon:
    """Plan of a pipe: a strip as wide as the pipe, round where it stands upright."""
    radius = survey.radius(piece)
    if flat_length(piece.start, piece.end) < radius:
        return shapely.Point(piece.start[:2]).buffer(radius)
    return shapely.LineString([piece.start[:2], piece.end[:2]]).buffer(radius, cap_style="flat")


def _lowest(survey: Survey, piece: Piece, shape: shapely.Polygon) -> Xyz:
    """Lowest point of the axis within the pipe's radius of the ceiling's plan."""
    low, high = sorted((piece.start, piece.end), key=lambda p: p[2])
    flat = flat_length(low, high)
    if flat < survey.radius(piece) or low[2] == high[2]:
        return low
    axis = shapely.LineString([low[:2], high[:2]])
    over = axis.intersection(shape.buffer(survey.radius(piece)))
    if over.is_empty:
        return low
    t = min(axis.project(shapely.Point(xy)) for xy in shapely.get_coordinates(over)) / flat
    x, y, z = (low[k] + t * (high[k] - low[k]) for k in range(3))
    return (x, y, z)


def _last_verticals(survey: Survey, net: Network) -> set[str]:
    """Pieces that may pass a ceiling: the last upright one to each head and what comes after it."""
    slack = max(survey.rules.alignment, 0.0)
    free: set[str] = set()
    for head in survey.results.values():
        legs = net.way_to(head.id) or []
        upright = [k for k, leg in enumerate(legs) if flat_length(leg.start, leg.end) <= slack]
        facing = survey.heads[head.id].kind == "sidewall" if head.id in survey.heads else False
        if upright and (facing or upright[-1] == len(legs) - 1):
            free.update(leg.piece.id for leg in legs[upright[-1] :])
    return free
