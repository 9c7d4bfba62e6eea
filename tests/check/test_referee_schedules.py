"""Sizes by pipe schedule case and least size, and heads on one branch line.

NFPA 13 (paraphrased): pipe schedules as in ``tests/trade/test_schedule_cases.py``; at
most 8 heads on one branch line, 9 or 10 with the two end lengths 1 in. and 1-1/4 in.
and, light hazard, the tenth head fed by 2-1/2 in. (2016 edition 23.7, grade A).
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pytest
from build import Draft

from router.check import check_route, rules_in_force

if TYPE_CHECKING:
    from router.check import Finding

STEP = 2000.0


def row(sizes: list[int], *, run: dict[str, Any] | None = None, **scenario: Any) -> Draft:
    """Straight drops every 2 m on one run by schedule; ``sizes``: DN of its lengths, supply first.

    Take-outs are not measured: make-up is left wrong, the rules in question do not look at it.
    """
    n = len(sizes)
    given = {"id": "R", "plan": [(0, 0), (STEP * n, 0)], "elevation": 3000, "size": "schedule", **(run or {})}
    heads = [{"id": f"H{k}", "at": (STEP * k, 0, 2600)} for k in range(1, n + 1)]
    draft = Draft({"runs": [given], "heads": heads, **scenario})
    draft.measure = lambda name: None  # type: ignore[method-assign]
    z = 3000.0
    for k, before in enumerate(sizes, start=1):
        x, name = STEP * k, f"T{k}"
        end = k == n
        ways = ["-x", "-z"] if end else ["-x", "+x", "-z"]
        openings = [before, 25] if end else [before, sizes[k], 25]
        draft.fit(f"{name}/t", "elbow_90" if end else "tee", (x, 0.0, z), ways, openings, name, "R")
        draft.fit(f"{name}/r", "reducer", (x, 0.0, 2600.0), ["+z", "-z"], [25, 15], name, "R")
        draft.pipe(f"{name}/drop", "drop", (f"{name}/t", f"{name}/r"), 25, name, "R")
        draft.take(name, "straight_drop", x, "bottom", z, heads=[f"H{k}"], ends_run=end)
    ends: list[Any] = [(0.0, 0.0, z), *(f"T{k}/t" for k in range(1, n + 1))]
    for k, dn in enumerate(sizes):
        draft.pipe(f"R/{k}", "run", (ends[k], ends[k + 1]), dn, "R", "R")
    draft.build("R", [(0.0, z), (STEP * n, z)])
    return draft


def of(rule: str, draft: Draft) -> list[Finding]:
    return check_route(draft.scenario(), draft.route()).by_rule(rule)


def said(rule: str, draft: Draft) -> list[tuple[str, str, float | None]]:
    return [(f.severity, f.element, f.limit) for f in of(rule, draft)]


# Lengths by number of heads fed, supply first: 15 heads down to 1.
STANDARD = [65] * 5 + [50] * 5 + [40] * 2 + [32] + [25] * 2
BOTH = [50] * 8 + [40] * 3 + [32] * 2 + [25] * 2


@pytest.mark.parametrize(
    ("system", "run", "sizes", "clean"),
    [
        ({}, {}, STANDARD, True),
        ({}, {}, BOTH, False),
        ({"schedule": "above_and_below"}, {}, BOTH, True),
        ({}, {"schedule": "above_and_below"}, BOTH, True),
        ({"schedule": "above_and_below"}, {"schedule": "standard"}, BOTH, False),
        ({"hazard": "ordinary", "schedule": "above_and_below"}, {}, BOTH, True),
        ({"hazard": "ordinary", "schedule": "long_spacing"}, {}, STANDARD, True),
    ],
)
def test_the_case_of_the_run_or_the_system(
    system: dict[str, Any], run: dict[str, Any], sizes: list[int], clean: bool
) -> None:
    found = [item for item in said("sizes", row(sizes, run=run, system=system)) if item[0] == "breaks"]
    assert (found == []) is clean


def test_long_spacing_asks_for_more_from_16_heads() -> None:
    system = {"hazard": "ordinary", "schedule": "long_spacing"}
    assert ("breaks", "R/0", 80) in said("sizes", row([65, *STANDARD], system=system))
    assert said("sizes", row([80, *STANDARD], system=system)) == []
    (finding,) = of("sizes", row([65, *STANDARD], system=system))
    assert finding.grade == "C"
    assert "27.5.3.4" in finding.source


def test_one_size_too_small_is_found_where_it_is() -> None:
    # 3 heads want 1-1/4 in. by the standard table
    assert said("sizes", row([40, 25, 25, 25])) == [("breaks", "R/1", 32)]
    assert said("sizes", row([40, 32, 25, 25])) == []


@pytest.mark.parametrize(("least", "clean"), [(32, True), (40, False)])
def test_least_size(least: int, clean: bool) -> None:
    found = of("sizes", row([32, 32, 32], run={"least_size": least}))
    assert (found == []) is clean
    if not clean:
        assert {(f.severity, f.limit, f.source) for f in found} == {
            ("breaks", 40, "given in the scenario (least_size)")
        }


def test_a_least_size_is_not_more_than_the_schedule_is_content_with() -> None:
    # without it the last length is larger than its two heads ask for
    assert said("sizes", row([32, 32, 32])) == [("note", "R/2", 25)]
    assert said("sizes", row([32, 32, 32], run={"least_size": 32})) == []


def test_sizes_still_never_grow_downstream() -> None:
    found = said("sizes", row([40, 32, 25, 40], run={"least_size": 25}))
    assert ("breaks", "R/3", 25) in found


def test_in_force_names_the_cases() -> None:
    two = row([25], run={"schedule": "above_and_below"}).scenario()
    limit = {rule.id: rule.limit for rule in rules_in_force(two)}["sizes"]
    assert "above and below: DN25: 2 heads; DN32: 4 heads" in limit
    assert "standard: DN25: 2 heads; DN32: 3 heads" in limit


def test_a_coupling_has_two_sizes() -> None:
    for sizes, clean in (([32, 25], True), ([32, 32], False)):
        draft = row([32, 25, 25])
        draft.fit("c", "reducing_coupling", (3000.0, 0.0, 3000.0), ["-x", "+x"], sizes, "R", "R")
        found = [f for f in of("sizes", draft) if f.element == "c"]
        assert (found == []) is clean


# -- heads on one branch line -------------------------------------------------------------------

EIGHT = [50] * 3 + [40] * 2 + [32] + [25] * 2
NINE = [50, *EIGHT]
TEN = [50, *NINE]


def larger_ends(sizes: list[int], tenth: int | None = None) -> list[int]:
    """The last length 1 in., the one before it 1-1/4 in.; the tenth head fed by ``tenth``."""
    out = [*sizes[:-2], 32, 25]
    return out if tenth is None else [tenth, *out[1:]]


@pytest.mark.parametrize(
    ("sizes", "hazard", "noted"),
    [
        (EIGHT, "light", False),
        (NINE, "light", True),
        (larger_ends(NINE), "light", False),
        (TEN, "light", True),
        (larger_ends(TEN), "light", True),
        (larger_ends(TEN, 65), "light", False),
        ([65, *TEN[1:]], "light", True),
        (larger_ends(TEN), "ordinary", False),
        (TEN, "ordinary", True),
        ([65, *larger_ends(TEN, 65)], "light", True),
    ],
)
def test_heads_on_a_branch_line(sizes: list[int], hazard: str, noted: bool) -> None:
    found = of("branch_heads", row(sizes, system={"hazard": hazard}))
    assert (found != []) is noted
    for finding in found:
        assert (finding.severity, finding.element, finding.measured, finding.limit, finding.grade) == (
            "note",
            "R",
            len(sizes),
            8,
            "A",
        )
        assert finding.unit == "heads"


def test_only_branch_lines_by_schedule() -> None:
    # what is given may be calculated, and a cross main feeds as many as its schedule allows
    assert of("branch_heads", row([50] * 12, run={"size": 50})) == []
    assert of("branch_heads", row([65] * 2 + TEN, run={"kind": "cross_main"})) == []
    assert of("branch_heads", row([65] * 2 + TEN)) != []
