"""Why a head is not served: what stops each style's nearest attempt, in mm.

Two layers: what stops the head alone (make-up, clearance, reach), and, where it
would fit alone, what on its run keeps it off: a neighbour's outlet, the level
of the run, a place that the run cannot pass.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from router.building.graphs import build_graph
from router.building.kept_off import SAYS, attempt_of, gap_of, no_room, on_the_run, wall_of, words
from router.route.model import Attempt
from router.takeoffs.attempts import NEAR_STATIONS, nearest_tries, refusals
from router.takeoffs.pairs import CROSS, SHARED
from router.takeoffs.propose import styles_for
from router.trade.styles import STYLES

if TYPE_CHECKING:
    from collections.abc import Collection

    from router.building.assemble import RunPlan
    from router.building.graphs import BuiltGraph
    from router.building.prepare import Prepared
    from router.building.tree import Tree
    from router.profiles.frame import RunFrame
    from router.takeoffs.candidates import Candidates
    from router.takeoffs.ways import Lack

PAIRS = (SHARED, CROSS)
MOST = 5
"""At most so many attempts are told for a head."""

MOST_ONCE_STOPPED = 20
"""So many heads at most are explained where the search was stopped: nobody wants to wait for it then."""


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
        elif not _has_arcs(whole(run), h):
            found = no_room(prepared, whole(run), own)
        elif run not in plans:
            found = [_not_fed(prepared, graphs, whole, plans, run)]
        else:
            found = on_the_run(prepared, built, plans[run], own)
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
        if lack.plug:
            more = f", the plugged end of its tee{more}"
        if t.note:
            more += f"; {t.note}"
        if t.shifted > 0.05:
            more = f", head shifted {t.shifted:,.0f} mm{more}"
        out.append(
            attempt_of(
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
            what = " of its plugged end" if lack.plug else ""
            out.append(f"{lack.short:,.1f} mm {SAYS.get(lack.rule, lack.rule)}{what}{whom}")
    return ", ".join(out[:2]) + (f" and {len(out) - 2} more" if len(out) > 2 else "")


def _alone(prepared: Prepared, run: int, head: int) -> list[Attempt]:
    """Nothing serves the head even on an empty run."""
    frame = prepared.frames[run]
    return [*alone(prepared, frame, head), *_without_figures(prepared, run, head)]


def _without_figures(prepared: Prepared, run: int, head: int) -> list[Attempt]:
    """Say of the styles that nothing can be measured of why there is none.

    Styles for other kinds of head are not told: there are always some for its own.
    """
    scenario, out = prepared.scenario, []
    kind = scenario.heads[head].kind
    refused = refusals(scenario, head)
    open_styles = styles_for(scenario, scenario.heads[head])
    for style in STYLES:
        if style in refused and not refused[style].startswith("style_for_head"):
            rule, text = "allowed_styles", f"{words(style)} is not allowed: {refused[style]}"
        elif style in open_styles and style == "flexible_drop" and kind == "sidewall":
            rule, text = "not_tried", "flexible drop is allowed, but not tried: none is laid to a sidewall"
        elif style in open_styles and style in PAIRS:
            rule, text = "room", f"{words(style)}: no place for it and a head across the line together"
        else:
            continue
        out.append(stop_words(style, rule, text, scenario.runs[run].id))
    return out


def stop_words(style: str, rule: str, text: str, run: str) -> Attempt:
    """Give an attempt that lacks nothing in mm."""
    return Attempt(
        style=style, run=run, station=None, rule=rule, against=None, has=None, needs=None, short=None,
        text=text,
    )  # fmt: skip


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
            return attempt_of(
                prepared, parent, "run_takeoff", at, "room", name, None, None,
                f": no tee, nipple or elbow reaches {name} within the two bands{more}",
            )  # fmt: skip
        if parent in plans:
            tries = on_the_run(prepared, graphs[parent], plans[parent], ways)
            best = min(tries, key=lambda a: a.short if a.short is not None else np.inf)
            return best.model_copy(update={"text": f"its run {name} is not fed: {best.text}"})
        run = parent


def _not_begun(prepared: Prepared, whole: _Whole, run: int) -> Attempt:
    """Say what stops a run that begins at the supply before anything could leave it."""
    frame, stations = prepared.frames[run], whole(run).candidates.columns.station
    name = frame.run.id
    wall = wall_of(prepared, run, float(stations.max(initial=0.0)))
    if wall is None:
        return attempt_of(
            prepared, run, "run_takeoff", None, "room", None, None, None,
            f": nothing on {name} can be served from its supply",
        )  # fmt: skip
    level, solid = wall
    met = prepared.solids.ids[solid]
    made = attempt_of(
        prepared, run, "run_takeoff", None, "clearance", met, *gap_of(prepared, run, level, solid)
    )
    text = f"{name} cannot pass {met}: at its best level, {float(frame.levels[level]):,.0f}, it is "
    text += f"{made.short:,.1f} mm short of clearance (band {frame.band[0]:,.0f} to {frame.band[1]:,.0f})"
    return made.model_copy(update={"text": text})


def _least_apart(prepared: Prepared, parent: int, run: int) -> float | None:
    """Return the least difference of level between a run and its parent at its start, mm."""
    a, b = prepared.frames[parent], prepared.frames[run]
    above = a.z(a.levels, b.parent_station)
    apart = np.abs(above[:, None] - b.levels[None, :])
    return float(apart.min()) if apart.size else None


def _has_arcs(built: BuiltGraph, head: int) -> bool:
    """Whether some takeoff of a head has room on its run, all others away."""
    item = built.item_heads.index(head)
    return bool((built.graph.columns.items == item).any())


def _of_head(candidates: Candidates, head: int) -> Candidates:
    return candidates.take((candidates.columns.heads == head).any(axis=1))


def _feeding(candidates: Candidates, run: int) -> Candidates:
    return candidates.take((candidates.columns.feeds[:, :, 0] == run).any(axis=1))
