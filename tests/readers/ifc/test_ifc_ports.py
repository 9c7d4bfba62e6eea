"""Pipes that ports connect with fittings reach to the fittings' centres; without ports gaps stay."""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING, Any

import pytest

pytest.importorskip("ifcopenshell")

from building import Building, complaints

from router.readers.ifc import read_ifc

if TYPE_CHECKING:
    from pathlib import Path

    from router.readers.drawn import Xyz

TEE, CORNER, INLET = (2000.0, 0.0, 3000.0), (2000.0, 500.0, 3000.0), (2000.0, 500.0, 2500.0)
GAP = 40.0


def moved(at: Xyz, by: Xyz) -> Xyz:
    return (at[0] + by[0], at[1] + by[1], at[2] + by[2])


def line(
    schema: str, *, ports: bool, origin: Xyz = (0.0, 0.0, 0.0), placed: bool = True, unit: str = "mm"
) -> Building:
    """A line with a tee, an arm, an elbow and a drop to a head; bodies end GAP short of each centre.

    ``origin``: how far the fittings' own origins are off their centres. ``placed``:
    whether ports have places.
    """
    building = Building(schema, unit, 19.0, (300.0, 900.0, 0.0))
    pipes = {
        "west": ((0.0, 0.0, 3000.0), (2000.0 - GAP, 0.0, 3000.0), 60.3),
        "east": ((2000.0 + GAP, 0.0, 3000.0), (4000.0, 0.0, 3000.0), 60.3),
        "arm": ((2000.0, GAP, 3000.0), (2000.0, 500.0 - GAP, 3000.0), 33.4),
        "drop": ((2000.0, 500.0, 3000.0 - GAP), (2000.0, 500.0, 2500.0), 33.4),
    }
    made = {name: building.pipe(name, *given) for name, given in pipes.items()}
    head = building.head("H1", (2000.0, 500.0, 2450.0), type_name="Sprinkler")
    tee, _ = building.fitting("tee", moved(TEE, origin))
    elbow, _ = building.fitting("elbow", moved(CORNER, origin))
    if ports:
        joints: list[tuple[Any, Any, Xyz]] = [
            (tee, made["west"], pipes["west"][1]),
            (tee, made["east"], pipes["east"][0]),
            (tee, made["arm"], pipes["arm"][0]),
            (elbow, made["arm"], pipes["arm"][1]),
            (elbow, made["drop"], pipes["drop"][0]),
            (head, made["drop"], INLET),
        ]
        for one, other, at in joints:
            place = at if placed else None
            building.connect(building.port(one, place), building.port(other, place))
    return building


@pytest.mark.parametrize("schema", ["IFC2X3", "IFC4"])
@pytest.mark.parametrize("origin", [(0.0, 0.0, 0.0), (30.0, 20.0, -50.0), (900.0, 0.0, 0.0)])
def test_axes_meet_at_the_fittings(tmp_path: Path, schema: str, origin: Xyz) -> None:
    path = line(schema, ports=True, origin=origin).write(tmp_path / "x.ifc")
    assert complaints(path) == []
    drawn = read_ifc([path])
    ends = {pipe.id: (pipe.a, pipe.b) for pipe in drawn.pipes}
    for name, a, b in (
        ("west", (0.0, 0.0, 3000.0), TEE),
        ("east", TEE, (4000.0, 0.0, 3000.0)),
        ("arm", TEE, CORNER),
        ("drop", CORNER, INLET),
    ):
        assert ends[name][0] == pytest.approx(a, abs=1e-3), name
        assert ends[name][1] == pytest.approx(b, abs=1e-3), name
    assert drawn.heads[0].at == pytest.approx(INLET, abs=1e-3)
    assert drawn.heads[0].kind == "pendent"


def test_without_places_of_ports_the_nearest_end_is_taken(tmp_path: Path) -> None:
    drawn = read_ifc([line("IFC2X3", ports=True, placed=False).write(tmp_path / "x.ifc")])
    ends = {pipe.id: (pipe.a, pipe.b) for pipe in drawn.pipes}
    assert ends["arm"][0] == pytest.approx(TEE, abs=1e-3)
    assert ends["arm"][1] == pytest.approx(CORNER, abs=1e-3)
    assert drawn.heads[0].at == pytest.approx(INLET, abs=1e-3)


