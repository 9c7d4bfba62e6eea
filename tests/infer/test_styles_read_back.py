"""Every style and every way of joining, on small lines, drawn and read back."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

import pytest
from drawn import FOLDER, drawn, shaken, shuffled
from same import assert_same

from router.building.route import route_scenario
from router.check.referee import check_route
from router.infer import infer_route
from router.scenario import read_scenario
from router.scenario.model import Scenario
from router.scenario.read import parse_scenario

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

RIGHT_LEFT = [(2000, 900), (5000, -900), (9000, 700)]


def line(heads: list[dict[str, Any]], **more: Any) -> dict[str, Any]:
    """One line of 12 m at 3,000 mm."""
    run = {"id": "B1", "plan": [[0, 0], [12000, 0]], "elevation": 3000}
    return {"name": "line", "units": "mm", "runs": [run], "heads": heads, **more}


def heads(places: Sequence[tuple[float, float]], z: float = 2700, **more: Any) -> list[dict[str, Any]]:
    return [{"id": f"H{k}", "at": [x, y, z], **more} for k, (x, y) in enumerate(places)]


def only(*styles: str, **more: Any) -> dict[str, Any]:
    return {"styles": list(styles), **more}


OPPOSITE = [(2000, 900), (2000, -900), (5000, 900), (5000, -1200), (9000, 900), (9000, -900)]
LOW = [(2000, 0), (5000, 900), (5000, -700), (9000, 700), (11000, 0)]
BENDS = [[0, 0], [6000, 0], [6000, 6000], [9000, 9000], [14000, 10000]]
BEAM = {
    "id": "G1",
    "polygon": [[2900, -500], [3300, -500], [3300, 500], [2900, 500]],
    "elevations": [2950, 3300],
}
DUCT = {
    "id": "D1",
    "polygon": [[1000, 300], [10000, 300], [10000, 500], [1000, 500]],
    "elevations": [2900, 3300],
}

CASES: dict[str, tuple[dict[str, Any], set[str]]] = {
    "level_cross": (line(heads(OPPOSITE), rules=only("level_cross", allow_cross=True)), {"level_cross"}),
    "level_cross_welded": (
        line(heads(OPPOSITE), system={"joining": "welded"}, rules=only("level_cross", allow_cross=True)),
        {"level_cross"},
    ),
    "shared_nipple": (line(heads(OPPOSITE), rules=only("shared_nipple")), {"shared_nipple"}),
    "flexible_drop": (
        line(heads(RIGHT_LEFT), rules=only("flexible_drop", allow_flexible=True)),
        {"flexible_drop"},
    ),
    "lowered_arm": (line(heads(RIGHT_LEFT, 2300), rules=only("lowered_arm")), {"lowered_arm"}),
    "raised_arm_to_uprights": (
        line(heads(RIGHT_LEFT, 4000, kind="upright"), rules=only("raised_arm")),
        {"raised_arm"},
    ),
    "raised_arm_over_a_duct": (
        line(heads([(2000, 900), (9000, 900)]), rules=only("raised_arm", "return_bend"), obstructions=[DUCT]),
        {"raised_arm"},
    ),
    "return_bend": (line(heads(RIGHT_LEFT), rules=only("return_bend")), {"return_bend"}),
    "sprig": (line(heads([(2000, 0), (5000, 0)], 3500, kind="upright")), {"sprig"}),
    "sidewall": (
        line(
            [
                {"id": "a", "at": [2000, 900, 3000], "kind": "sidewall", "facing": 90},
                {"id": "b", "at": [5000, -900, 2600], "kind": "sidewall", "facing": -90},
                {"id": "c", "at": [8000, 700, 2700], "kind": "sidewall", "facing": 0},
                {"id": "d", "at": [11000, 700, 3300], "kind": "sidewall", "facing": 90},
            ]
        ),
        {"sidewall"},
    ),
    "dry_heads": (
        line(
            heads(LOW, dry=True),
            system={"kind": "dry", "heated": True},
            rules=only("straight_drop", "side_arm"),
        ),
        {"straight_drop", "side_arm"},
    ),
    "dry_heads_on_shared_nipples": (
        line(heads(OPPOSITE, dry=True), system={"kind": "dry", "heated": True}, rules=only("shared_nipple")),
        {"shared_nipple"},
    ),
    "heads_that_may_shift": (
        line(heads(LOW[:2], shift=150), rules=only("side_arm", "straight_drop")),
        {"side_arm", "straight_drop"},
    ),
    "bends": (
        line(
            heads([(2000, 900), (5000, -900), (6700, 3000), (13000, 9000)]),
            runs=[{"id": "B1", "plan": BENDS, "elevation": 3000}],
            obstructions=[BEAM],
        ),
        {"side_arm"},
    ),
    "child_runs": (
        {
            "name": "children",
            "units": "mm",
            "runs": [
                {"id": "M", "kind": "main", "plan": [[0, 0], [0, 9000]], "elevation": 3000, "size": 80},
                {"id": "A", "plan": [[0, 3000], [8000, 3000]], "elevation": 3000, "supply": "M"},
                {"id": "B", "plan": [[0, 3000], [-8000, 3000]], "elevation": 3000, "supply": "M"},
                {
                    "id": "C",
                    "plan": [[0, 6000], [8000, 6000]],
                    "elevation": 3300,
                    "supply": "M",
                    "band": [3300, 3400],
                },
                {"id": "E", "plan": [[0, 9000], [0, 15000]], "elevation": 3000, "supply": "M"},
            ],
            "heads": heads(
                [(4000, 3500), (7000, 2600), (-4000, 3500), (4000, 6400), (700, 12000), (-600, 14500)]
            ),
            "rules": {"allow_cross": True},
        },
        {"side_arm"},
    ),
}


@pytest.mark.parametrize("case", CASES)
def test_style_comes_back(case: str, tmp_path: Path) -> None:
    data, styles = CASES[case]
    scenario = parse_scenario(data, case)
    route, _ = route_scenario(scenario)
    assert check_route(scenario, route).clean
    assert set(route.counts.styles) == styles
    segments = drawn(route, tmp_path)
    for rows in (segments, shuffled(segments, 5), shaken(segments, 0.04, 6)):
        assert_same(scenario, route, infer_route(scenario, rows).route, 0.01)


@pytest.mark.parametrize("joining", ["welded", "grooved", "butt_weld"])
@pytest.mark.parametrize("name", ["reading_room.json", "clinic_corridor.json", "car_park.json"])
def test_ways_of_joining(name: str, joining: str, tmp_path: Path) -> None:
    data = read_scenario(FOLDER / name).model_dump(mode="json")
    data["system"]["joining"] = joining
    scenario = Scenario.model_validate(data)
    route, _ = route_scenario(scenario)
    for decimals, pipe_m in ((3, 0.001), (0, 0.03)):
        segments = shuffled(drawn(route, tmp_path, decimals), 7)
        assert_same(scenario, route, infer_route(scenario, segments).route, pipe_m)


def test_an_uncut_run_drawn_in_parts_is_still_uncut(tmp_path: Path) -> None:
    """A person may draw a welded line from outlet to outlet; the outlets do not cut it."""
    run = {"id": "B1", "plan": [[0, 0], [12000, 0]], "elevation": 3000, "size": 40}
    uncut = parse_scenario(line(heads(RIGHT_LEFT), runs=[run], system={"joining": "welded"}), "uncut")
    route, _ = route_scenario(uncut)
    cut = parse_scenario(line(heads(RIGHT_LEFT), runs=[run], system={"joining": "butt_weld"}), "cut")
    # the same line with butt welded tees, which do cut it
    segments = [s for s in drawn(route, tmp_path) if s.role != "branch"]
    parts = [s for s in drawn(route_scenario(cut)[0], tmp_path) if s.role == "branch"]
    assert len(parts) == 3
    parts = [replace(s, id=f"part {k}") for k, s in enumerate(parts)]
    found = infer_route(uncut, segments + parts).route
    assert found.counts.fittings == route.counts.fittings
    assert sum(piece.kind == "run" for piece in found.pieces) == 1
    assert check_route(uncut, found).clean
