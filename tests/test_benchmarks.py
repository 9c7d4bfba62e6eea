"""The benchmark's own parts: a tiny case of every family, and every baseline on it.

Nothing here is timed. What a baseline costs is compared with the proven optimum
over the same candidates: less would mean that one of the two is wrong.
"""

from __future__ import annotations

import importlib
import json
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

from router.building.route import route_scenario

if TYPE_CHECKING:
    from collections.abc import Iterator
    from types import ModuleType

    from router.scenario.model import Scenario

ROOT = Path(__file__).parents[1]
MODULES = ("made_floors", "made_buildings", "by_hand", "by_pairs", "baselines", "cases", "measure", "targets",
           "plots", "page")  # fmt: skip
SAME = 0.05


@pytest.fixture(scope="module")
def bench() -> Iterator[dict[str, ModuleType]]:
    """Give the benchmark's modules by name; they stand beside each other, not in a package."""
    sys.path.insert(0, str(ROOT / "benchmarks"))
    try:
        yield {name: importlib.import_module(name) for name in MODULES}
    finally:
        sys.path.remove(str(ROOT / "benchmarks"))


def tiny(bench: dict[str, ModuleType]) -> dict[str, Scenario]:
    """One small scenario of every family."""
    line, made = bench["made_floors"].line, bench["made_buildings"]
    small = {"slide": 0.0}
    out = {"line": line(6, 1, rules=small), "shared offsets": made.shared_offsets(4, 2)}
    for shape in ("regular", "rotated", "curved"):
        out[shape] = made.building(2, 2, 2, 1, shape, "dense")
    out["crowded"] = made.building(1, 2, 3, 0, "curved", "crowded")
    out["crossing"] = made.building(1, 3, 3, 0, "regular", "crossing")
    return out


@pytest.fixture(scope="module")
def compared(bench: dict[str, ModuleType]) -> dict[str, tuple[Any, dict[str, Any]]]:
    """By family: our route measured, and all baselines."""
    measure, out = bench["measure"], {}
    for name, scenario in tiny(bench).items():
        ours = measure.timed(scenario, 1, None)
        limits = measure.Limits(20.0, 4000 if name == "line" else 0)
        out[name] = ours, measure.compare(ours, limits)
    return out


def test_our_routes_are_proven_and_clean(compared: dict[str, tuple[Any, dict[str, Any]]]) -> None:
    assert len(compared) == 7
    for ours, _ in compared.values():
        assert ours.broken == []
        assert ours.route.status == "optimal"


@pytest.mark.parametrize("name", ["by_hand", "by_pairs", "constant"])
def test_baselines_are_clean_and_never_beat_the_optimum(
    compared: dict[str, tuple[Any, dict[str, Any]]], name: str
) -> None:
    dearer = 0
    for ours, baselines in compared.values():
        found = baselines[name]
        assert found["breaks"] == {}
        assert found["value"] >= ours.route.objective.value - SAME
        dearer += found["value"] > ours.route.objective.value + SAME
    assert dearer, "no family on which it is worse: it hardly differs from ours"


def test_each_head_alone_is_a_lower_bound_and_not_nothing(
    compared: dict[str, tuple[Any, dict[str, Any]]],
) -> None:
    for ours, baselines in compared.values():
        value, alone = ours.route.objective.value, baselines["heads_alone"]["value"]
        assert 0.5 * value < alone <= value + SAME


def test_local_search_gains_on_routing_by_hand(compared: dict[str, tuple[Any, dict[str, Any]]]) -> None:
    by_hand, by_pairs = (sum(b[k]["value"] for _, b in compared.values()) for k in ("by_hand", "by_pairs"))
    assert by_pairs < by_hand


def test_the_whole_model_agrees_on_the_line(compared: dict[str, tuple[Any, dict[str, Any]]]) -> None:
    ours, baselines = compared["line"]
    found = baselines["whole"]
    assert found["status"] == "optimal"
    assert found["agrees"] is True
    assert found["judged"]["breaks"] == {}
    assert found["judged"]["value"] == pytest.approx(ours.route.objective.value, abs=SAME)
    assert compared["curved"][1]["whole"]["status"] == "too large"


