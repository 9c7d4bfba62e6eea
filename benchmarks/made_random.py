"""Scenarios at random, across everything that a scenario can say: one seed, one scenario.

All numbers come from a ``random.Random``, so the same generator runs from a seed
(:func:`scenario_data`) and under hypothesis (:func:`strategy`), which can shrink
what it draws. What the reader refuses is drawn again by the caller
(:func:`valid`). What a scenario has in it is told by :mod:`random_mix`.
"""

from __future__ import annotations

from math import cos, radians, sin
from random import Random
from typing import TYPE_CHECKING, Any, NamedTuple

from random_places import head_of, heads_of, obstructions_of
from random_terms import keep_out_of, pins_of, prices_of, rules_of, system_of, weights_of

from router.building.prepare import prepare
from router.scenario import ScenarioError, parse_scenario

if TYPE_CHECKING:
    from hypothesis.strategies import SearchStrategy

    from router.scenario.model import Scenario

Data = dict[str, Any]

LEVEL = 3000.0
"""mm. Where runs lie, more or less."""
UNITS = {"mm": 1.0, "m": 1000.0, "in": 25.4, "ft": 304.8}
SHAPES = {"line": 34, "bent line": 14, "tree": 26, "two roots": 12, "deep tree": 5, "storeys": 4, "floor": 5}
"""Shapes of the runs, and how many in a hundred have each; only ``floor`` has more than 10 heads."""
ANGLES = (90.0, 90.0, 90.0, 90.0, 45.0, 60.0, 30.0, 120.0, 135.0)
"""Degrees between a run and what leaves it; some are drawn freely."""


class Drawn(NamedTuple):
    """A scenario that the reader takes. ``refused``: how many drawn before it the reader did not take."""

    scenario: Scenario
    data: Data
    refused: int


def scenario_data(rng: Random, name: str = "random") -> Data:
    """Draw a scenario as it would stand in a file; the reader may refuse it."""
    shape = rng.choices(list(SHAPES), list(SHAPES.values()))[0]
    system = system_of(rng)
    dense = rng.choice(["sparse", "usual", "usual", "crowded"])
    runs = _runs(rng, shape, dense, system)
    heads = heads_of(rng, runs, system, dense, 40 if shape == "floor" else 8)
    data: Data = {
        "name": name,
        "story": f"{shape}, {dense}",
        "system": system,
        "runs": runs,
        "heads": heads,
        "obstructions": obstructions_of(rng, runs, heads, dense, LEVEL),
        "rules": rules_of(rng, shape),
        "weights": weights_of(rng),
    }
    if rng.random() < 0.2:
        data["ceilings"] = [_ceiling(rng, runs)]
    if rng.random() < 0.15:
        data["keep_out"] = keep_out_of(rng, runs, LEVEL)
    if rng.random() < 0.12:
        data["prices"] = prices_of(rng)
        if not data["prices"]["as_objective"]:
            data["weights"]["price"] = rng.choice([0, 1, 30])
    if rng.random() < 0.2:
        data["pins"] = pins_of(rng, runs, heads)
    if rng.random() < 0.1:
        _spoil(rng, data)
    if rng.random() < 0.5:
        _turn(data, rng.uniform(0, 360), (rng.uniform(-9e3, 9e3), rng.uniform(-9e3, 9e3)))
    unit = rng.choices(list(UNITS), [70, 10, 10, 10])[0]
    return data if unit == "mm" else in_unit(data, unit)


def valid(seed: int, most: int = 50) -> Drawn:
    """Draw until the reader takes it.

    Raises
    ------
    RuntimeError
        If it takes none of so many.
    """
    for refused in range(most):
        data = scenario_data(Random(f"{seed}/{refused}"), f"random {seed}")
        try:
            scenario = parse_scenario(data, "made")
            prepare(scenario)  # sizes that would grow downstream are refused here
            return Drawn(scenario, data, refused)
        except (ScenarioError, ValueError):
            continue
    raise RuntimeError(f"seed {seed}: the reader took none of {most}")


def strategy(seeds: range) -> SearchStrategy[Scenario]:
    """Give scenarios of some seeds to hypothesis, by the same generator.

    It draws seeds, not random numbers: those depend on what else is loaded, so they differ by machine.
    """
    from hypothesis import strategies as st

    return st.sampled_from(seeds).map(lambda seed: valid(seed).scenario)


# runs


def _run(rng: Random, name: str, plan: list[list[float]], kind: str, level: float, **more: Any) -> Data:
    made: Data = {"id": name, "kind": kind, "plan": plan, "elevation": round(level, 1), **more}
    band = rng.choice([None, None, 0.0, 40.0, 120.0, 250.0, 400.0])
    if band is not None:
        low = band if rng.random() < 0.7 else 0.3 * band
        made["band"] = [made["elevation"] - low, made["elevation"] + band]
    if rng.random() < 0.1:
        made["joining"] = rng.choice(["threaded", "welded", "grooved", "butt_weld"])
    if kind == "branch" and "size" not in made:
        made["size"] = rng.choice(["schedule", "schedule", 32, 40, 50])
        if made["size"] == "schedule" and rng.random() < 0.2:
            made["least_size"] = 32
    if rng.random() < 0.06:
        made["schedule"] = rng.choice(["standard", "above_and_below"])
    if "supply" not in made and rng.random() < 0.15:
        made["supply_elevation"] = made["elevation"] + rng.choice([0.0, 0.0, 60.0, -100.0])
    return made


