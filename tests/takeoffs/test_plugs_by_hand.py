"""Plugged tees of dry heads at their limits: the search keeps their ends as clear as the arm before them.

The tee goes on to its plug, 1.50 in. beyond its centre on 1 in. pipe and 1.58 in. on the 1-1/4 in. line
(ASME B16.3, from memory), 1.88 in. on a welded one (ASME B16.9, from memory), and half a pipe more.
"""

from __future__ import annotations

from math import sqrt
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest
from small_lines import (
    ARM_RADIUS,
    BIT,
    IN,
    RISE,
    RUN_RADIUS,
    TEE_FULL,
    TEE_RUN,
    Z,
    box,
    candidates,
    clean_route,
    fails,
    line,
    works,
)

from router.building.route import route_scenario
from router.check import check_route
from router.scenario import parse_scenario

if TYPE_CHECKING:
    from router.route.model import Attempt, Route
    from router.scenario.model import Scenario

PLUG = TEE_FULL * IN + ARM_RADIUS + 25
"""From the centre of a 1 in. tee to what its plug just keeps clear of."""
END = TEE_RUN * IN + RUN_RADIUS + 25
DRY = {"dry": True, "thread": 25}
NEAR = 1e-6


def dry(style: str, *heads: tuple[float, float, float], **more: Any) -> Scenario:
    head = {**DRY, **more.pop("head", {})}
    return line(style, *heads, head=head, **more)


def behind(y: float, z: float, x: float = 1500.0) -> dict[str, Any]:
    """A box behind a plug that looks along +y."""
    return box("B", (x - 40, x + 40), (y, y + 300), (z - 40, z + 40))


def stops(route: Route, head: str = "H1") -> list[Attempt]:
    return next(h for h in route.heads if h.id == head).stopped_by


@pytest.mark.parametrize("side", [1, -1])
def test_side_arm(side: int) -> None:
    def scenario(gap: float, **head: Any) -> Scenario:
        y = sorted((side * (400 + PLUG + gap), side * (700 + PLUG + gap)))
        beam = box("B", (1460, 1540), (y[0], y[1]), (Z - 40, Z + 40))
        return dry("side_arm", (1500, side * 400, 2500), obstructions=[beam], head=head)

    _, route = works(scenario(BIT))
    assert route.counts.fittings == {"elbow_90": 1, "plug": 1, "tee": 1}
    fails(scenario(-BIT))
    works(scenario(-TEE_FULL * IN, dry=False))  # what is no dry head has no plug there
    (attempt,) = stops(clean_route(scenario(-5.0)))
    assert (attempt.rule, attempt.against) == ("clearance", "B")
    assert (attempt.short, attempt.has, attempt.needs) == (5.0, 20.0, 25.0)
    assert "the plugged end of its tee" in attempt.text


@pytest.mark.parametrize("thread", [20, 25])
def test_a_smaller_barrel_has_a_shorter_tee(thread: int) -> None:
    # 1 x 1 x 3/4: 1.37 in.
    reach = {20: 1.37, 25: 1.50}[thread] * IN + ARM_RADIUS + 25
    for gap, good in ((BIT, True), (-BIT, False)):
        beam = behind(400 + reach + gap, Z)
        scenario = dry("side_arm", (1500, 400, 2500), obstructions=[beam], head={"thread": thread})
        if good:
            works(scenario)
        else:
            fails(scenario)


def test_a_plug_beside_something() -> None:
    """Only the plug is beside the box, not the arm: its side keeps the clearance, not its end alone."""
    y = 400 + TEE_FULL * IN - 10
    for gap, good in ((BIT, True), (-BIT, False)):
        x = 1500 + ARM_RADIUS + 25 + gap
        scenario = dry(
            "side_arm", (1500, 400, 2500), obstructions=[box("B", (x, x + 80), (y, y + 80), (2990, 3010))]
        )
        if good:
            works(scenario)
        else:
            fails(scenario)


