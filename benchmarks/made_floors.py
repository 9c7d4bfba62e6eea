"""Lines and floors made for trying: regular heads, beams, ducts and trays in between.

Densities, shapes of floor and whole buildings are in :mod:`made_buildings`.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

from router.scenario import parse_scenario

if TYPE_CHECKING:
    from router.scenario.model import Scenario

SPACING = 3000.0
"""mm between heads along a line."""
LINES_APART = 3600.0
"""mm between lines along their main."""
LEVEL = 3200.0
"""Nominal level of the lowest floor's lines, mm."""
STOREY = 4000.0
"""mm from floor to floor."""


class Density(NamedTuple):
    """Obstructions for each head; how far their levels spread; how far heads lie off their line, mm."""

    per_head: float
    spread: float = 120.0
    lateral: float = 1400.0


DENSITY = {
    "none": Density(0.0),
    "light": Density(0.25),
    "medium": Density(0.5),
    "dense": Density(1.0, 220.0, 1800.0),
    "crowded": Density(2.0, 320.0, 1800.0),
    "crossing": Density(0.5, 120.0, 2600.0),
}
"""Where it is crowded hardly a line can keep one level. ``crossing``: medium, but heads lie nearer to the
next line than to their own, so that arms of neighbours cross."""

Records = list[dict[str, Any]]


def box(name: str, kind: str, x: float, y: float, w: float, d: float, low: float, high: float) -> Any:
    """Give an obstruction with its sides along x and y."""
    ring = [[x, y], [x + w, y], [x + w, y + d], [x, y + d]]
    return {
        "id": name,
        "kind": kind,
        "polygon": [[round(v, 1) for v in p] for p in ring],
        "elevations": [round(low, 1), round(high, 1)],
    }


def bay(
    rng: np.random.Generator,
    name: str,
    heads: int,
    x0: float,
    y: float,
    level: float,
    density: str = "medium",
) -> tuple[Records, Records]:
    """Heads and obstructions of one line that runs in +x from (x0, y).

    A third of the obstructions cross the line at its level, a third run beside
    it, a third lie off to one side.
    """
    much = DENSITY[density]
    hs: Records = []
    obs: Records = []
    for h in range(heads):
        x = x0 + 1500.0 + SPACING * h + float(rng.uniform(-200, 200))
        lateral = float(rng.choice([-1.0, 1.0])) * float(rng.uniform(250, much.lateral))
        if rng.random() < 0.2:
            lateral = 0.0
        hs.append(
            {"id": f"{name}-{h}", "at": [round(x, 1), round(y + lateral, 1), level - 500.0], "run": name}
        )
    for o in range(int(heads * much.per_head)):
        x = x0 + 3000.0 + SPACING / much.per_head * o + float(rng.uniform(-900, 900))
        kind = o % 3
        low = level + float(rng.uniform(-much.spread, much.spread))
        if kind == 0:
            obs.append(box(f"{name}-B{o}", "beam", x, y - 1500, 200, 3000, low, low + 300))
        elif kind == 1:
            side = float(rng.choice([-900.0, 300.0]))
            obs.append(box(f"{name}-D{o}", "duct", x, y + side, 2400, 500, low - 100, low + 250))
        else:
            side = float(rng.choice([-1400.0, 800.0]))
            obs.append(box(f"{name}-T{o}", "tray", x, y + side, 1800, 300, low - 50, low + 50))
    return hs, obs


def line(heads: int, seed: int = 0, density: str = "medium", rules: dict[str, Any] | None = None) -> Scenario:
    """One line of so many heads."""
    rng = np.random.default_rng(seed)
    hs, obs = bay(rng, "L", heads, 0.0, 0.0, LEVEL, density)
    runs = [{"id": "L", "plan": [[0, 0], [heads * SPACING + 500, 0]], "elevation": LEVEL, "kind": "branch"}]
    return made(f"line of {heads}", runs, hs, obs, rules)


def floor(lines: int, heads: int, seed: int = 0, *, floors: int = 1, density: str = "medium") -> Scenario:
    """``floors`` independent mains one above the other, each with so many lines of so many heads."""
    rng = np.random.default_rng(seed)
    runs: Records = []
    hs: Records = []
    obs: Records = []
    for f in range(floors):
        level = LEVEL + STOREY * f
        main = f"M{f}"
        end = 1500.0 + LINES_APART * (lines - 1)
        runs.append({"id": main, "plan": [[0, 0], [0, end + 5]], "elevation": level, "kind": "cross_main",
                     "size": 100})  # fmt: skip
        for n in range(lines):
            y = 1500.0 + LINES_APART * n
            name = f"F{f}L{n}"
            runs.append({"id": name, "plan": [[0, y], [heads * SPACING + 500, y]], "elevation": level,
                         "kind": "branch", "supply": main})  # fmt: skip
            more = bay(rng, name, heads, 0.0, y, level, density)
            hs += more[0]
            obs += more[1]
    return made(f"{floors} floors of {lines} x {heads}", runs, hs, obs)


def made(
    name: str, runs: Records, heads: Records, obstructions: Records, rules: dict[str, Any] | None = None
) -> Scenario:
    """Give the checked scenario."""
    data = {"name": name, "runs": runs, "heads": heads, "obstructions": obstructions, "rules": rules or {}}
    return parse_scenario(data, name)
