"""Routes that are not what they say: served, connected, shapes, styles, drains, figures."""

from __future__ import annotations

import copy
import random
from typing import TYPE_CHECKING, Any

import pytest
from build import Draft, dry_line, line, said, shared, tree, welded
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from router.check import check_route, rules_in_force
from router.check.referee import RULES
from router.route.model import Route
from router.scenario.model import Scenario

if TYPE_CHECKING:
    from collections.abc import Callable

    from router.check import Finding

ALL: list[Callable[..., Draft]] = [line, dry_line, shared, tree, welded]


def breaks(draft: Draft) -> list[Finding]:
    return check_route(draft.scenario(), draft.route()).breaks


def rules(draft: Draft) -> set[str]:
    return {finding.rule for finding in breaks(draft)}


def judged(draft: Draft, record: dict[str, Any]) -> list[Finding]:
    return check_route(draft.scenario(), Route.model_validate(record)).breaks


# -- served -------------------------------------------------------------------------------------


def test_an_unserved_head_is_a_note_if_it_is_listed_as_such() -> None:
    draft = line()
    draft.given["heads"].append({"id": "H9", "at": (4000, 900, 2600)})
    assert next((f.rule, f.element) for f in breaks(draft)) == ("served", "H9")
    draft.heads["H9"] = {"id": "H9", "served": False, "inlet": (4000.0, 900.0, 2600.0)}
    verdict = check_route(draft.scenario(), draft.route())
    assert verdict.clean
    assert [(f.rule, f.severity, f.element) for f in said(verdict)] == [("served", "note", "H9")]
    assert next(term.amount for term in verdict.terms if term.name == "unserved") == 1


def test_a_head_served_twice() -> None:
    draft = line()
    draft.takeoffs["T1"]["heads"] = ["H1", "H2"]
    assert any(f.rule == "served" and f.element == "H2" and f.measured == 2 for f in breaks(draft))


def test_a_served_head_that_is_listed_as_unserved() -> None:
    draft = line()
    draft.heads["H2"] = {"id": "H2", "served": False, "inlet": (3000.0, 500.0, 2600.0)}
    assert ("served", "H2") in [(f.rule, f.element) for f in breaks(draft)]


def test_the_run_that_must_serve_a_head() -> None:
    draft = tree()
    draft.given["heads"][0]["run"] = "B"
    assert rules(draft) == set()
    draft.given["heads"][0]["run"] = "C"
    assert rules(draft) == {"served"}


def test_a_drop_that_ends_above_the_inlet() -> None:
    draft = line()
    draft.fittings["T1/red"]["at"] = draft.pieces["T1/drop"]["end"] = (1000.0, 0.0, 2600.2)
    draft.measure("T1/drop")
    found = breaks(draft)
    assert ("served", "H1") in [(f.rule, f.element) for f in found]
    assert ("connected", "H1") in [(f.rule, f.element) for f in found]


# -- connected ----------------------------------------------------------------------------------


@pytest.mark.parametrize(("off", "clean"), [(0.09, True), (0.2, False)])
def test_pipe_ends_meet_the_centres_of_fittings(off: float, clean: bool) -> None:
    draft = line()
    draft.pieces["T2/arm"]["start"] = (3000.0, off, 3120.0)
    draft.measure("T2/arm")
    found = [f for f in breaks(draft) if f.rule == "connected"]
    assert bool(found) is not clean
    if not clean:
        assert found[0].element == "T2/arm"
        assert found[0].measured == pytest.approx(0.2)
        assert {"T2/arm", "T2/drop", "H2"} <= {f.element for f in found}  # nothing after it is reached


def test_a_loose_fitting() -> None:
    draft = line()
    draft.fit("T1/plug", "plug", (1000.0, 50.0, 2900.0), ["+z"], [25], "T1", "R")
    draft.takeoffs["T1"]["fittings"].append("T1/plug")
    assert ("connected", "T1/plug") in [(f.rule, f.element) for f in breaks(draft)]


def test_an_opening_that_nothing_closes() -> None:
    draft = dry_line()
    del draft.fittings["T2/plug"]
    draft.takeoffs["T2"]["fittings"].remove("T2/plug")
    found = breaks(draft)
    assert [(f.element, "open" in f.text) for f in found if f.rule == "connected"] == [("T2/tee", True)]


def test_directions_are_those_of_the_pipes() -> None:
    draft = line()
    draft.fittings["T2/e2"]["directions"] = [(0.0, -1.0, 0.0), (0.0, 0.0, 1.0)]
    assert any(f.rule == "connected" and f.against == "T2/drop" for f in breaks(draft))


