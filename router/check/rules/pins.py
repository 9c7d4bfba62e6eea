"""What the scenario has decided already is kept."""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING

from router.check.findings import TOLERANCE_MM
from router.check.rule import Judge

if TYPE_CHECKING:
    from collections.abc import Iterator

    from router.check.findings import Finding, RuleInForce
    from router.check.network import Network
    from router.check.survey import Survey
    from router.route.model import RunResult
    from router.scenario.model import LevelPin

_J = Judge("pins", "scenario (pins)", "none")


def in_force(survey: Survey) -> RuleInForce:
    """Say what the rule asks in this scenario."""
    pins = survey.scenario.pins
    return _J.in_force(
        "pinned heads keep style, run, outlet side and stations; pinned runs their level, or have no offset",
        f"{len(pins.heads)} heads and {len(pins.runs)} runs pinned",
    )


def check(survey: Survey, net: Network) -> Iterator[Finding]:
    """Yield pins that the route does not keep."""
    for name in sorted(survey.scenario.pins.heads):
        yield from _head(survey, name)
    for name in sorted(survey.scenario.pins.runs):
        yield from _run(survey, name)


def _head(survey: Survey, name: str) -> Iterator[Finding]:
    pin = survey.scenario.pins.heads[name]
    result = survey.results.get(name)
    takeoff = survey.takeoffs.get(result.takeoff or "") if result is not None else None
    if takeoff is None or result is None:
        return  # unserved or unknown: the rule served says so
    for what, wanted, have in (
        ("style", pin.style, takeoff.style),
        ("run", pin.run, takeoff.run),
        ("side", pin.side, takeoff.side),
    ):
        if wanted is not None and have != wanted:
            text = f"{name}: {what} pinned to {wanted}, is {have}"
            yield _J.breaks(name, text, place=result.inlet, against=takeoff.id)
    if pin.styles is not None and takeoff.style not in pin.styles:
        text = f"{name}: style pinned to one of {', '.join(pin.styles)}, is {takeoff.style}"
        yield _J.breaks(name, text, place=result.inlet, against=takeoff.id)
    if pin.stations is not None:
        low, high = min(pin.stations), max(pin.stations)
        if not low - TOLERANCE_MM <= takeoff.station <= high + TOLERANCE_MM:
            text = f"{name}: outlet at station {takeoff.station:.1f} mm, pinned to {low:g} to {high:g} mm"
            limit = low if takeoff.station < low else high
            yield _J.breaks(
                name, text, measured=takeoff.station, limit=limit, place=result.inlet, against=takeoff.id
            )


def _run(survey: Survey, name: str) -> Iterator[Finding]:
    pin = survey.scenario.pins.runs[name]
    built = survey.built.get(name)
    if built is None:
        return  # the rule band notes it
    if pin.no_offset is True and built.level_changes:
        text = f"{name}: {len(built.level_changes)} offsets, pinned to none"
        yield _J.breaks(name, text, measured=len(built.level_changes), limit=0, unit="offsets")
    for change in built.level_changes:
        first, last = min(change.stations), max(change.stations)
        for low, high in pin.no_offset if not isinstance(pin.no_offset, bool) else ():
            inside = min(last, high) - max(first, low)
            if inside > TOLERANCE_MM or (first == last and low + TOLERANCE_MM < first < high - TOLERANCE_MM):
                text = (
                    f"{change.id}: offset at {first:.0f} to {last:.0f} mm, "
                    f"pinned to none from {low:g} to {high:g} mm"
                )
                yield _J.breaks(change.id, text, measured=max(inside, 0.0), limit=0.0)
    for part in pin.levels:
        yield from _levels(name, built, part)
    if pin.level is not None:
        for point in built.profile:
            off = abs(point.level - pin.level)
            if off > TOLERANCE_MM:
                text = (
                    f"{name}: level {point.level:.1f} mm at {point.station:.0f}, pinned to {pin.level:g} mm"
                )
                yield _J.breaks(name, text, measured=point.level, limit=pin.level)


def _levels(name: str, built: RunResult, part: LevelPin) -> Iterator[Finding]:
    """Yield where the run is off the level that is pinned between two stations."""
    low, high = part.stations[0] + TOLERANCE_MM, part.stations[1] - TOLERANCE_MM
    for a, b in pairwise(built.profile):
        if b.station < low or a.station > high:
            continue
        # the profile is straight between its points: the worse end of what lies in the range decides
        span = b.station - a.station
        for at in (max(a.station, low), min(b.station, high)):
            t = (at - a.station) / span if span > 0 else 0.0
            level = a.level + t * (b.level - a.level)
            if abs(level - part.level) > TOLERANCE_MM:
                text = (
                    f"{name}: level {level:.1f} mm at {at:.0f}, pinned to {part.level:g} mm "
                    f"from {part.stations[0]:g} to {part.stations[1]:g}"
                )
                yield _J.breaks(name, text, measured=level, limit=part.level)
                return
