"""Why a head is not served: what stops each style's nearest attempt, in mm.

Two layers: what stops the head alone (make-up, clearance, reach), and, where it
would fit alone, what on its run keeps it off: a neighbour's outlet, the level
of the run, a place that the run cannot pass.
"""

from __future__ import annotations

import itertools
from typing import TYPE_CHECKING, cast

import numpy as np

from router.building.graphs import build_graph
from router.route.model import Attempt
from router.takeoffs.attempts import AT_MOST, NEAR_STATIONS, nearest_tries, refusals

if TYPE_CHECKING:
    from collections.abc import Collection

    from router.building.assemble import RunPlan
    from router.building.graphs import BuiltGraph
    from router.building.prepare import Prepared
    from router.building.tree import Tree
    from router.profiles.frame import RunFrame
    from router.takeoffs.attempts import Lack
    from router.takeoffs.candidate import Candidate
    from router.takeoffs.candidates import Candidates

MOST = 5
"""At most so many attempts are told for a head."""

MOST_LOOKED_AT = 24
"""Candidates of each style that are looked at."""

MOST_ONCE_STOPPED = 20
"""So many heads at most are explained where the search was stopped: nobody wants to wait for it then."""

SAYS = {
    "make_up": "short of make-up",
    "reach": "beyond the reach",
    "rise": "more than an arm may rise or fall",
    "clearance": "short of clearance",
    "ceiling": "short of clearance above the ceiling",
    "piece_clearance": "short of clearance",
    "outlet_spacing": "short of outlet spacing",
    "alignment": "off the line",
    "band": "off the level that the run can have there",
    "room": "without room on the run",
}


def words(style: str) -> str:
    """Give a style's name as the trade says it."""
    return style.replace("_", " ")


class _Whole:
    """Graphs with everything that was possible, built again where only the chosen is left."""

    def __init__(self, prepared: Prepared, graphs: dict[int, BuiltGraph]) -> None:
        self.prepared, self.graphs = prepared, dict(graphs)

    def __call__(self, run: int) -> BuiltGraph:
        if not self.graphs[run].whole:
            self.graphs[run] = build_graph(self.prepared, self.prepared.frames[run])
        return self.graphs[run]


def explain_unserved(
    prepared: Prepared,
    trees: list[Tree],
    plans: dict[int, RunPlan],
    heads: list[int],
    stopped: str | None = None,
) -> dict[int, list[Attempt]]:
    """Give attempts by head index, the nearest first.

    ``stopped``: what ended the search before it was done. Then this must be quick:
    of runs that were not begun there is nothing to say, and only the first few others are explained.
    """
    run_of = {h: frame.index for frame in prepared.frames for h in frame.heads}
    graphs = {r: tree.graphs[r] for tree in trees for r in tree.order}
    whole = _Whole(prepared, graphs)
    out: dict[int, list[Attempt]] = {}
    explained = 0
    for h in heads:
        run = run_of[h]
        if stopped is not None and (run not in graphs or explained >= MOST_ONCE_STOPPED):
            out[h] = [_stopped(prepared, run, stopped, begun=run in graphs)]
            continue
        explained += 1
        built = graphs[run]
        own = _of_head(whole(run).candidates, h)
        if not len(own):
            found = _alone(prepared, run, h)
        elif run not in plans:
            found = [_not_fed(prepared, graphs, whole, plans, run)]
        else:
            found = _on_the_run(prepared, built, plans[run], own)
        out[h] = sorted(found, key=lambda a: (a.short if a.short is not None else np.inf, a.style))[:MOST]
    return out


def _stopped(prepared: Prepared, run: int, why: str, *, begun: bool) -> Attempt:
    name = prepared.scenario.runs[run].id
    text = (
        f"not served so far: {why} before all ways were weighed against each other"
        if begun
        else f"not routed: {why} before {name} was worked out"
    )
    return Attempt(
        style="", run=name, station=None, rule="stopped", against=None, has=None, needs=None, short=None,
        text=text,
    )  # fmt: skip