def test_dogleg_looks_along_the_line() -> None:
    def dogleg(beam: dict[str, Any]) -> bool:
        pins = {"heads": {"H1": {"stations": [1300, 1300]}}}
        slide = {"slide": 300.0}
        route = clean_route(dry("side_arm", (1500, 400, 2500), obstructions=[beam], rules=slide, pins=pins))
        return any(takeoff.dogleg for takeoff in route.takeoffs)

    for gap, good in ((BIT, True), (-BIT, False)):
        x = 1500 + PLUG + gap
        assert dogleg(box("B", (x, x + 200), (360, 440), (Z - 40, Z + 40))) is good
        # there is no plug where the arm turns, nor square out from the line
        assert dogleg(behind(400 + ARM_RADIUS + 25 + gap, Z, x=1500)) is good
        assert dogleg(behind(400 + ARM_RADIUS + 25 + gap, Z, x=1300)) is good


def test_return_bend_and_raised_arm() -> None:
    for gap, good in ((BIT, True), (-BIT, False)):
        scenario = dry("return_bend", (1500, 400, 2500), obstructions=[behind(400 + PLUG + gap, Z + RISE)])
        if good:
            works(scenario)
        else:
            fails(scenario)
    # raised until its plug passes over the box
    tall = behind(400 + 60, Z + RISE)
    made, _ = works(dry("raised_arm", (1500, 400, 2500), obstructions=[tall]))
    assert Z + RISE + 40 < made.arm_z <= Z + RISE + 40 + 25 + ARM_RADIUS + NEAR
    # the drop keeps clear of a box 42 mm before it, whose edge the end of the plug's axis is 3.9 mm short of
    over = behind(400 + 42, Z + RISE)
    made, _ = works(dry("raised_arm", (1500, 400, 2500), obstructions=[over]))
    passes = sqrt((25 + ARM_RADIUS) ** 2 - (42 - TEE_FULL * IN) ** 2)
    assert made.arm_z == pytest.approx(Z + RISE + 40 + passes, abs=0.02)


def test_lowered_arm() -> None:
    level = Z - RISE
    made, _ = works(dry("lowered_arm", (1500, 400, 2300), obstructions=[behind(400 + PLUG + BIT, level)]))
    assert made.arm_z == pytest.approx(level, abs=0.01)
    made, _ = works(dry("lowered_arm", (1500, 400, 2300), obstructions=[behind(400 + TEE_FULL * IN, level)]))
    assert made.arm_z == pytest.approx(level - 40 - 25 - ARM_RADIUS, abs=0.02)
    high = dry("lowered_arm", (1500, 400, 2800), obstructions=[behind(400 + PLUG - BIT, level)],
               rules={"rise": RISE + 5.0})  # fmt: skip
    fails(high)


@pytest.mark.parametrize("style", ["shared_nipple", "level_cross"])
def test_pairs(style: str) -> None:
    level = Z if style == "level_cross" else Z + (1.67 + 1.50 + 2.0 - 2 * 0.661) * IN
    for gap, good in ((BIT, True), (-BIT, False)):
        post = box("B", (1460, 1540), (-900, -(400 + PLUG + gap)), (2900, 5000))
        scenario = dry(style, (1500, 400, 2400), (1500, -400, 2400), obstructions=[post])
        if good:
            made, route = works(scenario)
            assert made.arm_z == pytest.approx(level, abs=0.01)
            assert route.counts.fittings["plug"] == 2
        else:
            fails(scenario)


def sidewall(at: tuple[float, float, float], facing: float, **more: Any) -> Scenario:
    return dry("sidewall", at, head={"facing": facing}, **more)


@pytest.mark.parametrize("up", [1, -1])
def test_sidewall_on_a_nipple(up: int) -> None:
    """The nipple's tee takes the barrel in its side; its plug goes on up, or down."""
    z = Z + up * 300
    for gap, good in ((BIT, True), (-BIT, False)):
        edge = z + up * (PLUG + gap)
        slab = box("B", (1400, 1600), (-100, 100), tuple(sorted((edge, edge + up * 200))))  # type: ignore[arg-type]
        scenario = sidewall((1500, 400, z), 90, obstructions=[slab])
        assert any(c.trunk for c in candidates(scenario)) is good
        if good:
            assert clean_route(scenario).counts.served == 1


