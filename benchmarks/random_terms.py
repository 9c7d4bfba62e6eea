"""What random scenarios say of the system, rules, weights, prices, pins and keep-out zones."""

from __future__ import annotations

from math import hypot
from typing import TYPE_CHECKING, Any

from router.trade.styles import STYLES

if TYPE_CHECKING:
    from random import Random

Data = dict[str, Any]
JOINING = ("threaded", "welded", "grooved", "butt_weld")


def system_of(rng: Random) -> Data:
    """Draw the system: kind, water, joining, schedule, pitch."""
    kind = rng.choice(["wet", "wet", "dry", "preaction"])
    out: Data = {"kind": kind, "hazard": rng.choice(["light", "ordinary"])}
    joining = rng.choice([*JOINING, "by size"])
    out["joining"] = joining
    if joining == "by size":
        small, large = rng.sample(JOINING, 2)
        out["joining"] = [{"up_to": rng.choice([32, 50]), "joining": small}, {"joining": large}]
    if rng.random() < 0.12:
        out["water"] = "raw"
    if rng.random() < 0.15:
        out["heated"] = False
    if rng.random() < 0.06:
        out["refrigerated"] = True
    if rng.random() < 0.2:
        out["pressure"] = rng.choice([4.0, 9.0])
    if rng.random() < 0.3:
        out["standard"] = "metric"
    if rng.random() < 0.1:
        long = out["hazard"] == "ordinary" and rng.random() < 0.5
        out["schedule"] = "long_spacing" if long else "above_and_below"
    if rng.random() < 0.5:
        out["pitch_branch"] = rng.choice([0.0, 0.0, 2.0, 4.0, 10.0])
    if rng.random() < 0.4:
        out["pitch_main"] = rng.choice([0.0, 0.0, 2.0, 4.0])
    return out


def rules_of(rng: Random, shape: str) -> Data:
    """Draw rules; outlets slide but little, so that what is small stays small."""
    slides = [0.0, 0.0, 120.0] if shape == "floor" else [0.0, 0.0, 60.0, 120.0, 240.0]
    out: Data = {"slide": rng.choice(slides), "station_step": rng.choice([60.0, 60.0, 120.0])}
    chances: dict[str, tuple[float, list[Any]]] = {
        "clearance": (0.2, [0.0, 50.0, 100.0]),
        "piece_clearance": (0.15, [0.0, 50.0]),
        "ceiling_clearance": (0.1, [0.0, 60.0]),
        "working_allowance": (0.15, [0.0, 60.0]),
        "alignment": (0.1, [0.5, 10.0]),
        "reach": (0.08, [600.0, 1200.0, 1200.0, 3000.0]),
        "rise": (0.06, [150.0, 400.0]),
        "arm_unsupported": (0.08, [300.0, 600.0]),
        "hanger_spacing": (0.08, [1500.0, 2500.0]),
        "hanger_to_end": (0.05, [300.0]),
        "stock_lengths": (0.05, [[6400.0], [3200.0, 6400.0]]),
        "outlet_spacing": (0.12, [80.0, 150.0, 300.0]),
        "square_tolerance_deg": (0.1, [0.5, 10.0]),
        "arm_size": (0.15, [20, 32]),
        "allow_shared_nipple": (0.15, [False]),
    }
    for name, (chance, values) in chances.items():
        if rng.random() < chance:
            out[name] = rng.choice(values)
    out["allow_cross"] = rng.random() < 0.4
    out["allow_flexible"] = rng.random() < 0.3
    if out["allow_flexible"] and rng.random() < 0.4:
        out["hose_lengths"] = rng.choice([[900.0], [700.0, 1200.0, 1800.0]])
        out["hose_max_bends"] = rng.choice([0, 1, 3])
    if rng.random() < 0.08:
        out["styles"] = sorted(rng.sample(STYLES, rng.randint(2, 6)))
    return out


def weights_of(rng: Random) -> Data:
    """Draw weights; a low one for unserved heads makes leaving heads out worth it."""
    out: Data = {}
    chances: dict[str, tuple[float, list[float]]] = {
        "unserved": (0.12, [2500.0, 6000.0, 20000.0]),
        "fitting": (0.1, [0.0, 300.0, 2000.0]),
        "level_change": (0.1, [0.0, 3000.0]),
        "drain": (0.1, [0.0, 9000.0]),
        "large_drain": (0.1, [0.0, 5000.0]),
        "wet_drain": (0.1, [0.0, 4000.0]),
        "hanger": (0.1, [0.0, 2000.0]),
        "pipe": (0.15, [0.0, 500.0, 3000.0]),
        "moved": (0.1, [0.0, 20.0]),
        "style": (0.25, [0.0, 700.0, 3000.0]),
        "reducer": (0.15, [3.0, 400.0]),
        "hose": (0.1, [0.0, 5000.0]),
    }
    for name, (chance, values) in chances.items():
        if rng.random() < chance:
            out[name] = rng.choice(values)
    return out


