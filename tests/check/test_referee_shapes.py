"""Styles and run shapes that the other routes made by hand do not have."""

from __future__ import annotations

import itertools
from math import sqrt
from typing import TYPE_CHECKING, Any

import pytest
from build import IN, Draft, tree

from router.check import check_route

if TYPE_CHECKING:
    from router.check import Finding

Z = 3000.0


def breaks(draft: Draft) -> list[Finding]:
    return check_route(draft.scenario(), draft.route()).breaks


def rules(draft: Draft) -> set[str]:
    return {finding.rule for finding in breaks(draft)}


def drop_at_end(
    draft: Draft, at: tuple[float, float, float], back: Any, head: str, station: float, level: float
) -> None:
    inlet = (at[0], at[1], 2500.0)
    draft.fit("TE/e", "elbow_90", at, [back, "-z"], [32, 25], "TE", "R")
    draft.fit("TE/r", "reducer", inlet, ["+z", "-z"], [25, 15], "TE", "R")
    draft.pipe("TE/drop", "drop", ("TE/e", "TE/r"), 25, "TE", "R")
    draft.take("TE", "straight_drop", station, "bottom", level, heads=[head], ends_run=True)


def bent(drop: float, **scenario: Any) -> Draft:
    """A run that turns left at (2000, 0), and goes ``drop`` lower there if that is not 0."""
    draft = Draft(
        {
            "runs": [{"id": "R", "plan": [(0, 0), (2000, 0), (2000, 1500)], "elevation": 3000, "size": 32}],
            "heads": [{"id": "H", "at": (2000, 1500, 2500)}],
            **scenario,
        }
    )
    low = Z - drop
    if drop:
        draft.fit("R/a", "elbow_90", (2000.0, 0.0, Z), ["-x", "-z"], [32, 32], "R", "R")
        draft.fit("R/b", "elbow_90", (2000.0, 0.0, low), ["+z", "+y"], [32, 32], "R", "R")
    else:
        draft.fit("R/a", "elbow_90", (2000.0, 0.0, Z), ["-x", "+y"], [32, 32], "R", "R")
    drop_at_end(draft, (2000.0, 1500.0, low), "-y", "H", 3500.0, low)
    draft.pipe("R/0", "run", ((0.0, 0.0, Z), "R/a"), 32, "R", "R")
    profile = [(0.0, Z), (3500.0, Z)]
    changes = []
    if drop:
        draft.pipe("R/1", "run", ("R/a", "R/b"), 32, "R", "R")
        profile = [(0.0, Z), (2000.0, Z), (2000.0, low), (3500.0, low)]
        changes = [
            {
                "id": "R/step",
                "stations": (2000.0, 2000.0),
                "levels": (Z, low),
                "angle": 90,
                "at_bend": True,
                "fittings": ["R/a", "R/b"],
                "pieces": ["R/1"],
            }
        ]
    draft.pipe("R/2", "run", ("R/b" if drop else "R/a", "TE/e"), 32, "R", "R")
    draft.build("R", profile, level_changes=changes)
    return draft


STEP = (1.75 + 1.75 + 2.0 - 2 * 0.681) * IN
"""Least height of two 1-1/4 in. elbows one over the other, with the shortest shouldered nipple."""


@pytest.mark.parametrize(("drop", "found"), [(0.0, set()), (200.0, set()), (STEP, set())])
def test_a_bend_and_a_step_at_a_bend(drop: float, found: set[str]) -> None:
    assert rules(bent(drop)) == found


def test_a_step_at_a_bend_too_small_for_its_elbows() -> None:
    assert rules(bent(STEP - 0.2)) == {"make_up", "outlet_spacing"}


def test_a_step_that_is_not_named_or_named_wrongly() -> None:
    draft = bent(200.0)
    draft.runs["R"]["level_changes"][0].update(at_bend=False)
    assert rules(draft) == {"band"}
    draft = bent(200.0)
    draft.runs["R"]["level_changes"][0].update(angle=45)
    assert rules(draft) == {"band"}
    draft = bent(200.0)
    draft.runs["R"]["level_changes"] = []
    assert "band" in rules(draft)


