"""A greedy that looks at two heads at a time, improved by local search.

Runs are taken children first, each at its nominal level and then at the levels
beside it for as long as that is cheaper. At one level the run is laid with an
offset for every crossing, and again with offsets that pass several. Heads are
taken in order, two together where one nipple for both is cheaper. Then takeoffs
that stand beside each other are chosen anew, two at a time, until nothing gains.
"""

from __future__ import annotations

import itertools
from typing import TYPE_CHECKING

from by_hand import Placed, Profile, RunView

from router.profiles.graph import NEVER

if TYPE_CHECKING:
    from collections.abc import Iterator

    from router.bounds.structure import BoolArray
    from router.building.assemble import RunPlan

WAYS = 8
"""So many of the cheapest ways for the same heads are tried at a time."""
ROUNDS = 20
"""More rounds of local search than any run took."""

Blocks = list[tuple[int, ...]]


def best_at(view: RunView, level: int, placed: Placed) -> tuple[int, RunPlan | None]:
    """Give the best that greedy and local search find from a supply level: (cost, plan).

    ``placed``: what stands already, none of it the run's own; left as it was.
    """
    best: tuple[int, RunPlan | None] = (view.cost(None), None)
    tried: set[Profile] = set()
    for merge in (False, True):
        profile = view.profile(level, level, merge=merge)
        if profile is None or profile in tried:
            continue
        tried.add(profile)
        chosen: dict[int, int] = {}
        view.lay_pipe(profile, placed)
        _greedy(view, profile, chosen, placed)
        for _ in range(ROUNDS):
            if not _improve(view, profile, chosen, placed):
                break
        plan = view.finish(profile, chosen, placed)
        clear(view, chosen, placed)
        cost = view.cost(plan)
        if cost < best[0]:
            best = cost, plan
    return best


def clear(view: RunView, chosen: dict[int, int], placed: Placed) -> None:
    """Take away all that a run has put in."""
    placed.remove(view.run, "pipe")
    for k in set(chosen.values()):
        placed.remove(view.run, k)


def _arcs(view: RunView, items: tuple[int, ...], on: BoolArray, *, last: bool) -> list[int]:
    """Give the cheapest ways for a set of items on the profile, ending ones for the last."""
    c = view.columns
    ways = view.ways.get(tuple(sorted(items)))
    if ways is None:
        return []
    fine: list[int] = ways[(c.ends[ways] == last) & on[ways]].tolist()
    return fine


def _greedy(view: RunView, profile: Profile, chosen: dict[int, int], placed: Placed) -> None:
    on = view.on(profile)
    for n, item in enumerate(view.order):
        if item in chosen:
            continue
        after = view.order[n + 1] if n + 1 < len(view.order) else None
        singles = _arcs(view, (item,), on, last=after is None)
        ways = [(int(view.costs[k]), k) for k in singles]
        if after is not None and after not in chosen:
            both = (item, after)
            end = after == view.order[-1]
            alone = _arcs(view, (after,), on, last=end)
            spared = int(view.costs[alone[0]]) if alone else view.prices.whole(view.prices.unserved)
            ways += [(int(view.costs[k]) - spared, k) for k in _arcs(view, both, on, last=end)]
        for _, k in sorted(ways):
            if view.fits(k, chosen.values(), placed):
                view.choose(k, chosen, placed)
                break


def _partitions(items: list[int]) -> Iterator[Blocks]:
    """Give all ways to part a sequence into singles and neighbouring pairs."""
    if not items:
        yield []
        return
    for size in (1, 2):
        if len(items) >= size:
            for rest in _partitions(items[size:]):
                yield [tuple(items[:size]), *rest]


def _improve(view: RunView, profile: Profile, chosen: dict[int, int], placed: Placed) -> bool:
    """Choose anew what two neighbouring takeoffs (and unserved items between) serve, all along the run."""
    on, gained = view.on(profile), False
    missed = view.prices.whole(view.prices.unserved)
    for n in range(len(view.order)):
        window = _window(view, chosen, n)
        old = {chosen[i] for i in window if i in chosen}
        now = sum(int(view.costs[k]) for k in old)
        now += missed * sum(view.graph.items[i].weight for i in window if i not in chosen)
        found = _cheaper(view, window, on, chosen, placed, old, now)
        if found is not None:
            gained = True
            for k in old:
                placed.remove(view.run, k)
            for i in window:
                chosen.pop(i, None)
            for k in found:
                view.choose(k, chosen, placed)
    return gained


def _window(view: RunView, chosen: dict[int, int], n: int) -> list[int]:
    """Give the items from place ``n`` on that two takeoffs serve, whole takeoffs only, in order."""
    arcs: list[int | None] = []
    for item in view.order[n:]:
        k = chosen.get(item)
        if k is not None and k not in arcs:
            if len(arcs) == 2:
                break
            arcs.append(k)
        elif k is None:
            if len(arcs) == 2:
                break
            arcs.append(None)
    held = {k for k in arcs if k is not None}
    return [
        i for i in view.order if chosen.get(i) in held or (i in view.order[n : n + 3] and i not in chosen)
    ]


def _cheaper(
    view: RunView,
    window: list[int],
    on: BoolArray,
    chosen: dict[int, int],
    placed: Placed,
    old: set[int],
    now: int,
) -> list[int] | None:
    best: list[int] | None = None
    last = view.order[-1]
    others = set(chosen.values()) - old
    for blocks in _partitions(window[:5]) if len(window) <= 5 else ():
        ways = [_arcs(view, b, on, last=last in b) for b in blocks]
        if any(not w for w in ways):
            continue
        if sum(int(view.costs[w[0]]) for w in ways) >= now:
            continue
        fitting = []
        for w in ways:
            fine = itertools.islice((k for k in w if view.fits(k, {*others, *old}, placed, old)), WAYS)
            fitting.append(list(fine))
        combos = sorted(itertools.product(*fitting), key=lambda ks: (sum(int(view.costs[k]) for k in ks), ks))
        for ks in combos:
            cost = sum(int(view.costs[k]) for k in ks)
            if cost >= now:
                break
            if _apart(view, ks, placed):
                best, now = list(ks), cost
                break
    return best


def _apart(view: RunView, ks: tuple[int, ...], placed: Placed) -> bool:
    """Whether several new takeoffs leave each other room and do not clash."""
    alone = Placed(view.prepared)
    for n, k in enumerate(ks):
        if not view.fits(k, ks[:n], alone):
            return False
        alone.add(view.run, k, view.shapes.arc(view.run, k))
    return True


def explore(view: RunView, placed: Placed) -> dict[int, tuple[int, RunPlan | None]]:
    """Give what a run costs from its nominal level and those beside it, until it gets no cheaper."""
    levels = [lvl for lvl in range(view.graph.levels) if view.graph.source[lvl] >= 0]
    if not levels:
        return {}
    middle = min(range(len(levels)), key=lambda n: (abs(levels[n] - view.nominal), n))
    known = {levels[middle]: best_at(view, levels[middle], placed)}
    for step in (1, -1):
        at, best, worse = middle + step, known[levels[middle]][0], 0
        while 0 <= at < len(levels) and worse < 2:
            known[levels[at]] = best_at(view, levels[at], placed)
            worse = 0 if known[levels[at]][0] < best else worse + 1
            best = min(best, known[levels[at]][0])
            at += step
    return {level: found for level, found in known.items() if found[0] < NEVER}
