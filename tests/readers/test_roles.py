"""Roles from geometry: each way to connect a head, each layout, what is given and what is missing.

All of it is made by hand; ``test_roles_at_large.py`` has our own routes and a real building.
"""

from __future__ import annotations

from dataclasses import replace

import pytest
from piping import STYLES, Piping, assert_found, branch, riser_and_main, short_of_fittings, side

from router.readers.drawn import Drawn, DrawnHead, DrawnPipe
from router.readers.floor import floor
from router.readers.report import counted
from router.readers.roles import with_roles
from router.scenario.errors import ScenarioError

X, Y, BACK = (1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, -1.0, 0.0)


# -- every way to connect a head ------------------------------------------------------------


@pytest.mark.parametrize("last", STYLES)
@pytest.mark.parametrize("first", STYLES)
def test_each_style_on_the_line_and_at_its_end(first: str, last: str) -> None:
    """Level tees, a riser nipple in a line's middle, a main's last elbow; with and without a capped end."""
    for cap in (0.0, 150.0):
        it = riser_and_main(3000.0, 7000.0, 11000.0)
        branch(it, "A", (3000.0, 0.0, 3000.0), Y, [(1500, first), (4500, last), (7500, first)], cap=cap)
        it.pipe((7000.0, 0.0, 3000.0), (7000.0, 0.0, 3300.0), 40, "main")
        branch(it, "B", (7000.0, 0.0, 3300.0), Y, [(1500, first), (4500, last)], cap=cap)
        branch(it, "B", (7000.0, 0.0, 3300.0), BACK, [(1500, last), (4500, first)], cap=cap)
        branch(it, "C", (11000.0, 0.0, 3000.0), BACK, [(1500, first), (4500, last)], cap=cap)
        assert_found(it)
        assert_found(it, short_of_fittings(it.bare(), 25.0))


def test_arms_stand_on_a_riser() -> None:
    it = Piping()
    it.row([(0.0, 0.0, z) for z in (0.0, 3000.0, 6000.0, 9000.0)], 100, "branch", "R")
    for z in (3000.0, 6000.0):
        side(it, "R", (0.0, 0.0, z), X, Y)
    assert_found(it)


def test_an_upright_stands_on_the_pipe_itself() -> None:
    it = riser_and_main(3000.0, 6000.0)
    for name, x in (("A", 3000.0), ("B", 6000.0)):
        branch(it, name, (x, 0.0, 3000.0), Y, [(1500, "side"), (4500, "drop")])
    it.heads.append(DrawnHead("mid", (3000.0, 3000.0, 3040.0), "upright", 15, "A"))
    it.heads.append(DrawnHead("at a tee", (6000.0, 1500.0, 3040.0), "upright", 15, "B"))
    assert_found(it)


def test_a_long_arm_is_a_line_of_its_own() -> None:
    it = riser_and_main(3000.0, 6000.0)
    branch(it, "A", (3000.0, 0.0, 3000.0), Y, [(9500, "side")], dn=25)
    branch(it, "B", (6000.0, 0.0, 3000.0), Y, [(3500, "side")], dn=40)
    assert any("2 heads are too far" in note for note in assert_found(it))


def test_a_main_with_a_head_of_its_own_is_a_line_that_feeds_others() -> None:
    it = riser_and_main(3000.0, 6000.0, 9000.0)
    branch(it, "A", (3000.0, 0.0, 3000.0), Y, [(1500, "side"), (4500, "drop")])
    branch(it, "B", (9000.0, 0.0, 3000.0), Y, [(1500, "side"), (4500, "drop")])
    side(it, "M", (6000.0, 0.0, 3000.0), X, Y)
    it.pipes = [
        replace(pipe, role="branch", line="M") if pipe.role == "main" and pipe.b[0] > 0.0 else pipe
        for pipe in it.pipes
    ]
    assert any("1 line carries arms and feeds other lines" in note for note in assert_found(it))
    runs = {run.id: run for run in floor(it.bare()).scenario.runs}
    assert sorted(run.size for run in runs.values()) == [40, 40, 80]
    assert sum(1 for run in runs.values() if run.supply is None) == 1


# -- layouts --------------------------------------------------------------------------------


@pytest.mark.parametrize("rise", [300.0, 1400.0])
def test_a_line_may_bend_and_rise_before_its_first_head(rise: float) -> None:
    it = riser_and_main(3000.0, 9000.0)
    it.row(
        [(3000.0, 0.0, 3000.0), (3000.0, 2000.0, 3000.0), (3000.0, 2000.0, 3000.0 + rise)], 40, "branch", "A"
    )
    branch(it, "A", (3000.0, 2000.0, 3000.0 + rise), X, [(500, "side"), (3500, "drop")])
    branch(it, "B", (9000.0, 0.0, 3000.0), Y, [(1500, "side"), (4500, "drop")])
    assert_found(it)


