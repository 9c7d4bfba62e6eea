"""Another state of a building goes into a scenario only where both lie in the same place."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from shapely.geometry import Polygon

from router.deliver.dxf import scenario_dxf
from router.readers.drawn import Drawn, DrawnHead, DrawnSolid
from router.readers.dxf import read_dxf
from router.readers.into import into
from router.scenario import ScenarioError, read_scenario
from router.scenario.read import parse_scenario
from router.scenario.write import scenario_data

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


def test_a_new_duct_across_a_line_blocks_it() -> None:
    """The line was not drawn beside it: that no level of its band passes is what the search must say."""
    base = read_scenario(SCENARIO)
    box = [(2000.0, -3000.0), (2800.0, -3000.0), (2800.0, 3000.0), (2000.0, 3000.0)]
    made = into(base, Drawn("ducts", solids=[DrawnSolid("D", "duct", box, 2600.0, 3800.0)]))
    duct = next(each for each in made.scenario.obstructions if each.id == "D")
    assert Polygon(duct.polygon).equals(Polygon(box))
    assert duct.clearance is None


def test_a_head_that_became_another_one_is_another_one(tmp_path: Path) -> None:
    """A model or drawing that says kind and thread goes before the scenario; what it guesses does not."""
    pytest.importorskip("ezdxf")
    base = read_scenario(SCENARIO)
    first = base.heads[0]
    data = scenario_data(base)
    data["heads"][0] |= {"kind": "upright", "thread": 20}
    changed = parse_scenario(data, "changed")
    path = tmp_path / "changed.dxf"
    path.write_text(scenario_dxf(changed), encoding="utf-8")
    found = into(base, read_dxf(path)).scenario.heads[0]
    assert (found.id, found.kind, found.thread) == (first.id, "upright", 20)
    guessed = DrawnHead(first.id, first.at, "upright", 20)
    found = into(base, Drawn("guessed", [guessed])).scenario.heads[0]
    assert (found.kind, found.thread) == (first.kind, first.thread)
