"""Small lines whose best route is argued by hand; each also turned by 37 degrees and in inches.

Counted are tees and elbows; reducers apart. Spacings are worked out here from
ASME B16.3 class 150 centre-to-end (from memory, partly checked: grade B), thread
engagement L1 + L3 of ASME B1.20.1 and the shortest shouldered nipple of ASTM
A733 (from memory).
"""

from __future__ import annotations

from math import cos, radians, sin
from typing import TYPE_CHECKING, Any

import pytest

from router.building.route import route_scenario
from router.check import check_route
from router.scenario import parse_scenario

if TYPE_CHECKING:
    from router.route.model import Route

IN = 25.4
ALLOWANCE = 25.0
SPACING_1IN = (2 * 1.50 + 2.00 - 2 * 0.661) * IN + ALLOWANCE
"""Two 1 in. fittings on a 1 in. line, with the working allowance (mm)."""

LENGTHS = ("clearance", "slide", "working_allowance", "reach")


def turned(p: list[float], angle: float) -> list[float]:
    c, s = cos(radians(angle)), sin(radians(angle))
    return [c * p[0] - s * p[1] + 1234.5, s * p[0] + c * p[1] - 987.6]


def view(data: dict[str, Any], angle: float, unit: float) -> dict[str, Any]:
    """The same scenario turned by ``angle`` degrees, lengths divided by ``unit``."""
    out: dict[str, Any] = {"name": data["name"], "units": "mm" if unit == 1.0 else "in"}
    out["system"] = data.get("system", {})
    out["runs"] = []
    for run in data["runs"]:
        changed = {**run, "plan": [[x / unit for x in turned(p, angle)] for p in run["plan"]]}
        changed["elevation"] = run["elevation"] / unit
        if "band" in run:
            changed["band"] = [z / unit for z in run["band"]]
        if "supply_elevation" in run:
            changed["supply_elevation"] = run["supply_elevation"] / unit
        out["runs"].append(changed)
    out["heads"] = [
        {**h, "at": [x / unit for x in (*turned(h["at"][:2], angle), h["at"][2])]} for h in data["heads"]
    ]
    out["obstructions"] = [
        {
            **o,
            "polygon": [[x / unit for x in turned(p, angle)] for p in o["polygon"]],
            "elevations": [z / unit for z in o["elevations"]],
        }
        for o in data.get("obstructions", [])
    ]
    rules = data.get("rules", {})
    out["rules"] = {k: (v / unit if k in LENGTHS else v) for k, v in rules.items()}
    return out


@pytest.fixture(params=[(0.0, 1.0), (37.0, 1.0), (37.0, IN)], ids=["straight", "turned", "turned-inches"])
def solve(request: pytest.FixtureRequest) -> Any:
    """Route a scenario given in mm, seen in one of three ways; the referee must find it clean."""
    angle, unit = request.param

    def run(data: dict[str, Any]) -> Route:
        scenario = parse_scenario(view(data, angle, unit), "small case")
        route, _ = route_scenario(scenario)
        verdict = check_route(scenario, route)
        assert verdict.clean, [f.text for f in verdict.breaks]
        assert route.status in ("optimal", "infeasible")
        return route

    return run


def line(heads: list[list[float]], length: float = 6000.0, **more: Any) -> dict[str, Any]:
    """One 1 in. line along x at level 3,000 with pendent heads 600 mm below it."""
    run = {
        "id": "B1",
        "plan": [[0, 0], [length, 0]],
        "elevation": 3000.0,
        "band": [3000.0, 3000.0],
        "size": 25,
    }
    run |= more.pop("run", {})
    return {
        "name": "small",
        "runs": [run],
        "heads": [{"id": f"H{i + 1}", "at": [*xy, 2400.0]} for i, xy in enumerate(heads)],
        **more,
    }


def box(name: str, x0: float, x1: float, y0: float, y1: float, z0: float, z1: float) -> dict[str, Any]:
    return {"id": name, "polygon": [[x0, y0], [x1, y0], [x1, y1], [x0, y1]], "elevations": [z0, z1]}


