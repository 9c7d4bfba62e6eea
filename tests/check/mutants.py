"""Seeded mutations of clean routes, judged by the referee, and the score."""

from __future__ import annotations

import hashlib
import random
from collections import Counter
from dataclasses import dataclass
from typing import TYPE_CHECKING

from mutant_figures import FIGURES
from mutant_harmless import HARMLESS
from mutant_lows import LOWS
from mutant_parts import PARTS
from mutant_places import PLACES
from mutant_records import RECORDS
from mutant_work import Case, Claim, Work

from router.check import check_route

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator

KINDS: dict[str, Callable[[Work, random.Random], Claim | None]] = {
    **PLACES,
    **RECORDS,
    **LOWS,
    **PARTS,
    **FIGURES,
    **HARMLESS,
}
"""Every kind of mutation by name."""

GOOD = ("found", "stayed clean")
OUTCOMES = ("found", "found by another rule", "missed", "stayed clean", "false alarm", "crashed")


@dataclass(frozen=True)
class Result:
    """One mutation and what the referee made of it."""

    kind: str
    case: str
    seed: int
    claim: Claim
    outcome: str
    rules: tuple[str, ...]
    text: str
    digest: str
    """Of the mutated data: two seeds may come to the same mutation."""


def mutate(kind: str, case: Case, seed: int) -> tuple[Work, Claim] | None:
    """Mutate a case; ``None`` where it has nothing to which this kind applies."""
    work = Work(case)
    try:
        claim = KINDS[kind](work, random.Random(f"{kind}/{case.name}/{seed}"))
    except IndexError:  # nothing to choose from
        return None
    return None if claim is None else (work, claim)


def judge(kind: str, case: Case, seed: int) -> Result | None:
    """Mutate a case and let the referee judge it."""
    made = mutate(kind, case, seed)
    if made is None:
        return None
    work, claim = made
    scenario, route = work.made()
    digest = hashlib.sha256(repr((work.scenario, work.route)).encode()).hexdigest()
    try:
        verdict = check_route(scenario, route)
    except Exception as fault:
        text = f"{type(fault).__name__}: {fault}"
        return Result(kind, case.name, seed, claim, "crashed", (), text, digest)
    rules = tuple(sorted({f.rule for f in verdict.breaks}))
    text = verdict.breaks[0].text if verdict.breaks else ""
    if not claim.breaks:
        outcome = "false alarm" if rules else "stayed clean"
    elif not rules:
        outcome = "missed"
    elif claim.rules and not claim.rules & set(rules):
        outcome = "found by another rule"
    else:
        outcome = "found"
    return Result(kind, case.name, seed, claim, outcome, rules, text, digest)


def results(cases: Iterable[Case], seeds: range, kinds: Iterable[str] = KINDS) -> Iterator[Result]:
    """Judge every kind on every case with every seed, where it applies."""
    for case in cases:
        for kind in kinds:
            for seed in seeds:
                result = judge(kind, case, seed)
                if result is not None:
                    yield result


def score(found: Iterable[Result]) -> dict[str, Counter[str]]:
    """Outcomes by kind, in the order of :data:`KINDS`."""
    table: dict[str, Counter[str]] = {kind: Counter() for kind in KINDS}
    for result in found:
        table[result.kind][result.outcome] += 1
    return {kind: counter for kind, counter in table.items() if counter}
