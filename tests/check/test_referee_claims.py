"""Untrue statements that no pipe contradicts by its place alone (each was once missed)."""

from __future__ import annotations

from typing import Any

import pytest
from build import Draft, dry_line, line, tree

from router.check import check_route
from router.route.model import Route


def rules(draft: Draft, record: dict[str, Any]) -> set[str]:
    return {f.rule for f in check_route(draft.scenario(), Route.model_validate(record)).breaks}


def test_a_route_that_serves_heads_is_not_infeasible() -> None:
    draft = line()
    record = draft.record() | {"status": "infeasible"}
    assert rules(draft, record) == {"objective"}


def test_a_square_elbow_is_no_odd_one() -> None:
    draft = line()
    draft.fittings["T2/e1"]["kind"] = "elbow_odd"
    assert rules(draft, draft.record()) == {"square"}


def test_a_plug_has_the_size_of_what_it_closes() -> None:
    draft = dry_line()
    draft.fittings["T2/plug"]["sizes"] = [25]
    assert rules(draft, draft.record()) == {"sizes"}


@pytest.mark.parametrize(("start", "clean"), [(1000.9, True), (1001.1, False)])
def test_where_a_trapped_stretch_begins(start: float, clean: bool) -> None:
    draft = dry_line()
    draft.runs["R"]["trapped"] = [(start, 4000.0)]
    assert rules(draft, draft.record()) == (set() if clean else {"trapped"})


def test_a_run_takeoff_has_no_dogleg() -> None:
    draft = tree()
    draft.takeoffs["TB"]["dogleg"] = True
    assert rules(draft, draft.record()) == {"style_shape"}


def test_what_goes_on_from_the_end_ends_its_run() -> None:
    draft = tree()
    draft.takeoffs["TC"]["ends_run"] = False
    assert rules(draft, draft.record()) == {"counts"}


@pytest.mark.parametrize(("name", "level", "clean"), [("T1", 3000.0, True), ("T1", 3050.0, False)])
def test_the_arm_level_of_a_takeoff_without_arm_is_its_outlets(name: str, level: float, clean: bool) -> None:
    draft = line()
    draft.takeoffs[name]["arm_level"] = level
    assert rules(draft, draft.record()) == (set() if clean else {"counts"})


def test_the_arm_level_of_a_run_takeoff_is_its_childs() -> None:
    draft = tree()
    draft.takeoffs["TB"]["arm_level"] = 3150.0
    assert rules(draft, draft.record()) == set()
    draft.takeoffs["TB"]["arm_level"] = 3000.0
    assert rules(draft, draft.record()) == {"counts"}


def test_directions_are_unit_vectors() -> None:
    draft = line()
    draft.fittings["T1/red"]["directions"][1] = (0.0, 0.0, -0.5)
    assert rules(draft, draft.record()) == {"square"}
