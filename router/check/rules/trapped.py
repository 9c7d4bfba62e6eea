"""Sections of dry and preaction runs that cannot drain back are the ones that the route names."""

from __future__ import annotations

from typing import TYPE_CHECKING

from router.check.drains import can_trap, trapped
from router.check.rule import Judge

if TYPE_CHECKING:
    from collections.abc import Iterator

    from router.check.findings import Finding, RuleInForce
    from router.check.network import Network
    from router.check.survey import Survey

_J = Judge("trapped", "common practice: what cannot drain to the supply needs an auxiliary drain", "none")
STATION_MM = 1.0
"""Slack on where a stretch begins and ends."""


def in_force(survey: Survey) -> RuleInForce:
    """Say what the rule asks in this scenario."""
    return _J.in_force(
        "each stretch that lies lower than a point nearer the supply is named as trapped and has a drain",
        "dry and preaction systems" if can_trap(survey) else "does not apply: the system is wet",
    )


def check(survey: Survey, net: Network) -> Iterator[Finding]:
    """Yield runs whose trapped stretches are not those written; note each stretch."""
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
