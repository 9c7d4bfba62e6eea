"""Names, the order of lists and the way an outline is drawn say nothing."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pytest

from metamorphic.quick import CASES, base, case
from metamorphic.solved import solved, unlike
from metamorphic.transforms import backwards, outlines_redrawn, renamed, reordered

if TYPE_CHECKING:
    from collections.abc import Callable

Data = dict[str, Any]
WAYS: dict[str, Callable[[Data], Data]] = {
    "names that sort the other way": lambda data: renamed(data, backwards(data)),
    "one order": lambda data: reordered(data, 1),
    "another order": lambda data: reordered(data, 2),
    "outlines from other corners": lambda data: outlines_redrawn(data, 3),
    "all of it": lambda data: outlines_redrawn(reordered(renamed(data, backwards(data)), 4), 5),
}


@pytest.mark.parametrize("way", WAYS)
@pytest.mark.parametrize("name", CASES)
def test_what_says_nothing_changes_nothing(name: int | str, way: str) -> None:
    other = solved(WAYS[way](case(name)))
    assert other is not None, "the reader refuses it"
    assert unlike(base(name), other) == ""
