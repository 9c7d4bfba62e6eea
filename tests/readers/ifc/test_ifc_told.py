"""What an import says where a model uses other words than the trade's, and which pipes ports make ours."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pytest

pytest.importorskip("ifcopenshell")

from building import Building, box

from router.readers.floor import floor
from router.readers.ifc import Mapping, read_ifc
from router.readers.report import counted
from router.scenario.errors import ScenarioError

if TYPE_CHECKING:
    from pathlib import Path

    from router.readers.drawn import Drawn, Xyz

TEE: Xyz = (0.0, 0.0, 3000.0)
INLET: Xyz = (0.0, 0.0, 2700.0)


def read(building: Building, tmp_path: Path, mapping: Mapping | None = None) -> Drawn:
    return read_ifc([building.write(tmp_path / "x.ifc")], mapping)


def line(system: str, *, ports: bool, terminal: str = "") -> Building:
    """Two halves of a line, a tee, a drop and a head; a cold water pipe hangs on the line's end."""
    building = Building()
    made = {
        "west": building.pipe("west", (-3000.0, 0.0, 3000.0), TEE, 60.3),
        "east": building.pipe("east", TEE, (3000.0, 0.0, 3000.0), 60.3),
        "drop": building.pipe("drop", TEE, INLET, 33.4),
        "cold": building.pipe("cold", (3000.0, 0.0, 3000.0), (6000.0, 0.0, 3000.0), 60.3),
    }
    if terminal:
        one = building.element("terminal", terminal, INLET)
    else:
        one = building.head("H", INLET, type_name="Sprinkler pendent")
    tee, _ = building.fitting("tee", TEE)
    pairs: list[tuple[Any, Any, Xyz]] = [
        (one, made["drop"], INLET),
        *((tee, made[name], TEE) for name in ("west", "east", "drop")),
        (made["east"], made["cold"], (3000.0, 0.0, 3000.0)),
    ]
    for a, b, at in pairs if ports else ():
        building.connect(building.port(a, at), building.port(b, at))
    building.system(system, [made["west"], made["east"], made["drop"]])
    building.system("Cold Water", [made["cold"]])
    return building


@pytest.mark.parametrize("obstructions", [("pipe",), ("beam",)])
def test_ports_up_to_a_head_outrank_a_systems_name(tmp_path: Path, obstructions: Any) -> None:
    mapping = Mapping(obstructions=obstructions)
    drawn = read(line("Dry Pipe System", ports=True), tmp_path, mapping)
    assert sorted(pipe.id for pipe in drawn.pipes) == ["drop", "east", "west"]
    assert [solid.id for solid in drawn.solids] == (["cold"] if obstructions == ("pipe",) else [])
    told = 'system_words are sprinkler pipes: they lead to heads ("Dry Pipe System")'
    assert any(note.startswith("3 pipes in no system") and note.endswith(told) for note in drawn.notes)


def test_without_ports_the_system_that_was_seen_is_named(tmp_path: Path) -> None:
    drawn = read(line("Dry Pipe System", ports=False), tmp_path)
    assert not drawn.pipes
    with pytest.raises(
        ScenarioError, match='in systems "Dry Pipe System", "Cold Water"; system_words of the'
    ):
        floor(drawn)
    drawn = read(line("Dry Pipe System", ports=False), tmp_path, Mapping(system_words=("dry pipe",)))
    assert len(drawn.pipes) == 3


def test_types_are_named_where_no_head_is_known(tmp_path: Path) -> None:
    building = line("Fire Protection", ports=True, terminal="SPK-P-15")
    for k in range(7):
        building.solid("terminal", f"Grille {k}", box(0, 0, 10, 10), 0, 9)
    with pytest.raises(ScenarioError) as caught:
        floor(read(building, tmp_path))
    text = str(caught.value)
    assert 'types seen: "SPK-P-15", "Grille 0", "Grille 1"' in text
    assert '"Grille 4" and 2 more; head_words of the mapping says which are heads' in text
    assert "pipes" not in text.split("x: 1 fault")[1]
    found = read(
        line("Fire Protection", ports=True, terminal="SPK-P-15"), tmp_path, Mapping(head_words=("spk p",))
    )
    assert [head.id for head in found.heads] == ["SPK-P-15"]


def test_a_storey_that_no_model_has_is_said(tmp_path: Path) -> None:
    building = line("Fire Protection", ports=True)
    name = building.storey.Name
    notes = read(building, tmp_path, Mapping(storeys=(name, "Level 9"))).notes
    assert f'storeys of the mapping that are unknown: "Level 9"; known: "{name}"' in notes
    again = read(line("Fire Protection", ports=True), tmp_path, Mapping(storeys=(name,)))
    assert not any("unknown" in note for note in again.notes)


def test_what_has_no_name_is_only_counted_and_one_is_one(tmp_path: Path) -> None:
    drawn = read(line("Fire Protection", ports=True), tmp_path)
    assert "x.ifc: 10 left out, ports" in drawn.notes
    assert "x.ifc: IFC4, millimetre: 1 head, 4 pipes, 1 fitting, 0 other bodies taken" in drawn.notes
    result = floor(drawn)
    text = result.report.text()
    assert text.startswith("x: 1 head, 1 run in 1 tree (from 2 pipes, 1 joint)")
    assert "left out: 1 pipe of as-built arms" in text
    assert result.scenario.rules.reach == 8000
    assert "rules.reach, how far a takeoff may reach, is set to 8000 mm, not to its default 4500 mm" in text


def test_numbers_of_things() -> None:
    text = "bod[y|ies] [is|are] in [its|their] place[s]"
    assert [counted(k, text) for k in (0, 1, 2)] == [
        "0 bodies are in their places",
        "1 body is in its place",
        "2 bodies are in their places",
    ]