def test_a_corner_cut_off() -> None:
    draft = bent(0.0)
    draft.fittings["R/a"]["at"] = (1999.0, 1.0, Z)
    for name in ("R/0", "R/2"):
        side = "end" if name == "R/0" else "start"
        draft.pieces[name][side] = (1999.0, 1.0, Z)
        draft.measure(name)
    assert "band" in rules(draft)


def test_an_elbow_that_is_not_what_it_is_called() -> None:
    draft = bent(0.0)
    turn = sqrt(0.5)
    draft.fittings["R/a"]["kind"] = "elbow_45"
    draft.fittings["R/a"]["sizes"] = [32, 32]
    assert "square" in rules(draft)
    draft.fittings["R/a"]["directions"] = [(-1.0, 0.0, 0.0), (turn, turn, 0.0)]
    assert "connected" in rules(draft)


def sidewall(facing: float = 90.0) -> Draft:
    """A sidewall head fed level from the side of the run, then a drop at the end."""
    draft = Draft(
        {
            "runs": [{"id": "R", "plan": [(0, 0), (3000, 0)], "elevation": 3000, "size": 32}],
            "heads": [
                {"id": "S", "at": (1000, 400, 3000), "kind": "sidewall", "facing": facing},
                {"id": "H", "at": (3000, 0, 2500)},
            ],
        }
    )
    draft.fit("T/tee", "tee", (1000.0, 0.0, Z), ["-x", "+x", "+y"], [32, 32, 25], "T", "R")
    draft.fit("T/r", "reducer", (1000.0, 400.0, Z), ["-y", "+y"], [25, 15], "T", "R")
    draft.pipe("T/arm", "arm", ("T/tee", "T/r"), 25, "T", "R")
    draft.take("T", "sidewall", 1000.0, "left", Z, heads=["S"], arm_level=Z)
    drop_at_end(draft, (3000.0, 0.0, Z), "-x", "H", 3000.0, Z)
    draft.pipe("R/0", "run", ((0.0, 0.0, Z), "T/tee"), 32, "R", "R")
    draft.pipe("R/1", "run", ("T/tee", "TE/e"), 32, "R", "R")
    draft.build("R", [(0.0, Z), (3000.0, Z)])
    return draft


@pytest.mark.parametrize(
    ("facing", "clean"), [(90.0, True), (87.0, True), (86.8, False), (-270.0, True), (-90.0, False)]
)
def test_a_sidewall_is_fed_from_behind(facing: float, clean: bool) -> None:
    assert rules(sidewall(facing)) == (set() if clean else {"style_shape"})


def cross(**changed: Any) -> Draft:
    """Two pendents either side of a level cross, then a drop at the end."""
    draft = Draft(
        {
            "runs": [{"id": "R", "plan": [(0, 0), (3000, 0)], "elevation": 3000, "size": 32}],
            "heads": [
                {"id": "A", "at": (1000, 500, 2500)},
                {"id": "B", "at": (1000, -300, 2500)},
                {"id": "H", "at": (3000, 0, 2500)},
            ],
            "rules": {"allow_cross": True, **changed},
        }
    )
    draft.fit("T/x", "cross", (1000.0, 0.0, Z), ["-x", "+x", "+y", "-y"], [32, 32, 25, 25], "T", "R")
    for head, y, back in (("A", 500.0, "-y"), ("B", -300.0, "+y")):
        draft.fit(f"T/{head}e", "elbow_90", (1000.0, y, Z), [back, "-z"], [25, 25], "T", "R")
        draft.fit(f"T/{head}r", "reducer", (1000.0, y, 2500.0), ["+z", "-z"], [25, 15], "T", "R")
        draft.pipe(f"T/{head}a", "arm", ("T/x", f"T/{head}e"), 25, "T", "R")
        draft.pipe(f"T/{head}d", "drop", (f"T/{head}e", f"T/{head}r"), 25, "T", "R")
    draft.take("T", "level_cross", 1000.0, "left", Z, heads=["A", "B"], arm_level=Z)
    drop_at_end(draft, (3000.0, 0.0, Z), "-x", "H", 3000.0, Z)
    draft.pipe("R/0", "run", ((0.0, 0.0, Z), "T/x"), 32, "R", "R")
    draft.pipe("R/1", "run", ("T/x", "TE/e"), 32, "R", "R")
    draft.build("R", [(0.0, Z), (3000.0, Z)])
    return draft


