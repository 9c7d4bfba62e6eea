"""Drawings of ours, changed by hand: the geometry counts, and what was added or copied is read too."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest
from ezdxf.filemanagement import readfile

from router.deliver.dxf import scenario_dxf
from router.readers.dxf import read_dxf
from router.readers.floor import floor
from router.scenario import ScenarioError, read_scenario

if TYPE_CHECKING:
    from ezdxf.document import Drawing

    from router.scenario.model import Scenario

SCENARIOS = Path(__file__).parents[3] / "scenarios"


class Changed:
    """A scenario's drawing, opened to be changed, and what is read of it afterwards."""

    def __init__(self, name: str, folder: Path) -> None:
        self.path = folder / "ours.dxf"
        self.before = read_scenario(SCENARIOS / name)
        self.path.write_text(scenario_dxf(self.before), encoding="utf-8")
        self.doc: Drawing = readfile(self.path)

    def on(self, layer: str) -> list[Any]:
        return [e for e in self.doc.modelspace() if e.dxf.layer == layer]

    def read(self) -> tuple[Scenario, list[str]]:
        self.doc.saveas(self.path)
        drawn = read_dxf(self.path)
        return floor(drawn).scenario, drawn.notes


@pytest.fixture
def dock(tmp_path: Path) -> Changed:
    return Changed("loading_dock.json", tmp_path)


def test_a_head_that_is_moved(dock: Changed) -> None:
    insert = dock.on("ROUTER-HEADS")[3]
    insert.translate(10, -20, 30)
    after, notes = dock.read()
    x, y, z = dock.before.heads[3].at
    assert after.heads[3].at == pytest.approx((x + 10, y - 20, z + 30))
    assert after.heads[3].model_copy(update={"at": dock.before.heads[3].at}) == dock.before.heads[3]
    assert notes == []


def test_an_obstruction_that_is_moved_raised_and_made_taller(dock: Changed) -> None:
    outline = dock.on("ROUTER-OBSTRUCTIONS")[2]
    outline.translate(100, 0, 0)
    outline.dxf.elevation += 25
    outline.dxf.thickness += 10
    after, _ = dock.read()
    before = dock.before.obstructions[2]
    assert after.obstructions[2].polygon == [pytest.approx((x + 100, y)) for x, y in before.polygon]
    low, high = before.elevations
    assert after.obstructions[2].elevations == pytest.approx((low + 25, high + 35))
    assert after.obstructions[2].kind == before.kind


def test_a_run_a_ceiling_that_are_changed(dock: Changed) -> None:
    dock.on("ROUTER-CEILINGS")[0].dxf.elevation += 7
    root = dock.on("ROUTER-RUNS")[0]
    root.dxf.elevation += 5
    with root.points("xy") as points:
        points[0] = (points[0][0], points[0][1] - 500)
    after, _ = dock.read()
    assert after.ceilings[0].elevation == dock.before.ceilings[0].elevation + 7
    assert after.runs[0].elevation == dock.before.runs[0].elevation + 5
    (x, y), *rest = dock.before.runs[0].plan
    assert after.runs[0].plan == [(x, y - 500), *rest]


def test_a_sidewall_that_is_turned(tmp_path: Path) -> None:
    from router.scenario.read import parse_scenario
    from router.scenario.write import scenario_data

    changed = Changed("minimal.json", tmp_path)
    data = scenario_data(changed.before)
    data["heads"][0] |= {"kind": "sidewall", "facing": 33.3}
    scenario = parse_scenario(data)
    changed.path.write_text(scenario_dxf(scenario), encoding="utf-8")
    changed.doc = readfile(changed.path)
    after, _ = changed.read()
    assert after.heads[0].facing == 33.3
    changed.on("ROUTER-HEADS")[0].dxf.rotation += 90
    after, _ = changed.read()
    assert after.heads[0].facing == pytest.approx(123.3)


def test_a_head_that_is_copied_gets_an_id_of_its_own(dock: Changed) -> None:
    insert = dock.on("ROUTER-HEADS")[0]
    copy = insert.copy()
    dock.doc.modelspace().add_entity(copy)
    copy.translate(0, 150, 0)
    after, notes = dock.read()
    first = dock.before.heads[0]
    assert after.heads[-1].id == f"{first.id}-2"
    assert after.heads[-1].at == pytest.approx((first.at[0], first.at[1] + 150, first.at[2]))
    assert any("drawn more than once" in note for note in notes)


