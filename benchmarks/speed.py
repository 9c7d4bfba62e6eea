"""How long routes take, by size: lines, a floor, a large main, a tower of floors.

    python benchmarks/speed.py [--tower]

Seconds are medians over five lines (seeds) after one to warm up, in one process
but for the tower (100 floors of 120 heads, 2 processes). They mean something
only beside another version's on the same machine at the same time; the values
and states beside them must not change.
"""

from __future__ import annotations

import resource
import statistics
import sys
import time
from typing import TYPE_CHECKING

from made_floors import floor, line

from router.building.route import route_scenario

if TYPE_CHECKING:
    from router.route.model import Route
    from router.scenario.model import Scenario


def timed(scenario: Scenario, processes: int = 1) -> tuple[float, float, Route]:
    """Give (wall seconds, seconds of processor in this process, route)."""
    wall, cpu = time.perf_counter(), time.process_time()
    route, _ = route_scenario(scenario, processes=processes)
    return time.perf_counter() - wall, time.process_time() - cpu, route


def show(name: str, scenarios: list[Scenario], processes: int = 1) -> None:
    results = [timed(s, processes) for s in scenarios]
    wall, cpu = (statistics.median(r[n] for r in results) for n in (0, 1))
    heads = len(scenarios[0].heads)
    values = sum(r[2].objective.value for r in results)
    states = " ".join(sorted({r[2].status for r in results}))
    most = max(resource.getrusage(who).ru_maxrss for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN))
    print(
        f"{name:24} {heads:6} heads {wall:8.3f} s {cpu:8.3f} s here {1000 * wall / heads:6.2f} ms/head "
        f"{most // 1024:5} MB  value {values:,.3f} {states}",
        flush=True,
    )


def main() -> None:
    timed(line(24, 1))
    for heads in (12, 24, 48):
        show(f"line of {heads}", [line(heads, seed) for seed in range(5)])
    show("floor of 10 x 12", [floor(10, 12)])
    show("main of 100 x 12", [floor(100, 12)])
    if "--tower" in sys.argv:
        show("tower of 100 x 10 x 12", [floor(10, 12, floors=100)], 2)


if __name__ == "__main__":
    main()