def test_a_line_goes_on_round_a_bend() -> None:
    it = riser_and_main(3000.0, 9000.0)
    branch(it, "A", (3000.0, 0.0, 3000.0), Y, [(1500, "side"), (4500, "drop")], cap=1500)
    branch(it, "A", (3000.0, 6000.0, 3000.0), X, [(1500, "side"), (4500, "drop")])
    branch(it, "B", (9000.0, 0.0, 3000.0), Y, [(1500, "side"), (4500, "drop")])
    assert_found(it)
    assert len(floor(it.bare()).scenario.runs) == 3


def test_a_main_that_goes_on_straight_as_a_line_ends_where_it_reduces() -> None:
    it = riser_and_main(3000.0, 6000.0)
    branch(it, "A", (3000.0, 0.0, 3000.0), Y, [(1500, "side"), (4500, "drop")])
    branch(it, "B", (6000.0, 0.0, 3000.0), Y, [(1500, "side"), (4500, "drop")])
    branch(it, "C", (6000.0, 0.0, 3000.0), X, [(1500, "side"), (4500, "drop")])
    assert_found(it)


def test_lines_on_both_sides_of_a_cross_main() -> None:
    it = riser_and_main(3000.0, 6000.0, 7000.0)
    for name, x in (("A", 3000.0), ("B", 6000.0)):
        for way in (Y, BACK):
            branch(it, name, (x, 0.0, 3000.0), way, [(1500, "side"), (4500, "drop")])
    assert_found(it)


def test_a_grid_and_a_looped_main() -> None:
    it = riser_and_main(3000.0, 6000.0, 9000.0)
    for name, x in (("A", 3000.0), ("B", 6000.0), ("C", 9000.0)):
        branch(it, name, (x, 0.0, 3000.0), Y, [(1500, "side"), (4500, "drop"), (7500, "side")], cap=1500)
    it.row([(x, 9000.0, 3000.0) for x in (3000.0, 6000.0, 9000.0)], 65, "main")
    assert any("close loops" in note for note in assert_found(it))
    it = riser_and_main(3000.0, 6000.0)
    corners = [(6000.0, 0.0), (6000.0, -9000.0), (0.0, -9000.0), (0.0, 0.0)]
    it.row([(x, y, 3000.0) for x, y in corners], 80, "main")
    for name, x in (("A", 3000.0), ("B", 6000.0)):
        branch(it, name, (x, 0.0, 3000.0), Y, [(1500, "side"), (4500, "drop")])
    assert_found(it)


def test_drains_and_test_pipes_stay_with_what_they_leave() -> None:
    it = riser_and_main(3000.0, 6000.0)
    branch(it, "A", (3000.0, 0.0, 3000.0), Y, [(1500, "side"), (4500, "side")])
    branch(it, "B", (6000.0, 0.0, 3000.0), Y, [(1500, "side"), (4500, "side")])
    it.row([(6000.0, 0.0, 3000.0), (8000.0, 0.0, 3000.0), (8000.0, 0.0, 800.0)], 50, "main")
    it.row([(3000.0, 4500.0, 3000.0), (3000.0, 6500.0, 3000.0), (3000.0, 6500.0, 1000.0)], 40, "branch", "A")
    assert_found(it)


def test_a_pipe_end_like_an_outlet_without_a_head_is_an_arm() -> None:
    it = riser_and_main(3000.0, 6000.0)
    for name, x in (("A", 3000.0), ("B", 6000.0)):
        branch(it, name, (x, 0.0, 3000.0), Y, [(1500, "bend"), (4500, "bend"), (7500, "bend")])
    gone = it.heads.pop(1).id
    it.pipes = [replace(pipe, heads=tuple(h for h in pipe.heads if h != gone)) for pipe in it.pipes]
    assert any("1 pipe end looks like an outlet" in note for note in assert_found(it))


def test_a_run_of_one_head_has_a_line_all_the_same() -> None:
    it = Piping()
    it.pipe((0.0, 0.0, 3000.0), (2500.0, 0.0, 3000.0), 25, "branch", "A")
    it.arm("A", (2500.0, 0.0, 3000.0), (2500.0, 0.0, 2700.0))
    assert_found(it)
    assert [run.kind for run in floor(it.bare()).scenario.runs] == ["branch"]