def test_a_head_under_the_line_is_a_straight_drop(solve: Any) -> None:
    """(a) One head under the line: the run's last fitting, turned down. 1."""
    route = solve(line([[3000, 0]]))
    assert route.counts.fittings_counted == 1
    assert route.counts.styles == {"straight_drop": 1}


def test_b_two_opposite_heads_share_a_nipple(solve: Any) -> None:
    """(b) Elbow up, tee, two elbows: 4, against 5 for two tees with a dogleg; a bull-head: 3."""
    data = line([[3000, 1500], [3000, -1500]])
    route = solve(data)
    assert route.counts.styles == {"shared_nipple": 1}
    assert route.counts.fittings_counted == 4
    apart = solve({**data, "rules": {"allow_shared_nipple": False}})
    assert apart.counts.fittings_counted == 5
    assert [t.dogleg for t in apart.takeoffs].count(True) == 1
    crossed = solve({**data, "rules": {"allow_cross": True}})
    assert crossed.counts.styles == {"level_cross": 1}
    assert crossed.counts.fittings_counted == 3


@pytest.mark.parametrize(("more", "dogleg"), [(1.0, False), (-1.0, True)])
def test_c_heads_an_outlet_spacing_apart_need_no_dogleg(solve: Any, more: float, dogleg: bool) -> None:
    """(c) Apart by just more than the spacing: tee, elbow, elbow, elbow: 4. By 1 mm less: not."""
    route = solve(line([[3000, 1500], [3000 + SPACING_1IN + more, -1500]]))
    assert any(t.dogleg for t in route.takeoffs) is dogleg
    assert route.counts.fittings_counted == (5 if dogleg else 4)
    if not dogleg:
        assert route.counts.styles == {"side_arm": 2}


def branched(**main: Any) -> dict[str, Any]:
    """A main along x with three branches along y; each branch would cross a duct at the main's level."""
    runs = [
        {
            "id": "M1", "kind": "main", "plan": [[0, 0], [9000, 0]], "elevation": 3000.0,
            "band": [2700.0, 3000.0], "size": 50, "supply_elevation": 3000.0, **main,
        }
    ]  # fmt: skip
    heads = []
    for i, x in enumerate((3000.0, 6000.0, 9000.0)):
        runs.append(
            {
                "id": f"B{i + 1}", "plan": [[x, 0], [x, 5000]], "elevation": 3000.0,
                "band": [2700.0, 3000.0], "size": 25, "supply": "M1",
            }
        )  # fmt: skip
        heads.append({"id": f"H{i + 1}", "at": [x, 4000.0, 2200.0]})
    return {"name": "branched", "runs": runs, "heads": heads}


def test_d_one_offset_on_the_main_clears_every_branch(solve: Any) -> None:
    """(d) Three tees or elbows to the branches, three drops, and one offset of 2 elbows, not 6."""
    data = branched()
    data["obstructions"] = [
        box("beam", 1000, 1300, -500, 500, 2950, 3300),
        box("duct", 2000, 9500, 2000, 2400, 2950, 3300),
    ]
    route = solve(data)
    assert route.counts.served == 3
    assert route.counts.level_changes == 1
    assert [len(r.level_changes) for r in route.runs] == [1, 0, 0, 0]
    assert route.counts.fittings_counted == 3 + 3 + 2


def test_e_at_a_bend_the_level_changes_for_one_elbow_more(solve: Any) -> None:
    """(e) The bend's elbow becomes two: last fitting 1, bend 2, nothing else."""
    data = line(
        [[4000, 3000]],
        run={
            "plan": [[0, 0], [4000, 0], [4000, 4000]], "band": [2700.0, 3000.0], "supply_elevation": 3000.0,
        },
        obstructions=[box("beam", 3000, 5000, 600, 900, 2950, 3300)],
    )  # fmt: skip
    data["heads"][0]["at"][2] = 2200.0
    route = solve(data)
    assert route.counts.fittings_counted == 1 + 2
    assert [(c.at_bend, c.angle) for r in route.runs for c in r.level_changes] == [(True, 90)]


