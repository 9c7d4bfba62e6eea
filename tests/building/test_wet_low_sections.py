"""A hollow of a wet line: emptied by a pendent head on it, else capped, valved or piped by its volume."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pytest

from router.building.route import route_scenario
from router.check.referee import check_route
from router.scenario import parse_scenario

if TYPE_CHECKING:
    from router.route.model import Route


def dip(
    kind: str = "pendent", size: int = 32, length: float = 3000.0, middle: bool = False, **weights: float
) -> Route:
    """A line that must go under a beam and come up again for its last head (band and duct see to it)."""
    far = 3000 + length
    inlet = 2600.0 if kind == "pendent" else 3400.0
    heads = [{"id": "H9", "at": [5000 + length, 500, inlet], "kind": kind}]
    if middle:
        heads.insert(0, {"id": "H1", "at": [3100 + length / 2, 500, inlet], "kind": kind})
    data: dict[str, Any] = {
        "name": "dip",
        "runs": [
            {
                "id": "B1",
                "plan": [[0, 0], [5000 + length, 0]],
                "elevation": 3000,
                "supply_elevation": 3000,
                "band": [2700, 3000],
                "size": size,
            }
        ],
        "heads": heads,
        "obstructions": [
            {"id": "beam", "polygon": [[3000, -200], [far, -200], [far, 200], [3000, 200]],
             "elevations": [2950, 3300]},
            {"id": "trench cover", "kind": "duct",
             "polygon": [[far + 1100, -200], [far + 3000, -200], [far + 3000, 200], [far + 1100, 200]],
             "elevations": [2000, 2900]},
        ],
        "pins": {"heads": {"H9": {"styles": ["side_arm", "return_bend", "raised_arm"]}}},
        "weights": weights,
    }  # fmt: skip
    scenario = parse_scenario(data, "made")
    route, _ = route_scenario(scenario)
    assert route.status == "optimal"
    assert route.counts.served == len(heads)
    assert len(route.runs[0].level_changes) == 2
    verdict = check_route(scenario, route)
    assert verdict.clean, [finding.text for finding in verdict.breaks]
    return route


def test_a_hollow_without_a_head_needs_a_cap_and_pays_for_it() -> None:
    free, dear = dip(wet_drain=0.0), dip(wet_drain=700.0)
    assert free.counts.wet_drains == dear.counts.wet_drains == 1
    assert dear.objective.value - free.objective.value == pytest.approx(700.0, abs=0.01)
    assert dear.counts.drains == 0
    (low,) = dear.low_sections
    assert low.drain == "nipple_and_cap"


def test_a_pendent_head_in_the_hollow_empties_it() -> None:
    """From memory (C), NFPA 13: none where the section drains by removing one pendent."""
    assert dip(middle=True).counts.wet_drains == 0


def test_an_upright_head_does_not() -> None:
    assert dip("upright", middle=True).counts.wet_drains == 1


@pytest.mark.parametrize(
    ("size", "length", "drain"),
    [
        (50, 3000.0, "nipple_and_cap"),
        (50, 10000.0, "wet_valve_and_plug"),
        (100, 15000.0, "wet_valve_and_plug"),
        (100, 26000.0, "piped_valve"),
    ],
)
def test_its_drain_follows_its_volume(size: int, length: float, drain: str) -> None:
    """Thresholds 5 and 50 gal (18.9 and 189 l), from memory (C).

    2 in. Schedule 40 holds 2.165 l/m, 4 in. 8.213 l/m (ASME B36.10M bores, A): 5 gal in 8.74 m of the one,
    50 gal in 23.04 m of the other.
    """
    route = dip(size=size, length=length)
    (low,) = route.low_sections
    assert low.drain == drain
    down, up = route.runs[0].level_changes
    level = up.stations[0] - down.stations[1]
    slopes = 2 * 2**0.5 * (min(down.levels[0], up.levels[1]) - up.levels[0])
    litres = {50: 2.067, 100: 4.026}[size] ** 2 * 3.14159265 / 4 * 0.254**2 * (level + slopes) / 100
    assert low.volume_l == pytest.approx(litres, rel=1e-3)
