"""Arms longer than may hang free have a hanger counted."""

from __future__ import annotations

from typing import TYPE_CHECKING

from router.check.arms import over_100_psi, unsupported, unsupported_limit
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
    short = next((head for head in survey.heads if over_100_psi(survey, head)), None)
    text = f"{limit:.1f} mm"
    if short is not None:
        least, source, grade = unsupported_limit(survey, short)
        if least != limit:
            text += f"; {least:.1f} mm to a pendent below a ceiling"
    return _J.of(source, grade).in_force(
        "an arm whose level legs add up to more than may hang free has a hanger counted", text
    )


def check(survey: Survey, net: Network) -> Iterator[Finding]:
    """Yield a note on each takeoff with fewer hangers than its arms need."""
    for takeoff in survey.takeoffs.values():
        needed = unsupported(survey, net, takeoff)
        if len(needed) <= takeoff.hangers:
            continue
        head, longest = max(needed, key=lambda pair: pair[1])
        limit, source, grade = unsupported_limit(survey, head)
        text = (
            f"{takeoff.id}: an arm hangs free over {longest:.1f} mm, {limit:.1f} mm allowed; "
            f"{takeoff.hangers} hangers counted, {len(needed)} needed"
        )
        judge = _J.of(source, grade)
        yield judge.note(takeoff.id, text, measured=longest, limit=limit, place=survey.place_of(takeoff))
