"""Scenarios and their routes to be written as IFC: ours, other ways to build them, and made ones."""

from __future__ import annotations

import json
from functools import cache
from math import cos, radians, sin
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from router.building.route import route_scenario
from router.deliver.ifc import route_ifc, scenario_ifc
from router.infer import infer_route
from router.readers.segments import read_segments
from router.scenario import parse_scenario, read_scenario

if TYPE_CHECKING:
    from router.route.model import Route
    from router.scenario.model import Scenario

SCENARIOS = Path(__file__).parents[3] / "scenarios"
OURS: Final = tuple(
    path.relative_to(SCENARIOS).with_suffix("").as_posix()
    for path in sorted([*SCENARIOS.glob("*.json"), *SCENARIOS.glob("variants/*.json")])
)
OTHERWISE: Final[dict[str, tuple[str, dict[str, Any], dict[str, Any]]]] = {
    "reading room, welded": ("reading_room", {"joining": "welded"}, {}),
    "reading room, grooved": ("reading_room", {"joining": "grooved"}, {}),
    "minimal, butt weld": ("minimal", {"joining": "butt_weld"}, {}),
    "minimal, hoses": ("minimal", {}, {"allow_flexible": True, "styles": ["flexible_drop"]}),
    "minimal, raw water": ("minimal", {"water": "raw"}, {}),
    "minimal, nothing served": ("minimal", {}, {"reach": 1.0, "slide": 0.0, "styles": ["sprig"]}),
    "minimal, under the line only": ("minimal", {}, {"styles": ["straight_drop"], "slide": 0.0}),
    "clinic corridor, crosses": (
        "clinic_corridor",
        {"water": "clean"},
        {"allow_cross": True, "styles": ["level_cross", "lowered_arm", "side_arm"]},
    ),
}
"""Name -> scenario, changes of its system, changes of its rules: what our scenarios leave out."""
AWKWARD: Final = "Halle \u6f22 \U0001f600 \"quoted\" 'n' \\ back; #1=X; next line"
MADE: Final = ("odd names", "shapes 1", "shapes 2", "inches", "one head", "no name", "drawn")


def odd_names() -> Scenario:
    """Names that a text file could stumble over, and a sidewall head."""
    heads = [
        {"id": "H'1 \u00e9", "at": [1500.0, 400.0, 2700.0], "run": "run 'a'"},
        {"id": 'H"2"\\', "at": [3500.0, 900.0, 2700.0], "kind": "sidewall", "facing": 30.0},
        {"id": "#3=($,*);" + "x" * 190, "at": [5200.0, -500.0, 2700.0]},
    ]
    solid = {
        "id": "\u6881 1; '",
        "kind": "Fa\u00e7ade thing",
        "polygon": [[2000, -900], [2200, -900], [2100, 900]],
        "elevations": [3200.5, 3500.25],
    }
    return made(
        AWKWARD, heads, [solid], story="line 1\nline '2'", run={"id": "run 'a'"},
        ceilings=[{"id": "c'1", "polygon": [[0, -1000], [6000, -1000], [6000, 1000]], "elevation": 2680.0}],
        keep_out=[{"id": "k 1", "polygon": [[0, 500], [300, 500], [300, 900]], "why": "door's \"swing\""}],
    )  # fmt: skip


def shapes(seed: int) -> Scenario:
    """A line among obstructions of any kind, angle and outline, many of them not convex."""
    rng = np.random.default_rng(seed)
    heads = [
        {"id": f"H{k}", "at": [1200.0 + 1800.0 * k, float(rng.choice([-700.0, 0.0, 650.0])), 2600.0]}
        for k in range(7)
    ]
    kinds = ("beam", "duct", "tray", "column", "pipe", "light", "slab", "wall", "cable drum", "obstruction")
    solids = []
    for k, kind in enumerate(kinds):
        ring = outline(rng, k)
        turn = radians(float(rng.uniform(0, 360)))
        x, y = 900.0 + 1300.0 * k, float(rng.choice([-1.0, 1.0]) * rng.uniform(900, 1400))
        corners = [[x + a * cos(turn) - b * sin(turn), y + a * sin(turn) + b * cos(turn)] for a, b in ring]
        low = float(rng.uniform(2700, 3200))
        solids.append({"id": f"O{k}", "kind": kind, "polygon": corners, "elevations": [low, low + 250.0]})
    return made(f"shapes {seed}", heads, solids)