@pytest.mark.parametrize("up", [1, -1])
def test_turned_sidewall(up: int) -> None:
    """Behind the head the vertical's tee goes on to its plug."""
    z = Z + up * 300
    for gap, good in ((BIT, True), (-BIT, False)):
        edge = z + up * (PLUG + gap)
        slab = box("B", (1300, 1700), (300, 500), tuple(sorted((edge, edge + up * 200))))  # type: ignore[arg-type]
        scenario = sidewall((1500, 400, z), 0, obstructions=[slab])
        if good:
            works(scenario)
        else:
            fails(scenario)


JOININGS: dict[str, float] = {"threaded": TEE_RUN, "welded": 1.88, "butt_weld": 1.88}
"""Centre to end of the run of a 1-1/4 in. tee, in.: ASME B16.3, ASME B16.9 (both from memory)."""


@pytest.mark.parametrize("joining", JOININGS)
def test_the_end_of_a_run(joining: str) -> None:
    reach = JOININGS[joining] * IN + RUN_RADIUS + 25

    def scenario(gap: float, length: float = 1500.0, **head: Any) -> Scenario:
        column = box("C", (1500 + reach + gap, 2500), (-40, 40), (Z - 30, Z + 30))
        run = {"plan": [[0, 0], [length, 0]], "joining": joining}
        return dry("straight_drop", (1500, 0, 2500), obstructions=[column], run=run, head=head)

    for length in (1500.0, 2400.0):  # at the end of its plan, and before it
        route = clean_route(scenario(BIT, length))
        assert route.counts.served == 1
        assert route.counts.fittings["plug"] == 1
        assert clean_route(scenario(-BIT, length)).counts.served == 0
    wet = clean_route(scenario(BIT - JOININGS[joining] * IN, dry=False, thread=15))
    assert wet.counts.served == 1  # an elbow ends there
    (attempt,) = stops(clean_route(scenario(-5.0)))
    assert (attempt.rule, attempt.against) == ("clearance", "C")
    assert (attempt.short, attempt.has, attempt.needs) == (5.0, 20.0, 25.0)
    assert "the plugged end of its tee" in attempt.text


def test_the_end_of_a_run_that_is_pitched() -> None:
    """4 mm a metre up: what is over the plug, not over the pipe, is nearer at its far end."""
    top = Z + 0.004 * (1500 + TEE_RUN * IN) + RUN_RADIUS + 25
    for gap, good in ((0.3, True), (-0.3, False)):
        slab = box("S", (1500 + TEE_RUN * IN - 5, 1700), (-40, 40), (top + gap, top + 100))
        scenario = dry(
            "straight_drop", (1500, 0, 2500), obstructions=[slab], run={"plan": [[0, 0], [1500, 0]]},
            system={"kind": "dry", "heated": False, "pitch_branch": 4.0},
        )  # fmt: skip
        assert (clean_route(scenario).counts.served == 1) is good


def test_a_run_that_goes_on_has_no_plug_there() -> None:
    """What a plug would meet does not keep a head off a run that goes on below it."""
    end = {"plan": [[0, 0], [1500, 0], [1500, 1500]]}
    column = box("C", (1500 + END + 15, 2500), (-40, 40), (Z - 30, Z + 30))
    scenario = dry("straight_drop", (1300, 0, 2500), (1500, 1200, 2500), obstructions=[column], run=end)
    assert clean_route(scenario).counts.served == 2


def test_the_last_head_is_told_that_its_plug_does_not_fit() -> None:
    column = box("C", (1500 + END - 5, 2500), (-40, 40), (Z - 30, Z + 30))
    scenario = dry("straight_drop", (900, 0, 2500), (1500, 0, 2500), obstructions=[column])
    route = clean_route(scenario)
    assert route.counts.served == 1
    attempt = stops(route, "H2")[0]
    assert (attempt.rule, attempt.against, attempt.short) == ("clearance", "C", 5.0)


@pytest.mark.parametrize("style", ["side_arm", "straight_drop"])
def test_keep_out_zones(style: str) -> None:
    for gap, good in ((BIT, True), (-BIT, False)):
        if style == "side_arm":
            zone = behind(400 + PLUG - 25 + gap, Z)
            head = (1500.0, 400.0, 2500.0)
        else:
            zone = box("K", (1500 + END - 25 + gap, 2500), (-40, 40), (Z - 30, Z + 30))
            head = (1500.0, 0.0, 2500.0)
        zone = {**zone, "of": "all"}
        scenario = dry(style, head, keep_out=[zone], run={"plan": [[0, 0], [1500, 0]]})
        assert (clean_route(scenario).counts.served == 1) is good


