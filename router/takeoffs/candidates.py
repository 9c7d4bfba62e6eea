"""Candidates by the thousand: one array per field, a :class:`Candidate` only where one is looked at."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, fields
from typing import TYPE_CHECKING, Any, overload

import numpy as np

from router.profiles.columns import padded
from router.takeoffs.candidate import Branch, Candidate, Xyz
from router.trade.styles import STYLES

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from router.geometry.plan import FloatArray
    from router.geometry.solids import BoolArray, IntArray


RUN_TAKEOFF = "run_takeoff"
STYLE_NAMES = (*STYLES, RUN_TAKEOFF)
SIDES = ("left", "right", "top", "bottom", "end")


def style_code(style: str) -> int:
    """Return what stands for a style in columns."""
    return STYLE_NAMES.index(style)


def side_code(side: str) -> int:
    """Return what stands for a side of the run in columns."""
    return SIDES.index(side)


@dataclass
class CandidateColumns:
    """What the graph needs to know of many candidates; shapes (candidates,) unless said otherwise.

    ``style``, ``side``: see :func:`style_code`, :func:`side_code`. ``heads``:
    (candidates, w), ``feeds``: (candidates, v, 2) as run and level, -1 where
    there is none. ``trunk``: whether there is one.
    """

    style: NDArray[np.int8]
    side: NDArray[np.int8]
    station: FloatArray
    level: IntArray
    half: FloatArray
    end_half: FloatArray
    fittings: IntArray
    end_fittings: IntArray
    pipe: FloatArray
    hangers: IntArray
    reducers: IntArray
    hoses: IntArray
    drains: IntArray
    steps: IntArray
    may_end: BoolArray
    may_pass: BoolArray
    trunk: BoolArray
    heads: IntArray
    feeds: IntArray

    @classmethod
    def of(cls, made: Sequence[Candidate]) -> CandidateColumns:
        """Columns of candidates that exist as objects."""
        n = len(made)

        def column(name: str, kind: type) -> Any:
            return np.array([getattr(c, name) for c in made], dtype=kind)

        width = max((len(c.feeds) for c in made), default=0)
        feeds = np.full((n, width, 2), -1, dtype=np.int64)
        for k, c in enumerate(made):
            for j, feed in enumerate(c.feeds):
                feeds[k, j] = feed.run, feed.level
        own: dict[str, Any] = {
            "style": np.array([style_code(c.style) for c in made], dtype=np.int8),
            "side": np.array([side_code(c.side) for c in made], dtype=np.int8),
        }
        own |= {name: column(name, float) for name in ("station", "half", "end_half", "pipe")}
        own |= {name: column(name, np.int64) for name in WHOLE}
        own |= {name: column(name, bool) for name in ("may_end", "may_pass")}
        own["trunk"] = np.array([bool(c.trunk) for c in made], dtype=bool)
        own["heads"] = padded([[b.head for b in c.branches] for c in made])
        return cls(feeds=feeds, **own)

    @classmethod
    def filled(cls, count: int, heads: IntArray, **given: object) -> CandidateColumns:
        """Columns for ``count`` candidates; scalars are spread, what is not given is 0.

        ``heads``: shape (candidates, w).
        """
        own: dict[str, Any] = {"may_end": True, "may_pass": True}
        own |= {name: code(given[name]) for name, code in CODES.items() if isinstance(given[name], str)}
        for name, kind in KIND.items():
            value = own.get(name, given.get(name, 0))
            own[name] = np.broadcast_to(np.asarray(value, dtype=kind), (count,))
        return cls(heads=heads, feeds=np.zeros((count, 0, 2), dtype=np.int64), **own)

    def candidate(
        self, k: int, run: int, outlet: Xyz, trunk: tuple[Xyz, ...], branches: tuple[Branch, ...]
    ) -> Candidate:
        """Candidate ``k`` as an object; where it lies is not in the columns."""
        return Candidate(
            run=run,
            style=STYLE_NAMES[self.style[k]],
            side=SIDES[self.side[k]],
            station=float(self.station[k]),
            level=int(self.level[k]),
            outlet=outlet,
            trunk=trunk,
            branches=branches,
            half=float(self.half[k]),
            fittings=int(self.fittings[k]),
            end_fittings=int(self.end_fittings[k]),
            pipe=float(self.pipe[k]),
            hangers=int(self.hangers[k]),
            reducers=int(self.reducers[k]),
            hoses=int(self.hoses[k]),
            drains=int(self.drains[k]),
            steps=int(self.steps[k]),
            end_half=float(self.end_half[k]),
            may_end=bool(self.may_end[k]),
            may_pass=bool(self.may_pass[k]),
        )

    def take(self, index: IntArray | BoolArray) -> CandidateColumns:
        """Columns of some of the candidates."""
        return CandidateColumns(**{f.name: getattr(self, f.name)[index] for f in fields(self)})


WHOLE = ("level", "fittings", "end_fittings", "hangers", "reducers", "hoses", "drains", "steps")
CODES: dict[str, Callable[[Any], int]] = {"style": style_code, "side": side_code}
KIND: dict[str, type] = {
    **{name: np.int8 for name in CODES},
    **{name: float for name in ("station", "half", "end_half", "pipe")},
    **{name: np.int64 for name in WHOLE},
    **{name: bool for name in ("may_end", "may_pass", "trunk")},
}


class Candidates(Sequence[Candidate]):
    """A sequence of candidates that are made when they are looked at."""

    def __init__(self, columns: CandidateColumns, make: Callable[[int], Candidate]) -> None:
        self.columns = columns
        self.make = make
        self._made: dict[int, Candidate] = {}

    @classmethod
    def of(cls, made: Sequence[Candidate]) -> Candidates:
        """Candidates that exist as objects."""
        if isinstance(made, Candidates):
            return made
        if not len(made):
            return NONE
        return cls(CandidateColumns.of(made), made.__getitem__)

    @classmethod
    def join(cls, parts: Sequence[Sequence[Candidate]]) -> Candidates:
        """Several sequences one after the other."""
        every = [Candidates.of(p) for p in parts if len(p)]
        if len(every) == 1:
            return every[0]
        if not every:
            return NONE
        begins = np.cumsum([0, *(len(p) for p in every)])
        heads = max(p.columns.heads.shape[1] for p in every)
        feeds = max(p.columns.feeds.shape[1] for p in every)
        columns = CandidateColumns(
            **{
                f.name: np.concatenate(
                    [
                        _widened(getattr(p.columns, f.name), {"heads": heads, "feeds": feeds}.get(f.name))
                        for p in every
                    ]
                )
                for f in fields(CandidateColumns)
            }
        )

        makes = [p.make for p in every]  # not the parts themselves: their columns are no longer wanted

        def make(k: int) -> Candidate:
            part = int(np.searchsorted(begins, k, side="right")) - 1
            return makes[part](k - int(begins[part]))

        return cls(columns, make)

    def take(self, index: BoolArray | IntArray) -> Candidates:
        """Give some of the candidates."""
        at = np.flatnonzero(index) if index.dtype == bool else index
        make = self.make
        return Candidates(self.columns.take(at), lambda k: make(int(at[k])))

    def of_head(self, head: int) -> list[Candidate]:
        """Those that serve a head (index), in order."""
        return [self[int(k)] for k in np.flatnonzero((self.columns.heads == head).any(axis=1))]

    def feeding(self, run: int) -> list[Candidate]:
        """Those that feed a run (index), in order."""
        return [self[int(k)] for k in np.flatnonzero((self.columns.feeds[:, :, 0] == run).any(axis=1))]

    def __len__(self) -> int:
        return len(self.columns.station)

    @overload
    def __getitem__(self, k: int) -> Candidate: ...

    @overload
    def __getitem__(self, k: slice) -> list[Candidate]: ...

    def __getitem__(self, k: int | slice) -> Candidate | list[Candidate]:
        if isinstance(k, slice):
            return [self[i] for i in range(*k.indices(len(self)))]
        at = int(k) + (len(self) if k < 0 else 0)
        if not 0 <= at < len(self):
            raise IndexError(k)
        found = self._made.get(at)
        if found is None:
            found = self._made[at] = self.make(at)
        return found

    def __iter__(self) -> Iterator[Candidate]:
        for k in range(len(self)):
            yield self[k]

    def __eq__(self, other: object) -> bool:
        return (
            isinstance(other, Sequence)
            and len(self) == len(other)
            and all(a == b for a, b in zip(self, other, strict=True))
        )

    __hash__ = None  # type: ignore[assignment]

    def __repr__(self) -> str:
        return repr(list(self))


NONE = Candidates(CandidateColumns.of([]), [].__getitem__)


def _widened(array: Any, width: int | None) -> Any:
    if width is None or array.shape[1] == width:
        return array
    shape = (array.shape[0], width - array.shape[1], *array.shape[2:])
    return np.concatenate([array, np.full(shape, -1, dtype=np.int64)], axis=1)
