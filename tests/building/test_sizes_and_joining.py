"""Sizes along runs: by schedule case, bounded below, stepping on uncut pipe, and joined by size."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pytest

from router.building.route import route_scenario
from router.check.referee import check_route
from router.scenario import parse_scenario

if TYPE_CHECKING:
    from router.route.model import Route


def row(heads: int, *, spacing: float = 3000.0, **system: Any) -> dict[str, Any]:
    """Heads beside one line."""
    return {
        "name": "row",
        "system": {"hazard": "light", **system},
        "runs": [{"id": "B1", "plan": [[0, 0], [spacing * (heads - 1) + 2000.0, 0]], "elevation": 3000}],
        "heads": [
            {"id": f"H{k}", "at": [spacing * k + 1500.0, 500, 2600]} for k in range(heads)
        ],
    }  # fmt: skip


def routed(data: dict[str, Any]) -> Route:
    scenario = parse_scenario(data, "made")
    route, _ = route_scenario(scenario)
    verdict = check_route(scenario, route)
    assert verdict.clean, [finding.text for finding in verdict.breaks]
    assert route.counts.served == len(scenario.heads)
    assert route.status == "optimal"
    return route


def sizes_fed(route: Route, heads: int) -> list[int]:
    """Size of the run's pipe by the number of heads that it still feeds, most first."""
    stations = sorted(t.station for t in route.takeoffs)
    found = []
    for piece in (p for p in route.pieces if p.kind == "run"):
        middle = (piece.start[0] + piece.end[0]) / 2
        found.append((sum(s > middle for s in stations), piece.dn))
    by_number = dict(found)
    return [by_number[n] for n in range(heads, 0, -1) if n in by_number]


def test_a_threaded_line_follows_the_light_hazard_schedule() -> None:
    """NFPA 13 light hazard, steel: 1 in. 2 heads, 1-1/4 3, 1-1/2 5, 2 10 (grade A)."""
    assert sizes_fed(routed(row(7)), 7) == [50, 50, 40, 40, 32, 25, 25]


def test_heads_above_and_below_a_ceiling_have_a_schedule_of_their_own() -> None:
    """NFPA 13 light hazard, above and below: 1 in. 2, 1-1/4 4, 1-1/2 7, 2 15 (grade A to 2 in.)."""
    route = routed(row(7, schedule="above_and_below"))
    assert sizes_fed(route, 7) == [40, 40, 40, 32, 32, 25, 25]


def test_a_run_by_schedule_may_be_bounded_below() -> None:
    data = row(7)
    data["runs"][0]["least_size"] = "1-1/4"
    assert sizes_fed(routed(data), 7) == [50, 50, 40, 40, 32, 32, 32]


@pytest.mark.parametrize("joining", ["welded", "grooved"])
def test_an_uncut_line_steps_down_in_couplings_that_are_counted(joining: str) -> None:
    """Three changes of size (2, 1-1/2, 1-1/4, 1 in.) are three pieces; outlets sit on uncut pipe."""
    route = routed(row(7, joining=joining))
    couplings = [f for f in route.fittings if f.kind == "reducing_coupling"]
    assert [sorted(f.sizes, reverse=True) for f in couplings] == [[50, 40], [40, 32], [32, 25]]
    assert all(f.counts_as == "fitting" for f in couplings)
    run = [p for p in route.pieces if p.kind == "run"]
    assert [p.dn for p in run] == [50, 40, 32, 25]
    for coupling in couplings:  # each stands before the outlets that the smaller pipe feeds
        beyond = [t for t in route.takeoffs if t.station > coupling.at[0]]
        assert len(beyond) <= {40: 5, 32: 3, 25: 2}[min(coupling.sizes)]


def test_where_outlets_stand_too_close_the_larger_size_goes_on() -> None:
    """Every 300 mm an outlet may come to sit anywhere: no room for a coupling, one size."""
    data = row(6, spacing=300.0, joining="welded")
    data["rules"] = {"slide": 600.0}
    route = routed(data)
    assert not [f for f in route.fittings if f.kind == "reducing_coupling"]
    assert {p.dn for p in route.pieces if p.kind == "run"} == {50}


def test_a_smaller_line_that_goes_straight_on_needs_a_coupling() -> None:
    data = row(2)
    data["runs"] = [
        {"id": "M", "kind": "main", "plan": [[-3000, 0], [0, 0]], "elevation": 3000, "size": 50},
        {"id": "B1", "plan": [[0, 0], [6000, 0]], "elevation": 3000, "supply": "M", "size": 32},
    ]
    route = routed(data)
    (coupling,) = [f for f in route.fittings if f.kind == "reducing_coupling"]
    assert sorted(coupling.sizes) == [32, 50]
    assert coupling.at == (0.0, 0.0, 3000.0)
    data["runs"][0]["size"] = 32
    assert not [f for f in routed(data).fittings if f.kind == "reducing_coupling"]


def test_joining_by_size_range_makes_mains_grooved_and_lines_threaded() -> None:
    data = row(3, joining=[{"up_to": 50, "joining": "threaded"}, {"joining": "grooved"}])
    data["runs"] = [
        {"id": "M", "kind": "main", "plan": [[-2000, -4000], [-2000, 4000]], "elevation": 3000, "size": 65},
        {"id": "B1", "plan": [[-2000, 0], [9000, 0]], "elevation": 3000, "supply": "M"},
    ]
    route = routed(data)
    kinds = {(f.run, f.kind) for f in route.fittings if f.owner.startswith("T")}
    assert ("M", "elbow_90") in kinds or ("M", "outlet") in kinds
    assert ("B1", "tee") in kinds
    assert {run.id: run.joining for run in route.runs} == {"M": "grooved", "B1": "threaded"}


@pytest.mark.parametrize("exposed", [None, 300.0, 900.0])
def test_a_dry_barrel_keeps_its_exposed_length(exposed: float | None) -> None:
    """The line is 600 mm over the ceiling: 300 mm of barrel above it are there, 900 mm need a raised tee."""
    data = row(2, kind="dry", pitch_branch=0)
    for head in data["heads"]:
        head |= {"at": [head["at"][0], 0, 2350], "dry": True, "thread": 25, "exposed": exposed}
    data["ceilings"] = [
        {"id": "C", "polygon": [[-500, -900], [9000, -900], [9000, 900], [-500, 900]], "elevation": 2400}
    ]
    data["runs"][0]["band"] = [3000, 3000]
    scenario = parse_scenario(data, "made")
    route, _ = route_scenario(scenario)
    assert check_route(scenario, route).clean
    assert route.counts.served == (2 if exposed != 900.0 else route.counts.served)
    for piece in (p for p in route.pieces if p.kind == "barrel"):
        assert max(piece.start[2], piece.end[2]) - 2400 >= (exposed or 0.0)
    if exposed != 900.0:
        assert {t.style for t in route.takeoffs} == {"straight_drop"}
