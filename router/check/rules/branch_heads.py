"""A branch line sized by the pipe schedule carries 8 heads at most, or 9 or 10 with larger end lengths."""

from __future__ import annotations

from itertools import groupby
from typing import TYPE_CHECKING

from router.check.rule import Judge

if TYPE_CHECKING:
    from collections.abc import Iterator

    from router.check.findings import Finding, RuleInForce
    from router.check.network import Network
    from router.check.survey import Survey

_J = Judge(
    "branch_heads",
    "NFPA 13 (2016) 23.7 (paraphrased): pipe schedule branch lines have at most 8 heads on one side of a "
    "cross main, or 9 or 10 with the two end lengths 1 in. and 1-1/4 in. and, light hazard, the 10th head "
    "fed by 2-1/2 in.",
    "A",
)

MOST = 8
MOST_WITH_LARGER_ENDS = 10
END_LENGTHS = (25, 32)
"""DN of the last and the last but one length where there are 9 or 10 heads."""

TENTH_HEAD_LIGHT = 65
"""DN that feeds the tenth head, light hazard."""


def in_force(survey: Survey) -> RuleInForce:
    """Say what the rule asks in this scenario."""
    tenth = f", DN{TENTH_HEAD_LIGHT} feeding 10" if survey.system.hazard == "light" else ""
    return _J.in_force(
        "a branch line sized by the pipe schedule has at most so many heads (a note only)",
        f"{MOST} heads; {MOST_WITH_LARGER_ENDS} with the two end lengths DN{END_LENGTHS[0]} and "
        f"DN{END_LENGTHS[1]}{tenth}",
    )


def check(survey: Survey, net: Network) -> Iterator[Finding]:
    """Yield a note on each branch line by schedule that feeds too many heads."""
    for run in survey.runs.values():
        if run.kind != "branch" or run.size != "schedule":
            continue  # a line whose size is given may be calculated: then the number of heads is free
        lengths = _lengths(survey, net, run.id)
        heads = max((fed for fed, _ in lengths), default=0)
        if heads <= MOST or (heads <= MOST_WITH_LARGER_ENDS and _ends_larger(survey, lengths)):
            continue
        first = next(p for p in survey.run_pieces[run.id] if net.heads_fed.get(("piece", p.id)) == heads)
        text = f"{run.id}: {heads} heads on one branch line, the pipe schedule has at most {MOST}"
        if heads <= MOST_WITH_LARGER_ENDS:
            text += f", or {MOST_WITH_LARGER_ENDS} with larger end lengths"
        yield _J.note(run.id, text, measured=heads, limit=MOST, unit="heads", place=first.start)


def _lengths(survey: Survey, net: Network, run_id: str) -> list[tuple[int, int]]:
    """Lengths between takeoffs, the end of the line first: (heads fed, smallest DN)."""
    pieces = [(net.heads_fed.get(("piece", p.id), 0), p.dn) for p in survey.run_pieces.get(run_id, [])]
    pieces = sorted(pair for pair in pieces if pair[0] > 0)
    return [(fed, min(dn for _, dn in group)) for fed, group in groupby(pieces, key=lambda pair: pair[0])]


def _ends_larger(survey: Survey, lengths: list[tuple[int, int]]) -> bool:
    if len(lengths) < 2 or any(dn < wanted for (_, dn), wanted in zip(lengths[:2], END_LENGTHS, strict=True)):
        return False
    tenth = [dn for fed, dn in lengths if fed >= MOST_WITH_LARGER_ENDS]
    return survey.system.hazard != "light" or all(dn >= TENTH_HEAD_LIGHT for dn in tenth)