def prices_of(rng: Random) -> Data:
    """Draw a price table: by size or all alike, with or without labour."""
    factor = rng.uniform(0.5, 2.0)
    pipe = {"20": 2, "25": 3, "32": 4, "40": 5, "50": 7, "65": 11, "80": 15}
    kinds = ("tee", "elbow_90", "elbow_45", "reducer")
    by_size = rng.random() < 0.5
    rows: dict[str, Data] = {}
    for kind in kinds:
        rows[kind] = {"other": {"price": round(factor * rng.uniform(1, 9), 2)}}
        if by_size:
            rows[kind]["50"] = {"price": round(factor * rng.uniform(5, 30), 2), "minutes": 12}
    return {
        "minute": rng.choice([0.0, 0.8]),
        "pipe": {f"DN{dn}": {"price": round(p * factor, 2), "minutes": 4} for dn, p in pipe.items()},
        "fittings": rows,
        "hanger": {"price": 6},
        "drain": {"price": 90, "minutes": 30},
        "large_drain": {"price": 60},
        "wet_drain": {"price": 15},
        "hose": {"price": 40, "minutes": 10},
        "as_objective": rng.random() < 0.7,
    }


def keep_out_of(rng: Random, runs: list[Data], level: float) -> list[Data]:
    """Draw a zone or two on the runs."""
    out = []
    for z in range(rng.choice([1, 1, 2])):
        plan = rng.choice(runs)["plan"]
        (x0, y0), (x1, y1) = plan[0], plan[1]
        t, half = rng.uniform(0, 1), rng.uniform(60, 400)
        x, y = round(x0 + t * (x1 - x0), 1), round(y0 + t * (y1 - y0), 1)
        ring = [[x - half, y - half], [x + half, y - half], [x + half, y + half], [x - half, y + half]]
        zone: Data = {"id": f"Z{z}", "polygon": ring, "of": rng.choice(["all", "outlets", "level_changes"])}
        if rng.random() < 0.6:
            zone["elevations"] = [level - rng.uniform(0, 500), level + rng.uniform(10, 300)]
        out.append(zone)
    return out


def pins_of(rng: Random, runs: list[Data], heads: list[Data]) -> Data:
    """Draw what is decided already: styles, sides, stations, levels, places without an offset."""
    out: Data = {"heads": {}, "runs": {}}
    for _ in range(rng.choice([0, 1, 1, 2])):
        head = rng.choice(heads)
        pin: Data = {}
        what = rng.choice(["style", "styles", "side", "stations", "run"])
        if what == "style":
            likely = {"pendent": ["side_arm", "return_bend", "raised_arm", "straight_drop"],
                      "upright": ["side_arm", "sprig", "raised_arm"], "sidewall": ["sidewall"]}  # fmt: skip
            pin["style"] = rng.choice(likely[head["kind"]])
        elif what == "styles":
            pin["styles"] = rng.sample(STYLES, 3)
        elif what == "side":
            pin["side"] = rng.choice(["left", "right", "top", "bottom"])
        elif what == "run":
            pin["run"] = head.get("run", rng.choice(runs)["id"])
        else:
            a = rng.uniform(0, 1500)
            pin["stations"] = [round(a, 1), round(a + rng.uniform(50, 1500), 1)]
            pin["run"] = head.get("run", rng.choice(runs)["id"])
        out["heads"][head["id"]] = pin
    for _ in range(rng.choice([0, 1, 1])):
        run = rng.choice(runs)
        low, high = run.get("band", [run["elevation"] - 300, run["elevation"] + 300])
        plan = run["plan"]
        length = hypot(plan[1][0] - plan[0][0], plan[1][1] - plan[0][1])
        level = round(rng.choice([run["elevation"], rng.uniform(low, high)]), 1)
        what = rng.choice(["level", "levels", "never", "not here"])
        if what == "level":
            out["runs"][run["id"]] = {"level": level}
        elif what == "levels":
            ends = sorted([round(rng.uniform(0, length), 1), round(rng.uniform(0, length), 1)])
            out["runs"][run["id"]] = {"levels": [{"stations": ends, "level": level}]}
        elif what == "never":
            out["runs"][run["id"]] = {"no_offset": True}
        else:
            ends = sorted([round(rng.uniform(0, length), 1), round(rng.uniform(0, length), 1)])
            out["runs"][run["id"]] = {"no_offset": [ends]}
    return out
