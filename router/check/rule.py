"""What a rule module gives: how it makes findings, and what it says when asked."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from router.check.findings import NEAR_MM, OWN, TOLERANCE_MM, Finding, RuleInForce, Severity

if TYPE_CHECKING:
    from collections.abc import Iterator

    from router.check.vectors import Xyz


@dataclass(frozen=True)
class Judge:
    """Makes the findings of one rule, with its id, source and grade filled in."""

    rule: str
    source: str = OWN[0]
    grade: str = OWN[1]

    def of(self, source: str, grade: str) -> Judge:
        """Return the same rule with another source, where the limit comes from a table."""
        return Judge(self.rule, source, grade)

    def says(
        self,
        severity: Severity,
        element: str,
        text: str,
        *,
        measured: float | None = None,
        limit: float | None = None,
        unit: str = "mm",
        place: Xyz | None = None,
        against: str | None = None,
    ) -> Finding:
        """Make a finding; numbers are rounded to 1e-6."""
        return Finding(
            rule=self.rule,
            severity=severity,
            element=element,
            measured=None if measured is None else round(float(measured), 6),
            limit=None if limit is None else round(float(limit), 6),
            unit=unit,
            place=None if place is None else (float(place[0]), float(place[1]), float(place[2])),
            text=text,
            source=self.source,
            grade=self.grade,
            against=against,
        )

    def breaks(
        self,
        element: str,
        text: str,
        *,
        measured: float | None = None,
        limit: float | None = None,
        unit: str = "mm",
        place: Xyz | None = None,
        against: str | None = None,
    ) -> Finding:
        """Make a finding that breaks the rule."""
        return self.says(
            "breaks", element, text, measured=measured, limit=limit, unit=unit, place=place, against=against
        )

    def note(
        self,
        element: str,
        text: str,
        *,
        measured: float | None = None,
        limit: float | None = None,
        unit: str = "mm",
        place: Xyz | None = None,
        against: str | None = None,
    ) -> Finding:
        """Make a finding that is only worth knowing."""
        return self.says(
            "note", element, text, measured=measured, limit=limit, unit=unit, place=place, against=against
        )

    def at_least(
        self,
        element: str,
        what: str,
        measured: float,
        limit: float,
        *,
        place: Xyz | None = None,
        against: str | None = None,
    ) -> Iterator[Finding]:
        """Yield a finding if a length is below its least (breaks) or within the near margin of it."""
        short = limit - measured
        where = f" to {against}" if against else ""
        if short > TOLERANCE_MM:
            text = f"{element}: {what}{where} is {measured:.1f} mm, {short:.1f} mm short of {limit:.1f} mm"
            yield self.breaks(element, text, measured=measured, limit=limit, place=place, against=against)
        elif short > -NEAR_MM:
            text = f"{element}: {what}{where} is {measured:.1f} mm, the least is {limit:.1f} mm"
            yield self.says(
                "near", element, text, measured=measured, limit=limit, place=place, against=against
            )

    def in_force(self, says: str, limit: str) -> RuleInForce:
        """Say what the rule is and where it comes from."""
        return RuleInForce(id=self.rule, says=says, limit=limit, source=self.source, grade=self.grade)
