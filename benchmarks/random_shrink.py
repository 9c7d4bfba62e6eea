"""Make a scenario that fails smaller, as long as it fails in the same way."""

from __future__ import annotations

from copy import deepcopy
from typing import TYPE_CHECKING, Any

from made_random import valid

from router.scenario import ScenarioError, parse_scenario

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from router.scenario.model import Scenario

Data = dict[str, Any]
LISTS = ("heads", "obstructions", "keep_out", "ceilings", "runs")
PARTS = ("prices", "keep_out", "ceilings", "obstructions", "pins")
RECORDS = ("rules", "weights", "system")


def shrink(seed: int, examine: Callable[[Scenario, int], Data], wanted: str | None = None) -> Data:
    """Give the smallest scenario found that has a fault of the same kind.

    Parameters
    ----------
    seed
        Of a scenario that fails.
    examine
        Gives the record of a scenario, with its faults.
    wanted
        The kind of fault; default: the first.
    """
    drawn = valid(seed)
    kinds = [kind for kind, _ in examine(drawn.scenario, seed)["faults"]]
    if not kinds:
        return drawn.data
    wanted = kinds[0] if wanted is None else wanted
    data, found = drawn.data, True
    while found:
        found = False
        for less in smaller(data):
            try:
                scenario = parse_scenario(less, "less")
            except ScenarioError:
                continue
            if wanted in [kind for kind, _ in examine(scenario, seed)["faults"]]:
                data, found = less, True
                break
    return data


def smaller(data: Data) -> Iterator[Data]:
    """Yield the scenario with one thing less, large things first."""
    for name in PARTS:
        if data.get(name):
            yield {k: v for k, v in data.items() if k != name}
    for name in LISTS:
        for k in range(len(data.get(name, []))):
            if name in ("heads", "runs") and len(data[name]) == 1:
                continue
            less = deepcopy(data)
            gone = less[name].pop(k)
            if name == "runs":
                less["heads"] = [h for h in less["heads"] if h.get("run") != gone["id"]]
            pins = less.get("pins", {})
            for kind in ("heads", "runs"):
                pins.get(kind, {}).pop(gone["id"], None)
            yield less
    for name in RECORDS:
        for key in data.get(name, {}):
            less = deepcopy(data)
            del less[name][key]
            yield less
    for name in ("heads", "runs"):
        for k, item in enumerate(data[name]):
            for key in item:
                less = deepcopy(data)
                del less[name][k][key]
                yield less
