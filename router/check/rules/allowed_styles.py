"""Each head's style is one that the system, the water and the rules allow."""

from __future__ import annotations

from typing import TYPE_CHECKING

from router.check.rule import Judge
from router.trade.styles import RULES, Reason, allowed_styles

if TYPE_CHECKING:
    from collections.abc import Iterator

    from router.check.findings import Finding, RuleInForce
    from router.check.network import Network
    from router.check.survey import Survey

_J = Judge("allowed_styles", "trade rules on styles, each finding with its own", "none")


def in_force(survey: Survey) -> RuleInForce:
    """Say what the rule asks in this scenario."""
    return _J.in_force(
        "each head is served in a style that its kind, the system, the water and the scenario's rules allow",
        "; ".join(rule.id for rule in RULES),
    )


def check(survey: Survey, net: Network) -> Iterator[Finding]:
    """Yield takeoffs in a style that is not allowed."""
    alike: dict[tuple[str, float, bool], dict[str, Reason]] = {}
    for takeoff in survey.takeoffs.values():
        if takeoff.child_runs and takeoff.style != "run_takeoff":
            text = f"{takeoff.id}: a child run leaves as run_takeoff, not as {takeoff.style}"
            yield _J.breaks(takeoff.id, text, place=survey.place_of(takeoff))
        for name in takeoff.heads:
            head = survey.heads.get(name)
            if head is None:
                continue  # the rule served names it
            # all that the rules on styles know of a head (router.trade.given: HeadFacts)
            facts = (head.kind, head.k_factor, head.dry)
            if facts not in alike:
                alike[facts] = allowed_styles(survey.system, head, survey.rules)
            reason = alike[facts].get(takeoff.style)
            if reason is None:
                text = f"{takeoff.id}: {takeoff.style} is no style that serves a head"
                yield _J.breaks(takeoff.id, text, place=survey.place_of(takeoff), against=name)
            elif not reason.allowed:
                text = f"{takeoff.id}: {takeoff.style} is not allowed for {name}: {reason.text}"
                judge = _J.of(reason.source, reason.grade)
                yield judge.breaks(takeoff.id, text, place=survey.place_of(takeoff), against=name)