def test_a_straight_tee_of_a_large_main_is_joined_without_its_side_outlet() -> None:
    """Both ends of a DN100 tee stop 127 mm short, as drawn in the hospital; arms take no part in runs."""
    it = Piping()
    it.pipe((0.0, 0.0, 3000.0), (2873.0, 0.0, 3000.0), 100, "branch", "A")
    it.pipe((3127.0, 0.0, 3000.0), (6000.0, 0.0, 3000.0), 100, "branch", "A")
    it.arm("A", (3000.0, 80.0, 3000.0), (3000.0, 900.0, 3000.0), (3000.0, 900.0, 2700.0))
    assert_found(it)
    assert len(floor(it.bare()).scenario.runs) == 1


def test_a_main_with_heads_before_its_lines_is_where_the_water_comes_in() -> None:
    it = riser_and_main()
    it.row([(x, 0.0, 3000.0) for x in (0.0, 3000.0, 5000.0, 7000.0)], 80, "branch", "M")
    side(it, "M", (3000.0, 0.0, 3000.0), X, Y)
    for name, x in (("A", 5000.0), ("B", 7000.0)):
        branch(it, name, (x, 0.0, 3000.0), Y, [(1500, "side"), (4500, "side")])
    assert_found(it)
    sizes = [(run.size, run.supply is None) for run in floor(it.bare()).scenario.runs]
    assert sorted(sizes) == [(40, False), (40, False), (80, True)]


@pytest.mark.parametrize("cut", ["at heads", "nowhere"])
def test_a_plan_without_elevations(cut: str) -> None:
    """All at one level, heads on the pipes themselves and at the ends of level arms."""
    it = riser_and_main(3000.0, 7000.0)
    for name, x in (("A", 3000.0), ("B", 7000.0)):
        spots = [(x, y, 3000.0) for y in (0.0, 1500.0, 4500.0, 7500.0, 9000.0)]
        if cut == "at heads":
            it.row(spots, 40, "branch", name)
        else:
            it.pipe(spots[0], spots[-1], 40, "branch", name)
        for spot in (spots[1], spots[2], spots[4]):
            it.heads.append(DrawnHead(it.name(), spot, "pendent", 15, name))
        it.arm(name, spots[3], (x + 800.0, 7500.0, 3000.0))
    it.pipes = it.pipes[1:]
    assert_found(it)
    runs = floor(it.bare()).scenario.runs
    assert sorted(run.kind for run in runs) == ["branch", "branch", "main"]


# -- what is given stays; what is missing is said --------------------------------------------


def test_given_roles_and_lines_stay() -> None:
    it = riser_and_main(3000.0, 6000.0)
    for name, x in (("east", 3000.0), ("west", 6000.0)):
        branch(it, name, (x, 0.0, 3000.0), Y, [(1500, "bend"), (4500, "hose")])
    whole = Drawn("whole", list(it.heads), list(it.pipes))
    assert with_roles(whole, []) == whole
    part = it.bare()
    known = {4, 8}
    part.pipes = [it.pipes[k] if k in known else pipe for k, pipe in enumerate(part.pipes)]
    line = it.pipes.index(next(pipe for pipe in it.pipes if pipe.line == "east"))
    part.pipes[line] = it.pipes[line]
    part.heads[-1] = replace(part.heads[-1], line="west")
    found = with_roles(part, [])
    assert {pipe.line for pipe in found.pipes if pipe.role == "branch"} == {"east", "west"}
    assert [head.line for head in found.heads] == [head.line for head in it.heads]
    assert [pipe.role for pipe in found.pipes] == [pipe.role for pipe in it.pipes]


def test_a_given_hose_stays_a_hose_and_gets_its_head() -> None:
    it = riser_and_main(3000.0)
    branch(it, "A", (3000.0, 0.0, 3000.0), Y, [(1500, "hose"), (4500, "side")])
    bare = it.bare()
    hose = next(k for k, pipe in enumerate(it.pipes) if pipe.heads == ("h0",))
    bare.pipes[hose] = replace(bare.pipes[hose], role="hose")
    found = with_roles(bare, []).pipes[hose]
    assert (found.role, found.heads) == ("hose", ("h0",))


def test_heads_on_no_pipe_are_named() -> None:
    it = riser_and_main(3000.0)
    branch(it, "A", (3000.0, 0.0, 3000.0), Y, [(1500, "side"), (4500, "side")])
    it.heads.append(DrawnHead("lost", (3000.0, 30000.0, 2700.0), "pendent", 15, ""))
    notes: list[str] = []
    found = with_roles(it.bare(), notes)
    assert found.heads[-1].line == ""
    assert sum("head lost" in note for note in notes) == 1
    it.arm("", (50000.0, 0.0, 3000.0), (50000.0, 800.0, 3000.0), (50000.0, 800.0, 2700.0))
    with_roles(it.bare(), notes := [])
    assert any(f"head {it.heads[-1].id}: its pipe leads to no branch line" in note for note in notes)


