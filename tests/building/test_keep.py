"""An older route kept by hand-made changes: what stays, what moves, by how much and why."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from router.building import apart
from router.building.route import route_scenario
from router.check import check_route
from router.compare import compare
from router.deliver.route_json import route_text
from router.deliver.segments_csv import write_segments
from router.infer import infer_route
from router.readers.segments import read_segments
from router.scenario import parse_scenario

if TYPE_CHECKING:
    import pytest

    from router.route.model import Route

BEAM: dict[str, Any] = {
    "id": "B7",
    "kind": "beam",
    "polygon": [[3300, 500], [3600, 500], [3600, 900], [3300, 900]],
    "elevations": [2900, 3200],
}
GIVEN: dict[str, Any] = {
    "name": "kept",
    "runs": [{"id": "B1", "plan": [[0, 0], [9000, 0]], "elevation": 3000, "size": 32, "band": [2950, 3250]}],
    "heads": [{"id": f"H{n}", "at": [1500 * n, 700, 2400]} for n in (1, 2, 3, 4, 5)],
}


def made(**more: Any) -> Any:
    return parse_scenario({**GIVEN, **more}, "made")


def moved_head(n: int, x: float, z: float = 0.0) -> list[dict[str, Any]]:
    heads = [dict(head) for head in GIVEN["heads"]]
    at = heads[n - 1]["at"]
    heads[n - 1]["at"] = [at[0] + x, at[1], at[2] + z]
    return heads


def kept(scenario: Any, older: Route) -> Route:
    route, _ = route_scenario(scenario, keep=older)
    assert check_route(scenario, route, older).clean
    assert route.status == "optimal"
    return route


def older() -> Route:
    return route_scenario(made())[0]


def test_a_beam_in_the_way_of_one_arm_moves_one_head_and_is_named() -> None:
    beam = {**BEAM, "polygon": [[2900, 300], [3100, 300], [3100, 500], [2900, 500]]}
    route = kept(made(obstructions=[beam]), older())
    assert route.kept is not None
    (change,) = route.kept.changes
    assert (change.kind, change.id, change.counts) == ("head", "H2", True)
    assert "B7" in change.why
    assert (change.rule, change.against) == ("clearance", "B7")
    # the arm's axis went right through: its radius (DN25, 33.4 mm outside: ASME B36.10M) is inside the beam
    assert "by 17 mm" in change.why
    assert route.kept.heads_kept == 4


def test_a_head_that_moved_across_keeps_its_outlet_and_counts_by_half() -> None:
    heads = moved_head(3, 0)
    heads[2]["at"] = [4500, 850, 2400]
    route = kept(made(heads=heads), older())
    assert route.kept is not None
    (change,) = route.kept.changes
    assert (change.id, change.what, change.moved) == ("H3", "outlet_stays", 0.0)
    assert change.points == 0.5 * route.kept.weights.head
    assert change.why == "the head moved 150 mm in plan"
    # its arm and its drop are new, every other piece stays
    assert route.kept.pieces - route.kept.pieces_kept == 2


def test_a_head_that_moved_up_and_along() -> None:
    route = kept(made(heads=moved_head(3, 90, 25)), older())
    assert route.kept is not None
    (change,) = route.kept.changes
    assert change.id == "H3"
    assert change.why == "the head moved 90 mm in plan and 25 mm up"


def test_new_and_gone_heads_cost_nothing() -> None:
    heads = [*GIVEN["heads"][:4], {"id": "N", "at": [5200, -500, 2400]}]
    route = kept(made(heads=heads), older())
    assert route.kept is not None
    assert {(c.id, c.what) for c in route.kept.changes} == {("N", "new"), ("H5", "gone")}
    assert route.kept.points == 0.0
    assert route.kept.heads == route.kept.heads_kept == 4


def test_a_run_whose_line_moved_counts_each_of_its_heads() -> None:
    runs = [{**GIVEN["runs"][0], "plan": [[0, 60], [9000, 60]]}]
    route = kept(made(runs=runs), older())
    assert route.kept is not None
    assert route.kept.heads_kept == 0
    assert {c.kind for c in route.kept.changes} == {"head", "run"}
    begin = next(c for c in route.kept.changes if c.kind == "run")
    assert begin.why == "its first point moved 60 mm in plan"
    assert "passes 60 mm from its old outlet" in next(c for c in route.kept.changes if c.kind == "head").why


def test_a_renamed_run_is_said() -> None:
    runs = [{**GIVEN["runs"][0], "id": "B2"}]
    route = kept(made(runs=runs), older())
    assert route.kept is not None
    moved = [c for c in route.kept.changes if c.kind == "head"]
    assert len(moved) == 5
    assert all(c.why == "its run B1 is no longer in the scenario" for c in moved)


def test_what_is_not_the_best_stays_all_the_same() -> None:
    pins = {"heads": {"H2": {"style": "return_bend"}, "H4": {"stations": [5700, 5800]}}}
    pinned, _ = route_scenario(made(pins=pins))
    free = older()
    route = kept(made(), pinned)
    assert route.kept is not None
    assert route.kept.changes == []
    assert [p.model_dump() for p in route.pieces] == [p.model_dump() for p in pinned.pieces]
    assert route.objective.value > free.objective.value


def test_small_weights_let_it_change_where_that_pays() -> None:
    pinned, _ = route_scenario(made(pins={"heads": {"H2": {"style": "return_bend"}}}))
    # a return bend has one fitting more than a side arm: 1,000 points
    # and a little pipe; the outlet turns from the top to the side, so the change counts in full
    for weight, changed in ((900.0, ["H2"]), (1200.0, [])):
        route = kept(made(weights={"changed_head": weight}), pinned)
        assert route.kept is not None
        assert [c.id for c in route.kept.changes] == changed


def test_a_level_change_that_is_no_longer_needed_stays() -> None:
    tray = {**BEAM, "id": "T", "polygon": [[5000, -900], [5200, -900], [5200, 900], [5000, 900]],
            "elevations": [2950, 3080]}  # fmt: skip
    runs = [{**GIVEN["runs"][0], "supply_elevation": 3000, "band": [3000, 3250]}]
    before, _ = route_scenario(made(runs=runs, obstructions=[tray]))
    assert before.counts.level_changes
    route = kept(made(runs=runs), before)
    assert route.kept is not None
    assert route.kept.changes == []
    assert route.counts.level_changes == before.counts.level_changes
    light = kept(made(runs=runs, weights=dict.fromkeys(("changed_head", "changed_offset"), 1.0)), before)
    assert light.counts.level_changes == 0
    assert light.kept is not None
    assert {c.what for c in light.kept.changes if c.kind == "level_change"} == {"gone"}


def test_a_head_that_was_not_served_is_served_again() -> None:
    box = {
        **BEAM,
        "polygon": [[2900, 600], [3100, 600], [3100, 800], [2900, 800]],
        "elevations": [2410, 3300],
    }
    before, _ = route_scenario(
        parse_scenario({**GIVEN, "obstructions": [box], "rules": {"slide": 0}}, "made")
    )
    assert not before.heads[1].served
    route = kept(made(), before)
    assert route.kept is not None
    assert [(c.id, c.what, c.points) for c in route.kept.changes] == [("H2", "served_again", 0.0)]


def test_a_drawing_is_kept(tmp_path: Any) -> None:
    file = tmp_path / "drawn.csv"
    file.write_text(write_segments(older()), encoding="utf-8")
    drawn = infer_route(made(), read_segments(file)).route
    route = kept(made(), drawn)
    assert route.kept is not None
    assert route.kept.changes == []
    assert [p.model_dump() for p in route.pieces] == [p.model_dump() for p in older().pieces]


def test_the_price_can_decide_and_still_nothing_moves_without_need() -> None:
    prices = {"pipe": {"1": {"price": 8}, "1-1/4": {"price": 9}}, "fittings": {"tee": {"other": {"price": 9}},
              "elbow_90": {"other": {"price": 5}}}, "as_objective": True}  # fmt: skip
    before = older()
    route = kept(made(prices=prices), before)
    assert route.kept is not None
    assert route.kept.changes == []


def test_the_referee_sees_a_list_that_is_not_true() -> None:
    before = older()
    scenario = made(heads=moved_head(3, 90))
    route = kept(scenario, before)
    assert route.kept is not None
    short = route.kept.model_copy(update={"changes": []})
    breaks = check_route(scenario, route.model_copy(update={"kept": short}), before).breaks
    assert {f.rule for f in breaks} == {"kept"}
    cheap = [c.model_copy(update={"points": 1.0}) for c in route.kept.changes]
    false = route.model_copy(update={"kept": route.kept.model_copy(update={"changes": cheap})})
    assert "kept" in {f.rule for f in check_route(scenario, false, before).breaks}
    assert "objective" in {f.rule for f in check_route(scenario, false).breaks}
    # without the older route the list is taken as it is, and that is said
    alone = check_route(scenario, route)
    assert alone.clean
    assert "taken from the route's own list" in alone.by_rule("kept")[0].text


def test_routes_are_compared_without_what_they_changed() -> None:
    before = older()
    scenario = made(heads=moved_head(3, 90))
    route = kept(scenario, before)
    free, _ = route_scenario(scenario)
    both = compare(scenario, [("kept", route), ("free", free)])
    assert all(term.name != "changed" for figures in both.routes for term in figures.terms)


def test_one_tree_after_the_other_is_the_same(monkeypatch: pytest.MonkeyPatch) -> None:
    runs = [
        {"id": f"B{k}", "plan": [[0, 3000 * k], [9000, 3000 * k]], "elevation": 3000, "size": 32}
        for k in range(3)
    ]
    heads = [
        {"id": f"H{k}{n}", "at": [1500 * n, 3000 * k + 700, 2400], "run": f"B{k}"}
        for k in range(3)
        for n in range(1, 5)
    ]
    scenario = parse_scenario({"name": "trees", "runs": runs, "heads": heads}, "made")
    before, _ = route_scenario(scenario)
    beam = {**BEAM, "polygon": [[2900, 3300], [3100, 3300], [3100, 3500], [2900, 3500]]}
    other = parse_scenario({"name": "trees", "runs": runs, "heads": heads, "obstructions": [beam]}, "made")
    at_once = kept(other, before)
    assert at_once.kept is not None
    assert [c.id for c in at_once.kept.changes] == ["H12"]
    monkeypatch.setattr(apart, "WORTH_HEADS", 1)
    monkeypatch.setattr(apart, "CHUNK_HEADS", 4)
    monkeypatch.setattr(apart, "PROCESS_HEADS", 4)
    for processes in (1, 2):
        alone, _ = route_scenario(other, processes=processes, keep=before)
        assert route_text(alone) == route_text(at_once)
