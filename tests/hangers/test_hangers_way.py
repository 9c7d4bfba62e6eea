"""Where the next hanger back must be is found with few questions, and is what plain halving finds."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest

from router.hangers.way import Way, make_way
from router.route.model import Piece
from router.scenario.model import Rules
from router.trade.hangers import HangerLimits
from router.trade.tables import Tables


def way_at_random(seed: int) -> Way:
    rng = np.random.default_rng(seed)
    pieces, x = [], 0.0
    for k in range(int(rng.integers(1, 12))):
        length = float(rng.choice([150.0, 600.0, 1800.0, 3000.0, 5000.0])) + round(
            float(rng.uniform(0, 90)), 3
        )
        dn = int(rng.choice([25, 32, 40, 50]))
        pieces.append(
            Piece(
                id=f"P{k}", kind="run", owner="B", run="B", start=(x, 0, 0), end=(x + length, 0, 0), dn=dn,
                length=length, make_up=length, fittings=(None, None),
            )
        )  # fmt: skip
        x += length
    way = make_way(pieces, HangerLimits(Tables("inch"), Rules()))
    way.held = -float(rng.choice([0.0, 700.0, 2500.0]))
    for k, part in enumerate(way.parts):
        way.allowed.append((part.start + 40.0, part.end - 40.0, k))
        if part.end - part.start >= 1828.8:
            way.need.append((part.start, part.end))
        elif k:
            way.close.append((part.start, part.end))
    way.settle()
    return way


def by_halving(way: Way, goal: float) -> float:
    low, high = way.held, goal
    for _ in range(60):
        middle = (low + high) / 2
        low, high = (low, middle) if way.reach(middle) >= goal else (middle, high)
    return high


@pytest.mark.parametrize("seed", range(60))
def test_the_least_position_is_that_of_plain_halving(seed: int) -> None:
    way = way_at_random(seed)
    rng = np.random.default_rng(seed + 1000)
    places = [float(x) for x in rng.uniform(0.0, way.length, 12)]
    places += [edge for low, high, _ in way.allowed for edge in (low, high)]
    for goal in places:
        if way.reach(way.held) < goal:
            assert way._least_to(goal) == by_halving(way, goal)


@pytest.mark.parametrize("seed", range(20))
def test_reach_never_falls(seed: int) -> None:
    way = way_at_random(seed)
    far = [way.reach(float(x)) for x in np.linspace(way.held, way.length, 500)]
    assert all(b >= a - 1e-6 for a, b in pairwise(far))
