"""What changed of an older route, on routes by hand: outlets, corners, begins of runs, changes of level."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pytest
from build import dry_line, line, tree

from router.check import check_route
from router.check.changes import Amount, changes
from router.check.survey import Survey
from router.route.kept import Kept, KeptWeights

if TYPE_CHECKING:
    from build import Draft


def amount(new: Draft, older: Draft) -> Amount:
    return changes(Survey(new.scenario(), new.route()), older.route())


def raised(up: float) -> Draft:
    """`line` with the arm of H2 at another height."""
    draft = line()
    for name, y in (("T2/e1", 0.0), ("T2/e2", 500.0)):
        draft.fittings[name]["at"] = (3000.0, y, 3120.0 + up)
    ends: dict[str, Any] = {name: draft.fittings[name]["at"] for name in ("T2/e1", "T2/e2")}
    draft.pieces["T2/nipple"]["end"] = draft.pieces["T2/arm"]["start"] = ends["T2/e1"]
    draft.pieces["T2/arm"]["end"] = draft.pieces["T2/drop"]["start"] = ends["T2/e2"]
    return draft


def shifted(off: float, k: int) -> Draft:
    """`line` with all of the takeoff to H1 moved along an axis, its inlet too."""
    draft = line()
    for name in ("T1/tee", "T1/red"):
        at = list(draft.fittings[name]["at"])
        at[k] += off
        draft.fittings[name]["at"] = tuple(at)
    draft.pieces["T1/drop"]["start"] = draft.pieces["R/0"]["end"] = draft.fittings["T1/tee"]["at"]
    draft.pieces["R/1"]["start"] = draft.fittings["T1/tee"]["at"]
    draft.pieces["T1/drop"]["end"] = draft.heads["H1"]["inlet"] = draft.fittings["T1/red"]["at"]
    return draft


def test_the_same_route_has_no_changes() -> None:
    for make in (line, tree, dry_line):
        assert amount(make(), make()) == Amount()


@pytest.mark.parametrize("k", [0, 1, 2])
@pytest.mark.parametrize(("off", "found"), [(0.0015, {}), (0.0025, {"H1": 1.0}), (-5.0, {"H1": 1.0})])
def test_a_head_whose_outlet_moves_counts_whole(k: int, off: float, found: dict[str, float]) -> None:
    # lengths are written to a micrometre: places within 0.002 mm are one
    assert amount(shifted(off, k), line()).heads == found


@pytest.mark.parametrize(("up", "found"), [(0.001, {}), (0.01, {"H2": 0.5}), (40.0, {"H2": 0.5})])
def test_a_head_whose_outlet_stays_counts_half(up: float, found: dict[str, float]) -> None:
    assert amount(raised(up), line()).heads == found


@pytest.mark.parametrize(
    ("style", "side", "found"),
    [
        ("return_bend", "top", {}),
        ("raised_arm", "top", {}),  # the same fittings: its arm's level tells them apart
        ("side_arm", "top", {"H2": 0.5}),
        ("return_bend", "left", {"H2": 1.0}),
    ],
)
def test_another_style_or_side_is_a_change(style: str, side: str, found: dict[str, float]) -> None:
    draft = line()
    draft.takeoffs["T2"].update(style=style, side=side)
    assert amount(draft, line()).heads == found


@pytest.mark.parametrize("k", [0, 1, 2])
@pytest.mark.parametrize(("off", "runs"), [(0.0015, []), (0.0025, ["B"]), (60.0, ["B"])])
def test_a_run_that_begins_elsewhere(k: int, off: float, runs: list[str]) -> None:
    draft = tree()
    at = list(draft.fittings["TB/e"]["at"])
    at[k] += off
    draft.pieces["B/0"]["start"] = tuple(at)
    found = amount(draft, tree())
    assert found.runs == runs
    assert found.points(0.0, 7.0, 0.0) == 7.0 * len(runs)


def test_a_run_that_leaves_by_another_side() -> None:
    draft = tree()
    draft.takeoffs["TB"]["side"] = "bottom"
    assert amount(draft, tree()).runs == ["B"]


@pytest.mark.parametrize(
    ("built_to", "gone"), [(4000.0, ["R/dip"]), (1150.1, ["R/dip"]), (1149.9, []), (900.0, [])]
)
def test_a_change_of_level_elsewhere_is_one_new_and_one_gone(built_to: float, gone: list[str]) -> None:
    # the old one's middle is at 1150: a run that ends before it does not go past it any more
    draft = dry_line()
    for name in ("R/a", "R/b"):
        x, y, z = draft.fittings[name]["at"]
        draft.fittings[name]["at"] = (x + 50.0, y, z)
    draft.runs["R"]["built_to"] = built_to
    found = amount(draft, dry_line())
    assert (found.new, found.gone) == (["R/dip"], gone)
    assert found.points(0.0, 0.0, 11.0) == 11.0 * (1 + len(gone))


def test_points_by_hand() -> None:
    found = Amount(heads={"A": 0.5, "B": 1.0}, runs=["R"], gone=["x", "y"], new=["z"])
    assert found.points(100.0, 20.0, 3.0) == 100 * 1.5 + 20 + 3 * 3


@pytest.mark.parametrize("name", ["changed_head", "changed_run", "changed_offset"])
def test_weights_of_changes_are_the_scenarios(name: str) -> None:
    weights = {"changed_head": 100.0, "changed_run": 50.0, "changed_offset": 25.0}
    older = line().route()
    numbers: dict[str, Any] = dict.fromkeys(
        ("matched", "heads", "heads_kept", "runs", "runs_kept", "level_changes", "level_changes_kept"), 0
    )
    kept = Kept(
        scenario="by hand", sha256="", weights=KeptWeights(head=100.0, run=50.0, offset=25.0), points=0.0,
        pieces=0, pieces_kept=0, **numbers,
    )  # fmt: skip
    for off in (0.0, 1.0):
        draft = line()
        draft.given["weights"] = {"unserved": 1e6, **weights, name: weights[name] + off}
        route = draft.route().model_copy(update={"kept": kept})
        found = check_route(draft.scenario(), route, older).by_rule("kept")
        assert [f.limit for f in found] == ([weights[name] + 1.0] if off else [])
        assert all(name in f.text for f in found)
