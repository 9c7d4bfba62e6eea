"""The axes in space of everything a run may do, for clashes between pieces."""

from __future__ import annotations

import itertools
from dataclasses import dataclass
from typing import TYPE_CHECKING, cast

import numpy as np
import shapely

from router.building.plugged_ends import plug_axes
from router.geometry.segments import segment_distances
from router.geometry.solids import TOUCH
from router.takeoffs.run_takeoff import AT_END

if TYPE_CHECKING:
    from router.building.graphs import BuiltGraph
    from router.building.prepare import Prepared
    from router.geometry.plan import FloatArray
    from router.geometry.solids import IntArray
    from router.profiles.changes import Change
    from router.profiles.graph import Arc
    from router.takeoffs.candidate import Candidate


SLAB = 2000.0
"""mm of height that clashes are looked for in at a time."""


@dataclass(frozen=True)
class Axes:
    """Pipe axes of one element, arrays over its pieces.

    ``arm``: a takeoff's piece (else run pipe); ``attached``: it begins at the
    outlet on its own run; ``near_start``: run pipe that begins at the run's
    own start; ``feeds``: runs that the element feeds; ``tee``: plan point
    at which its run leaves its parent.
    """

    run: int
    start: FloatArray
    end: FloatArray
    radius: FloatArray
    arm: np.ndarray
    attached: np.ndarray
    near_start: np.ndarray
    feeds: frozenset[int]
    tee: tuple[float, float] = (0.0, 0.0)


class Shapes:
    """Makes the axes of arcs and stays, each once."""

    def __init__(self, prepared: Prepared, graphs: dict[int, BuiltGraph]) -> None:
        self.prepared, self.graphs = prepared, graphs
        self._arcs: dict[tuple[int, int], Axes] = {}
        self.arm_radius = prepared.tables.od(prepared.scenario.rules.arm_size) / 2

    def arc(self, run: int, k: int) -> Axes:
        """Axes of arc ``k`` of a run: its arms and the run pipe that it stands for."""
        if (run, k) not in self._arcs:
            self._arcs[run, k] = self._make(run, self.graphs[run].graph.arcs[k])
        return self._arcs[run, k]

    def stay(self, run: int, a: int, b: int, level: int, *, first: bool = False) -> Axes:
        """Axes of the run at ``level`` between two stations in micrometres.

        ``first``: no fitting comes before it, so up to the first vertex of the plan it is one
        pipe with the run's beginning.
        """
        line = self._line(run, a / 1000.0, b / 1000.0, level, level)
        if first and self.may_be_first(run, a):
            line[0] = (*line[0][:3], True)
        return self._collect(run, line, [], [], frozenset())

    def may_be_first(self, run: int, a: int) -> bool:
        """Whether level pipe from a station (micrometres) on can be one pipe with the run's beginning."""
        inner = self.prepared.frames[run].plan.stations[1:-1]
        return not len(inner) or a / 1000.0 + TOUCH < float(inner[0])

    def _line(
        self, run: int, a: float, b: float, la: int, lb: int
    ) -> list[tuple[tuple[float, ...], tuple[float, ...], float, bool]]:
        """Run pipe from station ``a`` to ``b`` (mm), cut at plan vertices."""
        frame = self.prepared.frames[run]
        inner = [float(s) for s in frame.plan.stations[1:-1] if a + TOUCH < s < b - TOUCH]
        room = self.graphs[run].room
        first, second = float(frame.levels[la]), float(frame.levels[lb])
        out: list[tuple[tuple[float, ...], tuple[float, ...], float, bool]] = []
        stops = [a, *inner, b]
        for s, t in itertools.pairwise(stops):
            p = (*frame.plan.place(s), first + frame.pitch * s)
            q = (*frame.plan.place(t), second + frame.pitch * t)
            radius = frame.stretch_at(s + TOUCH).radius
            out.append((p, q, radius, s <= room + 1.0))
        return out

    def _make(self, run: int, arc: Arc) -> Axes:
        a, b = arc.a / 1000.0, arc.b / 1000.0
        if arc.kind == "takeoff":
            candidate = self.graphs[run].candidates[cast("int", arc.ref)]
            line = self._line(run, a, b, arc.la, arc.la) if b > a else []
            arms, attached = _arm_axes(candidate)
            radius = self.arm_radius
            if arc.feeds:
                child = self.prepared.frames[arc.feeds[0][0]]
                radius = child.stretches[0].radius
            feeds = frozenset(r for r, _ in arc.feeds)
            pieces = [(p, q, radius) for p, q in arms]
            for plug in plug_axes(self.prepared, self.prepared.frames[run], candidate, ends=arc.ends):
                pieces.append((plug.start, plug.end, plug.radius))
                attached.append(plug.at_outlet)
            return self._collect(run, line, pieces, attached, feeds)
        if arc.kind == "start" or arc.la == arc.lb:
            return self._collect(run, self._line(run, a, b, arc.la, arc.lb), [], [], frozenset())
        change = cast("Change", arc.ref)
        line = self._line(run, a, change.first, arc.la, arc.la)
        line += self._line(run, change.first, change.second, arc.la, arc.lb)
        line += self._line(run, change.second, b, arc.lb, arc.lb)
        return self._collect(run, line, [], [], frozenset())

    def _collect(
        self,
        run: int,
        line: list[tuple[tuple[float, ...], tuple[float, ...], float, bool]],
        arms: list[tuple[tuple[float, ...], tuple[float, ...], float]],
        attached: list[bool],
        feeds: frozenset[int],
    ) -> Axes:
        none = [False] * len(line)
        # one array for all numbers and one for all marks: most elements are a piece or two
        rows = [(*p, *q, radius) for p, q, radius, _ in line] + [(*p, *q, radius) for p, q, radius in arms]
        numbers: FloatArray = np.array(rows, dtype=float).reshape(-1, 7)
        near = [x[3] for x in line] + [False] * len(arms)
        marks = np.array([none + [True] * len(arms), none + attached, near], dtype=bool)
        ends = numbers[:, :3], numbers[:, 3:6], numbers[:, 6]
        return Axes(run, *ends, marks[0], marks[1], marks[2], feeds, self._tee(run))

    def _tee(self, run: int) -> tuple[float, float]:
        frame = self.prepared.frames[run]
        if frame.parent is None:
            return 0.0, 0.0
        x, y = self.prepared.frames[frame.parent].plan.point(frame.parent_station)
        return float(x), float(y)


