"""Arms over 100 psi, and joining by size.

NFPA 13 (grade A): an unsupported arm-over of 24 in. (600 mm), 12 in. (300 mm) to a pendent below a
ceiling where the static pressure is over 100 psi (6.9 bar).
"""

from __future__ import annotations

from typing import Any

import pytest
from build import IN, Draft, line, shared, tree

from router.check import check_route, rules_in_force
from router.check.survey import Survey


def needed(draft: Draft) -> int:
    return check_route(draft.scenario(), draft.route()).counts.arm_hangers


# arms of `line`: H2 500 mm, H3 400 mm; H1 has none
TILE_H2 = {"id": "C", "polygon": [(2900, 400), (3100, 400), (3100, 600), (2900, 600)], "elevation": 2550}


@pytest.mark.parametrize(
    ("pressure", "ceilings", "hangers"),
    [
        (None, [], 0),
        (6.9, [], 0),
        (6.91, [], 2),  # no ceilings given: taken as below one
        (6.91, [TILE_H2], 1),  # only H2 is below one
        (6.9, [TILE_H2], 0),
    ],
)
def test_the_shorter_limit(pressure: float | None, ceilings: list[Any], hangers: int) -> None:
    assert needed(line(system={"pressure": pressure}, ceilings=ceilings)) == hangers


@pytest.mark.parametrize(("limit", "hangers"), [(500.0, 0), (499.8, 1)])
def test_just_inside_and_just_outside(limit: float, hangers: int) -> None:
    tables = {"arm_unsupported": {"steel over 100 psi pendent": limit / IN}}
    draft = line(system={"pressure": 10}, ceilings=[TILE_H2], rules={"tables": tables})
    assert needed(draft) == hangers
    notes = check_route(draft.scenario(), draft.route()).by_rule("unsupported_arm")
    assert [f.limit for f in notes] == pytest.approx([499.8] * hangers)


def test_uprights_keep_the_longer_limit() -> None:
    draft = line(system={"pressure": 10})
    for head in draft.given["heads"]:
        head["kind"] = "upright"
    assert needed(draft) == 0


def test_each_head_of_a_shared_nipple_has_its_own_limit() -> None:
    # arms of 600 and 450 mm: 600 is under 24 in., both are over 12 in.
    assert needed(shared()) == 0
    assert needed(shared(system={"pressure": 7})) == 2
    assert needed(shared(system={"pressure": 7, "standard": "metric"})) == 2
    over_h2 = [(1900, -550), (2100, -550), (2100, -350), (1900, -350)]
    one = shared(system={"pressure": 7}, ceilings=[{"id": "C", "polygon": over_h2, "elevation": 2550}])
    assert needed(one) == 1


def test_a_given_limit_goes_before_both() -> None:
    assert needed(line(system={"pressure": 10}, rules={"arm_unsupported": 450})) == 1


def test_in_force() -> None:
    def limit(**scenario: Any) -> str:
        rules = rules_in_force(line(**scenario).scenario())
        return next(rule.limit for rule in rules if rule.id == "unsupported_arm")

    assert limit() == "609.6 mm"
    assert limit(system={"pressure": 10}) == "609.6 mm; 304.8 mm to a pendent below a ceiling"
    assert limit(system={"pressure": 10}, rules={"arm_unsupported": 450}) == "450.0 mm"


RANGES = [{"up_to": 25, "joining": "threaded"}, {"up_to": 32, "joining": "grooved"}, {"joining": "welded"}]


def test_joining_by_the_size_at_the_supply_end() -> None:
    draft = tree(system={"joining": RANGES})
    draft.given["runs"][1]["joining"] = "butt_weld"
    survey = Survey(draft.scenario(), draft.route())
    assert survey.joining("M") == "grooved"
    assert survey.joining("B") == "butt_weld"
    draft.given["runs"][0]["size"] = "schedule"
    draft.pieces["M/0"]["dn"] = 40
    assert Survey(draft.scenario(), draft.route()).joining("M") == "welded"
    draft.given["runs"][0]["size"] = 25
    assert Survey(draft.scenario(), draft.route()).joining("M") == "threaded"


@pytest.mark.parametrize(
    ("own", "written", "found"),
    [
        (None, None, "grooved"),
        (None, "welded", "welded"),  # as a larger size: heads that are still to be served may ask for it
        (None, "threaded", "grooved"),  # as a smaller one
        ("butt_weld", "welded", "butt_weld"),
        ("butt_weld", None, "butt_weld"),
    ],
)
def test_what_a_route_says_of_joining_counts_for_larger_sizes_only(
    own: str | None, written: str | None, found: str
) -> None:
    draft = tree(system={"joining": RANGES})
    draft.given["runs"][0]["joining"] = own
    draft.runs["M"]["joining"] = written
    assert Survey(draft.scenario(), draft.route()).joining("M") == found
