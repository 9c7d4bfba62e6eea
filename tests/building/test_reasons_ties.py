"""A head that is as near to one run as to another goes to the one that stands first, and that is told."""

from __future__ import annotations

from typing import Any

import pytest

from router.scenario import notes, parse_scenario

A = {"id": "A", "plan": [[0, 0], [4000, 0]], "elevation": 3000, "size": 32}
B = {**A, "id": "B", "plan": [[0, 2000], [4000, 2000]]}
MAIN = {**A, "id": "M", "kind": "main"}


def told(runs: list[dict[str, Any]], *heads: dict[str, Any], **more: Any) -> list[str]:
    data = {"name": "ties", "runs": runs, "heads": list(heads), **more}
    return [note for note in notes(parse_scenario(data, "ties")) if "as near to" in note]


def head(y: float, name: str = "H1", **more: Any) -> dict[str, Any]:
    return {"id": name, "at": [2000, y, 2500]} | more


def test_both_runs_and_the_distance_are_named() -> None:
    (note,) = told([A, B], head(1000))
    assert note == (
        "head H1 is as near to run B as to run A (1000 mm): it goes to A, which stands first, "
        "unless its run is named"
    )
    (note,) = told([B, A], head(1000))
    assert "it goes to B, which stands first" in note


def test_heads_of_the_same_runs_stand_in_one_note() -> None:
    (note,) = told([A, B], head(1000), head(1000, "H2", at=[3000, 1000, 2500]), head(900, "H3"))
    assert note.startswith("heads H1, H2 are as near to run B as to run A (1000 mm): they go to A")


@pytest.mark.parametrize(
    ("runs", "place", "more"),
    [
        ([A, B], head(999.99), {}),
        ([A, B], head(1000, run="B"), {}),
        ([A, B], head(1000), {"pins": {"heads": {"H1": {"run": "B"}}}}),
        # a main serves a head only where no branch line is in reach
        ([MAIN, B], head(1000), {}),
    ],
)
def test_where_the_run_is_certain_nothing_is_told(
    runs: list[dict[str, Any]], place: dict[str, Any], more: dict[str, Any]
) -> None:
    assert told(runs, place, **more) == []


def test_a_main_and_a_branch_line_out_of_reach_tie() -> None:
    assert told([MAIN, B], head(1000), rules={"reach": 900})