def _arm_axes(candidate: Candidate) -> tuple[list[tuple[tuple[float, ...], tuple[float, ...]]], list[bool]]:
    axes = candidate.axes()
    if candidate.trunk:
        attached = [i == 0 for i in range(len(axes))]
    else:
        firsts, n = set(), 0
        for branch in candidate.branches:
            firsts.add(n)
            n += len(branch.points)
        attached = [i in firsts for i in range(len(axes))]
    return list(axes), attached


def clash_matrix(a: list[Axes], b: list[Axes], gap: float, parents: list[int | None]) -> np.ndarray:
    """Which of ``a`` are too near to which of ``b``; shape (len(a), len(b)).

    ``gap``: least surface distance, mm. Joined pieces are no clash: those at one
    outlet, a child run's beginning and the parent's pipe and nipple there, one
    run's own pipe.
    """
    out = np.zeros((len(a), len(b)), dtype=bool)
    out[clash_pairs(a, b, gap, parents)] = True
    return out


def clash_pairs(
    a: list[Axes], b: list[Axes], gap: float, parents: list[int | None]
) -> tuple[IntArray, IntArray]:
    """Give the same as indices into ``a`` and ``b``, in order."""
    none = np.zeros(0, dtype=np.int64)
    fa, fb = _flat(a), _flat(b)
    if not len(fa["radius"]) or not len(fb["radius"]):
        return none, none
    margin = gap + float(fa["radius"].max() + fb["radius"].max())
    i, j = _near(fa, fb, margin)
    keep = ~_joined(fa, fb, i, j, parents)
    i, j = i[keep], j[keep]
    reach = fa["radius"][i] + fb["radius"][j] + gap
    dz = np.maximum(
        np.minimum(fa["start"][i, 2], fa["end"][i, 2]) - np.maximum(fb["start"][j, 2], fb["end"][j, 2]),
        np.minimum(fb["start"][j, 2], fb["end"][j, 2]) - np.maximum(fa["start"][i, 2], fa["end"][i, 2]),
    )
    near = dz < reach
    i, j, reach = i[near], j[near], reach[near]
    if not len(i):
        return none, none
    distance = segment_distances(fa["start"][i], fa["end"][i], fb["start"][j], fb["end"][j])
    hit = distance < reach - TOUCH
    found = np.unique(np.column_stack([fa["element"][i[hit]], fb["element"][j[hit]]]), axis=0)
    return found[:, 0], found[:, 1]


