"""What stands around heads that are not served: their run, what feeds it, neighbours, obstructions."""

from __future__ import annotations

from typing import TYPE_CHECKING, TypeVar

import numpy as np
import shapely

if TYPE_CHECKING:
    from router.explain.part import Setting
    from router.scenario.model import Head, KeepOut, Obstruction, Run, Scenario

Place = TypeVar("Place", "Obstruction", "KeepOut")

NEAREST = 10
"""So many obstructions are told apart; all others stand together as one thing."""
NEAREST_ZONES = 6
"""So many keep-out zones are told apart."""
NEIGHBOURS = 6
"""So many other heads of the line are told apart."""


def name_of(o: Obstruction) -> str:
    """Give an obstruction's id with what it is."""
    return o.id if o.kind.lower() in o.id.lower() else f"{o.kind} {o.id}"


def by_distance(every: list[Place], shape: shapely.Geometry) -> list[Place]:
    """Sort what has a polygon by how near it is to a shape in plan."""
    away = [(shapely.Polygon(o.polygon).distance(shape), n) for n, o in enumerate(every)]
    return [every[n] for _, n in sorted(away)]


class Around:
    """What stands around some heads and their run. ``every``: all runs of their trees."""

    def __init__(
        self, setting: Setting, scenario: Scenario, run: str, heads: list[str], every: list[Run]
    ) -> None:
        self.setting, self.scenario, self.run, self.heads = setting, scenario, run, heads
        self.every = every
        self.runs: dict[str, Run] = {r.id: r for r in scenario.runs}
        self.targets: list[Head] = [h for h in scenario.heads if h.id in heads]
        self.chain = [run]
        while self.runs[self.chain[-1]].supply is not None:
            self.chain.append(str(self.runs[self.chain[-1]].supply))
        way = self._way()
        self.obstructions: list[Obstruction] = by_distance(scenario.obstructions, way)
        self.zones: list[KeepOut] = by_distance(scenario.keep_out, way)

    def _way(self) -> shapely.Geometry:
        """Give the way from the heads to their run and its start, in plan."""
        line = shapely.LineString(self.runs[self.run].plan)
        ways = [
            shapely.LineString([h.at[:2], line.interpolate(line.project(shapely.Point(h.at[:2]))).coords[0]])
            for h in self.targets
        ]
        start = shapely.Point(self.runs[self.run].plan[0])
        return shapely.union_all([*ways, start])

    def neighbours(self) -> list[str]:
        """Give the other heads of the same run, nearest first."""
        mine = np.array([h.at[:2] for h in self.targets])
        others = [
            (float(np.hypot(*(np.array(h.at[:2]) - mine).T).min()), h.id)
            for h in self.scenario.heads
            if h.id not in self.heads and self.setting.run_of[h.id] == self.run
        ]
        return [h for _, h in sorted(others)]

    def siblings(self) -> list[str]:
        """Give the runs that leave the run or one that feeds it, apart from these."""
        return [r.id for r in self.scenario.runs if r.supply in self.chain and r.id not in self.chain]

    def below(self, run: str) -> set[str]:
        """Return a run and all runs that it feeds."""
        out = {run}
        while True:
            more = {r.id for r in self.scenario.runs if r.supply in out} - out
            if not more:
                return out
            out |= more

    def band(self, run: str) -> tuple[float, float]:
        """Return the lowest and the highest level of a run."""
        r = self.runs[run]
        return r.band if r.band is not None else (r.elevation - 300.0, r.elevation + 300.0)