def test_a_run_that_starts_off_its_supply() -> None:
    draft = line()
    draft.pieces["R/0"]["start"] = (0.0, 0.0, 3000.2)
    draft.measure("R/0")
    assert any(f.rule == "connected" and f.element == "R/0" for f in breaks(draft))


def test_two_ways_to_one_head() -> None:
    draft = line()
    draft.fittings["T1/tee"]["kind"] = "cross"
    draft.fittings["T1/tee"]["directions"].append((0.0, 0.0, 1.0))
    draft.fittings["T1/tee"]["sizes"].append(25)
    draft.pipe("T1/again", "drop", ("T1/tee", "T1/red"), 25, "T1", "R")
    draft.takeoffs["T1"]["pieces"].append("T1/again")
    assert any("more than one way" in f.text for f in breaks(draft))


def test_an_outlet_off_its_pipe() -> None:
    draft = welded()
    for off, clean in ((0.09, True), (0.2, False)):
        at = (1000.0, 0.0, 3000.0 - off)
        draft.fittings["T1/o"]["at"] = draft.pieces["T1/arm"]["start"] = at
        draft.measure("T1/arm")
        assert any(f.rule == "connected" for f in breaks(draft)) is not clean


# -- shapes and styles --------------------------------------------------------------------------


def test_another_style_of_the_same_pieces() -> None:
    # The fittings of a return bend are a raised arm's too; a lowered arm goes down first.
    draft = line()
    draft.takeoffs["T2"]["style"] = draft.heads["H2"]["style"] = "raised_arm"
    assert rules(draft) == set()
    draft.takeoffs["T2"]["style"] = draft.heads["H2"]["style"] = "lowered_arm"
    assert rules(draft) == {"style_shape"}


def test_a_side_arm_has_no_second_elbow() -> None:
    draft = line()
    draft.takeoffs["T2"].update(style="side_arm", side="left")
    draft.heads["H2"]["style"] = "side_arm"
    texts = [f.text for f in breaks(draft) if f.rule == "style_shape"]
    assert any("2 elbow, 1 tee; a side_arm here has 1 elbow, 1 tee" in text for text in texts)
    assert any("goes UHD" in text for text in texts)


def test_a_dogleg_is_one_more_elbow() -> None:
    draft = line()
    draft.takeoffs["T2"]["dogleg"] = True
    assert rules(draft) == {"style_shape"}
    # 200 further along: the arm turns, and the head moves with it.
    draft.given["heads"][1]["at"] = draft.heads["H2"]["inlet"] = (3200.0, 500.0, 2600.0)
    draft.fit("T2/e3", "elbow_90", (3200.0, 500.0, 3120.0), ["-x", "-z"], [25, 25], "T2", "R")
    draft.fittings["T2/e2"]["directions"] = [(0.0, -1.0, 0.0), (1.0, 0.0, 0.0)]
    draft.fittings["T2/red"]["at"] = (3200.0, 500.0, 2600.0)
    draft.pipe("T2/arm2", "arm", ("T2/e2", "T2/e3"), 25, "T2", "R")
    draft.pipe("T2/drop", "drop", ("T2/e3", "T2/red"), 25, "T2", "R")
    draft.takeoffs["T2"]["pieces"].append("T2/arm2")
    draft.takeoffs["T2"]["fittings"].append("T2/e3")
    draft.takeoffs["T2"]["hangers"] = 1  # 700 mm hang free, 609.6 may
    assert rules(draft) == set()
    draft.takeoffs["T2"]["dogleg"] = False
    assert rules(draft) == {"style_shape"}


def test_a_dry_head_stands_in_a_plugged_tee_not_in_an_elbow() -> None:
    draft = dry_line()
    tee = draft.fittings["T2/tee"]
    del draft.fittings["T2/plug"]
    draft.takeoffs["T2"]["fittings"] = ["T2/tee"]
    tee.update(kind="elbow_90", directions=[(-1.0, 0.0, 0.0), (0.0, 0.0, -1.0)], sizes=[32, 25])
    draft.measure("R/3")
    found = breaks(draft)
    assert {f.rule for f in found} == {"style_shape"}
    assert any(f.element == "H2" and "elbow_90" in f.text for f in found)


def test_a_shared_nipple_has_two_arms_in_line() -> None:
    draft = shared()
    for name, sizes in (("T/tee", [25, 25, 25]),):
        draft.fittings[name].update(directions=[(0, 0, -1), (0, 1, 0), (1, 0, 0)], sizes=sizes)
    assert "square" in rules(draft)