def crowded(band: list[float]) -> dict[str, Any]:
    """Two heads under a line, and a beam between their outlets that leaves no room to change level."""
    return line(
        [[2800, 0], [3200, 0]],
        run={"band": band},
        obstructions=[box("beam", 2950, 3050, -500, 500, 2970, 3300)],
    )


def test_f_no_room_for_an_offset_the_whole_line_goes_lower(solve: Any) -> None:
    """(f) Under the beam all along: no level change; the line lies 25 mm clear under the beam."""
    route = solve(crowded([2800.0, 3000.0]))
    assert route.counts.served == 2
    assert route.counts.level_changes == 0
    assert route.counts.fittings_counted == 2
    assert route.runs[0].supply_level == pytest.approx(2970 - 25 - 33.4 / 2, abs=0.05)


def test_f_without_the_band_the_head_beyond_is_reported_with_what_is_missing(solve: Any) -> None:
    """(f) The pipe's axis is 30 mm over the beam's underside: 30 down, half a pipe and 25 mm are missing."""
    route = solve({**crowded([3000.0, 3000.0]), "rules": {"slide": 0.0}})
    assert route.counts.served == 1
    lost = next(h for h in route.heads if not h.served)
    assert lost.id == "H2"
    attempt = lost.stopped_by[0]
    assert (attempt.rule, attempt.against) == ("clearance", "beam")
    assert attempt.short == pytest.approx(30 + 25 + 33.4 / 2, abs=0.1)


def test_g_nothing_but_two_tees_and_no_slide(solve: Any) -> None:
    """(g) One head stays unserved; the shortfall is the whole spacing, since the heads are opposite."""
    data = line([[3000, 1500], [3000, -1500]])
    data["rules"] = {"allow_shared_nipple": False, "slide": 0.0}
    route = solve(data)
    assert route.counts.served == 1
    lost = next(h for h in route.heads if not h.served)
    attempt = next(a for a in lost.stopped_by if a.style == "side_arm")
    assert attempt.rule == "outlet_spacing"
    assert attempt.needs == pytest.approx(SPACING_1IN, abs=0.1)
    assert attempt.has == pytest.approx(0.0, abs=0.1)
    assert attempt.short == pytest.approx(SPACING_1IN, abs=0.1)


def test_g_the_shortfall_is_the_spacing_less_what_there_is(solve: Any) -> None:
    """(g) With the heads 40 mm apart the second lacks the spacing less 40 mm."""
    data = line([[3000, 1500], [3040, -1500]])
    data["rules"] = {"allow_shared_nipple": False, "slide": 0.0}
    route = solve(data)
    assert route.counts.served == 1
    lost = next(h for h in route.heads if not h.served)
    attempt = next(a for a in lost.stopped_by if a.style == "side_arm")
    assert attempt.short == pytest.approx(SPACING_1IN - 40.0, abs=0.1)


@pytest.mark.parametrize("kind", ["pendent", "upright"])
def test_a_pitched_line_is_put_together_of_square_fittings(kind: str) -> None:
    # 10 mm/m are 0.57 degrees: what hangs upright is that far from square to the line
    scenario = parse_scenario(
        {
            "name": "pitched",
            "system": {"kind": "wet", "pitch_branch": 10.0},
            "runs": [{"id": "B", "plan": [[0, 0], [4000, 0]], "elevation": 3000, "size": 32}],
            "heads": [
                {"id": f"H{k}", "at": [x, y, 2500 if kind == "pendent" else 3400], "kind": kind}
                for k, (x, y) in enumerate([(1000, 0), (2500, 500), (3800, 0)])
            ],
            "rules": {"square_tolerance_deg": 0.2},
        },
        "made",
    )
    route, _ = route_scenario(scenario)
    assert route.counts.served == 3
    assert check_route(scenario, route).clean
