"""Small scenarios with everything in them, from a seed."""

from __future__ import annotations

import copy
from typing import Any

import numpy as np
from test_random_floors import floor

from metamorphic.transforms import LISTS, renamed, shifted
from router.scenario import ScenarioError, parse_scenario
from router.scenario.write import scenario_data

Data = dict[str, Any]
STOREY = 4000.0


def mixed(seed: int) -> Data | None:
    """A random floor with bands, pins, zones, prices, hoses, beams to hang from, perhaps two storeys.

    ``None`` where the reader refuses it. Where heads do not name their run
    their distances to runs are never equal: of equals the first in the list serves.
    """
    base = floor(seed)
    if base is None:
        return None
    data = scenario_data(base)
    rng = np.random.default_rng(7919 + seed)
    for run in data["runs"]:
        _run(run, rng)
    for head in data["heads"]:
        if head.get("dry") and rng.random() < 0.3:
            head["exposed"] = round(float(rng.uniform(50, 250)), 1)
    if rng.random() < 0.3:
        for head in data["heads"]:
            head.pop("run", None)
    _things(data, rng)
    _rules(data, rng)
    _money(data, rng)
    _pins(data, rng)
    if data.get("rules", {}).get("allow_flexible"):  # else a hose is never worth it
        data["rules"].setdefault("hose_lengths", [800.0, 1200.0])
        data["weights"] = {**data.get("weights", {}), "hose": 300.0}
    if rng.random() < 0.15:
        data = _two_storeys(data)
    try:
        parse_scenario(data, "made")
    except ScenarioError:
        return None
    return data


def _run(run: Data, rng: np.random.Generator) -> None:
    if rng.random() < 0.5:
        down, up = (round(float(v), 1) for v in rng.uniform(0, 350, 2))
        run["band"] = [run["elevation"] - down, run["elevation"] + up]
    if "supply" not in run and rng.random() < 0.2:
        run["supply_elevation"] = run["elevation"]
    if run.get("size", "schedule") != "schedule" and rng.random() < 0.2:
        run["joining"] = str(rng.choice(["threaded", "grooved", "welded"]))


def _box(data: Data, rng: np.random.Generator, low: float, high: float) -> Data:
    points = np.array([p for run in data["runs"] for p in run["plan"]])
    x, y = rng.uniform(points.min(axis=0) - 200, points.max(axis=0) + 200)
    w, d = rng.uniform(60, 700, 2)
    z, dz = rng.uniform(low, high), rng.uniform(50, 400)
    corners = [[x, y], [x + w, y], [x + w, y + d], [x, y + d]]
    return {
        "polygon": [[round(float(v), 1) for v in p] for p in corners],
        "elevations": [round(float(z), 1), round(float(z + dz), 1)],
    }


def _things(data: Data, rng: np.random.Generator) -> None:
    more = data.setdefault("obstructions", [])
    for k in range(int(rng.integers(0, 3))):
        more.append({"id": f"more {k}", "kind": "duct", **_box(data, rng, 2700, 3200)})
        if rng.random() < 0.3:
            more[-1]["clearance"] = float(rng.choice([10, 50]))
    for k in range(int(rng.integers(0, 3))):
        more.append({"id": f"roof beam {k}", "kind": "beam", **_box(data, rng, 3350, 3800)})
    for k in range(int(rng.integers(0, 2))):
        zone = {"id": f"zone {k}", "of": str(rng.choice(["all", "outlets", "level_changes"]))}
        zone |= _box(data, rng, 2700, 3200)
        if rng.random() < 0.4:
            del zone["elevations"]
        data.setdefault("keep_out", []).append(zone)


def _rules(data: Data, rng: np.random.Generator) -> None:
    rules = data.setdefault("rules", {})
    chances: dict[str, Any] = {
        "clearance": round(float(rng.uniform(0, 60)), 1),
        "piece_clearance": round(float(rng.uniform(5, 60)), 1),
        "working_allowance": round(float(rng.uniform(0, 50)), 1),
        "reach": round(float(rng.uniform(500, 3000)), 1),
        "rise": round(float(rng.uniform(100, 900)), 1),
        "arm_unsupported": round(float(rng.uniform(200, 900)), 1),
        "station_step": float(rng.choice([30, 50, 75])),
        "hose_lengths": [700.0, 1000.0],
        "hose_bend_radius": 180.0,
        "hose_max_bends": int(rng.integers(1, 4)),
        "allow_shared_nipple": False,
        "styles": ["side_arm", "return_bend", "straight_drop", "sprig", "sidewall", "lowered_arm"],
        "square_tolerance_deg": 1.0,
        "alignment": 0.0,
    }
    for name, value in chances.items():
        if rng.random() < 0.15:
            rules[name] = value


def _money(data: Data, rng: np.random.Generator) -> None:
    if rng.random() < 0.2:
        data["weights"] = {"reducer": 50.0, "pipe": 60.0, "moved": 1.0, "wet_drain": 900.0}
    if rng.random() < 0.2:
        data["prices"] = {
            "minute": 0.8,
            "pipe": {
                dn: {"price": 0.2 * int(dn), "minutes": 2.0} for dn in ("20", "25", "32", "40", "50", "65")
            },
            "fittings": {
                "tee": {"other": {"price": 9.0, "minutes": 8.0}},
                "elbow_90": {"25": {"price": 3.0, "minutes": 6.0}, "other": {"price": 7.0}},
            },
            "drain": {"price": 60.0},
            "hose": {"price": 45.0},
            "as_objective": bool(rng.random() < 0.5),
        }


def _pins(data: Data, rng: np.random.Generator) -> None:
    if rng.random() > 0.35:
        return
    heads: Data = {}
    runs: Data = {}
    head, run = data["heads"][0], data["runs"][0]
    pick = int(rng.integers(5))
    if pick == 0:
        heads[head["id"]] = {"side": str(rng.choice(["left", "right", "top"]))}
    elif pick == 1:
        low = round(float(rng.uniform(0, 1500)), 1)
        heads[head["id"]] = {"stations": [low, low + round(float(rng.uniform(0, 600)), 1)]}
    elif pick == 2:
        heads[head["id"]] = {"styles": ["side_arm", "return_bend", "sprig", "sidewall"]}
    elif pick == 3:
        runs[run["id"]] = {"no_offset": [[300.0, 900.0], [1200.0, 1500.0]]}
    else:
        runs[run["id"]] = {"levels": [{"stations": [200.0, 400.0], "level": run["elevation"]}]}
    data["pins"] = {"heads": heads, "runs": runs}


def _two_storeys(data: Data) -> Data:
    """The same once more, a storey higher, under other names."""
    upper = shifted(renamed(data, lambda name: f"{name} up"), 0.0, 0.0, STOREY)
    out = copy.deepcopy(data)
    for key in LISTS:
        if key in out:
            out[key] += upper[key]
    for key in ("heads", "runs"):
        out.get("pins", {}).get(key, {}).update(upper.get("pins", {}).get(key, {}))
    return out
