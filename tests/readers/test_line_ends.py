"""A line drawn to the face of its last elbow ends at that elbow's centre."""

from __future__ import annotations

import pytest
from piping import Piping

from router.check import check_route
from router.infer import infer_route
from router.readers.drawn import Drawn, DrawnHead
from router.readers.floor import floor
from router.readers.segments import Segment

GAP = 22.0
"""From the face of a DN25 elbow to its centre, about."""


def line(turn: str, gap: float = GAP) -> Drawn:
    """One line of three heads, its last elbow ``aside`` or ``down``, drawn to the faces of fittings."""
    it = Piping()
    xs = (1500.0, 4500.0, 7500.0)
    for a, b in ((0.0, 1500.0), (1500.0, 4500.0), (4500.0, 7500.0)):
        it.pipe((a + (gap if a else 0.0), 0.0, 3000.0), (b - gap, 0.0, 3000.0), 25, "branch", "L")
    heads = []
    for x in xs:
        last = x == xs[-1]
        aside = 400.0 if not last or turn == "aside" else 0.0
        if aside:
            it.pipe((x, gap, 3000.0), (x, aside - gap, 3000.0), 25, "head_arm")
        it.pipe((x, aside, 3000.0 - gap), (x, aside, 2600.0), 25, "head_arm")
        heads.append(DrawnHead(f"H{x:.0f}", (x, aside, 2600.0), "pendent", 15, "L"))
    return Drawn("line", heads, it.pipes)


@pytest.mark.parametrize("turn", ["aside", "down"])
def test_the_line_ends_where_its_last_arm_begins(turn: str) -> None:
    result = floor(line(turn))
    (run,) = result.scenario.runs
    assert run.plan == [(0, 0), (7500, 0)]
    parts = [Segment(pipe.id, pipe.a, pipe.b, pipe.dn, pipe.role, pipe.line) for pipe in result.drawing]
    verdict = check_route(result.scenario, infer_route(result.scenario, parts).route)
    assert {finding.rule for finding in verdict.breaks} <= {"sizes"}, verdict.breaks


def test_an_arm_beyond_a_fittings_length_moves_nothing() -> None:
    drawn = line("down")
    cut = drawn.pipes[2]
    drawn.pipes[2] = type(cut)(cut.id, cut.a, (7300.0, 0.0, 3000.0), 25, "branch", "L")
    (run,) = floor(drawn).scenario.runs
    assert run.plan[-1] == (7300, 0)