def _free_level(rng: Random, level: float) -> float:
    return level + rng.choice([0.0, 0.0, 0.0, 60.0, 150.0, -150.0, 300.0])


def _turning(rng: Random) -> float:
    free = rng.random() < 0.25
    return rng.choice([-1, 1]) * (rng.uniform(20, 150) if free else rng.choice(ANGLES))


def _on(start: list[float], angle: float, length: float) -> list[float]:
    at = radians(angle)
    return [round(start[0] + length * cos(at), 3), round(start[1] + length * sin(at), 3)]


def _runs(rng: Random, shape: str, dense: str, system: Data) -> list[Data]:
    unit = {"sparse": 1.8, "usual": 1.0, "crowded": 0.5}[dense]
    if shape in ("line", "bent line"):
        plan = [[0.0, 0.0], [round(unit * rng.uniform(1200, 4500), 1), 0.0]]
        angle = 0.0
        for _ in range(rng.choice([1, 1, 2]) if shape == "bent line" else 0):
            angle += max(min(_turning(rng), 110.0), -110.0)
            plan.append(_on(plan[-1], angle, unit * rng.uniform(900, 2500)))
        return [_run(rng, "A", plan, "branch", LEVEL)]
    if shape == "two roots":
        runs = [_run(rng, "A", [[0.0, 0.0], [unit * 3000.0, 0.0]], "branch", LEVEL)]
        crossing = rng.random() < 0.3
        away = unit * rng.uniform(250, 1600)
        start = [unit * 1200.0, -900.0] if crossing else [0.0, -away]
        angle = rng.uniform(50, 130) if crossing else rng.choice([0.0, 0.0, rng.uniform(-8, 2)])
        level = LEVEL + rng.choice([200.0, 350.0, -300.0]) if crossing else _free_level(rng, LEVEL)
        runs.append(_run(rng, "C", [start, _on(start, angle, unit * 2600.0)], "branch", level))
        return runs
    if shape == "storeys":
        out = []
        for s in range(rng.choice([2, 3])):
            out += _tree(rng, f"{s}", unit, LEVEL + 3500.0 * s, 1)
        return out
    large = shape == "floor"
    lines = rng.choice([2, 3, 4] if large else [1, 1, 2, 3])
    return _tree(rng, "", unit, LEVEL, lines, deep=shape == "deep tree", long=large)


def _tree(
    rng: Random, name: str, unit: float, level: float, lines: int, *, deep: bool = False, long: bool = False
) -> list[Data]:
    """Draw a main with lines off its sides or end, at angles; ``deep``: with a cross main between."""
    length = unit * (3600.0 * lines if long else rng.uniform(1500, 2500) + 700.0 * lines)
    main = [[0.0, 0.0], [round(length, 1), 0.0]]
    if rng.random() < 0.15:
        main.append(_on(main[-1], _turning(rng) / 1.4, unit * 1200))
    size = rng.choice([50, 65, 80, "schedule"])
    runs = [_run(rng, f"M{name}", main, "main" if deep else "cross_main", level, size=size)]
    feeds, direction, start = f"M{name}", 0.0, [0.0, 0.0]
    if deep:
        at = [round(length * rng.choice([0.5, 0.8, 1.0]), 1), 0.0]
        direction = rng.choice([90.0, -90.0, 60.0])
        end = _on(at, direction, unit * 2600.0)
        small = 50 if size in (50, "schedule") else rng.choice([50, 65])
        runs.append(_run(rng, f"X{name}", [at, end], "cross_main", _free_level(rng, level),
                         supply=feeds, size=small))  # fmt: skip
        feeds, start, length = f"X{name}", at, unit * 2600.0
    where = sorted(rng.choice([0.3, 0.5, 0.6, 0.85, 1.0]) for _ in range(lines))
    if lines > 1 and rng.random() < 0.25:
        where[1] = where[0]  # two from one place, to both sides
    for n in range(lines):
        share = (n + 0.5) / lines if long else where[n]
        at = _on(start, direction, round(length * share, 1))
        turn = _turning(rng)
        if n and where[n] == where[n - 1] and not long:
            turn = -turn if rng.random() < 0.5 else turn
        plan = [at, _on(at, direction + turn, unit * (9000.0 if long else rng.uniform(900, 2800)))]
        here = _free_level(rng, level)
        if abs(abs(turn) - 90) > 1 and rng.random() < 0.8:  # only a riser nipple leaves at such an angle
            here = level + rng.choice([200.0, 300.0, 300.0, -250.0])
        runs.append(_run(rng, f"B{name}{n}", plan, "branch", here, supply=feeds))
    return runs


