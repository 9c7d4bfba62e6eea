"""The styles' term of one run, exactly: fewer styles against what each takes more.

The dynamic programme does not see it. From one supply level its best path uses
some number of styles; a cheaper choice uses fewer, so it is the best path over
the arcs of fewer styles. Through-costs tell beforehand which sets of styles
cannot be worth it.
"""

from __future__ import annotations

from itertools import combinations
from typing import TYPE_CHECKING

import numpy as np

from router.bounds.dynamic import DynamicProgramme
from router.profiles.graph import NEVER

if TYPE_CHECKING:
    from router.bounds.dynamic import Path
    from router.profiles.graph import IntArray


def styles_of(programme: DynamicProgramme, arcs: tuple[int, ...]) -> set[str]:
    """Styles that a path uses."""
    columns = programme.graph.columns
    return {columns.styles[columns.style[k]] for k in arcs} - {""}


def best_with_styles(programme: DynamicProgramme, level: int, each: int) -> tuple[int, Path]:
    """(cost, path) of the best choice from a supply level, ``each`` paid for every style used.

    The cost is without that of the level itself.
    """
    path = programme.path(level)
    most = len(styles_of(programme, path.arcs))
    best, cost = path, path.cost + each * most
    # with no style at all the run leaves its own heads unserved, and feeds others
    fewest = 0 if _own_unserved(programme) < cost else 1
    if most <= fewest or not each:
        return cost, best
    columns = programme.graph.columns
    codes = [n for n, style in enumerate(columns.styles) if style]
    least = _least_by_style(programme, level, codes, each)
    free = columns.style == _code(columns.styles, "")
    for count in range(fewest, most):
        for chosen in combinations(range(len(codes)), count):
            # with these styles alone, the head that they suit least decides
            suits = least[:, chosen].min(axis=1, initial=NEVER)
            if max(path.cost, int(suits.max(initial=0))) + each * count >= cost:
                continue
            allowed = free | np.isin(columns.style, [codes[n] for n in chosen])
            fewer = DynamicProgramme(programme.graph, programme.prices, programme.extra, allowed)
            if fewer.value[0, level, 0, 0] >= NEVER:
                continue
            found = fewer.path(level)
            total = found.cost + each * len(styles_of(programme, found.arcs))
            if total < cost:
                best, cost = found, total
    return cost, best


def _code(styles: tuple[str, ...], style: str) -> int:
    return styles.index(style) if style in styles else -1


def _own_unserved(programme: DynamicProgramme) -> int:
    """Cost of leaving every head of the run itself unserved."""
    columns = programme.graph.columns
    heads = columns.items[columns.style != _code(columns.styles, "")]
    left = np.union1d(heads[heads >= 0], programme.structure.hopeless).astype(np.int64)
    return int(programme.unserved[left].sum())


def _least_by_style(programme: DynamicProgramme, level: int, codes: list[int], each: int) -> IntArray:
    """Least cost from a level if a head is served in a style; shape (heads, styles).

    A head that may be left unserved, at no more than the path costs, says nothing and has no row.
    """
    columns, count = programme.graph.columns, len(programme.graph.items)
    start = np.full(programme.graph.levels, NEVER, dtype=np.int64)
    start[level] = 0
    through = np.minimum(programme.through(start) + programme.base, NEVER)
    least = np.full((count, len(codes)), NEVER, dtype=np.int64)
    for item in columns.items.T:
        for n, code in enumerate(codes):
            here = (item >= 0) & (columns.style == code)
            np.minimum.at(least[:, n], item[here], through[here])
    total = int(programme.value[0, level, 0, 0]) + programme.base
    # a head that no set of styles serves is served by nothing, or is a run
    silent = (least >= NEVER).all(axis=1) | (programme.unserved <= total + each * len(codes))
    return np.asarray(least[~silent])