def _attempt(
    prepared: Prepared,
    run: int,
    style: str,
    station: float | None,
    rule: str,
    against: str | None,
    has: float | None,
    needs: float | None,
    more: str = "",
) -> Attempt:
    short = None if has is None or needs is None else round(abs(needs - has), 1)
    where = f" at station {station:,.0f}" if station is not None else ""
    whom = f" to {against}" if against else ""
    if short is None or has is None or needs is None:
        figures = f": {SAYS.get(rule, rule)}{whom}"
    elif rule in AT_MOST:
        figures = f": {short:,.1f} mm {SAYS[rule]} ({has:,.1f}, allowed {needs:,.1f})"
    elif rule == "piece_clearance" and against == prepared.scenario.runs[run].id:
        figures = f": {short:,.1f} mm too near its own line (needs {needs:,.1f} beside it, has {has:,.1f})"
    elif has < 0 and against is not None:
        figures = f": {short:,.1f} mm short of clearance{whom}, which it runs into"
    else:
        figures = f": {short:,.1f} mm {SAYS.get(rule, rule)}{whom} (needs {needs:,.1f}, has {has:,.1f})"
    run_id = prepared.scenario.runs[run].id
    return Attempt(
        style=style,
        run=run_id,
        station=None if station is None else round(station, 1),
        rule=rule,
        against=against,
        has=None if has is None else round(has, 1),
        needs=None if needs is None else round(needs, 1),
        short=short,
        text=f"{words(style)} on {run_id}{where}{figures}{more}",
    )


def alone(
    prepared: Prepared,
    frame: RunFrame,
    head: int,
    levels: Collection[int] | None = None,
    most: int = NEAR_STATIONS,
    styles: Collection[str] | None = None,
) -> list[Attempt]:
    """Say what stops a head even on an empty run: one attempt of each style; see ``nearest_tries``."""
    run = frame.index
    out = []
    for t in nearest_tries(frame, prepared.scenario, prepared.solids, head, levels, most, styles):
        lack = t.worst
        more = f"; also {_others(t.lacks, lack)}" if len(t.lacks) > 1 else ""
        if t.shifted > 0.05:
            more = f", head shifted {t.shifted:,.0f} mm{more}"
        out.append(
            _attempt(
                prepared,
                run,
                t.style,
                t.station,
                lack.rule,
                lack.against,
                lack.has,
                lack.needs,
                f", run at level {t.level:,.0f}{more}",
            )
        )
    return out


def _others(lacks: tuple[Lack, ...], told: Lack) -> str:
    """Name what else an attempt lacks."""
    out = []
    for lack in sorted(lacks, key=lambda x: -x.short):
        if lack is not told:
            whom = f" to {lack.against}" if lack.against else ""
            out.append(f"{lack.short:,.1f} mm {SAYS.get(lack.rule, lack.rule)}{whom}")
    return ", ".join(out[:2]) + (f" and {len(out) - 2} more" if len(out) > 2 else "")


def _alone(prepared: Prepared, run: int, head: int) -> list[Attempt]:
    """Nothing serves the head even on an empty run."""
    frame = prepared.frames[run]
    out = alone(prepared, frame, head)
    if not out:
        for style, text in refusals(prepared.scenario, head).items():
            run_id = frame.run.id
            out.append(
                Attempt(
                    style=style,
                    run=run_id,
                    station=None,
                    rule="allowed_styles",
                    against=None,
                    has=None,
                    needs=None,
                    short=None,
                    text=f"{words(style)} is not allowed: {text}",
                )
            )
    return out


def _not_fed(
    prepared: Prepared,
    graphs: dict[int, BuiltGraph],
    whole: _Whole,
    plans: dict[int, RunPlan],
    run: int,
) -> Attempt:
    """Say what keeps a head's run from being fed: on the way up to the supply, the first thing that does."""
    while True:
        parent = prepared.frames[run].parent
        name = prepared.scenario.runs[run].id
        if parent is None:
            return _not_begun(prepared, whole, run)
        ways = _feeding(whole(parent).candidates, run)
        if not len(ways):
            rise, at = _least_apart(prepared, parent, run), prepared.frames[run].parent_station
            more = (
                "" if rise is None else f"; at the nearest pair of levels it is {rise:,.0f} mm off its parent"
            )
            return _attempt(
                prepared, parent, "run_takeoff", at, "room", name, None, None,
                f": no tee, nipple or elbow reaches {name} within the two bands{more}",
            )  # fmt: skip
        if parent in plans:
            tries = _on_the_run(prepared, graphs[parent], plans[parent], ways)
            best = min(tries, key=lambda a: a.short if a.short is not None else np.inf)
            return best.model_copy(update={"text": f"its run {name} is not fed: {best.text}"})
        run = parent