def outline(rng: np.random.Generator, k: int) -> list[tuple[float, float]]:
    """A rectangle, an L, a U or a star, about its origin."""
    a, b = float(rng.uniform(150, 500)), float(rng.uniform(100, 300))
    if k % 4 == 0:
        return [(-a, -b), (a, -b), (a, b), (-a, b)]
    if k % 4 == 1:
        return [(-a, -b), (a, -b), (a, -b / 3), (-a / 3, -b / 3), (-a / 3, b), (-a, b)]
    if k % 4 == 2:
        return [
            (-a, -b),
            (a, -b),
            (a, b),
            (a / 2, b),
            (a / 2, -b / 2),
            (-a / 2, -b / 2),
            (-a / 2, b),
            (-a, b),
        ]
    spokes = [radians(36.0 * n) for n in range(10)]
    return [
        ((a if n % 2 else a / 3) * cos(t), (a if n % 2 else a / 3) * sin(t)) for n, t in enumerate(spokes)
    ]


def inches() -> Scenario:
    """A scenario in inches, with a dimension that is no round number of mm."""
    return parse_scenario(
        {
            "name": "inches",
            "units": "in",
            "runs": [
                {"id": "B", "plan": [[0, 0], [120, 0], [120, 90.37]], "elevation": 120.125, "least_size": 32}
            ],
            "heads": [
                {"id": "H1", "at": [30.3, 20, 106]},
                {"id": "H2", "at": [121, 80, 106], "thread": "3/4"},
            ],
            "obstructions": [
                {"id": "O", "polygon": [[50, -9], [58.1, -9], [58.1, 9]], "elevations": [118, 130]}
            ],
        },
        "inches",
    )


def plugs() -> Scenario:
    """Dry heads in plugged tees: on arms of all styles, beside a nipple, and at the run's end."""
    dry = {"dry": True, "thread": 25}
    heads = [
        {"id": "H1", "at": [1200.0, 700.0, 2600.0], **dry},
        {"id": "H2", "at": [2400.0, -650.0, 2600.0], "facing": 270.0, "kind": "sidewall", **dry},
        {"id": "H3", "at": [3600.0, 500.0, 3400.0], "kind": "upright", **dry},
        {"id": "H4", "at": [4800.0, 600.0, 2700.0], "facing": 30.0, "kind": "sidewall", **dry},
        {"id": "H5", "at": [6000.0, 0.0, 2600.0], **dry},
    ]
    solids = [
        {"id": f"O{k}", "kind": kind, "polygon": outline(np.random.default_rng(k), k),
         "elevations": [1500.0, 1540.0]}
        for k, kind in enumerate(("beam", "duct", "tray", "column"))
    ]  # fmt: skip
    return made(
        "plugs", heads, solids, {"size": 32, "plan": [[0, 0], [6000, 0]]},
        system={"kind": "dry", "heated": False, "pitch_branch": 0},
    )  # fmt: skip


def made(name: str, heads: Any, solids: Any, run: Any = None, **more: Any) -> Scenario:
    """Give a checked scenario of one line along x."""
    end = max(head["at"][0] for head in heads) + 400.0
    line = {"id": "L", "plan": [[0, 0], [end, 0]], "elevation": 3050.0, "kind": "branch", **(run or {})}
    data = {"name": name, "runs": [line], "heads": heads, "obstructions": solids, **more}
    return parse_scenario(json.loads(json.dumps(data)), name)


@cache
def given(name: str) -> Scenario:
    """Give a scenario by the name of its case."""
    if name == "odd names":
        return odd_names()
    if name.startswith("shapes "):
        return shapes(int(name.split()[1]))
    if name == "inches":
        return inches()
    if name == "plugs":
        return plugs()
    if name == "no name":
        return made("", [{"id": "H", "at": [900.0, 300.0, 2600.0]}], [])
    if name == "one head":
        return made("one head", [{"id": "H", "at": [900.0, 300.0, 2600.0]}], [])
    if name == "drawn":
        return given("reading_room")
    base, system, rules = OTHERWISE.get(name, (name, {}, {}))
    scenario = read_scenario(SCENARIOS / f"{base}.json")
    return scenario.model_copy(
        update={
            "system": scenario.system.model_copy(update=system),
            "rules": scenario.rules.model_copy(update=rules),
        }
    )


@cache
def routed(name: str) -> Route:
    """Give the route of a case."""
    if name == "drawn":
        segments = read_segments(SCENARIOS / "reading_room_drawn.csv")
        return infer_route(given(name), segments).route
    return route_scenario(given(name))[0]


@cache
def scenario_text(name: str) -> str:
    """Give the file of a case's scenario."""
    return scenario_ifc(given(name))


@cache
def route_text(name: str) -> str:
    """Give the file of a case's route."""
    return route_ifc(given(name), routed(name))
