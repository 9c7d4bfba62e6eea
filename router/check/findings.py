"""What the referee says: findings, the rules in force, the verdict."""

from __future__ import annotations

from typing import Literal

from pydantic import BaseModel, ConfigDict

from router.route.model import Counts, Term, Xyz

PRACTICE = ("common practice, no source", "none")
"""Source and grade of a rule of the trade that no published text was found for."""

OWN = ("meaning of a route in this project", "none")
"""Source and grade of a rule that only says what a well-made route record is."""

TOLERANCE_MM = 0.1
"""Slack on every compared length: touching a limit exactly is allowed."""

NEAR_MM = 3.0
"""Within this of a limit a finding says ``near``: about the spread of one threaded joint
(sources for thread engagement differ by up to 3 mm)."""

_CONFIG = ConfigDict(extra="forbid", frozen=True)

Severity = Literal["breaks", "near", "note"]


class Finding(BaseModel):
    """One thing that the referee has to say.

    ``rule`` is the rule's id; ``element`` the piece, fitting, takeoff, run or
    head it is about and ``against`` the other one, if two are in it.
    ``measured`` and ``limit`` are in ``unit`` (``None`` where the matter is not a
    number); ``place`` is in mm, world frame. ``source`` and ``grade`` say where
    the limit comes from and how sure it is.
    """

    model_config = _CONFIG

    rule: str
    severity: Severity
    element: str
    measured: float | None = None
    limit: float | None = None
    unit: str = "mm"
    place: Xyz | None = None
    text: str
    source: str
    grade: str
    against: str | None = None


class RuleInForce(BaseModel):
    """A rule as it applies to one scenario: its id, what it says, its limit and where that is from."""

    model_config = _CONFIG

    id: str
    says: str
    limit: str
    source: str
    grade: str


class Verdict(BaseModel):
    """All findings on a route, and its figures recomputed from pieces and fittings.

    ``counts`` and ``terms`` are the referee's own; ``value`` is the sum of the
    terms' costs in points.
    """

    model_config = _CONFIG

    findings: list[Finding]
    counts: Counts
    terms: list[Term]
    value: float

    @property
    def clean(self) -> bool:
        """Whether nothing breaks a rule."""
        return not self.breaks

    @property
    def breaks(self) -> list[Finding]:
        """Findings that break a rule."""
        return [finding for finding in self.findings if finding.severity == "breaks"]

    @property
    def exit_code(self) -> int:
        """What a command that judges a route ends with: 0 nothing broken, 1 a rule is broken.

        Near misses and notes do not count; 2 is for input that cannot be judged.
        """
        return 0 if self.clean else 1

    def number(self, severity: Severity) -> int:
        """Return how many findings there are of a severity."""
        return sum(finding.severity == severity for finding in self.findings)

    def by_rule(self, rule: str) -> list[Finding]:
        """Return findings of one rule, in the order they were made."""
        return [finding for finding in self.findings if finding.rule == rule]
