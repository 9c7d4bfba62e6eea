"""The referee's own test: clean routes are spoilt in known ways, and it finds each.

Whether a mutation breaks a rule is known by its construction (``mutant_*.py``), not from the
referee. Seeds are fixed; the larger run is ``benchmarks/referee_mutations.py``.
"""

from __future__ import annotations

from collections import Counter
from functools import cache
from typing import TYPE_CHECKING

import pytest
from mutant_cases import NAMES, VARIANTS, by_hand, solved
from mutants import GOOD, KINDS, Result, judge, mutate, results

from router.check import check_route, referee
from router.compare import Comparison, compare
from router.deliver.compare_draw import compare_svg
from router.deliver.compare_tables import comparison_table

if TYPE_CHECKING:
    from mutant_work import Case

SEEDS = range(2)


@cache
def case_of(name: str) -> Case:
    return solved(name)


def _bad(found: list[Result]) -> list[str]:
    return [
        f"{r.outcome}: {r.kind} of {r.case}, seed {r.seed}: {r.claim.why}; wanted {sorted(r.claim.rules)}, "
        f"found {r.rules} {r.text}"
        for r in found
        if r.outcome not in GOOD
    ]


@pytest.mark.parametrize("name", NAMES)
def test_every_mutation_of_a_solved_scenario_is_judged_rightly(name: str) -> None:
    case = case_of(name)
    assert check_route(case.scenario, case.route).clean
    found = list(results([case], SEEDS))
    assert len(found) >= 80
    assert _bad(found) == []


def test_every_mutation_of_the_routes_by_hand_is_judged_rightly() -> None:
    cases = by_hand()
    assert all(check_route(case.scenario, case.route).clean for case in cases)
    found = list(results(cases, SEEDS))
    assert len(found) >= 400
    assert _bad(found) == []


def test_every_kind_of_mutation_is_made() -> None:
    cases = [*by_hand(), case_of("reading_room")]
    idle = [k for k in KINDS if not any(mutate(k, case, seed) for case in cases for seed in range(8))]
    assert idle == []


def test_hoses_and_butt_welds() -> None:
    cases = [case_of(name) for name in VARIANTS if name.startswith("minimal")]
    assert _bad(list(results(cases, SEEDS))) == []


def test_most_mutations_break_something_and_many_kinds_break_nothing() -> None:
    outcomes: Counter[str] = Counter()
    for result in results(by_hand(), range(1)):
        outcomes[result.outcome] += 1
    assert outcomes["found"] > 150
    assert outcomes["stayed clean"] > 50


@pytest.mark.parametrize(
    ("rule", "kind"),
    [
        ("clearance", "obstruction put on a pipe"),
        ("ceiling", "ceiling raised to a pipe"),
        ("outlet_spacing", "outlet pushed into its neighbour"),
        ("square", "arm turned out of square"),
        ("band", "run out of its band"),
        ("allowed_styles", "style forbidden"),
        ("objective", "total or status misstated"),
        ("pins", "head pinned elsewhere"),
        ("trapped", "low section dropped"),
        ("trapped", "drain of a low section exchanged"),
        ("hangers", "hanger left out"),
        ("hangers", "hanger misdescribed"),
        ("sizes", "coupling that reduces nothing"),
        ("counts", "price in the table changed"),
        ("objective", "term of the price misstated"),
    ],
)
def test_a_referee_without_a_rule_misses_what_only_it_can_find(
    rule: str, kind: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The score can fall: without the rule some mutations of its kind are no longer found, or not by it."""
    cases = [*by_hand(), case_of("reading_room")]
    monkeypatch.delitem(referee.RULES, rule)
    found = [r for case in cases for seed in range(4) if (r := judge(kind, case, seed)) is not None]
    assert any(r.outcome in ("missed", "found by another rule") for r in found)


def test_the_same_seed_makes_the_same_mutation() -> None:
    case = by_hand()[0]
    first, second = list(results([case], SEEDS)), list(results([case], SEEDS))
    assert first == second


def test_a_route_that_breaks_rules_is_never_called_better_and_can_always_be_shown() -> None:
    """Whatever is wrong with a route, it can be set beside the clean one."""
    for case in by_hand():
        for kind in KINDS:
            made = mutate(kind, case, 0)
            if made is None or made[0].scenario != case.scenario.model_dump():
                continue
            spoilt = made[0].made()[1]
            found = compare(case.scenario, [("clean", case.route), ("spoilt", spoilt)])
            assert found.routes[1].clean is not made[1].breaks, kind
            assert found.ranking.best in (("clean", None) if made[1].breaks else ("clean", "spoilt", None)), (
                kind
            )
            for row in found.heads:
                way = row.routes["spoilt"]
                assert not (way.breaks and row.differences[0].judgement == "better"), kind
            Comparison.model_validate_json(found.model_dump_json())
            comparison_table(found, case.scenario.system.standard)
            compare_svg(case.scenario, ("clean", case.route), ("spoilt", spoilt), found)