@pytest.mark.parametrize("style", ["side_arm", "straight_drop"])
def test_plugs_keep_clear_of_other_pipe(style: str) -> None:
    """Another line's pipe across the plug's way; its own head is served whatever happens."""
    for gap, good in ((BIT, True), (-BIT, False)):
        beside = {"id": "M", "elevation": Z, "band": [Z, Z], "size": 32, "kind": "branch"}
        if style == "side_arm":
            y = 400 + PLUG + RUN_RADIUS + gap
            beside["plan"], at, other = [[0, y], [3000, y]], (1500.0, 400.0, 2500.0), (2900.0, y, 2500.0)
        else:
            x = 1500 + END + RUN_RADIUS + gap
            beside["plan"], at, other = [[x, -1500], [x, 1500]], (1500.0, 0.0, 2500.0), (x, 1400.0, 2500.0)
        scenario = parse_scenario(
            {
                "name": "two lines",
                "runs": [
                    {"id": "B", "plan": [[0, 0], [1500, 0]], "elevation": Z, "band": [Z, Z], "size": 32},
                    beside,
                ],
                "heads": [
                    {"id": "H1", "at": list(at), "run": "B", **DRY},
                    {"id": "H2", "at": list(other), "run": "M"},
                ],
                "rules": {"styles": [style, "straight_drop"], "slide": 0.0, "piece_clearance": 25.0},
                "pins": {"heads": {"H2": {"style": "straight_drop"}}},
            },
            "two lines",
        )
        assert clean_route(scenario).counts.served == (2 if good else 1)


@pytest.mark.parametrize("seed", range(40))
def test_whatever_stands_around_plugs_the_referee_accepts_what_is_found(seed: int) -> None:
    """Dry pendents, uprights and sidewalls among small boxes at the height of their tees."""
    rng = np.random.default_rng(seed)
    heads = []
    for k in range(5):
        kind = ("pendent", "pendent", "upright", "sidewall")[int(rng.integers(4))]
        up = {"pendent": -1.0, "upright": 1.0, "sidewall": float(rng.choice([-1.0, 0.0, 1.0]))}[kind]
        y = (
            float(rng.choice([0.0, -600.0, 500.0]))
            if kind != "sidewall"
            else float(rng.choice([-600.0, 500.0]))
        )
        head: dict[str, Any] = {
            "id": f"H{k}",
            "at": [900.0 + 1100 * k, y, Z + up * float(rng.uniform(250, 500))],
            "kind": kind,
            "dry": bool(rng.random() < 0.8),
            "thread": int(rng.choice([15, 20, 25])),
        }
        if kind == "sidewall":
            head["facing"] = float(rng.choice([0.0, 90.0, 180.0, 270.0]))
        heads.append(head)
    boxes = []
    for k in range(25):
        host = heads[int(rng.integers(len(heads)))]["at"]
        x, y, z = (
            host[0] + rng.uniform(-250, 250),
            host[1] + rng.uniform(-250, 250),
            Z + rng.uniform(-250, 250),
        )
        boxes.append(box(f"O{k}", (x, x + 40), (y, y + 40), (z, z + 40)))
    scenario = parse_scenario(
        {
            "name": f"plugs {seed}",
            "system": {"kind": "dry", "heated": False, "pitch_branch": float(rng.choice([0.0, 4.0]))},
            "runs": [{"id": "B", "plan": [[0, 0], [5400, 0]], "elevation": Z,
                      "band": [Z - 150, Z + 150], "size": int(rng.choice([32, 40]))}],
            "heads": heads,
            "obstructions": boxes,
            "rules": {"slide": 200.0},
        },
        "plugs",
    )  # fmt: skip
    route, _ = route_scenario(scenario)
    broken = [f.text for f in check_route(scenario, route).breaks if f.rule != "served"]
    assert broken == []
