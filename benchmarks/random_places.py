"""Where random scenarios have their heads and obstructions."""

from __future__ import annotations

from itertools import pairwise
from math import atan2, cos, degrees, hypot, sin
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from random import Random

Data = dict[str, Any]


def _along(run: Data, share: float) -> tuple[float, float, float]:
    """Give a point at a share of a run's length, and the direction there, radians."""
    plan = run["plan"]
    lengths = [hypot(b[0] - a[0], b[1] - a[1]) for a, b in pairwise(plan)]
    left = share * sum(lengths)
    for k, length in enumerate(lengths):
        if left <= length or k == len(lengths) - 1:
            a, b = plan[k], plan[k + 1]
            angle = atan2(b[1] - a[1], b[0] - a[0])
            return a[0] + left * cos(angle), a[1] + left * sin(angle), angle
        left -= length
    raise ValueError("a plan has points")


def head_of(rng: Random, run: Data, share: float, lateral: float, z: float) -> list[float]:
    """Give the place beside a run: at a share of its length, so far to its left."""
    x, y, angle = _along(run, share)
    return [round(x - lateral * sin(angle), 1), round(y + lateral * cos(angle), 1), round(z, 1)]


def heads_of(rng: Random, runs: list[Data], system: Data, dense: str, most: int) -> list[Data]:
    """Draw heads beside runs: mostly beside branch lines; opposite each other, under the line, in rows."""
    lines = [r for r in runs if r["kind"] == "branch"]
    far = {"sparse": 1600.0, "usual": 1000.0, "crowded": 600.0}[dense]
    kind_here = rng.choice(["pendent", "pendent", "upright", "mixed", "mixed"])
    if not system.get("heated", True) and rng.random() < 0.6:
        kind_here = "upright"
    if most > 10:
        per = rng.randint(3, max(most // len(lines), 4))
        shares = [(r, (h + rng.uniform(0.3, 0.7)) / per) for r in lines for h in range(per)][:most]
    else:
        count = rng.randint(2, most)
        on = [rng.choice(runs) if rng.random() < 0.1 else rng.choice(lines) for _ in range(count)]
        shares = [(run, rng.uniform(0.04, 1.0)) for run in on]
        if rng.random() < 0.75:  # in a row, each with its own share of the run
            of = {r["id"]: [h for h in range(count) if on[h] is r] for r in runs}
            for mine in of.values():
                for k, h in enumerate(mine):
                    shares[h] = on[h], 0.12 + 0.86 * (k + rng.uniform(0.35, 0.65)) / len(mine)
    heads: list[Data] = []
    named = rng.random() < 0.6
    before: tuple[Data, float, float] | None = None
    for h, (run, at) in enumerate(shares):
        share = at
        least = rng.choice([60, 200, 200, 200])
        lateral = 0.0 if rng.random() < 0.22 else rng.choice([-1, 1]) * rng.uniform(least, far)
        if before is not None and before[2] and rng.random() < 0.12:  # opposite the last one
            run, share = before[0], min(before[1] + rng.choice([0.0, 0.0, 0.02]), 1.0)
            lateral = -before[2] * rng.choice([1.0, 1.0, 0.7])
        if rng.random() < 0.02:
            lateral = rng.choice([2.0, 4.0, 40.0])  # nearly under the line
        before = (run, share, lateral)
        kind = kind_here
        if kind == "mixed":
            kind = rng.choice(["pendent", "pendent", "upright", "sidewall"])
        heads.append(_head(rng, f"H{h}", run, share, lateral, kind, system, named=named))
    return heads


def _head(
    rng: Random, name: str, run: Data, share: float, lateral: float, kind: str, system: Data, *, named: bool
) -> Data:
    level = run["elevation"]
    z = {
        "pendent": level - rng.uniform(rng.choice([120, 280, 280]), 700),
        "upright": level + rng.uniform(rng.choice([120, 280, 280]), 650),
        "sidewall": level - rng.choice([0.0, 150.0, 300.0]),
    }[kind]
    head: Data = {"id": name, "at": head_of(rng, run, share, lateral, z), "kind": kind}
    can_freeze = system["kind"] != "wet"
    if kind == "sidewall":
        _, _, angle = _along(run, share)
        away = 90 if lateral > 0 else 270
        turn = rng.choice([away, away, away, away, 0, 180, 360 - away, 45])
        head["facing"] = round((degrees(angle) + turn) % 360, 6)
    often_dry = 0.05 if not can_freeze else 0.5 if system.get("heated", True) else 0.9
    if kind != "upright" and rng.random() < often_dry:
        head["dry"] = True
        if rng.random() < 0.2:
            head["exposed"] = rng.choice([0.0, 100.0, 300.0])
    if named:
        head["run"] = run["id"]
    if rng.random() < 0.12:
        head["shift"] = rng.choice([20.0, 75.0, 150.0])
    if rng.random() < 0.15:
        head["thread"] = rng.choice([15, 20, 25])
    if rng.random() < 0.15:
        head["k_factor"] = rng.choice([2.8, 8.0, 11.2, 14.0])
    return head


def obstructions_of(rng: Random, runs: list[Data], heads: list[Data], dense: str, level: float) -> list[Data]:
    """Draw beams across runs, ducts and trays along them, columns beside them, and a bent one."""
    count = rng.choice({"sparse": [0, 0, 1], "usual": [0, 0, 1, 2], "crowded": [0, 1, 2, 3]}[dense])
    if len(heads) > 10:
        count = len(heads) // rng.choice([3, 5, 9])
    out: list[Data] = []
    for o in range(count):
        run = rng.choice(runs)
        kind = rng.choice(["beam", "beam", "duct", "tray", "column", "L"])
        x, y, angle = _along(run, rng.uniform(0.05, 0.95))
        low = run["elevation"] + rng.uniform(-200, 220)
        high = low + rng.uniform(50, 400)
        side = rng.uniform(-700, 500)
        a, b, c, d = {
            "beam": (0.0, rng.uniform(60, 300), -900.0, 900.0),
            "duct": (0.0, rng.uniform(400, 1500), side, side + rng.uniform(150, 500)),
            "tray": (0.0, rng.uniform(400, 1500), side, side + 200.0),
            "column": (0.0, 250.0, side, side + 250.0),
            "L": (0.0, 400.0, side, side + 400.0),
        }[kind]
        corners = [(a, c), (b, c), (b, d), (a, d)]
        if kind == "L":
            corners = [(a, c), (b, c), (b, c + 120), (a + 120, c + 120), (a + 120, d), (a, d)]
        if kind == "column":
            low, high = run["elevation"] - 2900.0, run["elevation"] + 600.0
        if kind == "beam" and rng.random() < 0.2:
            angle += rng.uniform(-0.7, 0.7)
        ring = [
            [round(x + u * cos(angle) - v * sin(angle), 1), round(y + u * sin(angle) + v * cos(angle), 1)]
            for u, v in corners
        ]
        made: Data = {
            "id": f"O{o}",
            "kind": "duct" if kind == "L" else kind,
            "polygon": ring,
            "elevations": [round(low, 1), round(high, 1)],
        }
        if rng.random() < 0.15:
            made["clearance"] = rng.choice([0.0, 5.0, 100.0])
        out.append(made)
    return out
