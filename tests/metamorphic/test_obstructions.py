"""One more obstruction never makes a route cheaper."""

from __future__ import annotations

import pytest

from metamorphic.quick import CASES, base, case
from metamorphic.solved import keeping, solved, worse
from metamorphic.transforms import with_box

BOXES = 3


@pytest.mark.parametrize("name", CASES)
def test_one_more_obstruction_is_never_for_the_better(name: int | str) -> None:
    """Where the box brings a level that was not tried without it, the route is told as an older one."""
    tried = 0
    for seed in range(BOXES):
        boxed = solved(with_box(case(name), 1000 * CASES.index(name) + seed))
        if boxed is None:
            continue  # a head stands in the box
        tried += 1
        found = worse(boxed, base(name))
        if found:
            assert worse(boxed, keeping(base(name), boxed)) == "", found
    assert tried > 0


def test_boxes_get_in_the_way() -> None:
    """Else nothing was tried: some make the route dearer, and some leave a head without one."""
    dearer = unserved = 0
    for name in CASES[4:11]:
        for seed in range(BOXES):
            boxed = solved(with_box(case(name), 1000 * CASES.index(name) + seed))
            if boxed is not None:
                dearer += boxed.value > base(name).value + 10
                unserved += boxed.served < base(name).served
    assert dearer > 2
    assert unserved > 1
