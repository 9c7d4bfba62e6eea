"""Pure functions on scenarios as plain data, in mm: none changes what it is given."""

from __future__ import annotations

import copy
import math
from typing import TYPE_CHECKING, Any

import numpy as np

from metamorphic.fields import ANGLE, ELEVATION, HEAD, LENGTHS, OTHER_ID, PLACE, RUN, SIDE, changed

if TYPE_CHECKING:
    from collections.abc import Callable

Data = dict[str, Any]
MM = {"mm": 1.0, "m": 1000.0, "in": 25.4, "ft": 304.8}
"""Inch and foot: international yard, 1959."""
EXACT_TURNS = {0: (1, 0), 90: (0, 1), 180: (-1, 0), 270: (0, -1)}


def nested(value: Any, function: Callable[[float], float]) -> Any:
    """Pass every number of nested lists through a function."""
    if isinstance(value, list):
        return [nested(each, function) for each in value]
    return value if isinstance(value, bool) else function(value)


def _placed(value: Any, put: Callable[[float, float], tuple[float, float]]) -> Any:
    """Pass every plan point (the first two numbers of each innermost list) through ``put``."""
    if isinstance(value[0], list):
        return [_placed(each, put) for each in value]
    return [*put(value[0], value[1]), *value[2:]]


def turned(data: Data, degrees: float) -> Data:
    """Turn everything about the origin, anticlockwise; by quarters exactly."""
    angle = math.radians(degrees)
    cos, sin = EXACT_TURNS.get(degrees, (math.cos(angle), math.sin(angle)))  # type: ignore[call-overload]

    def change(kind: str, value: Any) -> Any:
        if kind == PLACE:
            return _placed(value, lambda x, y: (x * cos - y * sin, x * sin + y * cos))
        return (value + degrees) % 360 if kind == ANGLE else value

    return dict(changed(data, change))


def shifted(data: Data, dx: float, dy: float, dz: float) -> Data:
    """Move everything, mm."""

    def change(kind: str, value: Any) -> Any:
        if kind == PLACE:
            moved = _placed(value, lambda x, y: (x + dx, y + dy))
            return [*moved[:2], moved[2] + dz] if not isinstance(moved[0], list) else moved
        return nested(value, lambda z: z + dz) if kind == ELEVATION else value

    return dict(changed(data, change))


def mirrored(data: Data, axis: str) -> Data:
    """Mirror in plan: ``x`` turns the sign of x, ``y`` that of y; left becomes right."""
    sx, sy = (-1, 1) if axis == "x" else (1, -1)

    def change(kind: str, value: Any) -> Any:
        if kind == PLACE:
            return _placed(value, lambda x, y: (sx * x, sy * y))
        if kind == ANGLE:
            return ((180 if axis == "x" else 0) - value) % 360
        if kind == SIDE:
            return {"left": "right", "right": "left"}.get(value, value)
        return value

    return dict(changed(data, change))


def renamed(data: Data, name: Callable[[str], str]) -> Data:
    """Give everything another id."""

    def change(kind: str, value: Any) -> Any:
        return name(value) if kind in (RUN, HEAD, OTHER_ID) else value

    return dict(changed(data, change))


def backwards(data: Data) -> Callable[[str], str]:
    """Give names under which all ids of a scenario sort the other way round."""
    known = {item["id"] for key in LISTS for item in data.get(key, [])}
    order = sorted(known, reverse=True)
    return {old: f"n{k:04d}" for k, old in enumerate(order)}.__getitem__


LISTS = ("runs", "heads", "obstructions", "ceilings", "keep_out")
UNORDERED = ("stock_lengths", "hose_lengths", "styles")
"""Lists in the rules of which the order says nothing."""


def reordered(data: Data, seed: int) -> Data:
    """Shuffle every list and every mapping of which the order says nothing."""
    rng = np.random.default_rng(seed)
    out = copy.deepcopy(data)

    def shuffled(values: list[Any]) -> list[Any]:
        return [values[k] for k in rng.permutation(len(values))]

    for key in LISTS:
        if key in out:
            out[key] = shuffled(out[key])
    for key in UNORDERED:
        if out.get("rules", {}).get(key):
            out["rules"][key] = shuffled(out["rules"][key])
    pins = out.get("pins", {})
    for pin in pins.get("heads", {}).values():
        if pin.get("styles"):
            pin["styles"] = shuffled(pin["styles"])
    for pin in pins.get("runs", {}).values():
        for key in ("levels", "no_offset"):
            if isinstance(pin.get(key), list):
                pin[key] = shuffled(pin[key])
    for holder in (pins.get("heads", {}), pins.get("runs", {}), out):
        items = shuffled(list(holder.items()))
        holder.clear()
        holder.update(items)
    return out


