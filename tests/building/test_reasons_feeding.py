"""What cuts a head off its supply: the first thing on the way up, in mm; without it the head is served.

Take-outs and nipples: ASME B16.3, B1.20.1, A733, from memory. Cases: common practice, no source.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from router.building.route import route_scenario
from router.check import check_route
from router.scenario import parse_scenario

if TYPE_CHECKING:
    from router.route.model import Attempt

MAIN = {"id": "M", "kind": "main", "plan": [[0, 0], [6000, 0]], "size": 50, "elevation": 3000,
        "band": [3000, 3000]}  # fmt: skip
HEAD = {"id": "H1", "at": [3000, 3000, 2400], "run": "B"}


def branch(level: float, end: tuple[float, float] = (3000, 4000), **more: Any) -> dict[str, Any]:
    return {"id": "B", "plan": [[3000, 0], list(end)], "size": 25, "supply": "M", "elevation": level,
            "band": [level, level], **more}  # fmt: skip


def stopped(*runs: dict[str, Any], head: dict[str, Any] = HEAD, **more: Any) -> list[Attempt]:
    scenario = parse_scenario({"name": "feeding", "runs": list(runs), "heads": [head], **more}, "feeding")
    route, _ = route_scenario(scenario)
    assert check_route(scenario, route).clean
    return route.heads[0].stopped_by


def test_an_oblique_child_says_its_angle_and_what_a_riser_nipple_needs() -> None:
    """At one level there is no tee at 45 degrees; with a nipple between two levels there is a way."""
    head = {"id": "H1", "at": [5000, 2000, 2400], "run": "B"}
    (attempt,) = stopped(MAIN, branch(3000, (6000, 3000)), head=head)
    assert (attempt.rule, attempt.against, attempt.has) == ("band", "B", 0.0)
    assert "it leaves M at 45 degrees, at which there is no tee" in attempt.text
    assert "the bands allow 0 (M 3,000, B 3,000)" in attempt.text
    assert "0 mm off its parent" not in attempt.text
    assert attempt.needs is not None
    assert f"a riser nipple needs {attempt.needs:,.0f} mm" in attempt.text
    assert stopped(MAIN, branch(3000 + attempt.needs + 0.1, (6000, 3000)), head=head) == []
    (near,) = stopped(MAIN, branch(3000 + attempt.needs - 1, (6000, 3000)), head=head)
    assert (near.rule, near.short) == ("band", 1.0)


def test_a_square_child_beside_its_parents_level_says_both_ways() -> None:
    (attempt,) = stopped(MAIN, branch(3020))
    assert (attempt.rule, attempt.short) == ("band", 20.0)  # nearer than the riser nipple
    assert "20 mm off its parent; a riser nipple needs" in attempt.text


def test_a_riser_nipple_in_a_duct_names_the_duct() -> None:
    duct = {"id": "D", "polygon": [[2900, 30], [3100, 30], [3100, 60], [2900, 60]],
            "elevations": [3150, 3200]}  # fmt: skip
    (attempt,) = stopped(MAIN, branch(3400), obstructions=[duct])
    assert (attempt.rule, attempt.against) == ("clearance", "D")
    assert attempt.text.startswith("no tee, nipple or elbow reaches B")
    assert stopped(MAIN, branch(3400)) == []


def test_a_child_that_begins_in_a_zone_names_the_zone() -> None:
    zone = {"id": "Z", "polygon": [[2900, -50], [3100, -50], [3100, 50], [2900, 50]], "of": "outlets"}
    (attempt,) = stopped(MAIN, branch(3000), keep_out=[zone])
    assert (attempt.rule, attempt.against, attempt.short) == ("zone", "Z", 50.0)
    assert stopped(MAIN, branch(3000)) == []


BEAM = {"id": "G", "polygon": [[2500, 1000], [3500, 1000], [3500, 1200], [2500, 1200]],
        "elevations": [2900, 3500]}  # fmt: skip


def test_a_fed_run_that_cannot_pass_a_beam_names_the_beam() -> None:
    """Not its level at the tee, nor its parent: the way from the tee to the head is blocked."""
    (attempt,) = stopped(MAIN, branch(3000), obstructions=[BEAM])
    assert (attempt.rule, attempt.against) == ("clearance", "G")
    assert attempt.text.startswith("B cannot pass G: at its best level, 3,000")
    assert stopped(MAIN, branch(3000)) == []


def test_a_main_that_cannot_pass_a_beam_says_so_of_the_run_that_it_does_not_feed() -> None:
    beam = {**BEAM, "polygon": [[1000, -500], [1200, -500], [1200, 500], [1000, 500]]}
    (attempt,) = stopped(MAIN, branch(3000), obstructions=[beam])
    assert (attempt.rule, attempt.against, attempt.run) == ("clearance", "G", "M")
    assert attempt.text.startswith("its run B is not fed: M cannot pass G")


def test_a_level_that_no_change_reaches_says_how_far_it_is() -> None:
    """A beam leaves only the level below it, and no change of level is allowed back up to the sidewall."""
    line = {**MAIN, "id": "B", "kind": "branch", "band": [2700, 3000], "size": 25}
    wall = {"id": "H1", "at": [5000, 300, 3000], "kind": "sidewall", "facing": 90, "run": "B"}
    beam = {**BEAM, "polygon": [[2500, -500], [2700, -500], [2700, 500], [2500, 500]]}
    rules, pins = {"slide": 0, "rise": 100}, {"runs": {"B": {"no_offset": True}}}
    (attempt,) = stopped(line, head=wall, rules=rules, obstructions=[beam], pins=pins)
    assert attempt.rule == "level"
    assert attempt.text.startswith("B would have to be at level 3,000 at station 4,941")
    assert attempt.short is not None
    assert stopped(line, head=wall, rules=rules, obstructions=[beam]) == []
    assert stopped(line, head=wall, rules=rules, pins=pins) == []


def test_an_outlet_at_a_bend_names_the_bend() -> None:
    """So much off the bend, and the head is served."""
    line = {**MAIN, "id": "B", "kind": "branch", "plan": [[0, 0], [3000, 0], [3000, 3000]]}

    def at(y: float) -> list[Attempt]:
        return stopped(line, head={"id": "H1", "at": [3600, y, 2400], "run": "B"}, rules={"slide": 0})

    attempt = next(a for a in at(20) if a.style == "side_arm")
    assert (attempt.rule, attempt.against) == ("outlet_spacing", "the bend at station 3,000")
    assert attempt.short is not None
    assert at(20 + attempt.short + 0.1) == []
    assert any(a.style == "side_arm" for a in at(20 + attempt.short - 0.5))


def test_a_supply_outside_the_band_says_how_far() -> None:
    main = {**MAIN, "band": [2960, 3040], "supply_elevation": 2900}
    (attempt,) = stopped(main, branch(3000))
    assert (attempt.rule, attempt.short) == ("band", 60.0)
    assert "M cannot begin at any of its levels (2,960 to 3,040): its supply is at 2,900" in attempt.text
    assert stopped({**main, "band": [2900, 3040]}, branch(3000)) == []


def test_a_zone_for_no_pipe_at_any_level_is_said_to_be_so() -> None:
    zone = {"id": "Z", "polygon": [[1000, -500], [1200, -500], [1200, 500], [1000, 500]]}
    (attempt,) = stopped(MAIN, branch(3000), keep_out=[zone])
    assert (attempt.rule, attempt.against, attempt.short) == ("clearance", "Z", None)
    assert "M cannot pass Z, which is there at every level" in attempt.text


def test_a_pin_that_excludes_nothing_is_not_told_and_one_that_does_not_decide_comes_last() -> None:
    given: dict[str, Any] = {"obstructions": [BEAM]}
    (attempt,) = stopped(MAIN, branch(3000), pins={"heads": {"H1": {"run": "B"}}}, **given)
    assert attempt.against == "G"
    pins = {"heads": {"H1": {"style": "straight_drop"}}}
    first, last = stopped(MAIN, branch(3000), pins=pins, **given)
    assert (first.against, last.rule) == ("G", "pins")
    assert "takeoffs that would fit alone" in last.text


def test_heads_that_exclude_each_other_name_each_other() -> None:
    """Two sidewalls at levels 40 mm apart: the line lies at one of them, and no nipple is so short."""
    line = {**MAIN, "id": "B", "kind": "branch", "band": [2960, 3000], "size": 25}
    heads = [
        {"id": f"H{k}", "at": [3000 + 400 * k, 500, z], "kind": "sidewall", "facing": 90, "run": "B"}
        for k, z in ((1, 3000), (2, 2960))
    ]
    pins = {"runs": {"B": {"no_offset": True}}}
    data = {"name": "instead", "runs": [line], "heads": heads, "rules": {"slide": 0}, "pins": pins}
    scenario = parse_scenario(data, "instead")
    route, _ = route_scenario(scenario)
    assert route.counts.served == 1
    left_out = next(h for h in route.heads if not h.served)
    served = next(h for h in route.heads if h.served)
    attempt = left_out.stopped_by[0]
    assert (attempt.rule, attempt.against) == ("instead", served.id)
    assert f"served only with {served.id} left out instead" in attempt.text
    alone = parse_scenario({**data, "heads": [h for h in heads if h["id"] == left_out.id]}, "alone")
    assert route_scenario(alone)[0].counts.served == 1


def test_a_lowered_arm_does_not_pass_its_line_and_lacks_no_clearance_to_it() -> None:
    """Under the line only the make-up is missing; an arm over it would have to come down through it."""
    line = {**MAIN, "id": "B", "kind": "branch", "size": 25}
    head = {"id": "H1", "at": [3000, 0, 2400], "run": "B"}
    found = {
        style: stopped(line, head=head, rules={"slide": 0, "styles": [style]})[0]
        for style in ("lowered_arm", "raised_arm")
    }
    assert "clearance" not in found["lowered_arm"].text
    assert "short of clearance to B" in found["raised_arm"].text
