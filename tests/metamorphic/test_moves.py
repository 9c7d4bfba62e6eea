"""A building turned, moved or mirrored costs the same."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pytest

from metamorphic.quick import CASES, base, case
from metamorphic.solved import Outcome, solved, unlike
from metamorphic.transforms import mirrored, shifted, turned

if TYPE_CHECKING:
    from collections.abc import Callable

Data = dict[str, Any]
MOVES: dict[str, Callable[[Data], Data]] = {
    "90 degrees": lambda data: turned(data, 90),
    "270 degrees": lambda data: turned(data, 270),
    "33.7 degrees": lambda data: turned(data, 33.7),
    "mirrored in x": lambda data: mirrored(data, "x"),
    "mirrored in y": lambda data: mirrored(data, "y"),
    "a little": lambda data: shifted(data, 12.3, -45.6, 7.8),
    # national coordinates: kilometres off, heights over the sea; the reader allows 10 km
    "far": lambda data: shifted(data, 4.5e6 + 0.125, -9.1e6, 5.2e5 + 0.25),
}


@pytest.mark.parametrize("move", MOVES)
@pytest.mark.parametrize("name", CASES)
def test_a_moved_building_costs_the_same(name: int | str, move: str) -> None:
    moved = solved(MOVES[move](case(name)))
    assert moved is not None, "the reader refuses it"
    assert unlike(base(name), moved) == ""


def test_the_cases_have_everything_in_them() -> None:
    """Among the cases every kind of thing stands that a move could treat wrongly, and is used."""
    every = [case(name) for name in CASES]
    found = [base(name) for name in CASES]
    heads = [head for data in every for head in data["heads"]]
    assert {head.get("kind", "pendent") for head in heads} == {"pendent", "upright", "sidewall"}
    assert any(head.get("shift") for head in heads)
    assert any(head.get("dry") for head in heads)
    assert {data.get("system", {}).get("kind", "wet") for data in every} == {"wet", "dry", "preaction"}
    for key in ("pins", "prices", "keep_out", "ceilings"):
        assert sum(bool(data.get(key)) for data in every) > 1, key
    assert any(run.get("supply") for data in every for run in data["runs"])
    assert any(len(run["plan"]) > 2 for data in every for run in data["runs"])
    styles = {style for o in found for style in o.route.counts.styles}
    assert len(styles) > 6, styles
    assert any(o.terms["level_change"] for o in found)
    assert any(o.terms["drain"] for o in found)
    assert sum(o.terms["unserved"] == 0 for o in found) > 8


def test_the_comparison_sees_a_difference() -> None:
    one = base(CASES[0])

    def but(**values: Any) -> Outcome:
        return Outcome(**{**vars(one), **values})

    assert unlike(one, one) == ""
    assert unlike(one, but(value=one.value + 0.1, bound=one.bound + 0.1))
    assert unlike(one, but(served=one.served - 1))
    assert unlike(one, but(broken=("clearance",)))
    assert unlike(but(broken=("clearance",)), but(broken=("clearance",)))
    assert unlike(one, but(status="feasible", bound=one.bound - 50, value=one.value + 50)) == ""
    assert unlike(one, but(status="feasible", bound=one.bound - 50, value=one.value - 0.1))
