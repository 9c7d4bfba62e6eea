"""Trapped low sections are the ones that the route names, with their water and their drains."""

from __future__ import annotations

from typing import TYPE_CHECKING

from router.check.drains import can_trap, low_sections, trapped
from router.check.rule import Judge
from router.trade.drains import drain_for

if TYPE_CHECKING:
    from collections.abc import Iterator

    from router.check.drains import Low
    from router.check.findings import Finding, RuleInForce
    from router.check.network import Network
    from router.check.survey import Survey
    from router.route.model import LowSection

_J = Judge("trapped", "common practice: what cannot drain to the supply needs an auxiliary drain", "none")
STATION_MM = 1.0
"""Slack on where a stretch begins and ends."""
LITRES = 0.01
RELATIVE = 1e-4
"""Slack on a volume: the larger of the two."""


def in_force(survey: Survey) -> RuleInForce:
    """Say what the rule asks in this scenario."""
    table = "drain_volume_dry" if can_trap(survey) else "drain_volume_wet"
    source, grade = survey.tables.source(table)
    if can_trap(survey):
        says = (
            "each stretch that lies lower than a point nearer the supply is named as trapped, and has the "
            "drain that its volume asks for"
        )
        steps = "dry and preaction systems"
    else:
        says = (
            "each low section that no pendent head on it empties is named, and has the drain that its volume "
            "asks for"
        )
        steps = "wet systems"
    return _J.of(source, str(grade)).in_force(says, steps)


def check(survey: Survey, net: Network) -> Iterator[Finding]:
    """Yield runs whose trapped stretches or drains are not those written."""
    for key, line in survey.lines.items():
        built = survey.built[key]
        found = trapped(line, built.built_to) if can_trap(survey) else []
        if len(found) != len(built.trapped):
            text = f"{key}: {len(found)} trapped stretches, the route names {len(built.trapped)}"
            yield _J.breaks(key, text, measured=len(built.trapped), limit=len(found), unit="stretches")
            continue
        for have, written in zip(found, sorted(built.trapped), strict=True):
            off = max(abs(have[0] - written[0]), abs(have[1] - written[1]))
            if off > STATION_MM:
                text = (
                    f"{key}: trapped from station {have[0]:.0f} to {have[1]:.0f} mm, "
                    f"written {written[0]:.0f} to {written[1]:.0f}"
                )
                yield _J.breaks(key, text, measured=off, limit=STATION_MM)
    yield from _sections(survey)


def _sections(survey: Survey) -> Iterator[Finding]:
    own: dict[str, list[Low]] = {}
    for low in low_sections(survey):
        own.setdefault(low.run, []).append(low)
    written: dict[str, list[LowSection]] = {}
    for section in survey.route.low_sections:
        written.setdefault(section.run, []).append(section)
    for run in sorted({*own, *written}):
        have, said = own.get(run, []), written.get(run, [])
        if len(have) != len(said):
            text = f"{run}: {len(have)} low sections hold water, the route names {len(said)}"
            yield _J.breaks(run, text, measured=len(said), limit=len(have), unit="sections")
            continue
        order = sorted(said, key=lambda s: (s.stations is None, s.stations or (0.0, 0.0)))
        for low, section in zip(
            sorted(have, key=lambda s: (s.stations is None, s.stations or (0.0, 0.0))), order, strict=True
        ):
            yield from _section(survey, low, section)


def _lowest(survey: Survey, low: Low, section: LowSection) -> Iterator[Finding]:
    """Check that the lowest point is on the run, and as low as the section goes."""
    line, built = survey.lines[low.run], survey.built[low.run]
    first, last = low.stations or (0.0, 0.0)
    stations = [first, last, *(s for s, _ in line.profile if first <= s <= last)]
    deepest = min(line.levels(s)[0] + line.rise(s) for s in stations)
    if low.stations is None:
        deepest = built.supply_level
    off = max(abs(section.lowest[2] - deepest), line.nearest(*section.lowest[:2])[1])
    if off > STATION_MM:
        text = f"{low.run}: the lowest point of its low section is {off:.0f} mm from where the route says"
        yield _J.breaks(low.run, text, measured=off, limit=STATION_MM, place=section.lowest)


def _section(survey: Survey, low: Low, section: LowSection) -> Iterator[Finding]:
    run, at = section.run, section.lowest
    if (low.stations is None) != (section.stations is None):
        yield _J.breaks(run, f"{run}: a low section of the run taken for one of the whole run", place=at)
        return
    if low.stations is not None and section.stations is not None:
        off = max(abs(a - b) for a, b in zip(low.stations, section.stations, strict=True))
        if off > STATION_MM:
            text = f"{run}: its low section is {off:.0f} mm from where the route says"
            yield _J.breaks(run, text, measured=off, limit=STATION_MM, place=at)
    yield from _lowest(survey, low, section)
    slack = max(LITRES, RELATIVE * low.litres)
    if abs(section.volume_l - low.litres) > slack:
        text = f"{run}: a low section of {low.litres:.2f} l, written {section.volume_l:.2f}"
        yield _J.breaks(run, text, measured=section.volume_l, limit=low.litres, unit="l", place=at)
        return
    wanted = drain_for(survey.system.kind, section.volume_l, tables=survey.tables)
    asked = (wanted.name, wanted.counts_as, wanted.text, wanted.source, str(wanted.grade))
    if asked != (section.drain, section.counts_as, section.text, section.source, section.grade):
        text = (
            f"{run}: {section.volume_l:.1f} l are trapped: {wanted.text} ({wanted.counts_as}) asked for, "
            f"{section.text} ({section.counts_as}) written"
        )
        judge = _J.of(wanted.source, str(wanted.grade))
        yield judge.breaks(run, text, measured=section.volume_l, unit="l", place=at)
