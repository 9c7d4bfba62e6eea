"""The scenarios that the tests transform: random ones that take little, and files of the project."""

from __future__ import annotations

from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

from metamorphic.made_mixed import mixed
from metamorphic.solved import solved
from router.scenario import read_scenario
from router.scenario.write import scenario_data

if TYPE_CHECKING:
    from metamorphic.solved import Outcome

SCENARIOS = Path(__file__).parents[2] / "scenarios"
SEEDS = (4, 16, 30, 42, 65, 94, 114, 141, 205, 220)
"""Of :func:`made_mixed.mixed`: each is routed and judged in less than 0.1 s, and serves something."""
FILES = ("minimal", "plant_corridor", "reading_room")
CASES = (*SEEDS, *FILES)


@cache
def _case(name: int | str) -> dict[str, Any]:
    if isinstance(name, str):
        return scenario_data(read_scenario(SCENARIOS / f"{name}.json"))
    found = mixed(name)
    assert found is not None, f"seed {name} is refused by the reader; choose another"
    return found


def case(name: int | str) -> dict[str, Any]:
    """Give a scenario as plain data, in mm; what an unserved head costs is said, so that all compare."""
    data = _case(name)
    return {**data, "weights": {**data.get("weights", {}), "unserved": 200_000.0}}


@cache
def base(name: int | str) -> Outcome:
    """Give what the scenario comes to as it stands."""
    found = solved(case(name))
    assert found is not None
    return found
