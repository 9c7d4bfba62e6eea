"""Every head is served exactly once, at its inlet, or is listed as unserved."""

from __future__ import annotations

from math import dist, inf
from typing import TYPE_CHECKING

from router.check.findings import TOLERANCE_MM
from router.check.rule import Judge
from router.check.vectors import flat_length

if TYPE_CHECKING:
    from collections.abc import Iterator

    from router.check.findings import Finding, RuleInForce
    from router.check.network import Network
    from router.check.survey import Survey
    from router.route.model import HeadResult
    from router.scenario.model import Head

_J = Judge("served")


def in_force(survey: Survey) -> RuleInForce:
    """Say what the rule asks in this scenario."""
    return _J.in_force(
        "every head is served by exactly one takeoff, by the run it names, its inlet no further from its "
        "place than its shift; or it is listed as unserved",
        f"shift of the head + {TOLERANCE_MM:g} mm; a pipe end within {survey.rules.alignment:g} mm in plan",
    )


def check(survey: Survey, net: Network) -> Iterator[Finding]:
    """Yield what is wrong with heads, in the scenario's order."""
    listed: dict[str, list[str]] = {}
    for takeoff in survey.takeoffs.values():
        for name in takeoff.heads:
            listed.setdefault(name, []).append(takeoff.id)
    for head in survey.heads.values():
        result = survey.results.get(head.id)
        if result is None:
            yield _J.breaks(head.id, f"{head.id}: the route says nothing of this head", place=head.at)
            continue
        serving = listed.get(head.id, [])
        if not result.served:
            if serving:
                text = f"{head.id}: listed as unserved, yet takeoff {serving[0]} serves it"
                yield _J.breaks(head.id, text, place=head.at, against=serving[0])
            else:
                yield _J.note(head.id, f"{head.id}: not served", place=head.at)
            yield from _unserved(head, result)
            continue
        if len(serving) != 1:
            text = f"{head.id}: served by {len(serving)} takeoffs, 1 expected"
            yield _J.breaks(head.id, text, measured=len(serving), limit=1, unit="takeoffs", place=head.at)
        yield from _served(survey, net, head, result, serving)
    for name, result in survey.results.items():
        if name not in survey.heads:
            yield _J.breaks(name, f"{name}: the scenario has no such head", place=result.inlet)
    for name in listed:
        if name not in survey.heads:
            yield _J.breaks(
                name, f"{name}: takeoff {listed[name][0]} serves a head that the scenario has not"
            )


def _unserved(head: Head, result: HeadResult) -> Iterator[Finding]:
    named = [name for name in (result.takeoff, result.run, result.style) if name is not None]
    if named:
        text = f"{head.id}: listed as unserved, yet with {', '.join(named)}"
        yield _J.breaks(head.id, text, place=head.at, against=result.takeoff)
    off = max(flat_length(result.inlet, head.at) - head.shift, abs(result.inlet[2] - head.at[2]))
    if off > TOLERANCE_MM:
        text = f"{head.id}: listed as unserved {off:.1f} mm from its place"
        yield _J.breaks(head.id, text, measured=off, limit=0.0, place=result.inlet)


def _served(
    survey: Survey, net: Network, head: Head, result: HeadResult, serving: list[str]
) -> Iterator[Finding]:
    if result.takeoff not in serving:
        text = f"{head.id}: its takeoff is given as {result.takeoff}, which does not list it"
        yield _J.breaks(head.id, text, place=head.at, against=result.takeoff)
    takeoff = survey.takeoffs.get(result.takeoff or "")
    if takeoff is not None and (result.run, result.style) != (takeoff.run, takeoff.style):
        text = (
            f"{head.id}: said to be served from {result.run} as {result.style}, "
            f"its takeoff {takeoff.id} is on {takeoff.run} as {takeoff.style}"
        )
        yield _J.breaks(head.id, text, place=head.at, against=takeoff.id)
    if head.run is not None and takeoff is not None and takeoff.run != head.run:
        text = f"{head.id}: served from {takeoff.run}, run {head.run} must serve it"
        yield _J.breaks(head.id, text, place=head.at, against=takeoff.run)
    moved = flat_length(result.inlet, head.at)
    lifted = abs(result.inlet[2] - head.at[2])
    if moved > head.shift + TOLERANCE_MM:
        text = f"{head.id}: inlet moved {moved:.1f} mm in plan, {head.shift:.1f} mm allowed"
        yield _J.breaks(head.id, text, measured=moved, limit=head.shift, place=result.inlet)
    if lifted > TOLERANCE_MM:
        text = f"{head.id}: inlet {lifted:.1f} mm above or below its elevation"
        yield _J.breaks(head.id, text, measured=lifted, limit=0.0, place=result.inlet)
    ends = [
        point
        for piece in survey.takeoff_pieces.get(result.takeoff or "", [])
        for point in (piece.start, piece.end)
    ]
    reaching = [point for point in ends if net.at_inlet(point, result)]
    if len(reaching) != 1:
        nearest = min((dist(point, result.inlet) for point in ends), default=inf)
        gap = f", the nearest is {nearest:.1f} mm away" if not reaching and ends else ""
        text = f"{head.id}: {len(reaching)} pipe ends at its inlet, 1 expected{gap}"
        yield _J.breaks(head.id, text, measured=len(reaching), limit=1, unit="ends", place=result.inlet)