def test_pipes_drawn_twice_count_once() -> None:
    it = riser_and_main(3000.0, 6000.0)
    for name, x in (("A", 3000.0), ("B", 6000.0)):
        branch(it, name, (x, 0.0, 3000.0), Y, [(1500, "bend"), (4500, "shared")])
    count = len(it.pipes)
    it.pipes += [replace(pipe, id=f"again {pipe.id}", a=pipe.b, b=pipe.a) for pipe in it.pipes]
    assert any(counted(count, "pipe[s] [is|are] drawn over others") in note for note in assert_found(it))


def test_nothing_no_heads_no_pipes() -> None:
    assert with_roles(Drawn("empty"), []) == Drawn("empty")
    lone = Drawn("heads", [DrawnHead("h", (0.0, 0.0, 0.0), "pendent", 15)])
    assert with_roles(lone, []).heads == lone.heads
    dry = Drawn("pipes", [], [DrawnPipe("p", (0.0, 0.0, 0.0), (9.0, 0.0, 0.0), 50)])
    dry.pipes.append(DrawnPipe("point", (0.0, 0.0, 0.0), (0.0, 0.0, 0.0), 50))
    assert {pipe.role for pipe in with_roles(dry, []).pipes} == {"main"}


# -- before anything is designed ------------------------------------------------------------


def test_lines_without_arms_make_a_scenario() -> None:
    """Heads and lines are placed, arms not drawn yet: that is what the search is for."""
    it = riser_and_main(3000.0, 6000.0, 20000.0)
    for name, x in (("A", 3000.0), ("B", 6000.0), ("far", 20000.0)):
        it.pipe((x, 0.0, 3000.0), (x, 6000.0, 3000.0), 50, "branch", name)
    heads = [DrawnHead(f"H{k}", (3300.0, 1500.0 * k, 2600.0), "pendent", 15) for k in (1, 2, 3)]
    heads.append(DrawnHead("H9", (5800.0, 1500.0, 2600.0), "pendent", 15))
    result = floor(Drawn("early", heads, it.pipes))
    assert [run.id for run in result.scenario.runs] == ["main-1", "A", "B"]
    assert all(head.run is None for head in result.scenario.heads)
    assert not result.drawing


def test_where_no_line_can_be_found_it_is_said() -> None:
    it = riser_and_main(3000.0)
    it.pipe((3000.0, 0.0, 3000.0), (3000.0, 6000.0, 3000.0), 50, "branch", "A")
    heads = [DrawnHead("H1", (3300.0, 1500.0, 2600.0), "pendent", 15)]
    far = [replace(head, at=(head.at[0] + 9000.0, *head.at[1:])) for head in heads]
    with pytest.raises(ScenarioError, match="no branch line leads to a head"):
        floor(Drawn("bare", far, [replace(pipe, role="", line="") for pipe in it.pipes]))


@pytest.mark.parametrize("armless", [0, 1, 2])
def test_lines_whose_arms_are_not_drawn_are_lines_all_the_same(armless: int) -> None:
    """Three lines on a main without any roles; none, two or one of them have their arms already."""
    it = riser_and_main(3000.0, 6000.0, 9000.0)
    heads = []
    for number, x in enumerate((3000.0, 6000.0, 9000.0)):
        it.pipe((x, 0.0, 3000.0), (x, 6000.0, 3000.0), 50, "")
        for y in (1500.0, 3000.0, 4500.0):
            heads.append(DrawnHead(f"H{number}{y:.0f}", (x + 300.0, y, 2600.0), "pendent", 15))
            if number < armless:
                it.row([(x, y, 3000.0), (x + 300.0, y, 3000.0), (x + 300.0, y, 2600.0)], 25, "")
    result = floor(Drawn("early", heads, [replace(pipe, role="", line="") for pipe in it.pipes]))
    runs = {run.id: run for run in result.scenario.runs}
    assert [run.kind for run in runs.values()] == ["main", "branch", "branch", "branch"]
    assert sorted(run.plan[0] for run in runs.values() if run.kind == "branch") == [
        (x, 0) for x in (3e3, 6e3, 9e3)
    ]
    assert all(run.plan[-1][1] == 6000.0 for run in runs.values() if run.kind == "branch")
    bound = [head for head in result.scenario.heads if head.run]
    assert len(bound) == 3 * armless
    assert all(runs[str(head.run)].plan[0][0] == head.at[0] - 300.0 for head in bound)
