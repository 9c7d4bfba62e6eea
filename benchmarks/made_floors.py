"""Lines and floors of any size for measuring speed: heads either side, beams, ducts and trays in between."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from router.scenario import parse_scenario

if TYPE_CHECKING:
    from router.scenario.model import Scenario

SPACING = 3000.0
"""mm between heads along a line."""


def _box(
    name: str, kind: str, x: float, y: float, w: float, d: float, low: float, high: float
) -> dict[str, Any]:
    ring = [[x, y], [x + w, y], [x + w, y + d], [x, y + d]]
    return {
        "id": name,
        "kind": kind,
        "polygon": [[round(v, 1) for v in p] for p in ring],
        "elevations": [round(low, 1), round(high, 1)],
    }


def _bay(
    rng: np.random.Generator, name: str, heads: int, x0: float, y: float, level: float
) -> tuple[list[dict[str, Any]], list[dict[str, Any]]]:
    """Heads and obstructions of one line that runs in +x from (x0, y).

    Medium density: about one obstruction for two heads; a third of them cross
    the line at its level, a third run beside it, a third lie off to one side.
    """
    hs, obs = [], []
    for h in range(heads):
        x = x0 + 1500.0 + SPACING * h + float(rng.uniform(-200, 200))
        lateral = float(rng.choice([-1.0, 1.0])) * float(rng.uniform(250, 1400))
        if rng.random() < 0.2:
            lateral = 0.0
        hs.append(
            {"id": f"{name}-{h}", "at": [round(x, 1), round(y + lateral, 1), level - 500.0], "run": name}
        )
    for o in range(heads // 2):
        x = x0 + 3000.0 + 2 * SPACING * o + float(rng.uniform(-900, 900))
        kind = o % 3
        low = level + float(rng.uniform(-120, 120))
        if kind == 0:
            obs.append(_box(f"{name}-B{o}", "beam", x, y - 1500, 200, 3000, low, low + 300))
        elif kind == 1:
            side = float(rng.choice([-900.0, 300.0]))
            obs.append(_box(f"{name}-D{o}", "duct", x, y + side, 2400, 500, low - 100, low + 250))
        else:
            side = float(rng.choice([-1400.0, 800.0]))
            obs.append(_box(f"{name}-T{o}", "tray", x, y + side, 1800, 300, low - 50, low + 50))
    return hs, obs


def line(heads: int, seed: int = 0) -> Scenario:
    """One line of so many heads."""
    rng = np.random.default_rng(seed)
    hs, obs = _bay(rng, "L", heads, 0.0, 0.0, 3200.0)
    runs = [{"id": "L", "plan": [[0, 0], [heads * SPACING + 500, 0]], "elevation": 3200.0, "kind": "branch"}]
    return _made(f"line of {heads}", runs, hs, obs)


def floor(lines: int, heads: int, seed: int = 0, *, floors: int = 1) -> Scenario:
    """``floors`` independent mains one above the other, each with so many lines of so many heads."""
    rng = np.random.default_rng(seed)
    runs: list[dict[str, Any]] = []
    hs: list[dict[str, Any]] = []
    obs: list[dict[str, Any]] = []
    for f in range(floors):
        level = 3200.0 + 4000.0 * f
        main = f"M{f}"
        end = 1500.0 + 3600.0 * (lines - 1)
        runs.append({"id": main, "plan": [[0, 0], [0, end + 5]], "elevation": level, "kind": "cross_main",
                     "size": 100})  # fmt: skip
        for n in range(lines):
            y = 1500.0 + 3600.0 * n
            name = f"F{f}L{n}"
            runs.append({"id": name, "plan": [[0, y], [heads * SPACING + 500, y]], "elevation": level,
                         "kind": "branch", "supply": main})  # fmt: skip
            more = _bay(rng, name, heads, 0.0, y, level)
            hs += more[0]
            obs += more[1]
    return _made(f"{floors} floors of {lines} x {heads}", runs, hs, obs)


def _made(name: str, runs: list[Any], heads: list[Any], obstructions: list[Any]) -> Scenario:
    return parse_scenario({"name": name, "runs": runs, "heads": heads, "obstructions": obstructions}, name)