@pytest.mark.parametrize(
    ("scenario", "clean"),
    [
        ({"rules": {"allow_shared_nipple": True}}, True),
        ({"rules": {"allow_shared_nipple": False}}, False),
        ({"rules": {"styles": ["shared_nipple"]}}, True),
        ({"rules": {"styles": ["side_arm"]}}, False),
        # NFPA 13 8.15.19 (2016): raw water taps the top of the line; a shared nipple does.
        ({"system": {"water": "raw"}}, True),
    ],
)
def test_allowed_styles(scenario: dict[str, Any], clean: bool) -> None:
    assert rules(shared(**scenario)) == (set() if clean else {"allowed_styles"})


def test_raw_water_leaves_nothing_at_the_bottom_or_side() -> None:
    found = breaks(line(system={"water": "raw"}))
    assert [(f.rule, f.element) for f in found] == [("allowed_styles", "T1"), ("allowed_styles", "T3")]
    assert "8.15.19" in found[0].source


def test_child_runs_leave_as_run_takeoff() -> None:
    draft = tree()
    draft.takeoffs["TB"]["style"] = "raised_arm"
    assert "allowed_styles" in rules(draft)
    draft = tree()
    draft.takeoffs["TB"]["side"] = "left"
    assert {"style_shape", "square"} <= rules(draft)


# -- trapped ------------------------------------------------------------------------------------


def test_a_trapped_dip_has_a_drain() -> None:
    draft = dry_line()
    verdict = check_route(draft.scenario(), draft.route())
    assert verdict.counts.drains == 1
    draft.runs["R"]["trapped"] = []
    assert rules(draft) == {"trapped"}
    draft.runs["R"]["trapped"] = [(1002.0, 4000.0)]
    notes = said(check_route(draft.scenario(), draft.route()))
    assert [(f.rule, f.severity) for f in notes] == [("trapped", "breaks")]


def test_wet_runs_have_no_trapped_sections() -> None:
    draft = line()
    draft.runs["R"]["trapped"] = [(0.0, 100.0)]
    assert rules(draft) == {"trapped"}


@pytest.mark.parametrize(
    ("profile", "pitch", "expected"),
    [
        ([(0, 0), (9000, 0)], 4.0, []),
        ([(0, 0), (1000, 0), (1300, -300), (9000, -300)], 0.0, [(1000, 9000)]),
        ([(0, 0), (1000, 0), (1000, 300), (9000, 300)], 0.0, []),
        # Down 20 at 1000, 4 mm/m: as high as before after 5 m.
        ([(0, 0), (1000, 0), (1000, -20), (9000, -20)], 4.0, [(1000, 6000)]),
        # A dip and a rise back: from the first elbow to where the second slope is as high.
        ([(0, 0), (1000, 0), (1000, -300), (2000, -300), (2000, 0), (9000, 0)], 0.0, [(1000, 2000)]),
        # Two dips.
        (
            [(0, 0), (100, 0), (100, -50), (200, -50), (200, 0), (300, 0), (300, -50), (400, -50)],
            0.0,
            [(100, 200), (300, 9000)],
        ),
        ([(0, 0), (9000, 0)], -2.0, [(0, 9000)]),
    ],
)
def test_trapped_stretches(
    profile: list[tuple[float, float]], pitch: float, expected: list[tuple[float, float]]
) -> None:
    from router.check.drains import trapped
    from router.check.lines import Line
    from router.route.model import ProfilePoint

    points = [ProfilePoint(station=s, level=level) for s, level in profile]
    have = trapped(Line([(0.0, 0.0), (9000.0, 0.0)], points, pitch), 9000.0)
    assert have == [pytest.approx(stretch) for stretch in expected]


def test_a_branch_that_leaves_downwards_needs_a_drain() -> None:
    from router.check.drains import downward_children
    from router.check.survey import Survey

    draft = tree()
    assert downward_children(Survey(draft.scenario(), draft.route())) == []
    draft.runs["B"]["supply_level"] = 2850.0
    assert downward_children(Survey(draft.scenario(), draft.route())) == [("TB", "B")]


# -- figures ------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", sorted(line().record()["counts"]))
def test_every_count_is_recomputed(name: str) -> None:
    draft = line()
    record = draft.record()
    value = record["counts"][name]
    if isinstance(value, dict):
        key = sorted(value)[0]
        value[key] += 1
    else:
        record["counts"][name] = value + 1
    found = judged(draft, record)
    assert [f.rule for f in found] == ["counts"]
    assert f"counts.{name}" in found[0].element