def _not_begun(prepared: Prepared, whole: _Whole, run: int) -> Attempt:
    """Say what stops a run that begins at the supply before anything could leave it."""
    frame, stations = prepared.frames[run], whole(run).candidates.columns.station
    name = frame.run.id
    wall = _wall(prepared, run, float(stations.max(initial=0.0)))
    if wall is None:
        return _attempt(
            prepared, run, "run_takeoff", None, "room", None, None, None,
            f": nothing on {name} can be served from its supply",
        )  # fmt: skip
    level, solid = wall
    met = prepared.solids.ids[solid]
    made = _attempt(prepared, run, "run_takeoff", None, "clearance", met, *_gap(prepared, run, level, solid))
    text = f"{name} cannot pass {met}: at its best level, {float(frame.levels[level]):,.0f}, it is "
    text += f"{made.short:,.1f} mm short of clearance (band {frame.band[0]:,.0f} to {frame.band[1]:,.0f})"
    return made.model_copy(update={"text": text})


def _least_apart(prepared: Prepared, parent: int, run: int) -> float | None:
    """Return the least difference of level between a run and its parent at its start, mm."""
    a, b = prepared.frames[parent], prepared.frames[run]
    above = a.z(a.levels, b.parent_station)
    apart = np.abs(above[:, None] - b.levels[None, :])
    return float(apart.min()) if apart.size else None


def _on_the_run(prepared: Prepared, built: BuiltGraph, plan: RunPlan, own: Candidates) -> list[Attempt]:
    """Say what keeps each style's best candidate off the run as it was chosen; the head fits alone."""
    kept = _Chosen(prepared, built, plan)
    best: dict[str, Attempt] = {}
    for k in kept.nearest(own):
        attempt = kept.off(own[k])
        known = best.get(attempt.style)
        size = attempt.short if attempt.short is not None else np.inf
        if known is None or size < (known.short if known.short is not None else np.inf):
            best[attempt.style] = attempt
    return list(best.values())


