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


def _row(guids: list[str], first: int = 0) -> Drawn:
    """Heads of one name, as a model gives them: ids with numbers behind, GlobalIds of their own."""
    x, y, z = read_scenario(SCENARIO).heads[0].at
    heads = [
        DrawnHead(
            f"H-{k}" if k > 1 else "H", (x + 10 * guids.index(g), y, z), "pendent", 15, given={"guid": g}
        )
        for k, g in enumerate(guids[first:], start=1)
    ]
    return Drawn("model", heads)


GUIDS = [f"0FoundInAModel0000000{k}" for k in range(4)]


def test_a_head_keeps_its_id_by_its_globalid() -> None:
    """GlobalId (ISO 16739) stays with an element; a number behind its name is only its place in the file."""
    base = into(read_scenario(SCENARIO), _row(GUIDS)).scenario
    data = scenario_data(base)
    data["heads"][2]["shift"] = 7
    data["pins"] = {"heads": {"H": {"side": "top"}, "H-3": {"side": "left"}}}
    result = into(parse_scenario(data, "pinned"), _row(GUIDS, 1))
    assert [(head.id, head.guid) for head in result.scenario.heads] == [
        (f"H-{k}", guid) for k, guid in enumerate(GUIDS[1:], start=2)
    ]
    assert result.scenario.heads[1].shift == 7
    assert set(result.scenario.pins.heads) == {"H-3"}
    assert "heads: 3 known (3 by GlobalId, 0 by id), 0 new, 1 gone (H)" in result.report.notes


def test_a_head_of_another_globalid_is_another_head() -> None:
    base = into(read_scenario(SCENARIO), _row(GUIDS[:3])).scenario
    drawn = _row([*GUIDS[:2], GUIDS[3]])
    result = into(base, drawn)
    assert [head.id for head in result.scenario.heads] == ["H", "H-2", "H-3-2"]
    assert "heads: 2 known (2 by GlobalId, 0 by id), 1 new (H-3-2), 1 gone (H-3)" in result.report.notes
    assert any(note.endswith("named anew: H-3 is H-3-2") for note in result.report.notes)


def test_a_model_whose_globalids_are_all_new_goes_by_ids() -> None:
    """As of a program that gives new ones whenever it writes: its heads are the same ones."""
    base = into(read_scenario(SCENARIO), _row(GUIDS)).scenario
    fresh = [guid.replace("Found", "Again") for guid in GUIDS]
    result = into(base, _row(fresh))
    assert [(head.id, head.guid) for head in result.scenario.heads] == [
        (head.id, guid) for head, guid in zip(base.heads, fresh, strict=True)
    ]
    assert "no GlobalId of the heads is known: all go by their ids" in result.report.notes
    assert "heads: 4 known (0 by GlobalId, 4 by id), 0 new, 0 gone" in result.report.notes


@pytest.mark.parametrize("old_knows", [True, False])
def test_where_one_knows_no_globalid_the_id_counts(old_knows: bool) -> None:
    with_guids = _row(GUIDS)
    bare = Drawn("table", [replace(head, given={}) for head in with_guids.heads])
    first, second = (with_guids, bare) if old_knows else (bare, with_guids)
    result = into(into(read_scenario(SCENARIO), first).scenario, second)
    assert [head.guid for head in result.scenario.heads] == GUIDS
    told = "4 known" if old_knows else "4 known (0 by GlobalId, 4 by id)"
    assert f"heads: {told}, 0 new, 0 gone" in result.report.notes


def test_nothing_found_is_said() -> None:
    drawn = Drawn("empty", hints={"heads": 'types seen: "SPK"'})
    notes = into(read_scenario(SCENARIO), drawn).report.notes
    assert notes == ['neither heads nor obstructions were found: all stays; types seen: "SPK"']


def test_parts_of_a_body_keep_their_ids_by_its_globalid() -> None:
    base = read_scenario(SCENARIO)
    x, y, z = base.heads[0].at

    def duct(name: str, guid: str, k: int) -> DrawnSolid:
        low = x + 500 + 300 * k
        box = [(low, y), (low + 200, y), (low + 200, y + 400), (low, y + 400)]
        return DrawnSolid(name, "duct", box, z + 300, z + 500, exact=True, guid=guid)

    first = [duct("D", GUIDS[0], 0), duct("D-2", GUIDS[1], 1), duct("D-2/2", GUIDS[1], 2)]
    scenario = into(base, Drawn("ducts", solids=first)).scenario
    ducts = [each for each in scenario.obstructions if each.kind == "duct"]
    assert [each.guid for each in ducts] == [GUIDS[0], GUIDS[1], GUIDS[1]]
    second = [duct("D", GUIDS[1], 1), duct("D/2", GUIDS[1], 2), duct("D/3", GUIDS[1], 3)]
    result = into(scenario, Drawn("ducts", solids=second))
    found = [each.id for each in result.scenario.obstructions if each.kind == "duct"]
    assert found == ["D-2", "D-2/2", "D-2/3"]
    told = "obstructions: 2 known (2 by GlobalId, 0 by id), 1 new (D-2/3), 1 gone (D)"
    assert told in result.report.notes
