"""What must stay out of a keep-out zone does."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import shapely

from router.check.distances import Prisms
from router.check.findings import TOLERANCE_MM
from router.check.plugs import bodies, plugged
from router.check.rule import Judge

if TYPE_CHECKING:
    from collections.abc import Iterator

    from router.check.findings import Finding, RuleInForce
    from router.check.network import Network
    from router.check.plugs import Bodies
    from router.check.survey import Survey
    from router.check.vectors import Xyz
    from router.scenario.model import KeepOut

_J = Judge("keep_out", "scenario (keep_out)", "none")
_EVERYWHERE_MM = 1e8


def in_force(survey: Survey) -> RuleInForce:
    """Say what the rule asks in this scenario."""
    return _J.in_force(
        "no pipe or fitting, or no outlet, or no change of level stands in a zone that keeps it out",
        f"{len(survey.scenario.keep_out)} zones",
    )


def check(survey: Survey, net: Network) -> Iterator[Finding]:
    """Yield what stands in a zone that it must stay out of."""
    if not survey.scenario.keep_out:
        return
    every = bodies(survey, plugged(survey, net))
    for zone in survey.scenario.keep_out:
        if zone.of == "all":
            yield from _pipe(every, zone)
        elif zone.of == "outlets":
            yield from _outlets(survey, zone)
        else:
            yield from _changes(survey, zone)


def _range(zone: KeepOut) -> tuple[float, float]:
    if zone.elevations is None:
        return (-_EVERYWHERE_MM, _EVERYWHERE_MM)
    return (min(zone.elevations), max(zone.elevations))


def _why(zone: KeepOut) -> str:
    return f" ({zone.why})" if zone.why else ""


def _pipe(every: Bodies, zone: KeepOut) -> Iterator[Finding]:
    """Pipe and plugged openings by their surface: the axis stays its own radius away."""
    prism = Prisms([zone.polygon], [_range(zone)])
    which, _ = prism.near(every.axes, every.radii + TOLERANCE_MM)
    away, place = prism.distance(every.axes[which], np.zeros(len(which), dtype=np.int64))
    for row in np.argsort(which, kind="stable").tolist():
        inside = float(every.radii[which[row]] - away[row])
        if inside <= TOLERANCE_MM:
            continue
        name, words = every.names[which[row]], every.words[which[row]]
        text = f"{name}: {words + ' is ' if words else ''}{inside:.1f} mm inside {zone.id}, which pipe keeps"
        text += f" out of{_why(zone)}"
        at = place[row]
        yield _J.breaks(name, text, measured=inside, limit=0.0, place=(at[0], at[1], at[2]), against=zone.id)


def _outlets(survey: Survey, zone: KeepOut) -> Iterator[Finding]:
    for takeoff in survey.takeoffs.values():
        at = survey.place_of(takeoff)
        if at is None:
            continue
        depth = _depth(zone, at)
        if depth > TOLERANCE_MM:
            text = (
                f"{takeoff.id}: outlet {depth:.1f} mm inside {zone.id}, which outlets keep out of{_why(zone)}"
            )
            yield _J.breaks(takeoff.id, text, measured=depth, limit=0.0, place=at, against=zone.id)


def _depth(zone: KeepOut, at: Xyz) -> float:
    """How far a point is inside a zone, mm; 0 or less outside."""
    low, high = _range(zone)
    shape, point = shapely.Polygon(zone.polygon), shapely.Point(at[:2])
    edge = float(shape.exterior.distance(point))
    return min(edge if shape.contains(point) else -edge, at[2] - low, high - at[2])


def _changes(survey: Survey, zone: KeepOut) -> Iterator[Finding]:
    """Judge the pipe between the two elbows of an offset by its axis."""
    low, high = _range(zone)
    inner = shapely.Polygon(zone.polygon).buffer(-TOLERANCE_MM)
    if inner.is_empty or high - low <= 2 * TOLERANCE_MM:
        return
    parts = [list(part.exterior.coords) for part in shapely.get_parts(inner)]
    prisms = Prisms(parts, [(low + TOLERANCE_MM, high - TOLERANCE_MM)] * len(parts))
    for built in survey.built.values():
        for change in built.level_changes:
            pieces = [survey.pieces[name] for name in change.pieces if name in survey.pieces]
            for piece in pieces:
                axes = np.array([[piece.start, piece.end]] * len(parts))
                away, place = prisms.distance(axes, np.arange(len(parts)))
                k = int(np.argmin(away))
                if away[k] <= 0.0:
                    text = f"{change.id}: stands in {zone.id}, which changes of level keep out of{_why(zone)}"
                    at = (float(place[k, 0]), float(place[k, 1]), float(place[k, 2]))
                    yield _J.breaks(change.id, text, place=at, against=zone.id)