def _near(fa: dict[str, np.ndarray], fb: dict[str, np.ndarray], margin: float) -> tuple[IntArray, IntArray]:
    """Pairs of pieces whose boxes meet, those of ``fa`` grown by ``margin``; slab by slab of height.

    A building's storeys lie over each other in plan: without slabs every piece
    would meet those of all storeys.
    """
    spans = []
    for flat, more in ((fa, margin), (fb, 0.0)):
        z = np.sort(np.column_stack([flat["start"][:, 2], flat["end"][:, 2]]), axis=1)
        spans.append(np.floor((z + np.array([-more, more])) / SLAB).astype(np.int64))
    found = []
    boxes_a, boxes_b = _boxes(fa, margin), _boxes(fb, 0.0)
    lowest, highest = spans[1].min(), spans[1].max()
    for slab in range(int(lowest), int(highest) + 1):
        a, b = (np.flatnonzero((s[:, 0] <= slab) & (s[:, 1] >= slab)) for s in spans)
        if len(a) and len(b):
            i, j = shapely.STRtree(boxes_b[b]).query(boxes_a[a])
            # a pair that shares several slabs is taken in the first
            first = np.maximum(np.maximum(spans[0][a[i], 0], spans[1][b[j], 0]), lowest) == slab
            found.append((a[i[first]], b[j[first]]))
    if not found:
        return np.zeros(0, dtype=np.int64), np.zeros(0, dtype=np.int64)
    return np.concatenate([i for i, _ in found]), np.concatenate([j for _, j in found])


def _flat(elements: list[Axes]) -> dict[str, np.ndarray]:
    sizes = [len(e.radius) for e in elements]
    return {
        "start": np.concatenate([e.start for e in elements]) if elements else np.zeros((0, 3)),
        "end": np.concatenate([e.end for e in elements]) if elements else np.zeros((0, 3)),
        "radius": np.concatenate([e.radius for e in elements]) if elements else np.zeros(0),
        "arm": np.concatenate([e.arm for e in elements]) if elements else np.zeros(0, bool),
        "attached": np.concatenate([e.attached for e in elements]) if elements else np.zeros(0, bool),
        "near_start": np.concatenate([e.near_start for e in elements]) if elements else np.zeros(0, bool),
        "run": np.repeat([e.run for e in elements], sizes),
        "tee": np.repeat(np.array([e.tee for e in elements]).reshape(-1, 2), sizes, axis=0),
        "element": np.repeat(np.arange(len(elements)), sizes),
        "feed": np.repeat([min(e.feeds) if e.feeds else -1 for e in elements], sizes),
        "feed2": np.repeat([max(e.feeds) if e.feeds else -1 for e in elements], sizes),
    }


def _boxes(flat: dict[str, np.ndarray], margin: float) -> np.ndarray:
    low = np.minimum(flat["start"], flat["end"])[:, :2] - margin
    high = np.maximum(flat["start"], flat["end"])[:, :2] + margin
    return np.asarray(shapely.box(low[:, 0], low[:, 1], high[:, 0], high[:, 1]))


def _joined(
    fa: dict[str, np.ndarray],
    fb: dict[str, np.ndarray],
    i: np.ndarray,
    j: np.ndarray,
    parents: list[int | None],
) -> np.ndarray:
    """Pairs of pieces that are joined to each other and so cannot clash."""
    parent = np.array([-1 if p is None else p for p in parents])
    arm_a, arm_b = fa["arm"][i], fb["arm"][j]
    run_a, run_b = fa["run"][i], fb["run"][j]
    same = run_a == run_b
    skip: np.ndarray = same & ~arm_a & ~arm_b
    skip |= same & arm_a & ~arm_b & fa["attached"][i]
    skip |= same & arm_b & ~arm_a & fb["attached"][j]
    # a child's beginning meets its parent's pipe, the nipple that feeds it, and its twin
    for f, k, g, m in ((fa, i, fb, j), (fb, j, fa, i)):
        beside = g["near_start"][m] & ~g["arm"][m] & (parent[g["run"][m]] == f["run"][k]) & ~f["arm"][k]
        some = np.flatnonzero(beside)
        skip[some] |= _in_line(f["start"][k[some]], f["end"][k[some]], g["tee"][m[some]])
    skip |= fb["near_start"][j] & arm_a & ((fa["feed"][i] == run_b) | (fa["feed2"][i] == run_b))
    skip |= fa["near_start"][i] & arm_b & ((fb["feed"][j] == run_a) | (fb["feed2"][j] == run_a))
    twins = (parent[run_a] == parent[run_b]) & (parent[run_a] >= 0) & (run_a != run_b)
    some = np.flatnonzero(twins & fa["near_start"][i] & fb["near_start"][j])
    # twins leave one cross: runs from two places of a parent may run through each other
    away = np.hypot(*(fa["tee"][i[some]] - fb["tee"][j[some]]).T)
    skip[some] |= away <= AT_END
    return skip


def _in_line(start: FloatArray, end: FloatArray, tee: FloatArray) -> np.ndarray:
    """Whether tees are in line with pipes of the parent in plan: its other legs may be met like any pipe."""
    along, to = end[:, :2] - start[:, :2], tee - start[:, :2]
    off = np.abs(along[:, 0] * to[:, 1] - along[:, 1] * to[:, 0])
    return np.asarray(off <= AT_END * np.hypot(along[:, 0], along[:, 1]))
