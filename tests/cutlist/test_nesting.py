"""Nesting against known instances and brute force."""

from __future__ import annotations

import itertools
from collections import Counter
from functools import cache

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from router.model import nesting
from router.model.nesting import Nesting, nest

REELS = {
    1380: 22, 1520: 25, 1560: 12, 1710: 14, 1820: 18, 1880: 18, 1930: 20, 2000: 10, 2050: 12, 2100: 14,
    2140: 16, 2150: 18, 2200: 20,
}  # fmt: skip


def sound(plan: Nesting, demand: dict[int, int], stocks: list[int], saw: int) -> None:
    """Every length in exactly one bar, no bar overfull, sums right."""
    cut = Counter(length for bar in plan.bars for length in bar.lengths)
    assert cut == Counter({length: n for length, n in demand.items() if n})
    for bar in plan.bars:
        assert bar.stock in stocks
        assert sum(bar.lengths) + saw * (len(bar.lengths) - 1) <= bar.stock
        assert list(bar.lengths) == sorted(bar.lengths, reverse=True)
    assert plan.bought == sum(bar.stock for bar in plan.bars)
    assert plan.least <= plan.bought
    assert plan.fewest <= len(plan.bars)
    assert plan.proven == (plan.least == plan.bought)


def brute(lengths: tuple[int, ...], stocks: list[int], saw: int) -> int:
    """The least length bought: every way to split a set of pieces into bars."""
    full = (1 << len(lengths)) - 1
    cost: dict[int, int] = {}
    for mask in range(1, full + 1):
        inside = [x for k, x in enumerate(lengths) if mask >> k & 1]
        need = sum(inside) + saw * (len(inside) - 1)
        fits = [s for s in stocks if s >= need]
        if fits:
            cost[mask] = min(fits)

    @cache
    def best(left: int) -> int:
        if not left:
            return 0
        low = left & -left
        rest = left ^ low
        found = 10**9
        sub = rest
        while True:
            if sub | low in cost:
                found = min(found, cost[sub | low] + best(rest ^ sub))
            if not sub:
                return found
            sub = (sub - 1) & rest

    return best(full)


def test_the_well_known_reels() -> None:
    """Cutting stock, 219 rolls from bars of 5600: 73 bars (general encyclopaedia's example, from memory)."""
    plan = nest(REELS, [5600])
    sound(plan, REELS, [5600], 0)
    assert len(plan.bars) == 73
    assert plan.proven
    assert plan.fewest == 73


def test_where_first_fit_decreasing_takes_one_too_many() -> None:
    """A textbook set for bins of 60, from memory: 44+8+8, 24+24+6+6, 22+21+17; first fit takes four."""
    demand = {44: 1, 24: 2, 22: 1, 21: 1, 17: 1, 8: 2, 6: 2}
    plan = nest(demand, [60])
    sound(plan, demand, [60], 0)
    assert len(plan.bars) == 3
    assert plan.proven


@pytest.mark.parametrize("most", [nesting.MOST_LISTED, 0])
def test_halves_and_a_little_cannot_share(most: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """n pieces just over half a bar need n bars, whatever their sum says (closed form)."""
    monkeypatch.setattr(nesting, "MOST_LISTED", most)
    plan = nest({51: 7}, [100])
    assert (len(plan.bars), plan.fewest, plan.proven) == (7, 7, True)
    # a third and a little: two to a bar
    plan = nest({34: 9}, [100])
    assert (len(plan.bars), plan.proven) == (5, True)


def test_the_saw_cut_counts_between_pieces_only() -> None:
    assert len(nest({50: 2}, [100], 0).bars) == 1
    assert len(nest({50: 2}, [100], 1).bars) == 2
    assert len(nest({49: 2}, [100], 2).bars) == 1
    assert len(nest({49: 2}, [100], 3).bars) == 2
    assert len(nest({100: 1}, [100], 3).bars) == 1


def test_of_several_stock_lengths_the_least_is_bought() -> None:
    """Three of 60 and one of 40: 100 + 60 + 60 = 220 is all used; from 100 alone 300 are bought."""
    demand = {60: 3, 40: 1}
    assert nest(demand, [100]).bought == 300
    plan = nest(demand, [100, 60])
    sound(plan, demand, [100, 60], 0)
    assert plan.bought == 220
    assert plan.proven
    # the same length in fewer bars
    assert len(nest({50: 2}, [100, 50]).bars) == 1


@settings(max_examples=60, deadline=None, derandomize=True)
@given(
    lengths=st.lists(st.integers(5, 60), min_size=1, max_size=9),
    stocks=st.lists(st.integers(60, 100), min_size=1, max_size=2, unique=True),
    saw=st.integers(0, 4),
    listed=st.booleans(),
)
def test_against_brute_force(lengths: list[int], stocks: list[int], saw: int, listed: bool) -> None:
    demand = dict(Counter(lengths))
    kept = nesting.MOST_LISTED
    try:
        nesting.MOST_LISTED = kept if listed else 0
        plan = nest(demand, stocks, saw)
    finally:
        nesting.MOST_LISTED = kept
    sound(plan, demand, stocks, saw)
    optimum = brute(tuple(sorted(lengths)), stocks, saw)
    assert plan.least <= optimum <= plan.bought
    if listed:
        assert plan.bought == optimum


def test_many_different_lengths_stay_near_the_bound() -> None:
    """Sixty lengths, all different: patterns are generated, and the plan is at most a bar off."""
    demand = {300 + 37 * k % 2111: 1 for k in range(60)}
    plan = nest(demand, [4032], 2)
    sound(plan, demand, [4032], 2)
    assert plan.bought - plan.least <= 4032


def test_the_same_plan_every_time() -> None:
    demand = {300 + 37 * k % 2111: 1 + k % 3 for k in range(40)}
    assert nest(demand, [4032], 2) == nest(dict(reversed(demand.items())), [4032], 2)


def test_the_knapsack_against_every_choice() -> None:
    weights, counts, values = (7, 5, 3), (2, 3, 2), (70, 52, 29)
    best, chosen = nesting._knapsack(weights, counts, values, 20)
    every = itertools.product(*(range(n + 1) for n in counts))
    fits = [c for c in every if sum(n * w for n, w in zip(c, weights, strict=True)) <= 20]
    assert best == max(sum(n * v for n, v in zip(c, values, strict=True)) for c in fits)
    assert best == sum(n * v for n, v in zip(chosen, values, strict=True))
    assert sum(n * w for n, w in zip(chosen, weights, strict=True)) <= 20


@pytest.mark.parametrize(
    ("demand", "stocks", "saw", "says"),
    [
        ({101: 1}, [100], 0, "length 101 is longer than the longest stock length 100"),
        ({0: 1}, [100], 0, "length 0"),
        ({5: 1}, [], 0, "stock lengths"),
        ({5: 1}, [100], -1, "saw cut -1"),
    ],
)
def test_what_cannot_be(demand: dict[int, int], stocks: list[int], saw: int, says: str) -> None:
    with pytest.raises(ValueError, match=says):
        nest(demand, stocks, saw)


def test_nothing_to_cut() -> None:
    assert nest({}, [100]) == Nesting((), 0, 0, 0, True)
