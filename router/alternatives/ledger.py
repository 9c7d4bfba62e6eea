"""Runs with an account: a level also says how much of a counted term may still be spent.

A run's graph is a layered graph, and a path's fittings, level changes and so on
add up arc by arc. So a limit on one of them needs no rule of its own: each
level is split by what is left to spend (and by whether water is trapped, where
that decides on drains), an arc leads from what is left before it to what is
left behind it, and a run that feeds others hands each its share. Everything
that solves plain runs solves these, clashes and styles included: that way the
best route under a limit is proven as any other route is.
"""

from __future__ import annotations

import copy
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import combinations
from typing import TYPE_CHECKING

import numpy as np

from router.building.assemble import RunPlan
from router.building.tree import Tree, solve_tables
from router.profiles.columns import Arcs
from router.profiles.graph import NEVER, TERMS, LongLow, RunGraph

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from router.bounds.dynamic import DynamicProgramme
    from router.building.graphs import BuiltGraph
    from router.building.prepare import Prepared
    from router.profiles.columns import ArcColumns
    from router.profiles.graph import IntArray, Prices

WHOLE = 1e-6
"""Amounts of a counted term are whole but for rounding."""
MOST_ARCS = 10_000_000
"""More arcs than this, accounts included, are not tried: they would not fit into memory."""


@dataclass(frozen=True)
class SplitLow(LongLow):
    """A long low section where each level stands ``width`` times."""

    width: int = 1

    def left_by(self, graph: RunGraph, k: int) -> bool:
        """Tell whether arc ``k`` ends or leaves the section in time."""
        foot, arc = graph.arcs[self.arc].b, graph.arcs[k]
        if arc.ends:
            return arc.b < self.until
        la, lb = arc.la // self.width, arc.lb // self.width
        turns = lb > la or (self.any_change and lb != la)
        return turns and foot <= arc.a < self.until


