"""Scenarios and what may happen to them after they were routed."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from router.scenario import ScenarioError, parse_scenario
from router.scenario.write import scenario_data

if TYPE_CHECKING:
    from router.route.model import Route
    from router.scenario.model import Scenario


def changed(scenario: Scenario, seed: int) -> Scenario | None:
    """The same scenario after something was moved, added or taken away; ``None`` if the reader refuses it."""
    rng = np.random.default_rng(seed)
    data: dict[str, Any] = scenario_data(scenario)
    what = str(rng.choice(["move", "move", "add", "drop", "head", "new head", "no head", "line", "band"]))
    beams = data.get("obstructions", [])
    heads, runs = data["heads"], data["runs"]
    if what == "move" and beams:
        beam = beams[int(rng.integers(len(beams)))]
        dx, dz = float(rng.uniform(-300, 300)), float(rng.choice([0, rng.uniform(-150, 150)]))
        beam["polygon"] = [[x + dx, y] for x, y in beam["polygon"]]
        beam["elevations"] = [z + dz for z in beam["elevations"]]
    elif what == "drop" and beams:
        beams.pop(int(rng.integers(len(beams))))
    elif what == "head":
        head = heads[int(rng.integers(len(heads)))]
        x, y, z = head["at"]
        head["at"] = [x + float(rng.uniform(-200, 200)), y, z]
    elif what == "new head":
        x, y, z = heads[int(rng.integers(len(heads)))]["at"]
        more = {**heads[0], "id": "new", "at": [x + float(rng.uniform(-500, 500)), -y, z]}
        heads.append(more)
    elif what == "no head" and len(heads) > 1:
        heads.pop(int(rng.integers(len(heads))))
    elif what == "line":
        for run in runs:
            run["plan"] = [[x, y + 40.0] for x, y in run["plan"]]
    elif what == "band":
        run = runs[int(rng.integers(len(runs)))]
        low, high = run.get("band", [run["elevation"] - 300, run["elevation"] + 300])
        run["band"] = [low + float(rng.uniform(0, run["elevation"] - low)), high]
    else:
        run = runs[int(rng.integers(len(runs)))]
        (x0, y0), (x1, y1) = run["plan"][0], run["plan"][-1]
        t = float(rng.uniform(0.1, 0.9))
        x, y, z = x0 + t * (x1 - x0), y0 + t * (y1 - y0), run["elevation"] + float(rng.uniform(-120, 120))
        beams.append(
            {"id": "added", "kind": "duct", "elevations": [z, z + float(rng.uniform(40, 200))],
             "polygon": [[x - 60, y - 400], [x + 60, y - 400], [x + 60, y + 400], [x - 60, y + 400]]}
        )  # fmt: skip
        data["obstructions"] = beams
    try:
        return parse_scenario(data, "changed")
    except ScenarioError:
        return None


def parts(route: Route) -> list[Any]:
    """Pieces and fittings, whatever their ids."""
    pieces = [(p.kind, p.run, p.start, p.end, p.dn) for p in route.pieces]
    fittings = [(f.kind, f.run, f.at, tuple(f.sizes)) for f in route.fittings]
    return [sorted(pieces), sorted(fittings)]
