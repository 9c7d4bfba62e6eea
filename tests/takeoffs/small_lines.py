"""One line and a head or two, with the lengths that a fitter adds up by hand.

Published numbers typed here, in inches, not taken from ``router.trade``:
ASME B16.3 class 150 centre to end (from memory, checked in part), ASME
B1.20.1 hand-tight engagement plus wrench make-up (from memory), the shortest
nipple with a shoulder (assumed: 2 in. at 1 in. and 1-1/4 in.), ASME B36.10M
outside diameters.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from router.building.graphs import build_graph
from router.building.prepare import prepare
from router.building.route import route_scenario
from router.check.referee import check_route
from router.scenario import parse_scenario
from router.takeoffs.propose import propose_heads

if TYPE_CHECKING:
    from router.route.model import Route
    from router.scenario.model import Scenario
    from router.takeoffs.candidate import Candidate

IN = 25.4
TEE_RUN, TEE_OUTLET = 1.58, 1.67  # 1-1/4 x 1-1/4 x 1 tee; the reducing elbow and cross have the same pair
ELBOW = TEE_FULL = 1.50  # 1 in.
REDUCER = 1.69  # 1 x 1/2 reducing coupling, whole length
NIPPLE, ENGAGED, ENGAGED_32 = 2.0, 0.661, 0.681
OD_25, OD_32 = 1.315, 1.660
ARM_RADIUS, RUN_RADIUS = OD_25 / 2 * IN, OD_32 / 2 * IN


def made_up(a: float, b: float) -> float:
    """Centre to centre in mm of two 1 in. fittings on the shortest nipple, from inches."""
    return (a + b + NIPPLE - 2 * ENGAGED) * IN


RISE = made_up(TEE_OUTLET, ELBOW)  # 97.74
ARM = made_up(ELBOW, ELBOW)  # 93.42
FIRST = made_up(TEE_OUTLET, ELBOW)  # 97.74, side outlet to elbow
DROP = made_up(ELBOW, REDUCER)  # 98.25
STRAIGHT = made_up(TEE_OUTLET, REDUCER)  # 102.57
BIT = 0.15
"""mm. Beyond the tolerances of generator (0.05) and referee (0.1)."""
Z = 3000.0


def line(
    style: str, *heads: tuple[float, float, float], head: dict[str, Any] | None = None, **more: Any
) -> Scenario:
    """Give one level 1-1/4 in. line along x at 3000, fixed; one style; outlets at the heads' stations."""
    rules = {
        "styles": [style],
        "slide": 0.0,
        "allow_cross": style == "level_cross",
        "allow_flexible": style == "flexible_drop",
        **more.pop("rules", {}),
    }
    run = {"id": "B", "plan": [[0, 0], [3000, 0]], "elevation": Z, "band": [Z, Z], "size": 32}
    run.update(more.pop("run", {}))
    kind = "upright" if style == "sprig" else "sidewall" if style == "sidewall" else "pendent"
    return parse_scenario(
        {
            "name": style,
            "runs": [run],
            "heads": [
                {"id": f"H{i + 1}", "at": list(at), "kind": kind, **(head or {})}
                for i, at in enumerate(heads)
            ],
            "rules": rules,
            **more,
        },
        "by hand",
    )


def box(name: str, x: tuple[float, float], y: tuple[float, float], z: tuple[float, float]) -> dict[str, Any]:
    return {
        "id": name,
        "polygon": [[x[0], y[0]], [x[1], y[0]], [x[1], y[1]], [x[0], y[1]]],
        "elevations": list(z),
    }


def candidates(scenario: Scenario) -> list[Candidate]:
    """What is proposed for the heads of the first run."""
    prepared = prepare(scenario)
    return list(propose_heads(prepared.frames[0], scenario, prepared.solids, np.zeros(0)))


def feeding(scenario: Scenario) -> list[Candidate]:
    """What is proposed for the children of the first run."""
    prepared = prepare(scenario)
    return [c for c in build_graph(prepared, prepared.frames[0]).candidates if c.feeds]


def clean_route(scenario: Scenario) -> Route:
    """Route it; whatever it serves must satisfy the referee."""
    route, _ = route_scenario(scenario)
    broken = [f.text for f in check_route(scenario, route).breaks if f.rule != "served"]
    assert not broken, broken
    return route


def works(scenario: Scenario) -> tuple[Candidate, Route]:
    """All heads are served, cleanly, by the first run; gives the one candidate that was used."""
    route = clean_route(scenario)
    assert route.counts.served == len(scenario.heads), candidates(scenario)
    taken = route.takeoffs[0]
    found = [
        c for c in candidates(scenario)
        if abs(c.station - taken.station) < 0.01 and c.style == taken.style and c.side == taken.side
        and abs(c.arm_z - (taken.arm_level or 0)) < 0.01
    ]  # fmt: skip
    assert found, (taken, candidates(scenario))
    return found[0], route


def fails(scenario: Scenario) -> None:
    """Nothing is proposed, and the route serves nobody."""
    assert candidates(scenario) == [], candidates(scenario)
    assert clean_route(scenario).counts.served == 0


def offered(scenario: Scenario) -> Candidate:
    """Something is proposed; the first of it."""
    found = candidates(scenario)
    assert found, scenario.name
    return found[0]


def refused(scenario: Scenario) -> None:
    """Nothing is proposed."""
    assert candidates(scenario) == []