@dataclass
class Ledger:
    """One tree whose runs keep an account of a term.

    ``tree``: solved; its root may start with any amount from 0 to ``most``,
    beyond what is ``sure`` to be spent in any case. ``prepared``: as given, levels
    repeated as often as they are split. ``origin``: by run, the arc that each arc
    stands for. ``width``: by run, how often each level stands.
    """

    prepared: Prepared
    tree: Tree
    most: int
    origin: dict[int, IntArray]
    width: dict[int, int]

    def within(self, amount: int) -> Tree:
        """Give the tree if it may spend ``amount`` and no more; not to be changed."""
        root, tree = self.tree.root, self.tree
        built = tree.graphs[root]
        here = np.arange(built.graph.levels) % self.width[root] == min(amount, self.most)
        graph = replace(built.graph, source=np.where(here, built.graph.source, -1.0))
        table = np.where(here, tree.tables[root], NEVER)
        return replace(
            tree,
            graphs=tree.graphs | {root: replace(built, graph=graph)},
            programmes=tree.programmes | {root: _starting(tree.programmes[root], graph)},
            tables=tree.tables | {root: table},
        )

    def least(self, amount: int) -> int:
        """Lower bound of what the tree costs within ``amount``, thousandths of a point."""
        root = self.tree.root
        table = self.tree.tables[root][min(amount, self.most) :: self.width[root]]
        return min(int(table.min()), self.tree.none_served)

    def plain(self, plans: Mapping[int, RunPlan]) -> dict[int, RunPlan]:
        """Give the tree's plans among ``plans`` as plans without an account."""
        return {
            r: RunPlan(plans[r].level // self.width[r], tuple(self.origin[r][list(plans[r].arcs)].tolist()))
            for r in self.tree.order
            if r in plans
        }


def sure_shares(
    prepared: Prepared, trees: Sequence[Tree], term: str, unserved: int
) -> list[dict[int, IntArray]]:
    """Give by tree and run what each of its items takes of a term in any route; nought if that is not sure.

    ``unserved``: how many heads of the trees stay unserved at the least. If these
    are only such as nothing can serve, all others are served in every route that
    counts, each by some arc: what all arcs for a head have in common needs no account.
    """
    served = [_servable(prepared, tree) for tree in trees]
    hopeless = sum(
        prepared.heads_below(tree.root) - int(can[tree.root].sum())
        for tree, can in zip(trees, served, strict=True)
    )
    sure = term != "style" and hopeless == unserved
    return [
        {r: _common(tree.graphs[r].graph.columns, term, can[r] > 0 if sure else can[r] < 0) for r in can}
        for tree, can in zip(trees, served, strict=True)
    ]


def _servable(prepared: Prepared, tree: Tree) -> dict[int, IntArray]:
    """Give by run how many heads each of its items can serve: itself, or those below it."""
    served: dict[int, IntArray] = {}
    for r in tree.order:
        built = tree.graphs[r]
        items = built.graph.columns.items
        can = np.zeros(len(built.graph.items), dtype=np.int64)
        can[items[items >= 0]] = 1
        # a run that serves nobody need not be built
        below = [int(served[child].sum()) for child in prepared.frames[r].children]
        served[r] = can * np.array([*[1] * len(built.item_heads), *below], dtype=np.int64)
    return served


def _common(columns: ArcColumns, term: str, sure: np.ndarray) -> IntArray:
    """Share out what arcs take to the items that are ``sure`` to be served, shape (items,).

    No arc takes less than its items' shares.
    """
    share = np.zeros(len(sure), dtype=np.int64)
    items = np.flatnonzero(sure).tolist()
    if not items:
        return share
    serving = (columns.items >= 0).any(axis=1)
    sets, which = np.unique(np.sort(columns.items[serving], axis=1), axis=0, return_inverse=True)
    left = np.full(len(sets), np.iinfo(np.int64).max)
    np.minimum.at(left, which.ravel(), _whole(columns.amounts[serving, TERMS.index(term)]))
    member = {item: (sets == item).any(axis=1) for item in items}
    growing = list(items)
    while growing:
        growing = [item for item in growing if member[item].any() and left[member[item]].min() > 0]
        for item in growing:
            if left[member[item]].min() > 0:
                left[member[item]] -= 1
                share[item] += 1
    return share


def keep_account(
    prepared: Prepared, tree: Tree, term: str, most: int, prices: Prices, sure: Mapping[int, IntArray]
) -> Ledger:
    """Split a tree's runs by what is left of ``most`` pieces of ``term``, and solve it at ``prices``.

    ``sure``: as :func:`sure_shares` gives it; ``most`` is beyond that, and no more
    than :func:`most_that_fits`.
    """
    mosts = _worth_having(prepared, tree, term, most)
    states, width = _states(tree, term, mosts)
    origin: dict[int, IntArray] = {}
    graphs: dict[int, BuiltGraph] = {}
    frames = list(prepared.frames)
    for r in tree.order:
        graphs[r], origin[r] = _split(tree.graphs[r], term, states[r], width, mosts, prices, sure[r])
        frames[r] = replace(frames[r], levels=np.repeat(frames[r].levels, width[r]))
    split = replace(prepared, frames=frames)
    made = Tree(tree.root, tree.order, graphs)
    solve_tables(split, made, prices)
    return Ledger(split, made, mosts[tree.root], origin, width)


def most_that_fits(prepared: Prepared, trees: Sequence[Tree], term: str, most: int) -> int:
    """Give the largest amount up to ``most`` whose accounts can be held in memory.

    Raises
    ------
    ValueError
        If not even an account of nothing can.
    """
    for amount in range(most, -1, -1):
        arcs = 0
        for tree in trees:
            mosts = _worth_having(prepared, tree, term, amount)
            _, width = _states(tree, term, mosts)
            arcs += sum(len(tree.graphs[r].graph.columns) * width[r] for r in tree.order)
        if arcs <= MOST_ARCS:
            return amount
    name = prepared.scenario.runs[trees[0].root].id
    raise ValueError(
        f"the tree of run {name} has {arcs:,} arcs with an account; at most {MOST_ARCS:,} can be held: "
        "split the scenario"
    )


def _states(tree: Tree, term: str, mosts: Mapping[int, int]) -> tuple[dict[int, _States], dict[int, int]]:
    """Give by run its states, and how often each of its levels stands."""
    states = {r: _States.of(tree.graphs[r].graph, term, mosts[r]) for r in tree.order}
    flags = {r: 2 if tree.graphs[r].graph.traps else 1 for r in tree.order}
    return states, {r: flags[r] * len(states[r].index) for r in tree.order}


def _worth_having(prepared: Prepared, tree: Tree, term: str, most: int) -> dict[int, int]:
    """Give by run how much of a term it can spend at all with the runs below it, ``most`` at the most."""
    out = dict.fromkeys(tree.order, most)
    if term == "style":
        for r in tree.order:
            own = sum(1 for style in tree.graphs[r].graph.columns.styles if style)
            out[r] = min(most, own + sum(out[child] for child in prepared.frames[r].children))
    return out


def together(prepared: Prepared, ledgers: list[Ledger]) -> Prepared:
    """Give what is prepared with the frames of several trees' accounts."""
    frames = list(prepared.frames)
    for ledger in ledgers:
        for r in ledger.tree.order:
            frames[r] = ledger.prepared.frames[r]
    return replace(prepared, frames=frames)


def _starting(programme: DynamicProgramme, graph: RunGraph) -> DynamicProgramme:
    """Give a programme with other levels to start at: that changes none of its values."""
    made = copy.copy(programme)
    made.graph = graph
    return made


@dataclass(frozen=True)
class _States:
    """How often a level stands: once for every way in which the account can be.

    ``masks``: styles that count already, where styles are limited; else the empty
    set alone. A state is a mask and what is ``left``; those of the empty set come first.
    """

    masks: list[int]
    most: int

    @cached_property
    def index(self) -> dict[tuple[int, int], int]:
        """State by mask and what is left."""
        every = [(m, left) for m in self.masks for left in range(self.most + 1 - m.bit_count())]
        return {state: n for n, state in enumerate(every)}

    @classmethod
    def of(cls, graph: RunGraph, term: str, most: int) -> _States:
        """Give the states of a run; arcs' style codes are bits of the masks."""
        if term != "style":
            return cls([0], most)
        codes = [n for n, style in enumerate(graph.columns.styles) if style]
        sets = [c for size in range(min(most, len(codes)) + 1) for c in combinations(codes, size)]
        return cls([sum(1 << n for n in chosen) for chosen in sets], most)


def _split(
    built: BuiltGraph,
    term: str,
    states: _States,
    width: Mapping[int, int],
    mosts: Mapping[int, int],
    prices: Prices,
    share_of: IntArray,
) -> tuple[BuiltGraph, IntArray]:
    graph, columns = built.graph, built.graph.columns
    wide, most = width[built.graph.run], states.most
    flags = wide // len(states.index)
    to, due = graph.flag_moves
    drain = "wet_drain" if graph.wet else "drain"
    drain_price = prices.wet_drain_price if graph.wet else prices.drain_price
    coded = np.array([bool(style) for style in columns.styles])[columns.style]
    bits = np.where(coded, np.int64(1) << columns.style.astype(np.int64), 0)
    fed = (columns.feeds[:, :, 0] >= 0).sum(axis=1)
    shares = _shares(most, int(fed.max(initial=0)))
    by_share = {n: np.flatnonzero(fed == n) for n in {len(share) for share in shares}}
    # where a state leads: by mask and what is left, -1 where it cannot be
    state_at = np.full((1 << len(columns.styles) if term == "style" else 1, most + 1), -1, dtype=np.int64)
    for (mask, left), n in states.index.items():
        state_at[mask, left] = n
    index: list[IntArray] = []
    places: list[IntArray] = []
    feeds: list[IntArray] = []
    for flag in range(flags):
        own = _spent(columns, term, share_of)
        if term == drain:
            own = own + due[:, flag]
        for (mask, left), state in states.index.items():
            spent, after = own, np.zeros(len(columns), dtype=np.int64)
            if term == "style":
                spent, after = own + ((bits & ~mask) != 0), mask | bits
            for share in shares:
                of = by_share[len(share)]
                behind = left - sum(share) - spent[of]
                keep = behind >= 0
                if share and term != "style":  # who ends hands everything on
                    keep &= ~columns.ends[of] | (behind == 0)
                keep &= _useful(columns.feeds[of], share, mosts)
                of, behind = of[keep], behind[keep]
                if not len(of):
                    continue
                begins = np.full(len(of), flag * len(states.index) + state)
                lands = to[of, flag] * len(states.index) + state_at[after[of], behind]
                index.append(of)
                places.append(np.stack([begins, lands, np.full(len(of), flag)]))
                feeds.append(_handed(columns.feeds[of], share, width))
    origin = np.concatenate(index) if index else np.zeros(0, dtype=np.int64)
    begins, lands, trapped = np.concatenate(places, axis=1) if places else np.zeros((3, 0), dtype=np.int64)
    arcs = columns.take(origin)
    arcs.la = (arcs.la.astype(np.int64) * wide + begins).astype(np.int32)
    arcs.lb = (arcs.lb.astype(np.int64) * wide + lands).astype(np.int32)
    arcs.feeds = np.concatenate(feeds) if feeds else arcs.feeds
    arcs.amounts[:, TERMS.index(drain)] += due[origin, trapped]
    arcs.amounts[:, TERMS.index("price")] += due[origin, trapped] * drain_price
    source = np.repeat(graph.source, wide)
    source[np.arange(len(source)) % wide > most] = -1.0  # runs start with dry pipe and no style
    split = RunGraph(
        graph.run,
        graph.positions,
        np.repeat(graph.level_ok, wide, axis=1),
        Arcs(arcs),
        graph.items,
        False,
        source,
        graph.wet,
        graph.pipe_price,
    )
    split.index_arcs()
    lows: list[LongLow] = [
        SplitLow(k, low.until, low.any_change, wide)
        for low in built.long_lows
        for k in np.flatnonzero((origin == low.arc) & (trapped == 0)).tolist()
    ]
    return replace(built, graph=split, long_lows=lows), origin


def _spent(columns: ArcColumns, term: str, share_of: IntArray) -> IntArray:
    """Give what each arc spends beyond what its items are sure to take; shape (arcs,)."""
    if term == "style":
        return np.zeros(len(columns), dtype=np.int64)
    held = np.where(columns.items >= 0, share_of[np.maximum(columns.items, 0)], 0) if len(share_of) else 0
    sure = held.sum(axis=1) if isinstance(held, np.ndarray) else 0
    spent: IntArray = _whole(columns.amounts[:, TERMS.index(term)]) - sure
    return spent


def _whole(amounts: np.ndarray) -> IntArray:
    whole: IntArray = np.rint(amounts).astype(np.int64)
    if np.abs(whole - amounts).max(initial=0.0) > WHOLE:
        raise ValueError("a term that is limited must be counted in whole pieces")
    return whole


def _shares(most: int, runs: int) -> list[tuple[int, ...]]:
    """Every way to hand up to ``most`` to up to ``runs`` runs that are fed together."""
    out: list[tuple[int, ...]] = [()]
    if runs >= 1:
        out += [(a,) for a in range(most + 1)]
    if runs >= 2:
        out += [(a, b) for a in range(most + 1) for b in range(most + 1 - a)]
    return out


def _useful(feeds: IntArray, share: tuple[int, ...], mosts: Mapping[int, int]) -> np.ndarray:
    """Tell which arcs hand no run more than it can spend; shape (arcs,)."""
    keep = np.ones(len(feeds), dtype=bool)
    if share:
        runs = feeds[:, :, 0]
        can = np.zeros(int(runs.max(initial=0)) + 1, dtype=np.int64)
        for run, value in mosts.items():
            if run < len(can):
                can[run] = value
        fits = (runs < 0) | (_parts(runs, share) <= can[np.maximum(runs, 0)])
        keep &= fits.all(axis=1)
    return keep


def _parts(runs: IntArray, share: tuple[int, ...]) -> IntArray:
    """Share of each run that arcs feed, in the order in which they feed them; shape as ``runs``."""
    order = np.cumsum(runs >= 0, axis=1) - 1
    parts: IntArray = np.array(share, dtype=np.int64)[np.clip(order, 0, len(share) - 1)]
    return parts


def _handed(feeds: IntArray, share: tuple[int, ...], width: Mapping[int, int]) -> IntArray:
    """Let the runs that arcs feed start with their share."""
    out = feeds.copy()
    if not share:
        return out
    runs = feeds[:, :, 0]
    wide = np.zeros(int(runs.max(initial=0)) + 1, dtype=np.int64)
    for run, value in width.items():
        if run < len(wide):
            wide[run] = value
    own = feeds[:, :, 1] * wide[np.maximum(runs, 0)] + _parts(runs, share)
    out[:, :, 1] = np.where(runs >= 0, own, -1)
    return out
