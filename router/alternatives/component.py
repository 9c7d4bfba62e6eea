"""The exact front of trees that are decided together: for every limit the least of the other term."""

from __future__ import annotations

import heapq
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

from router.alternatives.ledger import Ledger, keep_account, most_that_fits, sure_shares, together
from router.alternatives.ranked import Ranked, amounts_of, pieces, ranked, rest_of
from router.building.close import close
from router.building.tree import solve_tables

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from router.alternatives.ground import Ground
    from router.alternatives.terms import TradeTerm
    from router.building.assemble import RunPlan
    from router.building.tree import Tree


Bound = tuple[int, int]
"""Unserved heads, and the least of the term that is not limited."""


@dataclass(frozen=True)
class Reached:
    """What some trees come to at the least under a limit.

    ``limited``, ``other``: amounts of the two terms, whole pieces or mm of pipe.
    ``rest``: everything else at the scenario's weights, thousandths of a point.
    """

    unserved: int
    other: int
    limited: int
    rest: int
    plans: dict[int, RunPlan] = field(default_factory=dict, compare=False)
    proven: bool = True

    @property
    def order(self) -> tuple[int, int, int]:
        """What comes first comes first."""
        return self.unserved, self.other, self.rest

    def plus(self, more: Reached) -> Reached:
        """Both together."""
        return Reached(
            self.unserved + more.unserved,
            self.other + more.other,
            self.limited + more.limited,
            self.rest + more.rest,
            self.plans | more.plans,
            self.proven and more.proven,
        )


class Component:
    """Trees that may clash with each other, by their indices.

    ``points``: the front, by ascending limited term; each has fewer of the other
    term than the one before. ``whole``: whether every limit was looked at; ``cut``: not
    all, since their accounts would not fit into memory.
    """

    def __init__(self, ground: Ground, members: tuple[int, ...], axis: TradeTerm, other: TradeTerm) -> None:
        self.ground, self.members, self.axis, self.other = ground, members, axis, other
        self.trees = [ground.trees[t] for t in members]
        self.whole = True
        self.cut = False
        self.ledgers: list[Ledger] = []
        self.alone: list[list[Bound]] = []
        self.onward: list[list[Bound]] = []
        self.rank: Ranked | None = None
        self.points = self._all()

    def _reached(self, trees: list[Tree], plans: dict[int, RunPlan], *, proven: bool) -> Reached:
        ground = self.ground
        amounts = amounts_of(ground.prepared, trees, plans, ground.prices)
        rest = replace(ground.prices, **{self.axis.term: 0.0, self.other.term: 0.0})
        return Reached(
            round(amounts["unserved"]),
            pieces(amounts, self.other),
            pieces(amounts, self.axis),
            rest_of(amounts, rest),
            plans,
            proven,
        )

    def _last(self) -> Reached:
        """Give a route with the least there can be of the other term, and little of the limited one."""
        ground = self.ground
        own = ground.prices
        if not getattr(own, self.axis.term):
            own = replace(own, **{self.axis.term: 1.0})
        rank = ranked(ground.prepared, self.trees, own, [self.other])
        trees = [replace(tree, programmes={}, tables={}) for tree in self.trees]
        for tree in trees:
            solve_tables(ground.prepared, tree, rank.prices)
        closed = close(ground.prepared, trees, rank.prices, ground.stop)
        self.whole &= closed.status == "optimal"
        return self._reached(self.trees, closed.plans, proven=closed.status == "optimal")

    def _all(self) -> list[Reached]:
        """Try every limit, from what is sure to be spent to what is worth spending."""
        ground, axis = self.ground, self.axis
        last = self._last()
        shares = sure_shares(ground.prepared, self.trees, axis.term, last.unserved)
        sure = sum(int(share.sum()) for tree in shares for share in tree.values())
        most = last.limited - sure - 1
        if most < 0 or ground.late():
            self.whole &= most < 0
            return [last]
        fits = most_that_fits(ground.prepared, self.trees, axis.term, most)
        self.whole &= fits == most
        self.cut, most = fits < most, fits
        none = replace(ground.prices, **{axis.term: 0.0})
        self.rank = rank = ranked(ground.prepared, self.trees, none, [self.other])
        self.ledgers = [
            keep_account(ground.prepared, tree, axis.term, most, rank.prices, share)
            for tree, share in zip(self.trees, shares, strict=True)
        ]
        self._bounds(most)
        points: list[Reached] = []
        for limit in range(most + 1):
            if ground.late():
                self.whole = False
                break
            found = self._within(limit, last, points[-1] if points else None)
            if found is not None:
                points.append(found)
        if not points or last.other < points[-1].other:
            points.append(last)
        return points

    def _within(self, limit: int, last: Reached, before: Reached | None) -> Reached | None:
        """Give the best under a limit, if it serves all that can be served and has less than ``before``."""

        def worth(bound: Bound) -> bool:
            return bound[0] <= last.unserved and (before is None or bound[1] < before.other)

        best: Reached | None = None
        waiting = list(self._splits(limit, 0, (0, 0), worth))
        heapq.heapify(waiting)
        while waiting:
            bound, split = heapq.heappop(waiting)
            if best is not None and bound > (best.unserved, best.other):
                break
            if self.ground.late():
                self.whole = False
                break
            found = self._settle(split)
            if worth((found.unserved, found.other)) and (best is None or found.order < best.order):
                best = found
        return best

    def _bounds(self, most: int) -> None:
        """Work out what trees can have at the least, each by itself and all from some tree on together.

        Both are (unserved, least of the other term) by what may be spent, clashes between trees apart.
        """
        assert self.rank is not None
        for ledger in self.ledgers:
            values = [ledger.least(part) for part in range(most + 1)]
            self.alone.append([(self.rank.unserved(v), self.rank.amount(v)) for v in values])
        after: list[Bound] = [(0, 0)] * (most + 1)
        self.onward = [after]
        for own in reversed(self.alone):
            after = [
                min(_sum(own[part], after[total - part]) for part in range(total + 1))
                for total in range(most + 1)
            ]
            self.onward.insert(0, after)

    def _splits(
        self, total: int, tree: int, sofar: Bound, worth: Callable[[Bound], bool]
    ) -> Iterator[tuple[Bound, tuple[int, ...]]]:
        """Give all ways to share ``total`` out to the trees from ``tree`` on that are ``worth`` a look."""
        if not worth(_sum(sofar, self.onward[tree][total])):
            return
        if tree == len(self.ledgers) - 1:
            yield _sum(sofar, self.alone[tree][total]), (total,)
            return
        for part in range(total + 1):
            with_it = _sum(sofar, self.alone[tree][part])
            for bound, others in self._splits(total - part, tree + 1, with_it, worth):
                yield bound, (part, *others)

    def _settle(self, split: tuple[int, ...]) -> Reached:
        assert self.rank is not None
        ground = self.ground
        trees = [ledger.within(part) for ledger, part in zip(self.ledgers, split, strict=True)]
        prepared = together(ground.prepared, self.ledgers)
        closed = close(prepared, trees, self.rank.prices, ground.stop)
        plans: dict[int, RunPlan] = {}
        for ledger in self.ledgers:
            plans |= ledger.plain(closed.plans)
        proven = closed.status == "optimal"
        self.whole &= proven
        return self._reached(self.trees, plans, proven=proven)


def _sum(a: Bound, b: Bound) -> Bound:
    return a[0] + b[0], a[1] + b[1]
