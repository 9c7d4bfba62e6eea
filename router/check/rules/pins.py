"""What the scenario has decided already is kept."""

from __future__ import annotations

from typing import TYPE_CHECKING

from router.check.findings import TOLERANCE_MM
from router.check.rule import Judge

if TYPE_CHECKING:
    from collections.abc import Iterator

    from router.check.findings import Finding, RuleInForce
    from router.check.network import Network
    from router.check.survey import Survey

_J = Judge("pins", "scenario (pins)", "none")


def in_force(survey: Survey) -> RuleInForce:
    """Say what the rule asks in this scenario."""
    pins = survey.scenario.pins
    return _J.in_force(
        "pinned heads keep style, run, outlet side and stations; pinned runs their level, or no offsets",
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
    if pin.no_offset and built.level_changes:
        text = f"{name}: {len(built.level_changes)} offsets, pinned to none"
        yield _J.breaks(name, text, measured=len(built.level_changes), limit=0, unit="offsets")
    if pin.level is not None:
        for point in built.profile:
            off = abs(point.level - pin.level)
            if off > TOLERANCE_MM:
                text = (
                    f"{name}: level {point.level:.1f} mm at {point.station:.0f}, pinned to {pin.level:g} mm"
                )
                yield _J.breaks(name, text, measured=point.level, limit=pin.level)