def test_one_offset_of_the_main_serves_several_branches(bench: dict[str, ModuleType]) -> None:
    scenario = bench["made_buildings"].shared_offsets(8, 6)
    route, _ = route_scenario(scenario)
    changes = {r.id: len(r.level_changes) for r in route.runs}
    assert changes.pop("M") == 1
    moved = [r for r in route.runs if r.id != "M" and abs(r.supply_level - 3200.0) > 1.0]
    assert len(moved) > 1
    assert sum(changes.values()) < len(moved)


def test_curved_mains_bend_and_their_branches_are_radial(bench: dict[str, ModuleType]) -> None:
    scenario = bench["made_buildings"].building(1, 4, 2, 0, "curved", "none")
    assert len(scenario.runs[0].plan) == 5
    for run in scenario.runs[1:]:
        (x0, y0), (x1, y1) = run.plan
        assert abs(x0 * y1 - x1 * y0) < 1e-4 * (x1**2 + y1**2)


def test_same_seed_same_building(bench: dict[str, ModuleType]) -> None:
    make = bench["made_buildings"].building
    assert make(2, 2, 3, 5, "rotated", "dense") == make(2, 2, 3, 5, "rotated", "dense")
    assert make(2, 2, 3, 5, "rotated", "dense") != make(2, 2, 3, 6, "rotated", "dense")


def made_up(name: str, heads: int, seconds: float, **more: Any) -> dict[str, Any]:
    return {"name": name, "heads": heads, "seconds": seconds, "growth": "regular, medium", "processes": 1,
            "status": ["optimal"], "largest_gap": 0.0, "check_ratio": 0.1, **more}  # fmt: skip


def test_exponent_and_aims_follow_from_the_figures(bench: dict[str, ModuleType]) -> None:
    targets = bench["targets"]
    sizes = (120, 300, 1200, 12000)
    cases = [made_up(f"{n}", n, 0.002 * n**1.25) for n in sizes]
    assert targets.exponents(cases)["regular, medium"]["from_120"] == pytest.approx(1.25)
    cases.append(made_up("line of 24", 24, 0.09))
    cases.append(made_up("line of 48", 48, 0.09, status=["feasible"], largest_gap=7.0))
    aims = {row.aim.split(",")[0]: row for row in targets.rows(cases)}
    assert aims["a line of 24"].met is True
    assert aims["a line of 48"].met is False
    assert aims["a line of 12"].met is None
    assert aims["gap 0 on every case"].met is False
    assert aims["time against heads"].met is False


def test_faults_are_told(bench: dict[str, ModuleType]) -> None:
    faults = bench["measure"].faults
    base = {
        "whole": {"agrees": True, "value": 10.0}, "heads_alone": {"value": 9.0},
        "by_hand": {"value": 12.0, "breaks": {}},
    }  # fmt: skip
    good = {"name": "x", "broken": [], "value": 10.0, "status": ["optimal"], "baselines": base}
    assert faults(good) == []
    assert faults({**good, "broken": ["make_up"]})
    for key, wrong in (
        ("whole", {"agrees": False, "value": 9.0}),
        ("heads_alone", {"value": 11.0}),
        ("by_hand", {"value": 9.0, "breaks": {}}),
        ("by_hand", {"value": 12.0, "breaks": {"clearance": 1}}),
    ):
        assert len(faults({**good, "baselines": {**base, key: wrong}})) == 1


def test_page_and_plots_of_a_run(bench: dict[str, ModuleType], tmp_path: Path) -> None:
    cases, measure = bench["cases"], bench["measure"]
    some = [
        cases.Case("tiny line", "line", lambda: [bench["made_floors"].line(3, 1, rules={"slide": 0.0})],
                   quick=True, growth="line, medium"),
        cases.Case("tiny floor", "floor", lambda: [bench["made_floors"].floor(2, 2)], quick=True,
                   growth="line, medium"),
    ]  # fmt: skip
    results = [json.loads(json.dumps(measure.measure(c, measure.Limits(10.0, 2000)))) for c in some]
    assert [fault for r in results for fault in r["faults"]] == []
    run = {"set": "quick", "commit": "none", "machine": measure.machine(), "minutes": 0.1, "left_out": [],
           "whole_model": {"limit": 10, "arcs": 2000}, "faults": [], "cases": results}  # fmt: skip
    bench["page"].write_page(run, tmp_path)
    text = (tmp_path / "bench.md").read_text()
    assert "| tiny floor | 4 |" in text
    assert "not in this run" in text
    for name in ("bench_time.svg", "bench_fittings.svg"):
        assert (tmp_path / name).read_text().rstrip().endswith("</svg>")
        assert name in text
