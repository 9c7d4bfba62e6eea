"""A point in a straight leg changes nothing, nor does a node between two runs where one was."""

from __future__ import annotations

import pytest

from metamorphic.made_halves import halves
from metamorphic.quick import CASES, base, case
from metamorphic.solved import solved, unlike
from metamorphic.transforms import split_at_node, with_points_between


@pytest.mark.parametrize("name", CASES)
def test_a_point_in_a_straight_leg_changes_nothing(name: int | str) -> None:
    data = with_points_between(case(name), CASES.index(name))
    assert sum(len(run["plan"]) for run in data["runs"]) > sum(len(run["plan"]) for run in case(name)["runs"])
    split = solved(data)
    assert split is not None, "the reader refuses it"
    assert unlike(base(name), split) == ""


@pytest.mark.parametrize("seed", range(12))
def test_two_runs_end_to_end_are_one(seed: int) -> None:
    """Where nothing is near the node: heads do not slide over it, and no level change lies across it.

    What is counted by run, styles and how far each begins off its nominal level, costs nothing here.
    """
    data, station, pitch = halves(seed)
    one, two = solved(data), solved(split_at_node(data, "B", station, pitch))
    assert one is not None
    assert two is not None
    assert unlike(one, two) == ""
    assert one.served > 0
