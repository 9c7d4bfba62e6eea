"""Plugged openings of fittings: they reach as far as any, and no pipe's axis is in them."""

from __future__ import annotations

from math import dist
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from router.check.findings import TOLERANCE_MM
from router.check.joints import match_tolerance, opening, take_out
from router.check.vectors import Xyz, angle, minus, opposite, unit

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import NDArray

    from router.check.network import Network
    from router.check.survey import Survey
    from router.route.model import Fitting


class Plugged(NamedTuple):
    """A plug or cap in an opening of a fitting, measured as pipe is: an axis with a radius and round ends.

    ``start``: the fitting's centre; ``end``: the end of its opening, by its take-out
    (no less far than where the plug is said to stand). The round end, half the
    outside diameter more, is the plug's own head.
    """

    plug: Fitting
    host: Fitting
    start: Xyz
    end: Xyz
    radius: float


def plugged(survey: Survey, net: Network) -> list[Plugged]:
    """Return the plugged openings of the route, in its order.

    A plug that closes no free opening of its fitting is none (rule ``connected`` reports it).
    """
    found: list[Plugged] = []
    for host_name, names in net.plugs.items():
        host = survey.fittings[host_name]
        free = _free(survey, host)
        for name in names:
            plug = survey.fittings[name]
            at = next((k for way in _ways(plug, host) for k in free if _fits(survey, host, k, way)), None)
            way = None if at is None else unit(host.directions[at])
            if at is None or way is None:
                continue
            free.remove(at)
            far = max(take_out(survey, host, host.directions[at]).mm, dist(plug.at, host.at))
            end = (host.at[0] + far * way[0], host.at[1] + far * way[1], host.at[2] + far * way[2])
            dn = host.sizes[at] if at < len(host.sizes) else max(plug.sizes, default=0)
            found.append(Plugged(plug, host, host.at, end, survey.radius_of(dn)))
    return found


class Bodies(NamedTuple):
    """All that is measured of a route: its pieces in order, then its plugged openings.

    ``names``: ids of pieces and plugs; ``words``: how a plug's finding says what it
    is (nothing for pipe); ``axes``, shape (n, 2, 3), and ``radii``, shape (n,), mm.
    """

    names: list[str]
    words: list[str]
    axes: NDArray[np.float64]
    radii: NDArray[np.float64]


def bodies(survey: Survey, plugs: list[Plugged]) -> Bodies:
    """Put the route's pieces and its plugged openings in one row."""
    axes = np.array([(each.start, each.end) for each in plugs], dtype=float).reshape(-1, 2, 3)
    return Bodies(
        [piece.id for piece in survey.order] + [each.plug.id for each in plugs],
        [""] * len(survey.order) + [f"the plugged opening of {each.host.id}" for each in plugs],
        np.concatenate([survey.axes, axes]),
        np.concatenate([survey.radii, [each.radius for each in plugs]]),
    )


def _free(survey: Survey, host: Fitting) -> list[int]:
    """Return the openings of a fitting that no pipe is in."""
    ends = [end for end in survey.meeting[host.id] if dist(end.at, host.at) <= TOLERANCE_MM]
    taken = {opening(survey, host, end.into) for end in ends if end.into is not None}
    seat = survey.seats.get(host.id)
    forward = survey.ends(seat.piece)[0].into if seat is not None else None
    if forward is not None:
        taken |= {opening(survey, host, way) for way in (forward, opposite(forward))}
    return [k for k in range(len(host.directions)) if k not in taken]


def _ways(plug: Fitting, host: Fitting) -> Iterator[Xyz]:
    """Directions in which a plug's opening may be looked for: towards where it stands, else by its own."""
    outward = unit(minus(plug.at, host.at)) if dist(plug.at, host.at) > TOLERANCE_MM else None
    if outward is not None:
        yield outward
        return
    yield from plug.directions
    yield from (opposite(way) for way in plug.directions)


def _fits(survey: Survey, host: Fitting, k: int, way: Xyz) -> bool:
    return angle(host.directions[k], way) <= match_tolerance(survey)
