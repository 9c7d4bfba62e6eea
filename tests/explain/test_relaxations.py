"""What would serve an unserved head: every change applied and routed; one mm less does not do."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pytest
from small_lines import IN, RUN_RADIUS, TEE_RUN

from router.building.route import route_scenario
from router.check import check_route
from router.explain import HeadReasons, Relaxation, explain_head, explain_route, explain_run
from router.explain.changes import changed
from router.scenario import parse_scenario

if TYPE_CHECKING:
    from router.scenario.model import Scenario

RUN = {"id": "B", "plan": [[0, 0], [4000, 0]], "size": 32, "elevation": 3000, "band": [3000, 3000]}
BEAM = {"id": "G1", "kind": "beam", "polygon": [[2400, -900], [2700, -900], [2700, 900], [2400, 900]],
        "elevations": [2900, 3300]}  # fmt: skip
DUCT = {"id": "D2", "kind": "duct", "polygon": [[2000, 200], [3000, 200], [3000, 500], [2000, 500]],
        "elevations": [2700, 2938], "clearance": 50}  # fmt: skip


def given(**more: Any) -> Scenario:
    return parse_scenario({"name": "case", "runs": [RUN], **more}, "case")


CASES = {
    "a beam across the line": given(heads=[{"id": "H1", "at": [3500, 600, 2400]}], obstructions=[BEAM]),
    "a duct under the arm": given(
        heads=[{"id": "H1", "at": [2500, 800, 2400]}], obstructions=[DUCT],
        rules={"slide": 0, "styles": ["side_arm"]},
    ),
    "two heads too near": given(
        heads=[{"id": "H2", "at": [2500, 0, 2400]}, {"id": "H1", "at": [2560, 0, 2400]}],
        rules={"slide": 0, "styles": ["straight_drop"]},
    ),
    "a head a little off the line": given(
        heads=[{"id": "H1", "at": [2500, 49, 2400]}], rules={"slide": 0}
    ),
    "opposite heads": given(
        heads=[{"id": "H2", "at": [2500, 500, 2400]}, {"id": "H1", "at": [2500, -500, 2400]},
               {"id": "H3", "at": [3500, 500, 2400]}],
        rules={"slide": 0, "allow_shared_nipple": False,
               "styles": ["side_arm", "shared_nipple", "level_cross"]},
    ),
    "beyond the reach": given(
        heads=[{"id": "H1", "at": [2500, 2100, 2400]}], rules={"slide": 0, "reach": 2000}
    ),
    "a pin that cannot be": given(
        heads=[{"id": "H1", "at": [2500, 600, 2400]}], pins={"heads": {"H1": {"style": "straight_drop"}}}
    ),
}  # fmt: skip


def unserved(scenario: Scenario) -> tuple[str, HeadReasons]:
    route, _ = route_scenario(scenario)
    head = next(h.id for h in route.heads if not h.served)
    return head, explain_head(scenario, route, head)


def served(scenario: Scenario) -> set[str]:
    route, _ = route_scenario(scenario)
    assert not [f for f in check_route(scenario, route).breaks if f.rule not in ("served", "hangers")]
    return {h.id for h in route.heads if h.served}


def less(scenario: Scenario, relaxation: Relaxation) -> Scenario:
    """Give the scenario with the change made one mm smaller."""
    ((place, value),) = relaxation.change.items()
    if relaxation.amount == 1.0:
        return scenario
    kind, _, name = place.partition("].")
    record: Any = scenario.rules
    if name:
        part, ident = kind.split("[")
        record = next(item for item in getattr(scenario, part) if item.id == ident)
    old = getattr(record, name or place.removeprefix("rules."))

    def back(new: float, now: float) -> float:
        return new if new == now else new - 1.0 if new > now else new + 1.0

    if isinstance(value, list):
        both: list[Any] = list(value)
        smaller: Any = [back(float(n), float(o)) for n, o in zip(both, old, strict=True)]
    else:
        assert isinstance(value, float)
        smaller = back(value, float(old if old is not None else scenario.rules.clearance))
    return changed(scenario, {place: smaller})


@pytest.mark.parametrize("name", CASES)
def test_every_change_serves_and_no_smaller_one(name: str) -> None:
    scenario = CASES[name]
    before = served(scenario)
    head, reasons = unserved(scenario)
    assert not reasons.served
    assert reasons.style is None
    assert reasons.conflict, reasons
    assert reasons.relaxations, reasons
    costs = [round(r.costs, 1) for r in reasons.relaxations]
    assert costs == sorted(costs)
    for r in reasons.relaxations:
        now = served(changed(scenario, r.change))
        assert head in now, r
        assert before <= now, r
        assert set(r.serves) == now - before
        if r.amount is not None:
            smaller = served(less(scenario, r))
            assert head not in smaller or not before <= smaller, r
            assert r.amount > 0


def test_the_way_over_a_beam_and_under_it_by_hand() -> None:
    """Half of 1.660 in. pipe and 25 mm: the band must go down to 2,853.9 or up to 3,346.1, in whole mm."""
    _, reasons = unserved(CASES["a beam across the line"])
    reach = RUN_RADIUS + 25.0
    texts = [r.text for r in reasons.relaxations]
    assert f"widen the band of B down to {int(2900 - reach):,}" in texts
    assert f"widen the band of B up to {int(3300 + reach) + 1:,}" in texts
    assert any("beam G1" in text for text in reasons.conflict)
    assert any("B stays at level 3,000" in text for text in reasons.conflict)
    assert not any("run" in r.text and "G1" in r.text for r in reasons.relaxations)  # nobody moves a beam
    assert any("cannot pass G1" in (w.text) for w in reasons.others)


def test_clearance_to_a_duct_by_hand() -> None:
    """The arm lies at 3,000, its pipe is 1.315 in.: it is 45.3 mm over the duct, where 50 are asked."""
    _, reasons = unserved(CASES["a duct under the arm"])
    drop = next(r for r in reasons.relaxations if "clearance to duct D2" in r.text)
    assert drop.text == "drop clearance to duct D2 from 50 to 45 mm"
    assert drop.change == {"obstructions[D2].clearance": 45.0}
    assert drop.amount == 5.0
    lower = next(r for r in reasons.relaxations if "lower" in r.text and "duct" in r.text)
    assert lower.amount == 5.0
    side = next(w for w in reasons.others if w.style == "side_arm")
    assert side.stopped_by is not None
    assert side.stopped_by.against == "D2"
    assert side.stopped_by.has == pytest.approx(3000 - 1.315 * IN / 2 - 2938, abs=0.1)


def test_neighbours_too_near_by_hand() -> None:
    """Two tees of 1.58 in. with a 2.00 in. nipple, 0.661 in. engaged twice (1 in. pipe), and 25 mm: 122.5."""
    _, reasons = unserved(CASES["two heads too near"])
    needs = (2 * TEE_RUN + 2.00 - 2 * 0.661) * IN + 25.0
    drop = next(w for w in reasons.others if w.style == "straight_drop")
    assert drop.stopped_by is not None
    assert drop.stopped_by.needs == pytest.approx(needs, abs=0.1)
    assert drop.stopped_by.has == pytest.approx(60, abs=0.1)
    assert any(r.text == f"allow a {int(needs - 60) + 1} mm shift of H1" for r in reasons.relaxations)
    assert any("is served from B too" in text for text in reasons.conflict)


def test_what_is_allowed_is_told() -> None:
    _, reasons = unserved(CASES["opposite heads"])
    assert {"allow a cross here", "allow a shared nipple here"} & {r.text for r in reasons.relaxations}
    _, reasons = unserved(CASES["beyond the reach"])
    assert any(r.text == "raise the reach of arms from 2,000 to 2,100 mm" for r in reasons.relaxations)
    _, reasons = unserved(CASES["a pin that cannot be"])
    pin = next(r for r in reasons.relaxations if "pin" in r.text)
    assert pin.change == {"pins.heads[H1].style": None}
    assert "the pin of H1" in reasons.conflict


def test_a_run_that_is_not_built() -> None:
    """A branch 20 mm over a main that cannot move: no tee and no nipple fits."""
    main = {"id": "M", "kind": "main", "plan": [[0, 0], [6000, 0]], "size": 50, "elevation": 3000,
            "band": [3000, 3000]}  # fmt: skip
    branch = {"id": "B", "plan": [[3000, 0], [3000, 4000]], "size": 25, "supply": "M", "elevation": 3020,
              "band": [3020, 3020]}  # fmt: skip
    scenario = parse_scenario(
        {"name": "apart", "runs": [main, branch], "heads": [{"id": "H1", "at": [3000, 3000, 2400]}]}, "apart"
    )
    route, _ = route_scenario(scenario)
    reasons = explain_run(scenario, route, "B")
    assert not reasons.built
    texts = {r.text for r in reasons.relaxations}
    assert "widen the band of B down to 3,000" in texts
    assert "widen the band of M up to 3,020" in texts
    assert {"M stays at level 3,000", "B stays at level 3,020"} <= set(reasons.conflict)
    for r in reasons.relaxations:
        assert "H1" in served(changed(scenario, r.change))
    every = explain_route(scenario, route)
    assert not every.runs[1].built
    assert every.heads[0].relaxations


def test_places_that_are_not_there_are_refused() -> None:
    scenario = CASES["beyond the reach"]
    for place in ("heads[H9].shift", "heads.H1.shift", "rules.nonsense", "heads[H1].nonsense"):
        with pytest.raises(ValueError, match=r"H9|no such place|no such field"):
            changed(scenario, {place: 1.0})
