"""Pipe schedules head by head against NFPA 13 (paraphrased), both hazards, all cases.

Each table is written out here as the runs of head counts that take a size.
Light hazard: Table 23.7.2.2.1 of the 2016 edition (grade A). Ordinary hazard:
23.7.3 (B to 4 in., 5 and 6 in. from memory). Heads above and below a ceiling:
23.7.2.4 (light: A to 2 in., 2-1/2 in. from memory; ordinary from memory); beyond
its last size the pipe goes to 3 in. and the ordinary table. Heads or lines over
12 ft apart: 27.5.3.4 of the 2019 edition (the rule A, its numbers from memory).
"""

from __future__ import annotations

import pytest

from router.trade.published import load
from router.trade.tables import Tables

# (first head count, last head count, NPS)
Steps = list[tuple[int, int, str]]
LIGHT: Steps = [
    (1, 2, "1"),
    (3, 3, "1-1/4"),
    (4, 5, "1-1/2"),
    (6, 10, "2"),
    (11, 30, "2-1/2"),
    (31, 60, "3"),
    (61, 100, "3-1/2"),
    (101, 300, "4"),  # by area, not by heads
]
LIGHT_BOTH: Steps = [
    (1, 2, "1"),
    (3, 4, "1-1/4"),
    (5, 7, "1-1/2"),
    (8, 15, "2"),
    (16, 50, "2-1/2"),
    (51, 60, "3"),
    (61, 100, "3-1/2"),
    (101, 300, "4"),
]
ORDINARY: Steps = [
    (1, 2, "1"),
    (3, 3, "1-1/4"),
    (4, 5, "1-1/2"),
    (6, 10, "2"),
    (11, 20, "2-1/2"),
    (21, 40, "3"),
    (41, 65, "3-1/2"),
    (66, 100, "4"),
    (101, 160, "5"),
    (161, 275, "6"),
]
ORDINARY_BOTH: Steps = [
    (1, 2, "1"),
    (3, 4, "1-1/4"),
    (5, 7, "1-1/2"),
    (8, 15, "2"),
    (16, 30, "2-1/2"),
    (31, 60, "3"),
    (61, 65, "3-1/2"),
    (66, 100, "4"),
    (101, 160, "5"),
    (161, 275, "6"),
]
ORDINARY_LONG: Steps = [
    (1, 2, "1"),
    (3, 3, "1-1/4"),
    (4, 5, "1-1/2"),
    (6, 10, "2"),
    (11, 15, "2-1/2"),
    (16, 30, "3"),
    (31, 60, "3-1/2"),
    (61, 100, "4"),
    (101, 160, "5"),
    (161, 275, "6"),
]
DN = {
    "1": 25,
    "1-1/4": 32,
    "1-1/2": 40,
    "2": 50,
    "2-1/2": 65,
    "3": 80,
    "3-1/2": 90,
    "4": 100,
    "5": 125,
    "6": 150,
}

ALL = [
    ("light", "standard", LIGHT),
    ("light", "above_and_below", LIGHT_BOTH),
    ("ordinary", "standard", ORDINARY),
    ("ordinary", "above_and_below", ORDINARY_BOTH),
    ("ordinary", "long_spacing", ORDINARY_LONG),
]


@pytest.mark.parametrize(("hazard", "case", "steps"), ALL, ids=[f"{h}-{c}" for h, c, _ in ALL])
def test_every_number_of_heads(hazard: str, case: str, steps: Steps) -> None:
    inch, metric = Tables("inch"), Tables("metric")
    counted = 0
    for first, last, nps in steps:
        assert first == counted + 1  # the steps written above leave no count out
        for heads in range(first, last + 1):
            assert inch.size_for_heads(heads, hazard, case) == DN[nps], heads
            # EN 10255 has no DN90: the next size up
            assert metric.size_for_heads(heads, hazard, case) == (100 if nps == "3-1/2" else DN[nps]), heads
        counted = last
    if hazard == "ordinary":
        with pytest.raises(ValueError, match="276 heads are more than the ordinary hazard"):
            inch.size_for_heads(276, hazard, case)


def test_the_standard_case_is_the_default() -> None:
    for hazard in ("light", "ordinary"):
        assert Tables().schedule(hazard) == Tables().schedule(hazard, "standard")


def test_cases_that_there_are_not() -> None:
    with pytest.raises(ValueError, match="light hazard has no pipe schedule 'long_spacing'"):
        Tables().schedule("light", "long_spacing")
    with pytest.raises(ValueError, match="schedule case 'both' is not one of standard, above_and_below"):
        Tables().size_for_heads(3, "light", "both")


def test_each_row_names_the_table_that_it_is_from() -> None:
    tables = Tables()
    assert tables.schedule_table("light", "above_and_below", 65) == "schedule_light_above_and_below"
    assert tables.schedule_table("light", "above_and_below", 80) == "schedule_light"
    assert tables.schedule_table("ordinary", "long_spacing", 50) == "schedule_ordinary"
    assert tables.schedule_table("ordinary", "long_spacing", 65) == "schedule_ordinary_long_spacing"
    grades = {name: load()[name].sure for name in load() if name.startswith("schedule_")}
    assert grades == {
        "schedule_light": "A",
        "schedule_light_above_and_below": "A",
        "schedule_ordinary": "B",
        "schedule_ordinary_above_and_below": "C",
        "schedule_ordinary_long_spacing": "C",
    }
    assert tables.grade("schedule_light_above_and_below", 65) == "C"
    assert tables.grade("schedule_ordinary", 150) == "C"


def test_a_scenario_gives_its_own_rows() -> None:
    tables = Tables(overrides={"schedule_ordinary_long_spacing": {"2": 7, "2-1/2": 12}})
    assert [tables.size_for_heads(n, "ordinary", "long_spacing") for n in (7, 8, 12, 13)] == [50, 65, 65, 80]
    assert tables.size_for_heads(8, "ordinary") == 50
    assert tables.grade("schedule_ordinary_long_spacing", 50) == "A"
