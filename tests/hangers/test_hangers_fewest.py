"""The fewest really are the fewest: against search that tries everything."""

from __future__ import annotations

from itertools import combinations, pairwise

import numpy as np
import pytest
from hung import FT, IN, Line, on_run

from router.check import check_route
from router.hangers.fewest import fewest

STEP = 25.0
SPACING = {25: 12 * FT, 32: 12 * FT, 40: 15 * FT, 50: 15 * FT}
TO_END = {25: 36 * IN, 32: 48 * IN, 40: 60 * IN, 50: 60 * IN}


@pytest.mark.parametrize("seed", range(40))
def test_against_all_subsets(seed: int) -> None:
    rng = np.random.default_rng(seed)
    n = int(rng.integers(1, 11))
    xs = sorted(float(x) for x in rng.uniform(0, 1000, n))
    under, off = [bool(b) for b in rng.integers(0, 2, n)], [float(o) for o in rng.integers(0, 300, n)]
    reach_mm, last = float(rng.uniform(150, 500)), float(rng.uniform(500, 1000))

    def possible(chosen: tuple[int, ...]) -> bool:
        spots = [0.0, *(xs[i] for i in chosen)]
        return spots[-1] >= last and all(b - a <= reach_mm for a, b in pairwise(spots))

    ways = [c for k in range(n + 1) for c in combinations(range(n), k) if possible(c)]
    if not ways:
        return
    rank = min((len(c), -sum(under[i] for i in c), sum(off[i] for i in c)) for c in ways)
    found = fewest(0.0, xs, under, off, lambda x: x + reach_mm, last)
    assert possible(tuple(found))
    assert (len(found), -sum(under[i] for i in found), sum(off[i] for i in found)) == rank


def by_grid(lengths: list[float], sizes: list[int], cover: float, slack: float) -> int:
    """Fewest hangers on a grid, ``cover`` off each fitting, limits wider by ``slack``; breadth first."""
    ends = list(np.cumsum(lengths))
    sections = list(zip([0.0, *ends[:-1]], ends, strict=True))

    def allowed(x: float) -> bool:
        return all(abs(x - end) >= cover for end in ends) and 0 <= x <= ends[-1]

    def gap(a: float, b: float) -> bool:
        over = [dn for (low, high), dn in zip(sections, sizes, strict=True) if low < b and high > a]
        limit = min(SPACING[dn] for dn in over)
        for k, (low, high) in enumerate(sections):
            if a <= low and high <= b:
                if high - low >= 6 * FT:
                    return False
                if k:
                    limit = min(limit, 12 * FT)
        return b - a <= limit + 2 * slack

    def done(x: float) -> bool:
        if any(low >= x and high - low >= 6 * FT for low, high in sections):
            return False
        return bool(ends[-1] - x <= TO_END[sizes[-1]] + slack)

    grid = [float(x) for x in np.arange(0.0, ends[-1], STEP) if allowed(float(x))]
    count, front, left = 0, [0.0], grid
    while not any(done(x) for x in front):
        front = [b for b in left if any(gap(a, b) for a in front if a < b)]
        left = [b for b in left if b not in set(front)]
        count += 1
        assert front
    return count


@pytest.mark.parametrize("seed", range(12))
def test_no_position_saves_a_hanger(seed: int) -> None:
    rng = np.random.default_rng(seed)
    n = int(rng.integers(1, 6))
    lengths = [
        float(round(x)) for x in rng.choice([400.0, 900, 1500, 2600, 3600, 4500], n) + rng.uniform(0, 60, n)
    ]
    sizes = sorted((int(dn) for dn in rng.choice([25, 32, 40, 50], n)), reverse=True)
    line = Line([float(x) for x in np.cumsum(lengths)], sizes)
    route = line.hung()
    assert not [f for f in check_route(line.scenario(), route).by_rule("hangers") if f.severity == "breaks"]
    # a tee of these sizes covers 1.4 in. or more (reducing, 1 in. outlet) and 2.25 in. or less
    most, least = by_grid(lengths, sizes, 2.25 * IN + 25, 0.0), by_grid(lengths, sizes, 1.3 * IN, STEP)
    assert least <= len(on_run(route)) <= most
    assert most - least <= 1
