"""Arms as the referee measures them: plan length from the run to each head, hangers, directions."""

from __future__ import annotations

from typing import TYPE_CHECKING
from weakref import WeakKeyDictionary

import shapely

from router.check.findings import TOLERANCE_MM
from router.check.vectors import flat_length

if TYPE_CHECKING:
    from collections.abc import Iterator

    from router.check.network import Leg, Network
    from router.check.survey import Survey
    from router.route.model import Takeoff

NO_ARM = ("run", "hose", "barrel")
"""Kinds of piece that are no part of an arm."""

HIGH_PRESSURE_BAR = 6.9
"""NFPA 13: 100 psi, above which arms to pendents below a ceiling have a shorter limit."""


def arm_length(net: Network, head_id: str) -> float | None:
    """Cumulative plan length of the pipe from the run to a head, mm; ``None`` if water does not reach it."""
    legs = net.way_to(head_id)
    if legs is None:
        return None
    return sum(flat_length(leg.start, leg.end) for leg in legs if leg.piece.kind not in NO_ARM)


_BELOW: WeakKeyDictionary[Survey, frozenset[str]] = WeakKeyDictionary()
"""What :func:`below_ceiling` found, for as long as the survey lives."""


def below_ceiling(survey: Survey, head_id: str) -> bool:
    """Whether a pendent hangs below a ceiling: one covers it in plan, or the scenario gives no ceilings."""
    if survey not in _BELOW:
        _BELOW[survey] = frozenset(_below_ceilings(survey))
    return head_id in _BELOW[survey]


def _below_ceilings(survey: Survey) -> Iterator[str]:
    pendents = [head for head in survey.heads.values() if head.kind == "pendent"]
    ceilings = [item for item in survey.scenario.ceilings if len(item.polygon) >= 3]
    if not ceilings:
        # none are drawn, which does not say that there are none: the shorter limit is safe
        yield from (head.id for head in pendents)
        return
    tree = shapely.STRtree([shapely.Polygon(item.polygon) for item in ceilings])
    for head in pendents:
        if len(tree.query(shapely.Point(head.at[:2]), predicate="covered_by")):
            yield head.id


def over_100_psi(survey: Survey, head_id: str) -> bool:
    """Whether the shorter limits hold for a head's arm: a pendent below a ceiling over 100 psi."""
    pressure = survey.system.pressure
    return pressure is not None and pressure > HIGH_PRESSURE_BAR and below_ceiling(survey, head_id)


def unsupported_limit(survey: Survey, head_id: str | None = None) -> tuple[float, str, str]:
    """Return the longest arm (to a head) without a hanger, mm, with source and grade."""
    high = head_id is not None and over_100_psi(survey, head_id)
    if high not in survey.arm_limits:
        survey.arm_limits[high] = _unsupported_limit(survey, high)
    return survey.arm_limits[high]


def _unsupported_limit(survey: Survey, high: bool) -> tuple[float, str, str]:
    own = survey.rules.arm_unsupported
    if own is not None:
        return own, "given in the scenario (rules.arm_unsupported)", "none"
    table = "arm_unsupported" if survey.system.standard == "inch" else "arm_unsupported_metric"
    source, grade = survey.tables.source(table)
    if high:
        source += "; 12 in. (300 mm) to a pendent below a ceiling over 100 psi (6.9 bar)"
    return float(survey.tables.arm_unsupported(high)), source, str(grade)


def unsupported(survey: Survey, net: Network, takeoff: Takeoff) -> list[tuple[str, float]]:
    """Heads of a takeoff whose arms are longer than may hang free, each with its arm's length in mm."""
    if takeoff.id not in survey.unsupported:
        survey.unsupported[takeoff.id] = _unsupported(survey, net, takeoff)
    return survey.unsupported[takeoff.id]


def _unsupported(survey: Survey, net: Network, takeoff: Takeoff) -> list[tuple[str, float]]:
    lengths = [(head, arm_length(net, head)) for head in takeoff.heads]
    return [
        (head, length)
        for head, length in lengths
        if length is not None and length > unsupported_limit(survey, head)[0] + TOLERANCE_MM
    ]


def hangers_needed(survey: Survey, net: Network, takeoff: Takeoff) -> int:
    """How many arms of a takeoff are longer than may hang free."""
    return len(unsupported(survey, net, takeoff))


def letter(survey: Survey, leg: Leg) -> str:
    """``U``, ``D`` or ``H`` for a leg that goes up, down or level within the alignment, else ``X``."""
    key = (leg.piece.id, leg.start)
    found = survey.letters.get(key)
    if found is None:
        slack = max(survey.rules.alignment, 0.0) + TOLERANCE_MM
        flat = flat_length(leg.start, leg.end)
        up = leg.end[2] - leg.start[2]
        if flat <= slack and abs(up) > flat:
            found = "U" if up > 0 else "D"
        else:
            found = "H" if abs(up) <= slack else "X"
        survey.letters[key] = found
    return found


def letters(survey: Survey, legs: list[Leg]) -> str:
    """Return the way to a head as letters, outlet first."""
    return "".join(letter(survey, leg) for leg in legs)
