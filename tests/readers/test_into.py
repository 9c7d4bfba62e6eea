"""Another state of a building goes into a scenario only where both lie in the same place."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from router.readers.drawn import Drawn, DrawnSolid
from router.readers.into import into
from router.scenario import ScenarioError, read_scenario

SCENARIO = Path(__file__).parents[2] / "scenarios" / "minimal.json"


def test_what_was_moved_by_its_own_middle_is_refused() -> None:
    """The middle of another state is another one: its ducts would lie beside where they are."""
    base = read_scenario(SCENARIO)
    x, y, z = base.heads[0].at
    box = [(x + 500, y), (x + 900, y), (x + 900, y + 400), (x + 500, y + 400)]
    drawn = Drawn("ducts", solids=[DrawnSolid("D", "duct", box, z + 300, z + 500)])
    assert "D" in [each.id for each in into(base, drawn).scenario.obstructions]
    with pytest.raises(ScenarioError, match="origin in the mapping expected"):
        into(base, replace(drawn, shift=(512_000_000.0, 5_401_000_000.0, 0.0)))
