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


def hose() -> Draft:
    """A DN32 run with a hose of two legs to H1, 300 to its left, and a drop at its end, 2000."""
    draft = Draft(
        {
            "rules": {"allow_flexible": True},
            "runs": [{"id": "R", "plan": [(0, 0), (2000, 0)], "elevation": 3000, "size": 32}],
            "heads": [{"id": "H1", "at": (1000, 300, 2600)}, {"id": "H2", "at": (2000, 0, 2600)}],
        }
    )
    z = 3000.0
    draft.fit("T1/tee", "tee", (1000.0, 0.0, z), ["-x", "+x", "+y"], [32, 32, 25], "T1", "R")
    draft.pipe("T1/a", "hose", ("T1/tee", (1000.0, 300.0, z)), 25, "T1", "R")
    draft.pipe("T1/b", "hose", ((1000.0, 300.0, z), (1000.0, 300.0, 2600.0)), 25, "T1", "R")
    draft.take("T1", "flexible_drop", 1000.0, "left", z, heads=["H1"], arm_level=z)
    draft.fit("T2/e", "elbow_90", (2000.0, 0.0, z), ["-x", "-z"], [32, 25], "T2", "R")
    draft.fit("T2/r", "reducer", (2000.0, 0.0, 2600.0), ["+z", "-z"], [25, 15], "T2", "R")
    draft.pipe("T2/drop", "drop", ("T2/e", "T2/r"), 25, "T2", "R")
    draft.take("T2", "straight_drop", 2000.0, "bottom", z, heads=["H2"], ends_run=True)
    draft.pipe("R/0", "run", ((0.0, 0.0, z), "T1/tee"), 32, "R", "R")
    draft.pipe("R/1", "run", ("T1/tee", "T2/e"), 32, "R", "R")
    draft.build("R", [(0.0, z), (2000.0, z)])
    return draft


def test_a_hose_by_hand_is_clean() -> None:
    draft = hose()
    assert rules(draft, draft.record()) == set()


@pytest.mark.parametrize("side", ["right", "top", "bottom"])
def test_a_hose_leaves_from_the_side_that_is_given(side: str) -> None:
    draft = hose()
    draft.takeoffs["T1"]["side"] = side
    assert rules(draft, draft.record()) == {"square"}


def test_a_hose_has_a_dogleg_where_it_turns_in_plan() -> None:
    draft = hose()
    draft.takeoffs["T1"]["dogleg"] = True
    assert rules(draft, draft.record()) == {"style_shape"}


@pytest.mark.parametrize("piece", ["T1/a", "T1/b"])
def test_a_hose_has_one_size_and_fits_its_outlet(piece: str) -> None:
    draft = hose()
    draft.pieces[piece]["dn"] = 32
    assert rules(draft, draft.record()) == {"sizes"}


@pytest.mark.parametrize(("end", "clean"), [(5000.1, True), (4999.9, True), (5000.2, False), (4999.8, False)])
def test_a_profile_goes_as_far_as_its_run_is_built(end: float, clean: bool) -> None:
    draft = line()
    draft.runs["R"]["profile"][-1]["station"] = end
    assert rules(draft, draft.record()) == (set() if clean else {"band"})
