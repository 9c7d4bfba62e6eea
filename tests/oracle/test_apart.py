"""Trees solved one by one, in one process or two, against all at hand: the same answer."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pytest
from test_clashes import two_lines

from router.building import apart
from router.building.route import route_scenario
from router.scenario import parse_scenario

if TYPE_CHECKING:
    from router.route.model import Route
    from router.scenario.model import Scenario


def storeys(count: int) -> Scenario:
    """A main with two lines on each storey; every second storey has a line that clashes with its arms."""
    runs: list[dict[str, Any]] = []
    heads: list[dict[str, Any]] = []
    for n in range(count):
        up = 4000.0 * n
        runs += [
            {"id": f"M{n}", "plan": [[0, 0], [0, 3005]], "elevation": 3000 + up, "size": 65, "kind": "main"},
            *(
                {"id": f"L{n}{k}", "plan": [[0, y], [3500, y]], "elevation": 3000 + up, "size": 32,
                 "supply": f"M{n}"}
                for k, y in enumerate((1000, 3000))
            ),
        ]  # fmt: skip
        for k, y in enumerate((1000, 3000)):
            heads += [
                {"id": f"H{n}{k}{h}", "at": [900.0 + 1100 * h + 40 * n, y + 500.0 - 220 * h, 2600 + up],
                 "run": f"L{n}{k}"}
                for h in range(3)
            ]  # fmt: skip
        if n % 2:
            runs.append(
                {"id": f"X{n}", "plan": [[0, 3500], [3500, 3500]], "elevation": 3000 + up, "size": 32}
            )
            heads.append({"id": f"HX{n}", "at": [900.0 + 40 * n, 3050.0, 2600 + up], "run": f"X{n}"})
    beam = {
        "id": "B",
        "polygon": [[1500, -50], [1650, -50], [1650, 4000], [1500, 4000]],
        "elevations": [2950, 3100],
    }
    return parse_scenario(
        {"name": "storeys", "runs": runs, "heads": heads, "obstructions": [beam], "rules": {"slide": 240.0}},
        "made",
    )


def same(one: Route, other: Route) -> None:
    assert one.objective == other.objective
    assert one.status == other.status == "optimal"
    assert one.proof.candidates == other.proof.candidates
    assert one.takeoffs == other.takeoffs
    assert one.pieces == other.pieces
    assert one.fittings == other.fittings
    assert one.heads == other.heads


def test_storeys_apart_and_at_once(monkeypatch: pytest.MonkeyPatch) -> None:
    scenario = storeys(4)
    at_once, _ = route_scenario(scenario)
    monkeypatch.setattr(apart, "WORTH_HEADS", 1)
    monkeypatch.setattr(apart, "CHUNK_HEADS", 8)
    alone, solution = route_scenario(scenario)
    assert any(not built.whole for tree in solution.trees for built in tree.graphs.values())
    assert any(built.whole for tree in solution.trees for built in tree.graphs.values()), "none clashed"
    same(alone, at_once)
    monkeypatch.setattr(apart, "PROCESS_HEADS", 8)
    two, _ = route_scenario(scenario, processes=2)
    same(two, at_once)


@pytest.mark.parametrize("seed", range(12))
def test_two_lines_apart_and_at_once(seed: int, monkeypatch: pytest.MonkeyPatch) -> None:
    scenario = two_lines(seed)
    at_once, _ = route_scenario(scenario)
    monkeypatch.setattr(apart, "WORTH_HEADS", 1)
    alone, _ = route_scenario(scenario)
    assert alone.objective.value == pytest.approx(at_once.objective.value, abs=0.01)
    assert alone.status == at_once.status == "optimal"