def _ceiling(rng: Random, runs: list[Data]) -> Data:
    xs = [p[0] for r in runs for p in r["plan"]]
    ys = [p[1] for r in runs for p in r["plan"]]
    x0, x1, y0, y1 = min(xs) - 3000, max(xs) + 3000, min(ys) - 3000, max(ys) + 3000
    if rng.random() < 0.2:
        x1 = (x0 + x1) / 2
    ring = [[x0, y0], [x1, y0], [x1, y1], [x0, y1]]
    return {"id": "ceiling", "polygon": ring, "elevation": LEVEL - rng.choice([350.0, 300.0, 150.0, 40.0])}


# the whole of it


def _spoil(rng: Random, data: Data) -> None:
    """Make it hard or impossible to serve somebody, in one of several ways."""
    run, heads = data["runs"][-1], data["heads"]
    head = rng.choice(heads)
    way = rng.choice(["wall", "far", "crowd", "pin", "style", "ceiling", "high"])
    data["story"] += f", spoiled: {way}"
    if way == "wall":  # across the run at its only level
        run["band"] = [run["elevation"], run["elevation"]]
        (x0, y0), (x1, y1) = run["plan"][0], run["plan"][1]
        x, y = x0 + 0.2 * (x1 - x0), y0 + 0.2 * (y1 - y0)
        ring = [[x - 30, y - 600], [x + 30, y - 600], [x + 30, y + 600], [x - 30, y + 600]]
        data["obstructions"].append(
            {"id": "wall", "polygon": ring, "elevations": [run["elevation"] - 90, run["elevation"] + 90]}
        )
    elif way == "far":
        data["rules"]["reach"] = rng.choice([50.0, 200.0, 500.0])
    elif way == "crowd":
        for h in range(3):
            x, y, z = head["at"]
            heads.append({**head, "id": f"crowd {h}", "at": [x + 20.0 * (h + 1), y + rng.choice([0, 5]), z]})
    elif way == "pin":
        pins = data.setdefault("pins", {}).setdefault("heads", {})
        pins[head["id"]] = {"style": rng.choice(["straight_drop", "sprig", "sidewall", "level_cross"])}
    elif way == "style":
        data["rules"]["styles"] = [rng.choice(["straight_drop", "sprig", "level_cross", "sidewall"])]
    elif way == "ceiling":
        low = min(h["at"][2] for h in heads)
        if data.get("ceilings"):
            data["ceilings"][0]["elevation"] = low + rng.choice([-200.0, 500.0])
        head["at"][2] = head["at"][2] + rng.choice([-2500.0, 300.0])
    else:
        head["at"] = head_of(rng, run, 0.5, rng.choice([-2500.0, 2500.0]), LEVEL + rng.choice([-1400, 1400]))


def _turn(data: Data, angle: float, origin: tuple[float, float]) -> None:
    """Turn all of it in plan, and move it."""
    c, s = cos(radians(angle)), sin(radians(angle))

    def put(p: list[float]) -> list[float]:
        x, y = p[0], p[1]
        return [round(origin[0] + x * c - y * s, 3), round(origin[1] + x * s + y * c, 3), *p[2:]]

    for run in data["runs"]:
        run["plan"] = [put(p) for p in run["plan"]]
    for head in data["heads"]:
        head["at"] = put(head["at"])
        if "facing" in head:
            head["facing"] = round((head["facing"] + angle) % 360, 6)
    for part in ("obstructions", "ceilings", "keep_out"):
        for item in data.get(part, []):
            item["polygon"] = [put(p) for p in item["polygon"]]


LENGTHS = {
    "plan", "elevation", "band", "supply_elevation", "at", "shift", "exposed", "polygon", "elevations",
    "clearance", "piece_clearance", "ceiling_clearance", "working_allowance", "alignment", "reach", "slide",
    "station_step", "rise", "arm_unsupported", "hanger_spacing", "hanger_to_end", "stock_lengths", "saw_cut",
    "outlet_spacing", "hose_lengths", "hose_bend_radius", "stations", "level",
}  # fmt: skip
"""Fields whose numbers are in the file's unit."""


def in_unit(data: Data, unit: str) -> Data:
    """Write a scenario in mm in another unit."""

    def scaled(value: Any) -> Any:
        if isinstance(value, list):
            return [scaled(part) for part in value]
        return value if value is None or isinstance(value, bool) else round(value / UNITS[unit], 7)

    def walk(value: Any) -> Any:
        if isinstance(value, list):
            return [walk(part) for part in value]
        if not isinstance(value, dict):
            return value
        return {
            key: scaled(part)
            if key in LENGTHS or (key == "no_offset" and isinstance(part, list))
            else part
            if key in ("tables", "prices")
            else walk(part)
            for key, part in value.items()
        }

    return {**walk(data), "units": unit}
