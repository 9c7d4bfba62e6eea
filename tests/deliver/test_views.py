"""Plan and sections as fragments for a page: whole, to scale, and findable by their attributes."""

from __future__ import annotations

import math
import xml.etree.ElementTree as ET
from itertools import pairwise
from pathlib import Path

import pytest
from made_route import make_route

from router.deliver.views import plan_svg, section_runs, section_svg, section_svgs
from router.scenario import read_scenario

SVG = "{http://www.w3.org/2000/svg}"
SCENARIOS = Path(__file__).parents[2] / "scenarios"
NAMES = ("minimal", "loading_dock", "clinic_corridor", "reading_room")


def values(root: ET.Element, name: str) -> set[str]:
    return {e.attrib[name] for e in root.iter() if name in e.attrib}


@pytest.mark.parametrize("name", NAMES)
def test_the_plan_has_everything_by_attribute(name: str) -> None:
    scenario = read_scenario(SCENARIOS / f"{name}.json")
    route = make_route(scenario)
    root = ET.fromstring(plan_svg(scenario, route))
    assert root.tag == f"{SVG}svg"
    assert "width" not in root.attrib  # the page gives the size
    assert values(root, "data-head") == {h.id for h in scenario.heads}
    assert values(root, "data-obstruction") == {o.id for o in scenario.obstructions}
    level = {p.id for p in route.pieces if math.dist(p.start[:2], p.end[:2]) > 50.0}
    assert level <= values(root, "data-piece") <= {p.id for p in route.pieces}
    assert values(root, "data-fitting") == {f.id for f in route.fittings if f.kind != "reducer"}
    assert values(root, "data-style") <= {t.style for t in route.takeoffs}
    assert values(root, "data-run") <= {r.id for r in scenario.runs}


def test_the_plan_keeps_the_scale_that_is_asked_for() -> None:
    scenario = read_scenario(SCENARIOS / "loading_dock.json")
    root = ET.fromstring(plan_svg(scenario, make_route(scenario), scale=50))
    at = {}
    for group in root.iter(f"{SVG}g"):
        ring = group.find(f"{SVG}circle")
        if "data-head" in group.attrib and ring is not None:
            at[group.attrib["data-head"]] = (float(ring.attrib["cx"]), float(ring.attrib["cy"]))
    for a, b in pairwise(scenario.heads):
        real = math.hypot(a.at[0] - b.at[0], a.at[1] - b.at[1])
        assert math.dist(at[a.id], at[b.id]) * 50 == pytest.approx(real, abs=1.5)


def test_a_section_shows_its_own_run_only() -> None:
    scenario = read_scenario(SCENARIOS / "loading_dock.json")
    route = make_route(scenario, {"B1": (9500.0, 4020.0)})
    both = section_svgs(scenario, route)
    assert list(both) == section_runs(scenario, route)
    for run, text in both.items():
        assert section_svg(scenario, route, run) == text
        root = ET.fromstring(text)
        takeoffs = {t.id for t in route.takeoffs if t.run == run}
        assert values(root, "data-takeoff") == takeoffs
        served = {h.id for h in route.heads if h.takeoff in takeoffs}
        assert values(root, "data-head") == served
        own = {p.id for p in route.pieces if p.owner in takeoffs or p.owner == run}
        assert values(root, "data-piece") <= own
        assert {p.id for p in route.pieces if p.owner == run} <= values(root, "data-piece")


def test_a_run_without_a_section_is_an_error() -> None:
    scenario = read_scenario(SCENARIOS / "minimal.json")
    with pytest.raises(KeyError, match="nowhere"):
        section_svg(scenario, make_route(scenario), "nowhere")


def test_heads_that_almost_touch_do_not_blow_up_the_scale() -> None:
    from router.scenario.model import Scenario

    heads = [{"id": f"H{k}", "at": (1000 + 25 * k, 300, 2700), "run": "B"} for k in range(12)]
    runs = [{"id": "B", "plan": [(0, 0), (9000, 0)], "elevation": 3200}]
    scenario = Scenario.model_validate({"name": "near", "runs": runs, "heads": heads})
    _, _, width, _ = map(float, ET.fromstring(plan_svg(scenario, make_route(scenario))).attrib["viewBox"].split())
    assert width < 9000 / 20 + 100


def test_no_arm_level_under_a_straight_drop() -> None:
    scenario = read_scenario(SCENARIOS / "minimal.json")
    route = make_route(scenario)
    straight = {t.id for t in route.takeoffs if t.style == "straight_drop"}
    assert straight
    updated = route.model_copy(
        update={"takeoffs": [t.model_copy(update={"arm_level": 3000.0}) for t in route.takeoffs]}
    )
    text = "".join(section_svgs(scenario, updated).values())
    assert text.count("arm at") <= len(route.takeoffs) - len(straight)
    assert "straight drop" in text
