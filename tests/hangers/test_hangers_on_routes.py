"""Hangers on whole routes: the referee is content, and the arms have those that were counted."""

from __future__ import annotations

from collections import Counter
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from router.building.route import route_scenario
from router.check import check_route
from router.hangers.place import place_hangers
from router.readers.csv_folder import read_csv_folder
from router.scenario.read import read_scenario

if TYPE_CHECKING:
    from router.scenario.model import Scenario

ROOT = Path(__file__).parents[2]
HOSPITAL = ROOT.parent / "shared" / "open-data" / "hospital_s1_L1B001"


def judged(scenario: Scenario) -> None:
    route, _ = route_scenario(scenario)
    hangers = place_hangers(scenario, route)
    hung = route.model_copy(update={"hangers": hangers})
    assert not check_route(scenario, hung).by_rule("hangers")
    pieces = {piece.id: piece for piece in route.pieces}
    on_arms = Counter(pieces[h.piece].owner for h in hangers if h.kind == "arm")
    assert {t.id for t in route.takeoffs if t.hangers} <= set(on_arms)
    assert all(on_arms[t.id] >= t.hangers for t in route.takeoffs)
    assert {run.id for run in route.runs} == {h.run for h in hangers if h.kind == "run"}
    assert [h.id for h in hangers] == sorted({h.id for h in hangers})


@pytest.mark.parametrize("name", ["loading_dock", "clinic_corridor", "car_park", "reading_room"])
def test_the_demo_scenarios(name: str) -> None:
    judged(read_scenario(ROOT / "scenarios" / f"{name}.json"))


@pytest.mark.parametrize("joining", ["welded", "grooved"])
def test_uncut_runs_with_outlets(joining: str) -> None:
    scenario = read_scenario(ROOT / "scenarios" / "car_park.json")
    system = scenario.system.model_copy(update={"joining": joining})
    judged(scenario.model_copy(update={"system": system}))


def test_over_100_psi() -> None:
    scenario = read_scenario(ROOT / "scenarios" / "clinic_corridor.json")
    judged(scenario.model_copy(update={"system": scenario.system.model_copy(update={"pressure": 8.0})}))


@pytest.mark.skipif(not HOSPITAL.exists(), reason="the open hospital data is not here")
def test_a_real_line() -> None:
    judged(read_csv_folder(HOSPITAL).scenario)
