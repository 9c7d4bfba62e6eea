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
from router.takeoffs.attempts import NEAR_STATIONS, nearest_tries, refusals

if TYPE_CHECKING:
    from collections.abc import Collection

    from router.building.assemble import RunPlan
    from router.building.graphs import BuiltGraph
    from router.building.prepare import Prepared
    from router.building.tree import Tree
    from router.profiles.frame import RunFrame
    from router.takeoffs.candidate import Candidate

MOST = 5
"""At most so many attempts are told for a head."""

MOST_ONCE_STOPPED = 20
"""So many heads at most are explained where the search was stopped: nobody wants to wait for it then."""

SAYS = {
    "make_up": "short of make-up",
    "reach": "beyond the reach",
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
        own = whole(run).candidates.of_head(h)
        if not own:
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
    short = None if has is None or needs is None else round(needs - has, 1)
    where = f" at station {station:,.0f}" if station is not None else ""
    whom = f" to {against}" if against else ""
    figures = (
        f": {short:,.1f} mm {SAYS.get(rule, rule)}{whom} (needs {needs:,.1f}, has {has:,.1f})"
        if short is not None
        else f": {SAYS.get(rule, rule)}{whom}"
    )
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
        more = f"; also {len(t.lacks) - 1} more" if len(t.lacks) > 1 else ""
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
            return _attempt(
                prepared, run, "run_takeoff", None, "room", None, None, None,
                f": nothing on {name} can be served from its supply",
            )  # fmt: skip
        ways = whole(parent).candidates.feeding(run)
        if not ways:
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


def _least_apart(prepared: Prepared, parent: int, run: int) -> float | None:
    """Return the least difference of level between a run and its parent at its start, mm."""
    a, b = prepared.frames[parent], prepared.frames[run]
    above = a.z(a.levels, b.parent_station)
    apart = np.abs(above[:, None] - b.levels[None, :])
    return float(apart.min()) if apart.size else None


def _on_the_run(prepared: Prepared, built: BuiltGraph, plan: RunPlan, own: list[Candidate]) -> list[Attempt]:
    """Say what keeps each style's best candidate off the run as it was chosen; the head fits alone."""
    best: dict[str, Attempt] = {}
    for candidate in own:
        attempt = _kept_off(prepared, built, plan, candidate)
        known = best.get(candidate.style)
        size = attempt.short if attempt.short is not None else np.inf
        if known is None or size < (known.short if known.short is not None else np.inf):
            best[candidate.style] = attempt
    return list(best.values())


def _kept_off(prepared: Prepared, built: BuiltGraph, plan: RunPlan, c: Candidate) -> Attempt:
    run = c.run
    frame = prepared.frames[run]
    solids = prepared.solids
    blocked = prepared.blocked[run]
    here = blocked.by(c.level, c.station - c.half, c.station)
    if here:
        return _attempt(
            prepared,
            run,
            c.style,
            c.station,
            "clearance",
            solids.ids[here[0]],
            *_gap(prepared, run, c.level, here[0]),
        )
    wall = _wall(prepared, run, c.station)
    if wall is not None:
        level, solid = wall
        return _attempt(
            prepared, run, c.style, c.station, "clearance", solids.ids[solid],
            *_gap(prepared, run, level, solid),
            f": the run passes it at no level of its band ({frame.band[0]:,.0f} to {frame.band[1]:,.0f})",
        )  # fmt: skip
    least: tuple[float, float, str] | None = None
    level_now = plan.level
    for k in plan.arcs:
        arc = built.graph.arcs[k]
        if arc.a / 1000.0 <= c.station:
            level_now = arc.lb
        if arc.kind != "takeoff":
            continue
        other = built.candidates[cast("int", arc.ref)]
        needs, has = c.half + other.half, abs(c.station - other.station)
        if needs - has > 0.01 and (least is None or needs - has > least[0] - least[1]):
            names = [prepared.scenario.heads[b.head].id for b in other.branches]
            names += [prepared.scenario.runs[f.run].id for f in other.feeds]
            least = (needs, has, ", ".join(names))
    if least is not None:
        return _attempt(prepared, run, c.style, c.station, "outlet_spacing", least[2], least[1], least[0])
    apart = abs(float(frame.levels[level_now] - frame.levels[c.level]))
    if apart > 0.05:
        return _attempt(
            prepared,
            run,
            c.style,
            c.station,
            "band",
            None,
            0.0,
            apart,
            f", run at level {frame.levels[c.level]:,.0f}",
        )
    return _attempt(
        prepared, run, c.style, c.station, "piece_clearance", "pieces of its neighbours", None, None
    )


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
    """(has, needs): surface distance of the run at a level to an obstruction and its clearance, mm."""
    frame = prepared.frames[run]
    solids = prepared.solids
    best, radius = np.inf, 0.0
    for stretch in frame.stretches:
        p, q = (
            np.array([*stretch.section.point(s), float(frame.z(frame.levels[level], s))])
            for s in (stretch.start, stretch.end)
        )
        distance = solids.segment_distance(p, q, solid) - stretch.radius
        if distance < best:
            best, radius = distance, stretch.radius
    del radius
    return float(best), float(solids.clearance[solid])
