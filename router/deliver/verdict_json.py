"""A verdict as JSON: every finding with rule, severity, element, measured value, limit, unit and place."""

from __future__ import annotations

import json
from collections import Counter
from pathlib import Path
from typing import TYPE_CHECKING, Any

from router.deliver.files import save
from router.route.model import CAUTION

if TYPE_CHECKING:
    from router.check import RuleInForce, Verdict

FORMAT = "branch-drop-router/verdict"
VERSION = 1


def verdict_data(verdict: Verdict, rules: list[RuleInForce] | None = None) -> dict[str, Any]:
    """Give a verdict as plain data.

    Parameters
    ----------
    verdict
        The referee's.
    rules
        The rules in force, to be written along: what was judged, with limit, source and grade.

    Returns
    -------
    dict
        Lengths in mm, each finding with the unit of its own measured value.
    """
    by_severity = {name: verdict.number(name) for name in ("breaks", "near", "note")}
    data: dict[str, Any] = {
        "format": FORMAT,
        "version": VERSION,
        "caution": CAUTION,
        "clean": verdict.clean,
        "exit_code": verdict.exit_code,
        "findings_by_severity": by_severity,
        "breaks_by_rule": dict(sorted(Counter(finding.rule for finding in verdict.breaks).items())),
        **verdict.model_dump(mode="json"),
    }
    if rules is not None:
        data["rules_in_force"] = [rule.model_dump(mode="json") for rule in rules]
    return data


def verdict_text(verdict: Verdict, rules: list[RuleInForce] | None = None) -> str:
    """Give a verdict as JSON text, the same text for the same verdict.

    Returns
    -------
    str
    """
    return json.dumps(verdict_data(verdict, rules), indent=2, ensure_ascii=False) + "\n"


def write_verdict(verdict: Verdict, path: str | Path, rules: list[RuleInForce] | None = None) -> None:
    """Write a verdict, whole or not at all.

    Raises
    ------
    OutputError
        If the place cannot be written; an older file is then untouched.
    """
    save(Path(path), verdict_text(verdict, rules))
