"""Arms as the referee measures them: plan length from the run to each head, hangers, directions."""

from __future__ import annotations

from typing import TYPE_CHECKING

from router.check.findings import TOLERANCE_MM
from router.check.vectors import flat_length

if TYPE_CHECKING:
    from router.check.network import Leg, Network
    from router.check.survey import Survey
    from router.route.model import Takeoff

NO_ARM = ("run", "hose", "barrel")
"""Kinds of piece that are no part of an arm."""


def arm_length(net: Network, head_id: str) -> float | None:
    """Cumulative plan length of the pipe from the run to a head, mm; ``None`` if water does not reach it."""
    legs = net.way_to(head_id)
    if legs is None:
        return None
    return sum(flat_length(leg.start, leg.end) for leg in legs if leg.piece.kind not in NO_ARM)


def unsupported_limit(survey: Survey) -> tuple[float, str, str]:
    """Return the longest arm without a hanger, mm, with source and grade."""
    own = survey.rules.arm_unsupported
    if own is not None:
        return own, "given in the scenario (rules.arm_unsupported)", "none"
    table = "arm_unsupported" if survey.system.standard == "inch" else "arm_unsupported_metric"
    source, grade = survey.tables.source(table)
    return float(survey.tables.arm_unsupported()), source, str(grade)


def hangers_needed(survey: Survey, net: Network, takeoff: Takeoff) -> int:
    """How many arms of a takeoff are longer than may hang free."""
    limit = unsupported_limit(survey)[0]
    lengths = [arm_length(net, head) for head in takeoff.heads]
    return sum(1 for length in lengths if length is not None and length > limit + TOLERANCE_MM)


def letter(survey: Survey, leg: Leg) -> str:
    """``U``, ``D`` or ``H`` for a leg that goes up, down or level within the alignment, else ``X``."""
    slack = max(survey.rules.alignment, 0.0) + TOLERANCE_MM
    flat = flat_length(leg.start, leg.end)
    up = leg.end[2] - leg.start[2]
    if flat <= slack and abs(up) > flat:
        return "U" if up > 0 else "D"
    return "H" if abs(up) <= slack else "X"


def letters(survey: Survey, legs: list[Leg]) -> str:
    """Return the way to a head as letters, outlet first."""
    return "".join(letter(survey, leg) for leg in legs)
