"""Offsets that touch the outlets at heads' own stations."""

from __future__ import annotations

import pytest

from router.building.graphs import build_graph
from router.building.prepare import prepare
from router.profiles.columns import OFFSET
from router.scenario import parse_scenario


def offsets(moved: float) -> int:
    """How many a line with two heads has if both are moved along it, mm."""
    scenario = parse_scenario(
        {
            "name": "moved",
            "runs": [
                {"id": "B", "plan": [[0, 0], [6000, 0]], "elevation": 3000, "size": 32, "band": [2800, 3200]}
            ],
            "heads": [
                {"id": "H1", "at": [2000 + moved, 500, 2500]},
                {"id": "H2", "at": [4000 + moved, -500, 2500]},
            ],
        },
        "made",
    )
    prepared = prepare(scenario)
    return int((build_graph(prepared, prepared.frames[0]).graph.columns.kind == OFFSET).sum())


@pytest.mark.parametrize("moved", [0.05, 0.0496, 0.0504, 0.1])
def test_a_hair_along_the_line_loses_no_offset(moved: float) -> None:
    assert offsets(moved) == offsets(0.0) > 0
