"""Joining by size range."""

from __future__ import annotations

import pytest

from router.scenario.model import JoiningUpTo
from router.trade.joining import joining_for

RANGES = [
    JoiningUpTo(up_to=50, joining="threaded"),
    JoiningUpTo(up_to=100, joining="grooved"),
    JoiningUpTo(joining="butt_weld"),
]


@pytest.mark.parametrize(
    ("dn", "joining"),
    [(25, "threaded"), (50, "threaded"), (65, "grooved"), (100, "grooved"), (125, "butt_weld")],
)
def test_by_range(dn: int, joining: str) -> None:
    assert joining_for(RANGES, dn) == joining


def test_one_method_for_all() -> None:
    assert joining_for("welded", 150) == "welded"


def test_beyond_the_last_range() -> None:
    assert joining_for(RANGES[:2], 150) == "grooved"
    with pytest.raises(ValueError, match="no range"):
        joining_for([], 25)
