"""Marks for cuts that are alike, and which cut comes out of which stock length."""

from __future__ import annotations

from collections import Counter, defaultdict, deque
from dataclasses import replace
from typing import TYPE_CHECKING

from router.cutlist.lengths import to_mm, units_down, units_up
from router.cutlist.records import Bar, Group, StockSize
from router.model.nesting import nest

if TYPE_CHECKING:
    from collections.abc import Sequence

    from router.cutlist.records import Cut, Outlet, Preparation
    from router.scenario.model import Rules
    from router.trade.sizes import Standard

STOCK_MM: dict[str, tuple[float, ...]] = {"inch": (21 * 304.8,), "metric": (6000.0,)}
"""Stock lengths of steel pipe: 21 ft, 6 m. Common practice, no source; ``rules.stock_lengths`` overrides."""


def stock_units(rules: Rules, standard: Standard) -> tuple[int, ...]:
    """Give the stock lengths in whole units, longest first.

    Raises
    ------
    ValueError
        Names a length that is none.
    """
    given = rules.stock_lengths if rules.stock_lengths is not None else STOCK_MM[standard]
    if not given:
        raise ValueError("rules.stock_lengths: [] mm: at least one length expected, or leave it out")
    found = {units_down(mm, standard) for mm in given}
    if min(found) <= 0:
        raise ValueError(f"rules.stock_lengths: {min(given):g} mm: more than 0 expected")
    return tuple(sorted(found, reverse=True))


def saw_units(rules: Rules, standard: Standard) -> int:
    """Give what a saw cut eats in whole units, rounded up.

    Raises
    ------
    ValueError
        If it is negative.
    """
    if rules.saw_cut < 0:
        raise ValueError(f"rules.saw_cut: {rules.saw_cut:g} mm: 0 or more expected")
    return units_up(rules.saw_cut, standard)


def _holes(outlets: Sequence[Outlet]) -> tuple[tuple[float, int, float], ...]:
    """Outlets as far as the fabricator sees them: to the millimetre and the degree."""
    return tuple((round(o.station), o.dn, round(o.clock)) for o in outlets)


def mark(cuts: Sequence[Cut]) -> tuple[list[Cut], list[Group]]:
    """Give equal cuts a common mark: a letter for the size, a number by length, longest first.

    Cuts are alike with the same size, rounded length, end preparations and
    outlets. A plain piece may be turned end for end, one with outlets not.
    """
    alike: dict[tuple[object, ...], list[Cut]] = defaultdict(list)
    for cut in cuts:
        ends: tuple[Preparation, ...] = (cut.ends[0].preparation, cut.ends[1].preparation)
        if not cut.outlets:
            ends = tuple(sorted(ends))
        alike[cut.dn, -cut.units, ends, _holes(cut.outlets)].append(cut)
    letters = {dn: _letters(k) for k, dn in enumerate(sorted({cut.dn for cut in cuts}))}
    numbers: Counter[int] = Counter()
    groups, marks = [], {}
    for key in sorted(alike, key=lambda k: (k[0], k[1], str(k[2]), str(k[3]))):
        members = alike[key]
        first = members[0]
        numbers[first.dn] += 1
        name = f"{letters[first.dn]}{numbers[first.dn]}"
        tags = tuple(cut.tag for cut in members)
        preparations = (first.ends[0].preparation, first.ends[1].preparation)
        groups.append(Group(name, first.dn, first.units, preparations, tags, first.outlets))
        marks.update(dict.fromkeys(tags, name))
    return [replace(cut, mark=marks[cut.tag]) for cut in cuts], groups


def _letters(k: int) -> str:
    return chr(ord("A") + k)


def nest_cuts(cuts: Sequence[Cut], stocks: tuple[int, ...], saw: int) -> tuple[list[Bar], list[StockSize]]:
    """Nest all cuts, size by size.

    Parameters
    ----------
    cuts
        Each longer than 0 and no longer than the longest stock length.
    stocks, saw
        In units.
    """
    bars: list[Bar] = []
    sizes: list[StockSize] = []
    for dn in sorted({cut.dn for cut in cuts}):
        waiting: dict[int, deque[Cut]] = defaultdict(deque)
        for cut in cuts:
            if cut.dn == dn:
                waiting[cut.units].append(cut)
        plan = nest({units: len(queue) for units, queue in waiting.items()}, stocks, saw)
        for bar in plan.bars:
            taken = tuple(waiting[units].popleft() for units in bar.lengths)
            used = sum(bar.lengths)
            # the last length needs no cut where it ends with the bar
            saws = len(taken) if used + saw * (len(taken) - 1) < bar.stock else len(taken) - 1
            left = max(bar.stock - used - saw * saws, 0)
            bars.append(Bar(len(bars) + 1, dn, bar.stock, taken, saws, left))
        used = sum(cut.units for cut in cuts if cut.dn == dn)
        sizes.append(StockSize(dn, len(plan.bars), plan.fewest, plan.bought, plan.least, used, plan.proven))
    return bars, sizes


def waste(size: StockSize, standard: Standard) -> tuple[float, float]:
    """Give what is bought and not used, saw dust included: mm, and share of what is bought in %."""
    lost = size.bought_units - size.cut_units
    return to_mm(lost, standard), 100.0 * lost / size.bought_units if size.bought_units else 0.0