def test_a_cross_only_where_the_rules_allow_it() -> None:
    assert rules(cross()) == set()
    assert rules(cross(allow_cross=False)) == {"allowed_styles"}


def test_a_cross_serves_two_heads() -> None:
    draft = cross()
    draft.takeoffs["T"]["heads"] = ["A"]
    assert "style_shape" in rules(draft)


def hose(legs: list[tuple[float, float, float]], **rules_given: Any) -> Draft:
    """A hose of straight legs from a tee's bottom to (1000, 600, 2500), then a drop at the end."""
    draft = Draft(
        {
            "runs": [{"id": "R", "plan": [(0, 0), (3000, 0)], "elevation": 3000, "size": 32}],
            "heads": [{"id": "F", "at": (1000, 600, 2500)}, {"id": "H", "at": (3000, 0, 2500)}],
            "rules": {"allow_flexible": True, **rules_given},
        }
    )
    draft.fit("T/tee", "tee", (1000.0, 0.0, Z), ["-x", "+x", "-z"], [32, 32, 25], "T", "R")
    ends: list[Any] = ["T/tee", *legs, (1000.0, 600.0, 2500.0)]
    for k, (a, b) in enumerate(itertools.pairwise(ends)):
        draft.pipe(f"T/h{k}", "hose", (a, b), 25, "T", "R")
    draft.take("T", "flexible_drop", 1000.0, "bottom", Z, heads=["F"])
    drop_at_end(draft, (3000.0, 0.0, Z), "-x", "H", 3000.0, Z)
    draft.pipe("R/0", "run", ((0.0, 0.0, Z), "T/tee"), 32, "R", "R")
    draft.pipe("R/1", "run", ("T/tee", "TE/e"), 32, "R", "R")
    draft.build("R", [(0.0, Z), (3000.0, Z)])
    return draft


LEGS = [(1000.0, 0.0, 2850.0), (1000.0, 600.0, 2850.0)]


@pytest.mark.parametrize(
    ("given", "clean"),
    [
        ({}, True),
        # 150 + 600 + 350 with square corners, less two bends of (2 - pi/2) x 177.8 mm (7 in.): 947.4
        ({"hose_lengths": [900, 947.5]}, True),
        ({"hose_lengths": [900, 947.2]}, False),
        ({"hose_max_bends": 2}, True),
        ({"hose_max_bends": 1}, False),
    ],
)
def test_a_hose_within_its_length_and_bends(given: dict[str, Any], clean: bool) -> None:
    draft = hose(LEGS, **given)
    assert rules(draft) == (set() if clean else {"style_shape"})
    assert check_route(draft.scenario(), draft.route()).counts.hoses == 1


def test_a_hose_only_where_the_rules_allow_it() -> None:
    assert rules(hose(LEGS, allow_flexible=False)) == {"allowed_styles"}


def test_a_child_on_the_level_leaves_from_the_side() -> None:
    # Branch B of `tree`, put down to the main's level: the tee turns to the side, no nipple, no elbow.
    draft = tree()
    del draft.fittings["TB/e"], draft.pieces["TB/nipple"], draft.pieces["B/0"], draft.pieces["TH1/drop"]
    draft.fit("TB/tee", "tee", (1500.0, 0.0, Z), ["-x", "+x", "+y"], [32, 32, 32], "TB", "M")
    draft.fittings["TH1/e"]["at"] = (1500.0, 2000.0, Z)
    draft.pipe("B/0", "run", ("TB/tee", "TH1/e"), 32, "B", "B")
    draft.pipe("TH1/drop", "drop", ("TH1/e", "TH1/r"), 25, "TH1", "B")
    draft.measure("M/0")
    draft.measure("M/1")
    draft.take("TB", "run_takeoff", 1500.0, "left", Z, run="M", child_runs=["B"])
    draft.take("TH1", "straight_drop", 2000.0, "bottom", Z, run="B", heads=["H1"], ends_run=True)
    draft.build("B", [(0.0, Z), (2000.0, Z)])
    draft.given["runs"][1]["elevation"] = Z
    assert rules(draft) == set()
    draft.takeoffs["TB"]["side"] = "right"
    assert rules(draft) == {"square"}