def test_attributes_that_are_changed_count(dock: Changed) -> None:
    insert = dock.on("ROUTER-HEADS")[0]
    insert.get_attrib("THREAD").dxf.text = '3/4"'
    insert.get_attrib("K_FACTOR").dxf.text = "8.0"
    insert.get_attrib("ID").dxf.text = "X1"
    after, notes = dock.read()
    assert (after.heads[0].id, after.heads[0].thread, after.heads[0].k_factor) == ("X1", 20, 8.0)
    assert len(notes) == 3


def test_what_is_added_by_hand_is_read_by_its_layer(dock: Changed) -> None:
    """A branch line and a head drawn beside ours, and a beam, without anything carried."""
    space = dock.doc.modelspace()
    main = next(run for run in dock.before.runs if run.kind == "main")
    (x, y), z = main.plan[0], main.elevation
    start = (x, y + 300)
    space.add_lwpolyline([start, (x + 3000, y + 300)], dxfattribs={"layer": "ROUTER-RUNS", "elevation": z})
    space.add_point((x + 2000, y + 500, z - 700), {"layer": "ROUTER-HEADS"})
    after, _ = dock.read()
    new = after.runs[-1]
    assert (new.supply, new.plan[0], new.elevation) == (main.id, start, z)
    assert after.heads[-1].at == (x + 2000, y + 500, z - 700)
    assert len(after.heads) == len(dock.before.heads) + 1


def test_a_run_of_ours_drawn_off_its_supply_is_a_fault(dock: Changed) -> None:
    child = next(k for k, run in enumerate(dock.before.runs) if run.supply)
    dock.on("ROUTER-RUNS")[child].translate(0, 0, 0)
    dock.on("ROUTER-RUNS")[child].translate(50, 0, 0)
    with pytest.raises(ScenarioError, match="first plan point lies that far off"):
        dock.read()


def test_a_pipe_without_sense(tmp_path: Path) -> None:
    changed = Changed("minimal.json", tmp_path)
    line = changed.doc.modelspace().add_line((0, 0), (1, 0), {"layer": "ROUTER-PIPE-RUNS"})
    line.set_xdata("BRANCH_DROP_ROUTER", [(1000, '{"id":"P1","dn":"big"}')])
    with pytest.raises(ScenarioError, match="carries of a route of ours is broken"):
        changed.read()


def test_numbers_keep_off_the_ids_of_ours(tmp_path: Path) -> None:
    """What was added stands first in the file; it must not take the id of a head behind it."""
    changed = Changed("minimal.json", tmp_path)
    space = changed.doc.modelspace()
    heads = changed.on("ROUTER-HEADS")
    space.add_point((heads[0].dxf.insert.x, 900.0, 2700.0), {"layer": "ROUTER-HEADS"})
    for insert in heads:
        space.move_to_layout(insert, changed.doc.layout("Plan"))
        changed.doc.layout("Plan").move_to_layout(insert, space)
    after, _ = changed.read()
    assert {head.id for head in changed.before.heads} < {head.id for head in after.heads}
    assert after.heads[0].id not in {head.id for head in changed.before.heads}
    assert [head for head in after.heads if head.id != after.heads[0].id] == changed.before.heads


def test_an_outline_of_ours_that_crosses_itself_is_refused_by_name(dock: Changed) -> None:
    outline = dock.on("ROUTER-OBSTRUCTIONS")[0]
    with outline.points("xy") as points:
        points[0], points[1] = points[1], points[0]
    with pytest.raises(ScenarioError, match=dock.before.obstructions[0].id):
        dock.read()


def test_a_k_factor_of_ours_is_never_taken_for_a_metric_one(tmp_path: Path) -> None:
    scenario = read_scenario(SCENARIOS / "loading_dock.json")
    values = (80.0, 33.6, 11.234)
    odd = [head.model_copy(update={"k_factor": k}) for head, k in zip(scenario.heads, values, strict=False)]
    scenario = scenario.model_copy(update={"heads": [*odd, *scenario.heads[len(odd) :]]})
    path = tmp_path / "ours.dxf"
    path.write_text(scenario_dxf(scenario), encoding="utf-8")
    drawn = read_dxf(path)
    assert floor(drawn).scenario.heads == scenario.heads
    assert drawn.notes == []