@pytest.mark.parametrize("name", [term["name"] for term in line().record()["objective"]["terms"]])
@pytest.mark.parametrize("field", ["amount", "weight", "cost"])
def test_every_term_is_recomputed(name: str, field: str) -> None:
    draft = line()
    draft.given["weights"]["reducer"] = 1.0
    record = draft.record()
    assert judged(draft, record) == []
    next(term for term in record["objective"]["terms"] if term["name"] == name)[field] += 1.0
    found = judged(draft, record)
    assert [(f.rule, f.element) for f in found] == [("objective", f"{name} {field}")]


@pytest.mark.parametrize(
    ("changes", "elements"),
    [
        ({}, []),
        ({"gap": 5.0}, ["gap"]),
        ({"bound": -5.0, "gap": 5.0}, ["status"]),
        ({"bound": -5.0, "gap": 5.0, "status": "feasible"}, []),
        ({"bound": 5.0, "gap": -5.0, "status": "feasible"}, ["bound"]),
        ({"value": 5.0, "bound": 5.0}, ["value"]),
    ],
)
def test_value_bound_gap_and_status_agree(changes: dict[str, Any], elements: list[str]) -> None:
    draft = line()
    record = draft.record()
    record["status"] = changes.pop("status", record["status"])
    for name, change in changes.items():
        record["objective"][name] += change
    found = judged(draft, record)
    assert [(f.rule, f.element) for f in found] == [("objective", element) for element in elements]


def test_a_least_amount_above_the_amount() -> None:
    draft = line()
    record = draft.record()
    fitting = next(term for term in record["objective"]["terms"] if term["name"] == "fitting")
    fitting["least"] = fitting["amount"]
    assert judged(draft, record) == []
    fitting["least"] = fitting["amount"] + 1
    assert [f.rule for f in judged(draft, record)] == ["objective"]


def test_an_open_weight_of_unserved_heads_is_the_routes_own() -> None:
    draft = line()
    draft.given["weights"] = {}
    assert said(check_route(draft.scenario(), draft.route())) == []
    record = draft.record()
    for term in record["objective"]["terms"]:
        if term["name"] == "unserved":
            term["weight"] = 10.0
    verdict = check_route(draft.scenario(), Route.model_validate(record))
    assert [(f.rule, f.severity, f.element) for f in said(verdict)] == [("objective", "note", "unserved")]


@pytest.mark.parametrize(
    ("spoil", "element"),
    [
        (lambda d: d.takeoffs["T2"].update(hangers=1), "T2"),
        (lambda d: d.takeoffs["T2"].update(station=3000.2), "T2"),
        (lambda d: d.takeoffs["T2"].update(level=3000.2), "T2"),
        (lambda d: d.takeoffs["T2"].update(occupies=(3001.0, 3040.0)), "T2"),
        (lambda d: d.takeoffs["T2"]["pieces"].remove("T2/arm"), "T2/arm"),
        (lambda d: d.takeoffs["T2"]["fittings"].append("T3/e1"), "T2"),
        (lambda d: d.runs["R"]["takeoffs"].remove("T2"), "T2"),
        (lambda d: d.fittings["T2/red"].update(counts_as="fitting"), "T2/red"),
        (lambda d: d.takeoffs["T2"].update(ends_run=True), "T2"),
        (lambda d: d.fittings["T2/e1"].update(run="S"), "T2/e1"),
        (lambda d: d.takeoffs["T2"].update(arm_level=3124.0), "T2/arm"),
    ],
)
def test_records_agree_with_each_other(spoil: Callable[[Draft], None], element: str) -> None:
    draft = line()
    spoil(draft)
    assert ("counts", element) in [(f.rule, f.element) for f in breaks(draft)]


def test_a_doubled_id() -> None:
    draft = line()
    record = draft.record()
    record["pieces"].append(copy.deepcopy(record["pieces"][0]))
    assert any(f.rule == "counts" and "two records" in f.text for f in judged(draft, record))


# -- the referee as a whole ---------------------------------------------------------------------


def test_rules_in_force_name_every_rule_with_a_source() -> None:
    for make in ALL:
        found = rules_in_force(make().scenario())
        assert [rule.id for rule in found] == list(RULES)
        assert all(rule.says and rule.limit and rule.source and rule.grade for rule in found)
    limits = {rule.id: rule.limit for rule in rules_in_force(line(rules={"clearance": 42}).scenario())}
    assert limits["clearance"].startswith("42 mm")


