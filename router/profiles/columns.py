"""Arcs by the thousand: one array per field, an :class:`Arc` only where one is looked at.

A line of 48 heads has more than a hundred thousand arcs, and all but a few
dozen of them are only ever costed and compared. ``Arcs`` behaves as a list of
them; what works on all at once takes ``columns``.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, fields
from typing import TYPE_CHECKING, Any, cast, overload

import numpy as np

from router.profiles.graph import TERMS, Arc, ArcKind

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from router.profiles.graph import IntArray

    FloatArray = NDArray[np.float64]
    BoolArray = NDArray[np.bool_]

KINDS: tuple[ArcKind, ...] = ("takeoff", "offset", "bend", "start", "coupling")
TAKEOFF, OFFSET, BEND, START, COUPLING = range(5)


@dataclass
class ArcColumns:
    """Fields of many arcs. Shapes (arcs,) unless said otherwise.

    ``kind``: index into :data:`KINDS`; ``by_term``: amounts, (terms, arcs), since
    they are added up term by term; ``items``: (arcs, w), -1 where there is none;
    ``feeds``: (arcs, v, 2) as child run and level, -1 where there is none;
    ``style``: index into ``styles``; ``ref``: index of the takeoff's candidate,
    else into ``changes``, -1 for none.
    """

    kind: NDArray[np.integer[Any]]
    a: IntArray
    b: IntArray
    la: NDArray[np.integer[Any]]
    lb: NDArray[np.integer[Any]]
    by_term: FloatArray
    items: IntArray
    feeds: IntArray
    style: NDArray[np.integer[Any]]
    ends: BoolArray
    ref: IntArray
    empties: BoolArray
    styles: tuple[str, ...]
    changes: Sequence[object]

    def __post_init__(self) -> None:
        """Keep the small numbers small: a large run has a hundred thousand arcs."""
        self.kind, self.style = self.kind.astype(np.int8), self.style.astype(np.int16)
        self.la, self.lb = self.la.astype(np.int32), self.lb.astype(np.int32)

    def __len__(self) -> int:
        return len(self.a)

    @classmethod
    def of(cls, arcs: Sequence[Arc]) -> ArcColumns:
        """Columns of arcs that exist as objects."""
        if isinstance(arcs, Arcs):
            return arcs.columns
        n = len(arcs)
        items = padded([arc.items for arc in arcs])
        width = max((len(arc.feeds) for arc in arcs), default=0)
        feeds = np.full((n, width, 2), -1, dtype=np.int64)
        styles: dict[str, int] = {}
        changes: list[object] = []
        ref = np.full(n, -1, dtype=np.int64)
        for k, arc in enumerate(arcs):
            for j, feed in enumerate(arc.feeds):
                feeds[k, j] = feed
            if arc.kind == "takeoff" and isinstance(arc.ref, int):
                ref[k] = arc.ref
            elif arc.ref is not None:
                ref[k] = len(changes)
                changes.append(arc.ref)
        ends = [(arc.a, arc.b, arc.la, arc.lb) for arc in arcs]
        a, b, la, lb = np.array(ends, dtype=np.int64).reshape(n, 4).T
        return cls(
            kind=np.array([KINDS.index(arc.kind) for arc in arcs], dtype=np.int64),
            a=a.copy(),
            b=b.copy(),
            la=la.copy(),
            lb=lb.copy(),
            by_term=np.array([arc.amounts for arc in arcs], dtype=float).reshape(n, len(TERMS)).T.copy(),
            items=items,
            feeds=feeds,
            style=np.array([styles.setdefault(arc.style, len(styles)) for arc in arcs], dtype=np.int64),
            ends=np.array([arc.ends for arc in arcs], dtype=bool),
            ref=ref,
            empties=np.array([arc.empties for arc in arcs], dtype=bool),
            styles=tuple(styles),
            changes=changes,
        )

    @classmethod
    def join(cls, parts: Sequence[ArcColumns]) -> ArcColumns:
        """Columns of several sets one after the other."""
        items = max(p.items.shape[1] for p in parts)
        feeds = max(p.feeds.shape[1] for p in parts)
        styles = tuple(dict.fromkeys(style for p in parts for style in p.styles))
        made: dict[str, Any] = {"styles": styles, "changes": Chain([p.changes for p in parts])}
        before = 0
        refs, codes = [], []
        for p in parts:
            shift = np.where((p.kind != TAKEOFF) & (p.ref >= 0), before, 0)
            refs.append(p.ref + shift)
            before += len(p.changes)
            recode = np.array([styles.index(style) for style in p.styles], dtype=np.int64)
            codes.append(recode[p.style] if len(p) else p.style)
        made["ref"] = np.concatenate(refs)
        made["style"] = np.concatenate(codes)
        made["items"] = np.concatenate([_widened(p.items, items) for p in parts])
        made["feeds"] = np.concatenate([_widened(p.feeds, feeds) for p in parts])
        for name in ("kind", "a", "b", "la", "lb", "ends", "empties"):
            made[name] = np.concatenate([getattr(p, name) for p in parts])
        made["by_term"] = np.concatenate([p.by_term for p in parts], axis=1)
        return cls(**made)

    def take(self, index: IntArray | BoolArray) -> ArcColumns:
        """Columns of some of the arcs."""
        if index.dtype == bool and index.all():
            return self
        at = np.flatnonzero(index) if index.dtype == bool else index
        made: dict[str, Any] = {"styles": self.styles, "changes": self.changes}
        made["by_term"] = self.by_term.take(at, axis=1)
        for f in fields(self):
            if f.name not in made:
                made[f.name] = getattr(self, f.name).take(at, axis=0)
        return ArcColumns(**made)

    @property
    def amounts(self) -> FloatArray:
        """Amounts, shape (arcs, terms): a view."""
        return self.by_term.T

    def arc(self, k: int) -> Arc:
        """Arc ``k`` as an object."""
        kind, ref = KINDS[self.kind[k]], int(self.ref[k])
        return Arc(
            kind,
            int(self.a[k]),
            int(self.b[k]),
            int(self.la[k]),
            int(self.lb[k]),
            cast("Any", tuple(self.amounts[k].tolist())),
            tuple(i for i in self.items[k].tolist() if i >= 0),
            tuple((r, level) for r, level in self.feeds[k].tolist() if r >= 0),
            self.styles[self.style[k]],
            bool(self.ends[k]),
            None if ref < 0 else ref if kind == "takeoff" else self.changes[ref],
            bool(self.empties[k]),
        )


class Arcs(Sequence[Arc]):
    """A sequence of arcs that are made when they are looked at."""

    def __init__(self, columns: ArcColumns) -> None:
        self.columns = columns
        self._made: dict[int, Arc] = {}

    def __len__(self) -> int:
        return len(self.columns)

    @overload
    def __getitem__(self, k: int) -> Arc: ...

    @overload
    def __getitem__(self, k: slice) -> list[Arc]: ...

    def __getitem__(self, k: int | slice) -> Arc | list[Arc]:
        if isinstance(k, slice):
            return [self[i] for i in range(*k.indices(len(self)))]
        at = int(k) + (len(self) if k < 0 else 0)
        if not 0 <= at < len(self):
            raise IndexError(k)
        found = self._made.get(at)
        if found is None:
            found = self._made[at] = self.columns.arc(at)
        return found

    def __iter__(self) -> Iterator[Arc]:
        for k in range(len(self)):
            yield self[k]


class Chain(Sequence[object]):
    """Several sequences as one, none of them copied."""

    def __init__(self, parts: Sequence[Sequence[object]]) -> None:
        self.parts = [p for p in parts if len(p)]
        self.begins = np.cumsum([0, *(len(p) for p in self.parts)])

    def __len__(self) -> int:
        return int(self.begins[-1])

    def __getitem__(self, k: Any) -> Any:
        part = int(np.searchsorted(self.begins, k, side="right")) - 1
        return self.parts[part][int(k - self.begins[part])]


def ascending(values: NDArray[Any]) -> NDArray[Any]:
    """Different values in order. ``numpy.unique`` hashes them first, which takes ten times as long."""
    row = np.sort(values)
    return row[np.append(True, row[1:] != row[:-1])] if len(row) else row


def ranked(values: IntArray) -> tuple[IntArray, IntArray]:
    """Different values in order, and where each of ``values`` stands among them."""
    order = np.argsort(values)
    row = values[order]
    new = np.ones(len(row), dtype=bool)
    new[1:] = row[1:] != row[:-1]
    rank = np.empty(len(row), dtype=np.int64)
    rank[order] = np.cumsum(new) - 1
    return row[new], rank


def padded(rows: Sequence[Sequence[int]]) -> IntArray:
    """Rows of different lengths as one array, -1 where there is nothing."""
    width = max((len(row) for row in rows), default=0)
    return np.array([[*row, *[-1] * (width - len(row))] for row in rows], dtype=np.int64).reshape(
        len(rows), width
    )


def _widened(array: IntArray, width: int) -> IntArray:
    more = width - array.shape[1]
    if not more:
        return array
    shape = (array.shape[0], more, *array.shape[2:])
    return np.concatenate([array, np.full(shape, -1, dtype=np.int64)], axis=1)
