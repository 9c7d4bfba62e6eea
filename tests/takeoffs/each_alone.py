"""Random lines whose candidates are laid out and judged one by one: none may be refused.

Invented scenarios; what is asked of them is the referee's, which measures
finished pieces and shares no geometry with what proposes them.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from router.building import graphs
from router.building.graphs import build_graph
from router.building.prepare import prepare
from router.building.route import route_scenario
from router.check.referee import check_route
from router.scenario import parse_scenario
from router.takeoffs.propose import propose_heads

if TYPE_CHECKING:
    from collections.abc import Iterator

    import pytest

    from router.scenario.model import Scenario
    from router.takeoffs.candidates import Candidates

Data = dict[str, Any]


def refusals(
    scenario: Scenario, most: int, seed: int, patch: pytest.MonkeyPatch
) -> Iterator[tuple[str, list[str]]]:
    """Style of some candidates of the line's heads, each as the only one there is, and what is refused."""
    real, found = propose_heads, [0]

    def counted(*given: Any) -> Candidates:
        every = real(*given)
        found[0] = len(every)
        return every

    with patch.context() as now:
        now.setattr(graphs, "propose_heads", counted)
        prepared = prepare(scenario)
        build_graph(prepared, prepared.frames[0])
    for k in sorted(np.random.default_rng(seed).permutation(found[0])[:most].tolist()):

        def only(*given: Any, k: int = k) -> Candidates:
            every = real(*given)
            return every.take(np.array([k])) if k < len(every) else every

        with patch.context() as now:
            now.setattr(graphs, "propose_heads", only)
            route, _ = route_scenario(scenario)
        broken = [f.text for f in check_route(scenario, route).breaks if f.rule != "served"]
        yield (route.takeoffs[0].style if route.takeoffs else ""), broken


class Made:
    """A line somewhere in plan, turned anyhow, and what may be chosen for it."""

    def __init__(self, seed: int) -> None:
        self.rng = np.random.default_rng(seed)
        turn = float(self.rng.uniform(0, 360))
        self.turn, self.seed = turn, seed
        self.along = np.array([np.cos(np.radians(turn)), np.sin(np.radians(turn))])

    def place(self, x: float, y: float) -> list[float]:
        """Give the place in plan that is ``x`` along the line and ``y`` left of it, as a file would."""
        (c, s) = self.along
        return [round(float(c * x - s * y), 3), round(float(s * x + c * y), 3)]

    def one_of(self, *values: Any) -> Any:
        return values[int(self.rng.integers(len(values)))]

    def between(self, low: float, high: float) -> float:
        return float(self.rng.uniform(low, high))

    def scenario(self, plan: list[list[float]], heads: list[Data], rules: Data) -> Scenario:
        joining = self.one_of("threaded", "threaded", "grooved", "welded")
        run = {
            "id": "B", "plan": plan, "elevation": 3000, "band": [3000, 3000], "joining": joining,
            "size": self.one_of(25, 32, 40, 65),
        }  # fmt: skip
        system = {"kind": self.one_of("wet", "dry"), "standard": self.one_of("inch", "metric")}
        if self.rng.random() < 0.4:
            system["pitch_branch"] = self.one_of(2.0, 4.0, 10.0, 40.0)
        common = {
            "piece_clearance": self.one_of(25.0, self.between(0, 120), self.between(60, 120)),
            "arm_size": self.one_of(20, 25),
            "square_tolerance_deg": self.one_of(3.0, self.between(0.5, 5.0)),
        }
        data = {"name": f"{self.seed}", "system": system, "runs": [run], "heads": heads}
        return parse_scenario({**data, "rules": common | rules}, "made")


def sidewall(seed: int) -> Scenario:
    """One sidewall anywhere beside a line, which may have a bend, facing anywhere."""
    made = Made(seed)
    plan = [made.place(0, 0), made.place(3000, 0)]
    if made.rng.random() < 0.5:
        bend = np.radians(made.one_of(90.0, -90.0, 45.0, -45.0))
        plan.append(made.place(3000 + 2000 * np.cos(bend), 2000 * np.sin(bend)))
    y = made.one_of(1, -1) * made.one_of(made.between(0, 250), made.between(0, 130), made.between(50, 900))
    rise = made.one_of(0.0, made.between(-400, 400), made.between(-120, -90), made.between(90, 120))
    facing = (
        made.turn + made.one_of(0, 90, 180, 270, made.between(0, 360)) + made.one_of(0, made.between(-3, 3))
    )
    head = {
        "id": "H", "at": [*made.place(made.between(200, 3300), y), 3000 + rise], "kind": "sidewall",
        "facing": facing % 360, "dry": made.one_of(True, False, False),
        "shift": made.one_of(0.0, 0.0, made.between(10, 150)), "thread": made.one_of(15, 20),
    }  # fmt: skip
    rules = {"styles": ["sidewall"], "slide": made.one_of(0.0, 120.0), "alignment": made.one_of(3.0, 150.0)}
    if made.rng.random() < 0.5:
        rules["piece_clearance"] = made.between(60, 120)
    return made.scenario(plan, [head], rules)


def off_the_line(seed: int) -> Scenario:
    """One or two heads near a line, and an alignment of up to 200 mm."""
    made = Made(seed)
    within = made.one_of(3.0, 20.0, made.between(0, 200), made.between(0, 200))
    kind, side = made.one_of("pendent", "upright"), made.one_of(1, -1)
    heads: list[Data] = []
    for k in range(made.one_of(1, 2)):
        x = 1500 + made.one_of(0.0, made.between(-within, within), made.between(-300, 300))
        y = made.one_of(made.between(0, within), made.between(0, 250), made.between(50, 900))
        z = 3000 + (1 if kind == "upright" else -1) * made.one_of(
            made.between(-400, 500), made.between(50, 200)
        )
        heads.append(
            {"id": f"H{k}", "at": [*made.place(x, side * y), z], "kind": kind,
             "dry": made.one_of(True, *[False] * 4), "shift": made.one_of(made.between(10, 150), *[0.0] * 4)}
        )  # fmt: skip
        side = -side
    rules = {
        "slide": made.one_of(0.0, 120.0, 300.0), "station_step": 50.0, "alignment": within, "rise": 800.0,
        "allow_cross": made.one_of(True, False), "allow_flexible": made.one_of(True, False, False),
    }  # fmt: skip
    plan = [made.place(0, 0), made.place(3000, 0)]
    return made.scenario(plan, heads, rules)
