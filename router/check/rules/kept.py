"""What a route says that it kept of an older one, and what changed, is true."""

from __future__ import annotations

from typing import TYPE_CHECKING

from router.check.changes import Amount, changes, said_points
from router.check.rule import Judge

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from router.check.findings import Finding, RuleInForce
    from router.check.network import Network
    from router.check.survey import Survey
    from router.route.kept import Change

_J = Judge("kept")


def in_force(survey: Survey) -> RuleInForce:
    """Say what the rule asks in this scenario."""
    return _J.in_force(
        "where an older route is kept, the list of changes names what changed, from the pieces of both",
        "places to 0.002 mm",
    )


def check(survey: Survey, net: Network) -> Iterator[Finding]:
    """Yield changes that the list does not have, and those that it has too many."""
    kept = survey.route.kept
    if kept is None:
        if survey.older is not None:
            own = changes(survey, survey.older)
            text = (
                f"kept: the route was found without an older one; beside it {len(own.heads)} heads, "
                f"{len(own.runs)} runs and {len(own.gone) + len(own.new)} changes of level are others"
            )
            yield _J.note("kept", text, measured=float(len(own.heads)), unit="heads")
        return
    if survey.older is None:
        text = (
            f"kept: {said_points(survey):,.0f} points for changes are taken from the route's own list; "
            "give the older route for them to be recomputed"
        )
        yield _J.note("kept", text, measured=said_points(survey), unit="points")
        return
    own = changes(survey, survey.older)
    costs = [change for change in kept.changes if change.what in ("moved", "outlet_stays")]
    steps = [change for change in kept.changes if change.kind == "level_change"]
    yield from _same("head", own.heads, (c.id for c in costs if c.kind == "head"))
    yield from _same("run", own.runs, (c.id for c in costs if c.kind == "run"))
    yield from _same("level change", own.gone, (c.id for c in steps if c.what == "gone" and c.counts))
    yield from _same("level change", own.new, (c.id for c in steps if c.what == "new" and c.counts))
    yield from _sums(survey, own, kept.changes)


def _same(kind: str, own: Iterable[str], said: Iterable[str]) -> Iterator[Finding]:
    mine, listed = set(own), set(said)
    for name in sorted(mine - listed):
        yield _J.breaks(name, f"{kind} {name} is other than before, the list of changes does not have it")
    for name in sorted(listed - mine):
        yield _J.breaks(name, f"{kind} {name} is as before, the list of changes has it")


def _sums(survey: Survey, own: Amount, listed: list[Change]) -> Iterator[Finding]:
    kept = survey.route.kept
    assert kept is not None
    points = own.points(kept.weights.head, kept.weights.run, kept.weights.offset)
    said = sum(change.points for change in listed)
    for what, value in (("its list of changes", said), ("its sum of changes", kept.points)):
        if abs(value - points) > 0.01:
            text = f"kept: {what} comes to {value:,.2f} points, recomputed {points:,.2f}"
            yield _J.breaks("kept", text, measured=value, limit=points, unit="points")
    for name, given, have in (
        ("changed_head", survey.scenario.weights.changed_head, kept.weights.head),
        ("changed_run", survey.scenario.weights.changed_run, kept.weights.run),
        ("changed_offset", survey.scenario.weights.changed_offset, kept.weights.offset),
    ):
        if given is not None and given != have:
            text = f"kept: weight {name} written {have:g}, the scenario says {given:g}"
            yield _J.breaks("kept", text, measured=have, limit=given, unit="points")
