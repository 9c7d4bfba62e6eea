"""No arm is longer than the scenario's reach."""

from __future__ import annotations

from typing import TYPE_CHECKING

from router.check.arms import arm_length
from router.check.findings import PRACTICE, TOLERANCE_MM
from router.check.rule import Judge

if TYPE_CHECKING:
    from collections.abc import Iterator

    from router.check.findings import Finding, RuleInForce
    from router.check.network import Network
    from router.check.survey import Survey

_J = Judge("reach", *PRACTICE)


def in_force(survey: Survey) -> RuleInForce:
    """Say what the rule asks in this scenario."""
    return _J.in_force(
        "the level legs from a run to a head add up to no more than the reach", f"{survey.rules.reach:g} mm"
    )


def check(survey: Survey, net: Network) -> Iterator[Finding]:
    """Yield arms that are too long."""
    limit = survey.rules.reach
    for result in survey.results.values():
        length = arm_length(net, result.id)
        if length is not None and length > limit + TOLERANCE_MM:
            text = f"{result.id}: its arm is {length:.1f} mm long, {limit:.1f} mm allowed"
            yield _J.breaks(result.id, text, measured=length, limit=limit, place=result.inlet)