def test_rule_modules_are_named_as_their_rules() -> None:
    for name, module in RULES.items():
        assert module.__name__ == f"router.check.rules.{name}"  # type: ignore[attr-defined]
        assert module.in_force.__module__ == module.__name__  # type: ignore[attr-defined]


def test_the_referee_says_the_same_twice() -> None:
    draft = line(rules={"piece_clearance": 110, "clearance": 90}, obstructions=[_tray()])
    first = check_route(draft.scenario(), draft.route())
    second = check_route(draft.scenario(), draft.route())
    assert first.findings
    assert first == second


def _tray() -> dict[str, Any]:
    corners = [(900, -50), (3100, -50), (3100, 80), (900, 80)]
    return {"id": "tray", "polygon": corners, "elevations": (3060, 3200)}


def _spoilt(record: Any, rng: random.Random) -> Any:
    """Spoil one thing somewhere in a route: drop it, double it, swap a reference, move a number."""
    lists = ["heads", "takeoffs", "runs", "pieces", "fittings"]
    kind = rng.choice([key for key in lists if record[key]])
    items = record[kind]
    at = rng.randrange(len(items))
    what = rng.choice(["drop", "double", "field", "field", "field", "field"])
    if what == "drop":
        del items[at]
    elif what == "double":
        items.append(copy.deepcopy(items[at]))
    else:
        names = [p["id"] for key in lists for p in record[key]] + ["nobody"]
        field = rng.choice(sorted(items[at]))
        items[at][field] = _other(items[at][field], rng, names)
    return record


def _other(value: Any, rng: random.Random, names: list[str]) -> Any:
    if isinstance(value, bool):
        return not value
    if isinstance(value, int):
        return rng.choice([0, -1, 15, 25, 40, 77, 150, 10**6])
    if isinstance(value, float):
        return rng.choice([0.0, -value, value + 1.0, 1e7, -1e12])
    if isinstance(value, str):
        return rng.choice(names)
    if isinstance(value, list | tuple) and value:
        found = list(value)
        k = rng.randrange(len(found))
        if rng.random() < 0.3 and isinstance(value, list):
            del found[k]
        elif isinstance(found[k], dict):
            key = rng.choice(sorted(found[k]))
            found[k] = {**found[k], key: _other(found[k][key], rng, names)}
        else:
            found[k] = _other(found[k], rng, names)
        return found
    return value


@settings(max_examples=300, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(st.sampled_from(ALL), st.integers(0, 10**9))
def test_the_referee_never_raises_and_spoilt_routes_are_not_clean(
    make: Callable[..., Draft], seed: int
) -> None:
    from pydantic import ValidationError

    rng = random.Random(seed)
    draft = make()
    record = draft.record()
    before = Route.model_validate(record)
    for _ in range(rng.randint(1, 4)):
        record = _spoilt(copy.deepcopy(record), rng)
    try:
        route = Route.model_validate(record)
    except ValidationError:
        return  # not a well-formed record
    verdict = check_route(draft.scenario(), route)
    assert verdict.value == pytest.approx(sum(term.cost for term in verdict.terms))
    if len(route.pieces) != len(before.pieces) or len(route.fittings) != len(before.fittings):
        assert not verdict.clean


def test_an_empty_route_over_every_scenario() -> None:
    for make in ALL:
        draft = make()
        record = draft.record()
        for name in ("heads", "takeoffs", "runs", "pieces", "fittings"):
            record[name] = []
        verdict = check_route(Scenario.model_validate(draft.given), Route.model_validate(record))
        silent = {f.element for f in verdict.breaks if f.rule == "served"}
        assert silent == {head["id"] for head in draft.given["heads"]}


@pytest.mark.parametrize(
    ("written", "clean"), [(None, True), ("threaded", True), ("welded", False), ("glued", False)]
)
def test_a_run_is_joined_as_the_scenario_says(written: str | None, clean: bool) -> None:
    draft = line()
    draft.runs["R"]["joining"] = written
    assert check_route(draft.scenario(), draft.route()).clean is clean


@pytest.mark.parametrize(
    "change",
    [
        {"lowest": (0.0, 9e5, 3000.0)},
        {"lowest": (1500.0, 0.0, 10.0)},
        {"text": "no drain needed"},
        {"grade": "A"},
    ],
)
def test_a_low_section_is_described_as_it_is(change: dict[str, Any]) -> None:
    draft = dry_line()
    record = draft.record()
    record["low_sections"][0].update(change)
    verdict = check_route(draft.scenario(), Route.model_validate(record))
    assert {f.rule for f in verdict.breaks} == {"trapped"}
