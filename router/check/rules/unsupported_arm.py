"""Arms longer than may hang free have a hanger counted."""

from __future__ import annotations

from typing import TYPE_CHECKING

from router.check.arms import arm_length, hangers_needed, unsupported_limit
from router.check.rule import Judge

if TYPE_CHECKING:
    from collections.abc import Iterator

    from router.check.findings import Finding, RuleInForce
    from router.check.network import Network
    from router.check.survey import Survey

_J = Judge("unsupported_arm")


def in_force(survey: Survey) -> RuleInForce:
    """Say what the rule asks in this scenario."""
    limit, source, grade = unsupported_limit(survey)
    return _J.of(source, grade).in_force(
        "an arm whose level legs add up to more than may hang free has a hanger counted", f"{limit:.1f} mm"
    )


def check(survey: Survey, net: Network) -> Iterator[Finding]:
    """Yield a note on each takeoff with fewer hangers than its arms need."""
    limit, source, grade = unsupported_limit(survey)
    judge = _J.of(source, grade)
    for takeoff in survey.takeoffs.values():
        needed = hangers_needed(survey, net, takeoff)
        if needed <= takeoff.hangers:
            continue
        longest = max(arm_length(net, head) or 0.0 for head in takeoff.heads)
        text = (
            f"{takeoff.id}: an arm hangs free over {longest:.1f} mm, {limit:.1f} mm allowed; "
            f"{takeoff.hangers} hangers counted, {needed} needed"
        )
        yield judge.note(takeoff.id, text, measured=longest, limit=limit, place=survey.place_of(takeoff))
