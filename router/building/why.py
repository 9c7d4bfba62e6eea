"""Why a head is not served: what stops each style's nearest attempt, in mm.

Two layers: what stops the head alone (make-up, clearance, reach), and, where it
would fit alone, what on its run keeps it off: a neighbour's outlet, the level
of the run, a place that the run cannot pass.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from router.building.feeding import serving, up
from router.building.graphs import build_graph
from router.building.instead import MOST_HEADS, instead_of
from router.building.kept_off import CHOSEN, SAYS, attempt_of, on_the_run, words
from router.building.no_room import no_room
from router.building.reach import Reach
from router.route.model import Attempt
from router.takeoffs.attempts import NEAR_STATIONS, nearest_tries, refusals
from router.takeoffs.pairs import CROSS, SHARED
from router.takeoffs.places import places_of
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
    kept = _KeptOff(prepared, trees, whole, plans, 0 if stopped is not None else MOST_HEADS)
    out: dict[int, list[Attempt]] = {}
    explained = 0
    for h in heads:
        run = run_of[h]
        if stopped is not None and (run not in graphs or explained >= MOST_ONCE_STOPPED):
            out[h] = [_stopped(prepared, run, stopped, begun=run in graphs)]
            continue
        explained += 1
        own = _of_head(whole(run).candidates, h)
        if not len(own):
            found = _alone(prepared, run, h)
        elif not _has_arcs(whole(run), h):
            found = no_room(prepared, whole(run), own)
        else:
            out[h] = kept.off(h, run, own)[:MOST]
            continue
        out[h] = _nearest_first(found)[:MOST]
    return out


def _nearest_first(found: list[Attempt]) -> list[Attempt]:
    """Sort by what is short; what the rules refuse comes last: it must not push out what they allow."""

    def order(a: Attempt) -> tuple[float, bool, str]:
        return a.short if a.short is not None else np.inf, a.rule == "allowed_styles", a.style

    return sorted(found, key=order)


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
    tries, others = alone(prepared, frame, head), _without_figures(prepared, run, head)
    # what a rule refuses is told where nothing can be measured
    return [*tries, *(a for a in others if a.rule == "not_tried")] if tries else others


def _without_figures(prepared: Prepared, run: int, head: int) -> list[Attempt]:
    """Say of the styles that nothing can be measured of why there is none.

    Styles for other kinds of head are not told: there are always some for its own.
    """
    scenario, out = prepared.scenario, []
    kind = scenario.heads[head].kind
    refused = refusals(scenario, head)
    open_styles = styles_for(scenario, scenario.heads[head])
    pin = scenario.pins.heads.get(scenario.heads[head].id)
    pinned = [] if pin is None else [pin.style] if pin.style is not None else pin.styles or []
    for style in pinned or STYLES:
        if style in refused and not refused[style].startswith("style_for_head"):
            rule, text = "allowed_styles", f"{words(style)} is not allowed: {refused[style]}"
        elif style in open_styles and style == "flexible_drop" and kind == "sidewall":
            rule, text = "not_tried", "flexible drop is allowed, but not tried: none is laid to a sidewall"
        elif style in open_styles and style in PAIRS:
            rule, text = "room", f"{words(style)}: {_pairing(prepared, run, head)}"
        else:
            continue
        out.append(stop_words(style, rule, text, scenario.runs[run].id))
    return out


def _pairing(prepared: Prepared, run: int, head: int) -> str:
    """Say whether a head across the line could share an outlet, and that there is no place for it then."""
    frame, scenario = prepared.frames[run], prepared.scenario
    apart = max(scenario.rules.slide, scenario.rules.alignment)
    places = places_of(frame, scenario, frame.heads, scenario.rules.reach)
    mine = [place for place in places if place.head == head]
    kind = scenario.heads[head].kind
    near = {
        scenario.heads[other.head].id
        for own in mine
        for other in places
        if other.section == own.section
        and other.lateral * own.lateral < 0
        and abs(other.own - own.own) <= apart
        and scenario.heads[other.head].kind == kind
    }
    if not near:
        return f"no head on the other side of {frame.run.id} is near enough to share it"
    return f"no place for it and {' or '.join(sorted(near))} together"


def stop_words(style: str, rule: str, text: str, run: str) -> Attempt:
    """Give an attempt that lacks nothing in mm."""
    return Attempt(
        style=style, run=run, station=None, rule=rule, against=None, has=None, needs=None, short=None,
        text=text,
    )  # fmt: skip


class _KeptOff:
    """What keeps heads that fit alone off the route: first what cuts them off, then what else is chosen.

    ``most``: of so many heads it is asked who would be left out for them.
    """

    def __init__(
        self, prepared: Prepared, trees: list[Tree], whole: _Whole, plans: dict[int, RunPlan], most: int
    ) -> None:
        self.prepared, self.trees, self.whole, self.plans = prepared, trees, whole, plans
        self.reach = Reach(whole)
        self.graphs = {r: tree.graphs[r] for tree in trees for r in tree.order}
        self.left = most

    def off(self, head: int, run: int, own: Candidates) -> list[Attempt]:
        """Say what keeps a head off; ``own``: its candidates on its run."""
        prepared, plans = self.prepared, self.plans
        links, cut_off = up(prepared, self.reach, run, serving(self.whole(run), head))
        if cut_off:
            return _nearest_first(cut_off)
        built = next((link for link in links if link[0] in plans), None)
        if built is None:
            told = self._others(head, [])
            text = "nothing on its way from the supply is built: each way clashes with another piece of it"
            return told or [stop_words("", "piece_clearance", text, prepared.scenario.runs[run].id)]
        above, arcs = built
        if above == run:
            found = on_the_run(prepared, self.graphs[run], plans[run], own)
        else:
            refs = np.unique(self.whole(above).graph.columns.ref[arcs])
            ways = self.whole(above).candidates.take(refs)
            tries = on_the_run(prepared, self.graphs[above], plans[above], ways)
            below = links[[link[0] for link in links].index(above) - 1][0]
            name = prepared.scenario.runs[below].id
            best = min(tries, key=lambda a: a.short if a.short is not None else np.inf)
            found = [best.model_copy(update={"text": f"its run {name} is not fed: {best.text}"})]
        return self._others(head, _nearest_first(found))

    def _others(self, head: int, found: list[Attempt]) -> list[Attempt]:
        """Say who would be left out for it, where only what else is chosen keeps its nearest way off."""
        if (found and found[0].rule not in CHOSEN) or not self.left:
            return found
        self.left -= 1
        instead = instead_of(self.prepared, self.reach, self.trees, self.plans, head)
        if instead is None or not (instead.lost or instead.clashes):
            return found
        if instead.lost:
            rule, names = "instead", instead.lost
            text = f"served only with {_listed(names)} left out instead"
        else:
            rule, names = "piece_clearance", instead.clashes
            text = f"its best place comes too near to pieces of {_listed(names)}"
        if found:
            text = f"{text}; {found[0].text}"
        run = found[0].run if found else ""
        attempt = stop_words(found[0].style if found else "", rule, text, run)
        return [attempt.model_copy(update={"against": ", ".join(names)}), *found[1:]]


def _listed(names: list[str]) -> str:
    """Name a few of many."""
    return ", ".join(names[:5]) + (f" and {len(names) - 5} more" if len(names) > 5 else "")


def _has_arcs(built: BuiltGraph, head: int) -> bool:
    """Whether some takeoff of a head has room on its run, all others away."""
    item = built.item_heads.index(head)
    return bool((built.graph.columns.items == item).any())


def _of_head(candidates: Candidates, head: int) -> Candidates:
    return candidates.take((candidates.columns.heads == head).any(axis=1))