def outlines_redrawn(data: Data, seed: int) -> Data:
    """Begin each polygon at another corner, some the other way round, some closed by their first corner."""
    rng = np.random.default_rng(seed)
    out = copy.deepcopy(data)
    for key in ("obstructions", "ceilings", "keep_out"):
        for item in out.get(key, []):
            ring = item["polygon"]
            if ring[0] == ring[-1]:
                ring = ring[:-1]
            first = int(rng.integers(len(ring)))
            ring = ring[first:] + ring[:first]
            if rng.random() < 0.5:
                ring = ring[::-1]
            item["polygon"] = [*ring, ring[0]] if rng.random() < 0.3 else ring
    return out


def in_unit(data: Data, unit: str) -> Data:
    """Write every length in another unit; ``rules.tables`` stay in the table's own."""

    def change(kind: str, value: Any) -> Any:
        return nested(value, lambda mm: mm / MM[unit]) if kind in LENGTHS else value

    return {**changed(data, change), "units": unit}


def with_points_between(data: Data, seed: int, run: str | None = None) -> Data:
    """Put a point into the middle of straight legs of plans: into one of each run, or of one run."""
    rng = np.random.default_rng(seed)
    out = copy.deepcopy(data)
    for item in out["runs"]:
        if run is not None and item["id"] != run:
            continue
        plan = item["plan"]
        k = int(rng.integers(len(plan) - 1))
        share = float(rng.uniform(0.2, 0.8))
        between = [a + share * (b - a) for a, b in zip(plan[k], plan[k + 1], strict=True)]
        item["plan"] = [*plan[: k + 1], between, *plan[k + 1 :]]
    return out


def with_box(data: Data, seed: int) -> Data:
    """Put one more obstruction in: about a place on a run, or between one and a head, at about its level."""
    rng = np.random.default_rng(seed)
    run = data["runs"][int(rng.integers(len(data["runs"])))]
    k = int(rng.integers(len(run["plan"]) - 1))
    on, beyond = np.array(run["plan"][k]), np.array(run["plan"][k + 1])
    at = on + rng.uniform(0, 1) * (beyond - on)
    z = run["elevation"] + rng.uniform(-500, 100)
    if rng.random() < 0.5:
        head = data["heads"][int(rng.integers(len(data["heads"])))]["at"]
        share = rng.uniform(0.2, 0.9)
        at = at + share * (np.array(head[:2]) - at)
        z = run["elevation"] + share * (head[2] - run["elevation"]) - rng.uniform(0, 200)
    w, d = rng.uniform(40, 700, 2)
    x, y = at - (w / 2, d / 2)
    turn = rng.uniform(0, 2 * math.pi) if rng.random() < 0.3 else 0.0
    cos, sin = math.cos(turn), math.sin(turn)
    corners = [(0, 0), (w, 0), (w, d), (0, d)]
    box = {
        "id": "one more",
        "kind": str(rng.choice(["duct", "beam"])),
        "polygon": [
            [round(float(x + a * cos - b * sin), 1), round(float(y + a * sin + b * cos), 1)]
            for a, b in corners
        ],
        "elevations": [round(float(z), 1), round(float(z + rng.uniform(30, 500)), 1)],
    }
    out = copy.deepcopy(data)
    out["obstructions"] = [*out.get("obstructions", []), box]
    return out


def split_at_node(data: Data, run: str, station: float, pitch: float) -> Data:
    """Make two runs of one that is straight: the second is fed from the end of the first, at ``station``.

    Heads go to the part beside which they stand. ``pitch``: of the run, mm per m:
    a level is measured at a run's own supply end.
    """
    out = copy.deepcopy(data)
    first = next(item for item in out["runs"] if item["id"] == run)
    (x0, y0), (x1, y1) = first["plan"]
    length = math.hypot(x1 - x0, y1 - y0)
    along = ((x1 - x0) / length, (y1 - y0) / length)
    node = [x0 + station * along[0], y0 + station * along[1]]
    rise = pitch / 1000 * station
    second = {k: v for k, v in first.items() if k != "supply_elevation"}
    second |= {"id": f"{run} beyond", "plan": [node, [x1, y1]], "supply": run}
    second["elevation"] = first["elevation"] + rise
    second["band"] = [level + rise for level in first["band"]]
    first["plan"] = [[x0, y0], node]
    out["runs"].append(second)
    for head in out["heads"]:
        beyond = (head["at"][0] - x0) * along[0] + (head["at"][1] - y0) * along[1] > station
        head["run"] = second["id"] if beyond else run
    return out
