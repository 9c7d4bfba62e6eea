"""What keeps a head that would fit alone off its run: a neighbour's outlet, its level, an obstruction."""

from __future__ import annotations

import itertools
from typing import TYPE_CHECKING, cast

import numpy as np

from router.building.plugged_ends import end_lack
from router.route.model import Attempt
from router.takeoffs.ways import AT_MOST

if TYPE_CHECKING:
    from router.building.assemble import RunPlan
    from router.building.graphs import BuiltGraph
    from router.building.prepare import Prepared
    from router.takeoffs.candidate import Candidate
    from router.takeoffs.candidates import Candidates

MOST_LOOKED_AT = 24
"""Candidates of each style that are looked at."""

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
    "level": "off the level at which the run lies there",
    "room": "without room on the run",
    "head_level": "off the head's level",
    "behind": "short of room for the vertical behind the head",
    "straight_length": "past the end of the straight length",
    "hose_bend": "short of room for the hose's bend",
    "hose_length": "longer than a listed hose that may bend so often",
    "zone": "inside a zone without outlets",
}


ALL_THE_WAY = 1e7
"""mm. What is so far out of something is never out of it: a zone without elevations."""
CHOSEN = ("level", "piece_clearance")
"""Rules by which only what else is chosen keeps a head off."""


def words(style: str) -> str:
    """Give a style's name as the trade says it."""
    return style.replace("_", " ")


def attempt_of(
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
    """Put an attempt into a record and into words; ``more`` is added to its text."""
    everywhere = has is not None and not np.isfinite(has)
    if everywhere:
        has, needs = None, None
    short = None if has is None or needs is None else round(abs(needs - has), 1)
    where = f" at station {station:,.0f}" if station is not None else ""
    whom = f" to {against}" if against else ""
    if everywhere:
        figures = f": it runs into {against}, which is there at every level"
    elif short is None or has is None or needs is None:
        figures = f": {SAYS.get(rule, rule)}{whom}"
    elif rule in AT_MOST:
        figures = f": {short:,.1f} mm {SAYS[rule]} ({has:,.1f}, allowed {needs:,.1f})"
    elif rule == "piece_clearance" and against == prepared.scenario.runs[run].id:
        figures = f": {short:,.1f} mm too near its own line (needs {needs:,.1f} beside it, has {has:,.1f})"
    elif rule == "zone":
        figures = f": its outlet stands {short:,.1f} mm inside {against}, a zone without outlets"
    elif has < 0 and against is not None and rule in ("clearance", "ceiling"):
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


def plug_attempt(prepared: Prepared, c: Candidate) -> Attempt | None:
    """Say what the plug of a dry head is too near to where its tee ends the run."""
    frame = prepared.frames[c.run]
    lack = end_lack(prepared, frame, c)
    if lack is None:
        return None
    rule = "ceiling" if prepared.solids.ceiling[lack.solid] else "clearance"
    level = f", run at level {float(frame.levels[c.level]):,.0f}, the plugged end of its tee on the run"
    return attempt_of(
        prepared, c.run, c.style, c.station, rule, prepared.solids.ids[lack.solid], lack.has, lack.needs,
        level,
    )  # fmt: skip


def on_the_run(prepared: Prepared, built: BuiltGraph, plan: RunPlan, own: Candidates) -> list[Attempt]:
    """Say what keeps each style's best candidate off the run as it was chosen; the head fits alone.

    ``built``: the graph that the plan's arcs are of.
    """
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
        """Give :func:`gap_of`, worked out once."""
        if (level, solid) not in self.gaps:
            self.gaps[level, solid] = gap_of(self.prepared, run, level, solid)
        return self.gaps[level, solid]

    def wall(self, run: int, station: float) -> tuple[int, int] | None:
        """Give :func:`wall_of`, worked out once for each station."""
        if station not in self.walls:
            self.walls[station] = wall_of(self.prepared, run, station)
        return self.walls[station]

    def off(self, c: Candidate) -> Attempt:
        """Say what keeps a candidate off."""
        prepared, run = self.prepared, c.run
        frame, solids = prepared.frames[run], prepared.solids
        here = prepared.blocked[run].by(c.level, c.station - c.half, c.station)
        if here:
            return attempt_of(
                prepared, run, c.style, c.station, "clearance", solids.ids[here[0]],
                *self.gap(run, c.level, here[0]), f", run at level {float(frame.levels[c.level]):,.0f}",
            )  # fmt: skip
        wall = self.wall(run, c.station)
        if wall is not None:
            level, solid = wall
            return attempt_of(
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
            return attempt_of(
                prepared, run, c.style, c.station, "outlet_spacing", least[2], least[1], least[0]
            )
        level_now = self.plan.level
        for at, level in self.steps:
            if at <= c.station:
                level_now = level
        apart = abs(float(frame.levels[level_now] - frame.levels[c.level]))
        if apart > 0.05:
            return attempt_of(
                prepared, run, c.style, c.station, "level", None, 0.0, apart,
                f": it lies at {frame.levels[level_now]:,.0f} for what else it serves, this needs "
                f"{frame.levels[c.level]:,.0f}",
            )  # fmt: skip
        plugged = plug_attempt(prepared, c) if all(o.station <= c.station for o in self.others) else None
        return plugged or attempt_of(
            prepared, run, c.style, c.station, "piece_clearance", "pieces of its neighbours", None, None
        )


def wall_of(prepared: Prepared, run: int, station: float) -> tuple[int, int] | None:
    """Find the first place before ``station`` that no level passes: (nearest level, obstruction)."""
    blocked = prepared.blocked[run]
    edges = [e for e in blocked.edges() if e <= station]
    for a, b in itertools.pairwise(edges):
        by = [blocked.by(k, a, b) for k in range(len(blocked.spans))]
        if by and all(by):
            gaps = [
                (needs - has, k, solids[0])
                for k, solids in enumerate(by)
                for has, needs in [gap_of(prepared, run, k, solids[0])]
            ]
            _, level, solid = min(gaps)
            return level, solid
    return None


def gap_of(prepared: Prepared, run: int, level: int, solid: int) -> tuple[float, float]:
    """(has, needs): surface distance of the run at a level to an obstruction and its clearance, mm.

    Where the run goes right through it ``has`` is negative: less the way up or
    down out of it; ``-inf`` where there is none, as of a zone at every level.
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
            distance = distance if distance > -ALL_THE_WAY else -np.inf
        best = min(best, distance - stretch.radius)
    return float(best), float(solids.clearance[solid])