@pytest.mark.parametrize("schema", ["IFC2X3", "IFC4"])
def test_without_ports_gaps_stay_and_all_hang_together(tmp_path: Path, schema: str) -> None:
    drawn = read_ifc([line(schema, ports=False, unit="ft").write(tmp_path / "x.ifc")])
    assert sorted(pipe.id for pipe in drawn.pipes) == ["arm", "drop", "east", "west"]
    arm = next(pipe for pipe in drawn.pipes if pipe.id == "arm")
    assert arm.a[1] == pytest.approx(GAP, abs=1e-3)
    assert drawn.heads[0].at == pytest.approx(INLET, abs=1e-3)


def test_a_coupling_in_a_straight_line_is_met_in_the_middle(tmp_path: Path) -> None:
    building = Building()
    pipes = [
        building.pipe(f"P{k}", (1000.0 * k, 0.0, 0.0), (1000.0 * k + 980.0, 0.0, 0.0), 60.3) for k in range(3)
    ]
    for k, (one, other) in enumerate(pairwise(pipes)):
        at, on = (1000.0 * k + 980.0, 0.0, 0.0), (1000.0 * k + 1000.0, 0.0, 0.0)
        _, (p, q) = building.fitting(f"C{k}", (1000.0 * k + 990.0, 300.0, 0.0), [at, on])
        building.connect(building.port(one, at), p)
        building.connect(building.port(other, on), q)
    building.system("Sprinkler", pipes)
    found = {pipe.id: (pipe.a[0], pipe.b[0]) for pipe in read_ifc([building.write(tmp_path / "x.ifc")]).pipes}
    assert found["P0"] == pytest.approx((0, 990))
    assert found["P1"] == pytest.approx((990, 1990))
    assert found["P2"] == pytest.approx((1990, 2980))


def test_a_fitting_far_from_the_pipe_that_it_says_to_be_on_moves_nothing(tmp_path: Path) -> None:
    building = Building()
    pipe = building.pipe("P", (0.0, 0.0, 0.0), (1000.0, 0.0, 0.0), 60.3)
    _, (port,) = building.fitting("F", (90_000.0, 0.0, 0.0), [(1000.0, 0.0, 0.0)])
    building.connect(building.port(pipe, (1000.0, 0.0, 0.0)), port)
    building.system("Sprinkler", [pipe])
    found = read_ifc([building.write(tmp_path / "x.ifc")]).pipes[0]
    assert (found.a, found.b) == ((0.0, 0.0, 0.0), (1000.0, 0.0, 0.0))


@pytest.mark.parametrize("end", [(3000.0, 9000.0), (3000.0, 30.0)])
def test_a_pipe_of_nobody_near_ours_is_in_the_way(tmp_path: Path, end: tuple[float, float]) -> None:
    """It crosses our line or ends beside it: without a port it is no part of it, and it is not lost."""
    building = Building()
    ends = {}
    for name, a, b in (("main", (0, 0, 3000), (3000, 0, 3000)), ("line", (3000, 0, 3000), (6000, 0, 3000))):
        made = building.pipe(name, a, b, 48.3)
        ends[name] = [building.port(made, a), building.port(made, b)]
    drop = building.pipe("drop", (6000, 0, 3000), (6000, 0, 2600), 33.7)
    ends["drop"] = [building.port(drop, (6000, 0, 3000)), building.port(drop, (6000, 0, 2600))]
    building.connect(ends["main"][1], ends["line"][0])
    building.connect(ends["line"][1], ends["drop"][0])
    building.head("H", (6000, 0, 2600), port=(6000, 0, 2600), type_name="Sprinkler pendent")
    building.pipe("stranger", (3000, -5000, 3000), (*end, 3000), 60.3)
    drawn = read_ifc([building.write(tmp_path / "x.ifc")])
    assert {pipe.id for pipe in drawn.pipes} == {"main", "line", "drop"}
    assert [solid.kind for solid in drawn.solids] == ["pipe"]
