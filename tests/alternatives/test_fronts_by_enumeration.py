"""Fronts of small lines against plain enumeration: every way, every pair of ways."""

from __future__ import annotations

from functools import partial
from itertools import pairwise

import numpy as np
import pytest
from fronts_made import CLOSE, Ways, dealt_built, front_of, ground_of
from made import line
from test_clashes import two_lines

from router.alternatives.component import Component
from router.alternatives.front import Front, merged, trade_off
from router.alternatives.terms import BY_NAME, limited
from router.building.progress import quiet

PAIRS = (
    ("level_changes", "fittings"),
    ("drains", "fittings"),
    ("wet_drains", "fittings"),
    ("level_changes", "pipe"),
    ("styles", "fittings"),
    ("styles", "pipe"),
    ("fittings", "pipe"),
    ("arm_hangers", "fittings"),
    ("level_changes", "drains"),
    ("level_changes", "styles"),
)
"""The limited term first, as the front's points have it."""


def same(front: Front, table: np.ndarray) -> int:
    """Compare a front with what all ways say; returns how many points it has."""
    assert front.proven
    if front.other.name == "pipe":
        same_pipe(front, table)
        return len(front.points)
    want = front_of(table)
    assert [(p.limited, p.other) for p in front.points] == [(a, b) for a, b, _ in want]
    for point, (_, _, rest) in zip(front.points, want, strict=True):
        assert point.rest == pytest.approx(rest, abs=CLOSE)
    return len(front.points)


def same_pipe(front: Front, table: np.ndarray) -> None:
    """Under every limit the least pipe, to the mm; and no point that saves less than that."""
    table = table[table[:, 0] == table[:, 0].min()]
    for limit in range(int(table[:, 1].max()) + 1):
        within = table[np.rint(table[:, 1]) <= limit, 2]
        points = [p.other for p in front.points if p.limited <= limit]
        assert bool(len(within)) == bool(points)
        if points:
            assert min(points) == pytest.approx(within.min(), abs=2.0)
    assert all(a.other > b.other and a.limited < b.limited for a, b in pairwise(front.points))


def test_the_limited_term_stands_first() -> None:
    for pair in PAIRS:
        first, second = (BY_NAME[name] for name in pair)
        assert limited(first, second) == limited(second, first) == (first, second)


@pytest.mark.parametrize("pair", PAIRS, ids="-".join)
def test_one_line(pair: tuple[str, str]) -> None:
    points = 0
    for seed in range(60):
        ground = ground_of(line(seed), partial(dealt_built, 40, seed))
        ways = Ways(ground.prepared, ground.trees[0].graphs[0], ground.prices, *pair)
        points += same(trade_off(ground, BY_NAME[pair[0]], BY_NAME[pair[1]], quiet), ways.table) - 1
    assert points >= 10


@pytest.mark.parametrize("pair", [PAIRS[0], PAIRS[4], PAIRS[6]], ids="-".join)
def test_two_lines_whose_arms_clash(pair: tuple[str, str]) -> None:
    joined, points = 0, 0
    for seed in range(8 if pair[1] == "pipe" else 20):
        ground = ground_of(two_lines(seed), partial(dealt_built, 44, seed))
        a, b = (Ways(ground.prepared, tree.graphs[tree.root], ground.prices, *pair) for tree in ground.trees)
        apart = (a.parts @ a.clashes(b.elements) @ b.parts.T) == 0
        first, second = np.nonzero(apart)
        front = trade_off(ground, BY_NAME[pair[0]], BY_NAME[pair[1]], quiet)
        points += same(front, a.table[first] + b.table[second]) - 1
        joined += bool(front.together)
    assert joined >= 3
    assert points >= 8


@pytest.mark.parametrize("pair", [PAIRS[0], PAIRS[4]], ids="-".join)
def test_merged_fronts_are_the_front_of_both_together(pair: tuple[str, str]) -> None:
    compared = 0
    for seed in range(12):
        ground = ground_of(two_lines(seed), partial(dealt_built, 44, seed))
        front = trade_off(ground, BY_NAME[pair[0]], BY_NAME[pair[1]], quiet)
        if front.together:
            continue
        alone = [Component(ground, (t,), front.axis, front.other) for t in range(2)]
        both = Component(ground, (0, 1), front.axis, front.other)
        parts = [(p.limited, p.other) for p in merged([c.points for c in alone])]
        assert parts == [(p.limited, p.other) for p in both.points]
        assert [p.rest for p in both.points] == pytest.approx([p.rest for p in front.points], abs=CLOSE)
        compared += len(parts) > 1
    assert compared >= 2
