"""The dynamic programme's passes, compiled.

Plain loops over plain arrays, in the words of :mod:`router.bounds.structure`;
``router.bounds.dynamic`` does the same with numpy where numba is not installed,
and a test holds the two together. Values are thousandths of a point.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from numba import njit

if TYPE_CHECKING:
    from router.bounds.structure import BoolArray, IntArray

NEVER = 1 << 60


@njit(cache=True)
def _passed(mask: int, i: int, j: int, ptr: IntArray, bits: IntArray, unserved: IntArray) -> tuple[int, int]:
    """Mask and price after going from position ``i`` to ``j``: items that close on the way."""
    more = 0
    for c in range(ptr[i + 1], ptr[j + 1]):
        if mask & bits[c]:
            mask ^= bits[c]
        else:
            more += unserved[c]
    return mask, more


@njit(cache=True)
def _left(i: int, mask: int, tail: IntArray, open_cost: IntArray) -> int:
    """Price of what is unserved if the run stops after position ``i`` with ``mask``."""
    total = tail[i]
    for s in range(open_cost.shape[1]):
        if not mask >> s & 1:
            total += open_cost[i, s]
    return total


@njit(cache=True)
def backward(
    ptr: IntArray,
    order: IntArray,
    goes: IntArray,
    la: IntArray,
    lb: IntArray,
    bits: IntArray,
    costs: IntArray,
    to: IntArray,
    due: IntArray,
    level_ok: BoolArray,
    steps: IntArray,
    close_ptr: IntArray,
    close_bits: IntArray,
    close_cost: IntArray,
    tail: IntArray,
    open_cost: IntArray,
    value: IntArray,
) -> None:
    """Fill ``value`` (positions, levels, flags, masks): least cost to finish from each state."""
    n, levels, flags, masks = value.shape
    for i in range(n - 1, -1, -1):
        if i + 1 < n:
            closes = close_ptr[i + 1] < close_ptr[i + 2]
            for level in range(levels):
                if not level_ok[i, level]:
                    continue
                for f in range(flags):
                    for m in range(masks):
                        if closes:
                            after, more = _passed(m, i, i + 1, close_ptr, close_bits, close_cost)
                        else:
                            after, more = m, 0
                        value[i, level, f, m] = min(value[i + 1, level, f, after] + more + steps[i], NEVER)
        for at in range(ptr[i], ptr[i + 1]):
            k = order[at]
            j, start, land = goes[k], la[k], lb[k]
            for m in range(masks):
                if m & bits[k]:
                    continue
                if j < 0:
                    ended = _left(i, m | bits[k], tail, open_cost) + costs[k]
                    for f in range(flags):
                        if ended + due[k, f] < value[i, start, f, m]:
                            value[i, start, f, m] = ended + due[k, f]
                    continue
                after, more = _passed(m | bits[k], i, j, close_ptr, close_bits, close_cost)
                more += costs[k]
                for f in range(flags):
                    way = value[j, land, to[k, f], after] + more + due[k, f]
                    if way < value[i, start, f, m]:
                        value[i, start, f, m] = way


@njit(cache=True)
def through(
    ptr: IntArray,
    order: IntArray,
    goes: IntArray,
    la: IntArray,
    lb: IntArray,
    bits: IntArray,
    costs: IntArray,
    to: IntArray,
    due: IntArray,
    level_ok: BoolArray,
    steps: IntArray,
    close_ptr: IntArray,
    close_bits: IntArray,
    close_cost: IntArray,
    tail: IntArray,
    open_cost: IntArray,
    value: IntArray,
    reach: IntArray,
    out: IntArray,
) -> None:
    """Fill ``out`` (arcs, flags): least cost of any path through each; ``reach`` holds the starts.

    What is left in ``reach`` is the least cost to come to each state.
    """
    n, levels, flags, masks = value.shape
    for i in range(n):
        if i + 1 < n:
            for level in range(levels):
                if not level_ok[i, level]:
                    continue
                for f in range(flags):
                    for m in range(masks):
                        came = reach[i, level, f, m]
                        if came >= NEVER:
                            continue
                        after, more = _passed(m, i, i + 1, close_ptr, close_bits, close_cost)
                        came += more + steps[i]
                        if came < reach[i + 1, level, f, after]:
                            reach[i + 1, level, f, after] = came
        for at in range(ptr[i], ptr[i + 1]):
            k = order[at]
            j, start, land = goes[k], la[k], lb[k]
            for m in range(masks):
                if m & bits[k]:
                    continue
                if j < 0:
                    ended = _left(i, m | bits[k], tail, open_cost) + costs[k]
                    for f in range(flags):
                        came = reach[i, start, f, m]
                        if came < NEVER and came + ended + due[k, f] < out[k, f]:
                            out[k, f] = came + ended + due[k, f]
                    continue
                after, more = _passed(m | bits[k], i, j, close_ptr, close_bits, close_cost)
                more += costs[k]
                for f in range(flags):
                    came = reach[i, start, f, m]
                    if came >= NEVER:
                        continue
                    came += more + due[k, f]
                    way = came + value[j, land, to[k, f], after]
                    if way < out[k, f]:
                        out[k, f] = way
                    if came < reach[j, land, to[k, f], after]:
                        reach[j, land, to[k, f], after] = came


@njit(cache=True)
def path(
    ptr: IntArray,
    order: IntArray,
    goes: IntArray,
    la: IntArray,
    lb: IntArray,
    bits: IntArray,
    costs: IntArray,
    to: IntArray,
    due: IntArray,
    close_ptr: IntArray,
    close_bits: IntArray,
    close_cost: IntArray,
    close_item: IntArray,
    tail: IntArray,
    open_cost: IntArray,
    value: IntArray,
    level: int,
    arcs: IntArray,
    missed: IntArray,
) -> tuple[int, int, int, int]:
    """Follow the best path from ``level``; ties go to the first arc in order.

    Writes its arcs and the items that it passes unserved; returns how many of
    each, and the position and mask at its end.
    """
    i, f, mask, taken, passed = 0, 0, 0, 0, 0
    while True:
        best = value[i, level, f, mask]
        step = -1
        for at in range(ptr[i], ptr[i + 1]):
            k = order[at]
            if la[k] != level or mask & bits[k]:
                continue
            if goes[k] < 0:
                way = _left(i, mask | bits[k], tail, open_cost) + costs[k] + due[k, f]
            else:
                after, more = _passed(mask | bits[k], i, goes[k], close_ptr, close_bits, close_cost)
                way = value[goes[k], lb[k], to[k, f], after] + more + costs[k] + due[k, f]
            if way == best:
                step = k
                break
        j = i + 1
        if step >= 0:
            arcs[taken] = step
            taken += 1
            mask |= bits[step]
            if goes[step] < 0:
                return taken, passed, i, mask
            j, level, f = goes[step], lb[step], to[step, f]
        for c in range(close_ptr[i + 1], close_ptr[j + 1]):
            if mask & close_bits[c]:
                mask ^= close_bits[c]
            else:
                missed[passed] = close_item[c]
                passed += 1
        i = j


@njit(cache=True)
def backward_many(
    ptr: IntArray,
    order: IntArray,
    goes: IntArray,
    la: IntArray,
    lb: IntArray,
    bits: IntArray,
    costs: IntArray,
    to: IntArray,
    due: BoolArray,
    level_ok: BoolArray,
    steps: IntArray,
    close_ptr: IntArray,
    close_bits: IntArray,
    close_cost: IntArray,
    tail: IntArray,
    open_cost: IntArray,
    drain: IntArray,
    value: IntArray,
) -> None:
    """Do what :func:`backward` does for several prices at once.

    They are the last axis of ``costs``, ``steps``, ``drain`` and ``value``;
    unserved items cost the same in all.
    """
    n, levels, flags, masks, many = value.shape
    for i in range(n - 1, -1, -1):
        if i + 1 < n:
            closes = close_ptr[i + 1] < close_ptr[i + 2]
            for level in range(levels):
                if not level_ok[i, level]:
                    continue
                for f in range(flags):
                    for m in range(masks):
                        if closes:
                            after, more = _passed(m, i, i + 1, close_ptr, close_bits, close_cost)
                        else:
                            after, more = m, 0
                        for p in range(many):
                            way = value[i + 1, level, f, after, p] + more + steps[i, p]
                            value[i, level, f, m, p] = min(way, NEVER)
        for at in range(ptr[i], ptr[i + 1]):
            k = order[at]
            j, start, land = goes[k], la[k], lb[k]
            for m in range(masks):
                if m & bits[k]:
                    continue
                if j < 0:
                    ended = _left(i, m | bits[k], tail, open_cost)
                    for f in range(flags):
                        for p in range(many):
                            way = ended + costs[k, p] + due[k, f] * drain[p]
                            if way < value[i, start, f, m, p]:
                                value[i, start, f, m, p] = way
                    continue
                after, more = _passed(m | bits[k], i, j, close_ptr, close_bits, close_cost)
                for f in range(flags):
                    for p in range(many):
                        way = value[j, land, to[k, f], after, p] + more + costs[k, p] + due[k, f] * drain[p]
                        if way < value[i, start, f, m, p]:
                            value[i, start, f, m, p] = way
