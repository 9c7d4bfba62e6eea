"""Which styles of takeoff a system allows a head, and why not.

A style that is refused carries the first rule that refuses it; one that only an
exception to a rule allows carries the exception. The rules stand in
:data:`RULES`, in order: what the head is, what the water brings, what can
freeze, what the scenario's own rules leave open.

Not offered: the exception for pendents without return bends on copper or listed
plastic pipe (the pipe here is steel), and deluge systems.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from router.trade.given import HeadFacts, RuleFacts, SystemFacts
    from router.trade.published import Grade

STYLES: tuple[str, ...] = (
    "straight_drop",
    "side_arm",
    "return_bend",
    "raised_arm",
    "lowered_arm",
    "shared_nipple",
    "level_cross",
    "sprig",
    "sidewall",
    "flexible_drop",
)
"""Every style that serves a head (a child run's is ``run_takeoff``)."""

_BY_HEAD: dict[str, frozenset[str]] = {
    "pendent": frozenset(STYLES) - {"sprig", "sidewall"},
    "upright": frozenset(STYLES) - {"straight_drop", "return_bend", "sidewall"},
    "sidewall": frozenset({"sidewall", "flexible_drop"}),
}
_TOP_OF_LINE = frozenset({"return_bend", "raised_arm", "shared_nipple"})
_K_WITHOUT_RETURN_BEND = 11.2


@dataclass(frozen=True)
class Reason:
    """Whether a style is allowed, why, from what source and how sure (A to D)."""

    allowed: bool
    text: str
    source: str
    grade: Grade


Applies = Callable[[str, "SystemFacts", "HeadFacts", "RuleFacts"], bool]


@dataclass(frozen=True)
class Rule:
    """One rule. ``refuses`` says whether it refuses the style in that case.

    ``preaction``: source and grade on a preaction system, where they differ.
    """

    id: str
    refuses: Applies
    text: str
    source: str
    grade: Grade
    preaction: tuple[str, Grade] | None = None

    def basis(self, system: SystemFacts) -> tuple[str, Grade]:
        """Return source and grade for a system."""
        if self.preaction is not None and system.kind == "preaction":
            return self.preaction
        return self.source, self.grade


@dataclass(frozen=True)
class Exemption:
    """One exception. ``allows`` says whether it is what allows the style in that case."""

    id: str
    allows: Applies
    text: str
    source: str
    grade: Grade


def allowed_styles(system: SystemFacts, head: HeadFacts, rules: RuleFacts) -> dict[str, Reason]:
    """Return for every style whether this system allows it for this head.

    Parameters
    ----------
    system, head, rules
        Of the scenario. ``rules.styles`` only narrows what the others allow.

    Raises
    ------
    ValueError
        Names an unknown head kind or style.
    """
    if head.kind not in _BY_HEAD:
        raise ValueError(f"head kind {head.kind!r} is not one of {', '.join(_BY_HEAD)}")
    for style in rules.styles or ():
        if style not in STYLES:
            raise ValueError(f"rules.styles: no style {style!r}; styles: {', '.join(STYLES)}")
    return {style: _reason(style, system, head, rules) for style in STYLES}


def _reason(style: str, system: SystemFacts, head: HeadFacts, rules: RuleFacts) -> Reason:
    for rule in RULES:
        if rule.refuses(style, system, head, rules):
            return Reason(False, f"{rule.id}: {rule.text}", *rule.basis(system))
    for exemption in EXEMPTIONS:
        if exemption.allows(style, system, head, rules):
            return Reason(True, f"{exemption.id}: {exemption.text}", exemption.source, exemption.grade)
    return Reason(True, "no rule refuses it", "", "A")


def _can_freeze(system: SystemFacts) -> bool:
    return system.kind in ("dry", "preaction")


def _wrong_head(style: str, _s: SystemFacts, head: HeadFacts, _r: RuleFacts) -> bool:
    return style not in _BY_HEAD[head.kind]


def _hose_on_dry_head(style: str, _s: SystemFacts, head: HeadFacts, _r: RuleFacts) -> bool:
    return style == "flexible_drop" and head.dry


def _off_the_top(style: str, system: SystemFacts, head: HeadFacts) -> bool:
    """Whether a pendent on raw water does not leave from the top of the line through a return bend."""
    return system.water == "raw" and head.kind == "pendent" and style not in _TOP_OF_LINE


def _raw_water(style: str, system: SystemFacts, head: HeadFacts, rules: RuleFacts) -> bool:
    return _off_the_top(style, system, head) and not (
        _dry_pendent_on_raw_water(style, system, head, rules)
        or _large_k_on_raw_water(style, system, head, rules)
    )


def _dry_pendent_on_raw_water(style: str, system: SystemFacts, head: HeadFacts, _r: RuleFacts) -> bool:
    return _off_the_top(style, system, head) and head.dry


def _large_k_on_raw_water(style: str, system: SystemFacts, head: HeadFacts, _r: RuleFacts) -> bool:
    large = head.k_factor >= _K_WITHOUT_RETURN_BEND
    return _off_the_top(style, system, head) and system.kind == "wet" and large


def _unheated(_style: str, system: SystemFacts, head: HeadFacts, _r: RuleFacts) -> bool:
    wet_inside = head.kind in ("pendent", "sidewall") and not head.dry
    return _can_freeze(system) and wet_inside and not system.heated


def _dry_system_pendent(style: str, system: SystemFacts, head: HeadFacts, _r: RuleFacts) -> bool:
    pendent = head.kind == "pendent" and not head.dry
    return _can_freeze(system) and pendent and style not in _TOP_OF_LINE


def _arm_that_traps(style: str, system: SystemFacts, head: HeadFacts, _r: RuleFacts) -> bool:
    return style == "lowered_arm" and _can_freeze(system) and head.kind == "upright"


def _hose_on_dry_system(style: str, system: SystemFacts, _h: HeadFacts, _r: RuleFacts) -> bool:
    return style == "flexible_drop" and _can_freeze(system)


def _cross_not_allowed(style: str, _s: SystemFacts, _h: HeadFacts, rules: RuleFacts) -> bool:
    return style == "level_cross" and not rules.allow_cross


def _shared_not_allowed(style: str, _s: SystemFacts, _h: HeadFacts, rules: RuleFacts) -> bool:
    return style == "shared_nipple" and not rules.allow_shared_nipple


def _flexible_not_allowed(style: str, _s: SystemFacts, _h: HeadFacts, rules: RuleFacts) -> bool:
    return style == "flexible_drop" and not rules.allow_flexible


def _not_listed(style: str, _s: SystemFacts, _h: HeadFacts, rules: RuleFacts) -> bool:
    return rules.styles is not None and style not in rules.styles


RULES: tuple[Rule, ...] = (
    Rule(
        "style_for_head",
        _wrong_head,
        "pendents are fed from above, uprights from below, sidewalls from behind",
        "NFPA 13, definitions of drop and sprig (paraphrased, in part from memory)",
        "B",
    ),
    Rule(
        "dry_head_in_fitting",
        _hose_on_dry_head,
        "a dry head stands in a tee, plugged at the end of a line, not on a hose",
        "from memory: listings of dry heads",
        "C",
    ),
    Rule(
        "raw_water_top_of_line",
        _raw_water,
        "pendents on raw water tap the top of the line through a return bend, "
        "unless dry, or on a wet system with a K-factor of 11.2 or larger",
        "NFPA 13 (2016) 8.15.19 (2013: 8.15.19.1 and .2); its exceptions for dry pendents and large "
        "K-factors from memory",
        "A",
    ),
    Rule(
        "unheated",
        _unheated,
        "pendents and sidewalls on a dry or preaction system in unheated space must be dry heads "
        "(an untrapped sidewall may be allowed; it is not offered here)",
        "from memory: NFPA 13 (2016) 7.2.2 for dry pipe, in substance as 7.3.2.5 for preaction",
        "C",
        preaction=("NFPA 13 (2013) 7.3.2.5", "A"),
    ),
    Rule(
        "dry_system_return_bend",
        _dry_system_pendent,
        "pendents on a dry or preaction system that are not dry heads stand on return bends",
        "from memory: NFPA 13 (2016) 7.2.2 for dry pipe, in substance as 7.3.2.5 for preaction",
        "C",
        preaction=("NFPA 13 (2013) 7.3.2.5", "A"),
    ),
    Rule(
        "arm_traps_water",
        _arm_that_traps,
        "an arm below the line to an upright holds water that cannot drain",
        "common practice, no source",
        "C",
    ),
    Rule(
        "hose_on_dry_system",
        _hose_on_dry_system,
        "a hose on a dry or preaction system can hold water that cannot drain",
        "assumed, doubtful: the listing of the hose decides",
        "D",
    ),
    Rule("allow_cross", _cross_not_allowed, "rules.allow_cross is false", "scenario", "A"),
    Rule(
        "allow_shared_nipple",
        _shared_not_allowed,
        "rules.allow_shared_nipple is false",
        "scenario",
        "A",
    ),
    Rule("allow_flexible", _flexible_not_allowed, "rules.allow_flexible is false", "scenario", "A"),
    Rule("styles", _not_listed, "not among rules.styles", "scenario", "A"),
)
"""In order: the first that refuses a style is the reason given."""

_RAW_WATER_SOURCE = (
    "from memory: NFPA 13 (2016) 8.15.19.3 to .5; that there are three exceptions is published"
)
EXEMPTIONS: tuple[Exemption, ...] = (
    Exemption(
        "dry_pendent_on_raw_water",
        _dry_pendent_on_raw_water,
        "a dry pendent needs no return bend on raw water",
        _RAW_WATER_SOURCE,
        "C",
    ),
    Exemption(
        "large_k_on_raw_water",
        _large_k_on_raw_water,
        "a pendent of K-factor 11.2 or larger needs no return bend on raw water in a wet system",
        _RAW_WATER_SOURCE,
        "C",
    ),
)
"""Exceptions that are not graded as the rule is: what they allow carries their own source."""