class _Chosen:
    """One run as it was chosen, and what keeps other candidates off it."""

    def __init__(self, prepared: Prepared, built: BuiltGraph, plan: RunPlan) -> None:
        self.prepared, self.built, self.plan = prepared, built, plan
        arcs = [built.graph.arcs[k] for k in plan.arcs]
        self.others = [built.candidates[cast("int", arc.ref)] for arc in arcs if arc.kind == "takeoff"]
        self.steps = [(arc.a / 1000.0, arc.lb) for arc in arcs]
        self.gaps: dict[tuple[int, int], tuple[float, float]] = {}
        self.walls: dict[float, tuple[int, int] | None] = {}

    def nearest(self, own: Candidates) -> list[int]:
        """Of each style the few candidates that lack least of the room that outlets need, in order."""
        c = own.columns
        station, half = np.array([o.station for o in self.others]), np.array([o.half for o in self.others])
        lack = np.zeros(len(c.station))
        if len(station):
            apart = np.abs(c.station[:, None] - station[None, :])
            lack = np.maximum(c.half[:, None] + half[None, :] - apart, 0.0).max(axis=1)
        out: list[int] = []
        for style in np.unique(c.style).tolist():
            here = np.flatnonzero(c.style == style)
            out += here[np.argsort(lack[here], kind="stable")[:MOST_LOOKED_AT]].tolist()
        return sorted(out)

    def gap(self, run: int, level: int, solid: int) -> tuple[float, float]:
        """Give :func:`_gap`, worked out once."""
        if (level, solid) not in self.gaps:
            self.gaps[level, solid] = _gap(self.prepared, run, level, solid)
        return self.gaps[level, solid]

    def wall(self, run: int, station: float) -> tuple[int, int] | None:
        """Give :func:`_wall`, worked out once for each station."""
        if station not in self.walls:
            self.walls[station] = _wall(self.prepared, run, station)
        return self.walls[station]

    def off(self, c: Candidate) -> Attempt:
        """Say what keeps a candidate off."""
        prepared, run = self.prepared, c.run
        frame, solids = prepared.frames[run], prepared.solids
        here = prepared.blocked[run].by(c.level, c.station - c.half, c.station)
        if here:
            return _attempt(
                prepared, run, c.style, c.station, "clearance", solids.ids[here[0]],
                *self.gap(run, c.level, here[0]), f", run at level {float(frame.levels[c.level]):,.0f}",
            )  # fmt: skip
        wall = self.wall(run, c.station)
        if wall is not None:
            level, solid = wall
            return _attempt(
                prepared, run, c.style, c.station, "clearance", solids.ids[solid],
                *self.gap(run, level, solid),
                f": the run passes it at no level of its band ({frame.band[0]:,.0f} to {frame.band[1]:,.0f})",
            )  # fmt: skip
        least: tuple[float, float, str] | None = None
        for other in self.others:
            needs, has = c.half + other.half, abs(c.station - other.station)
            if needs - has > 0.01 and (least is None or needs - has > least[0] - least[1]):
                names = [prepared.scenario.heads[b.head].id for b in other.branches]
                names += [prepared.scenario.runs[f.run].id for f in other.feeds]
                least = (needs, has, ", ".join(names))
        if least is not None:
            return _attempt(prepared, run, c.style, c.station, "outlet_spacing", least[2], least[1], least[0])
        level_now = self.plan.level
        for at, level in self.steps:
            if at <= c.station:
                level_now = level
        apart = abs(float(frame.levels[level_now] - frame.levels[c.level]))
        if apart > 0.05:
            return _attempt(
                prepared, run, c.style, c.station, "band", None, 0.0, apart,
                f", run at level {frame.levels[c.level]:,.0f}",
            )  # fmt: skip
        return _attempt(
            prepared, run, c.style, c.station, "piece_clearance", "pieces of its neighbours", None, None
        )


def _of_head(candidates: Candidates, head: int) -> Candidates:
    return candidates.take((candidates.columns.heads == head).any(axis=1))


def _feeding(candidates: Candidates, run: int) -> Candidates:
    return candidates.take((candidates.columns.feeds[:, :, 0] == run).any(axis=1))


def _wall(prepared: Prepared, run: int, station: float) -> tuple[int, int] | None:
    """Find the first place before ``station`` that no level passes: (nearest level, obstruction)."""
    blocked = prepared.blocked[run]
    edges = [e for e in blocked.edges() if e <= station]
    for a, b in itertools.pairwise(edges):
        by = [blocked.by(k, a, b) for k in range(len(blocked.spans))]
        if by and all(by):
            gaps = [
                (needs - has, k, solids[0])
                for k, solids in enumerate(by)
                for has, needs in [_gap(prepared, run, k, solids[0])]
            ]
            _, level, solid = min(gaps)
            return level, solid
    return None


def _gap(prepared: Prepared, run: int, level: int, solid: int) -> tuple[float, float]:
    """(has, needs): surface distance of the run at a level to an obstruction and its clearance, mm.

    Where the run goes right through it ``has`` is negative: less the way up or
    down out of it.
    """
    frame = prepared.frames[run]
    solids = prepared.solids
    best = np.inf
    for stretch in frame.stretches:
        p, q = (
            np.array([*stretch.section.point(s), float(frame.z(frame.levels[level], s))])
            for s in (stretch.start, stretch.end)
        )
        distance = solids.segment_distance(p, q, solid)
        if distance <= 0.0:
            ups = float(solids.high[solid]) - min(p[2], q[2])
            distance = (
                -ups if solids.ceiling[solid] else -min(ups, max(p[2], q[2]) - float(solids.low[solid]))
            )
        best = min(best, distance - stretch.radius)
    return float(best), float(solids.clearance[solid])
