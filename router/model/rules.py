"""The constraints of the choice, one function per rule."""

from __future__ import annotations

from collections import defaultdict
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Sequence

    from ortools.sat.python import cp_model

    from router.model.variables import RunVariables
    from router.profiles.graph import LongLow


def profile_is_a_path(model: cp_model.CpModel, v: RunVariables) -> None:
    """Ask that what flows into a node flows out of it; the run starts once and ends on an ending arc."""
    into: dict[tuple[int, int, int], list[cp_model.IntVar]] = defaultdict(list)
    out: dict[tuple[int, int, int], list[cp_model.IntVar]] = defaultdict(list)
    for level, start in v.start.items():
        into[0, level, 0].append(start)
    for k in v.kept:
        arc = v.graph.arcs[k]
        lanes = {flag: v.lane[k, flag] for flag in range(v.flags) if (k, flag) in v.lane}
        for flag, lane in lanes.items():
            out[v.graph.starts[k], arc.la, flag].append(lane)
            if not arc.ends:
                landing, _ = v.graph.flag_move(k, flag)
                into[v.graph.goes[k], arc.lb, landing].append(lane)
        if len(lanes) > 1:
            model.add(sum(lanes.values()) == v.arc[k])
    for stay, literal in zip(v.stays, v.stay, strict=True):
        out[stay.i, stay.level, stay.flag].append(literal)
        into[stay.j, stay.level, stay.flag].append(literal)
    for node in sorted(set(into) | set(out)):
        model.add(sum(into[node]) == sum(out[node]))
    model.add_at_most_one(v.start.values())


def is_built(model: cp_model.CpModel, v: RunVariables) -> None:
    """Ask that the run starts at some level."""
    model.add_at_least_one(v.start.values())


def each_head_once(model: cp_model.CpModel, v: RunVariables, heads: list[int]) -> None:
    """Each head is served exactly once, or unserved."""
    for item in heads:
        model.add_exactly_one([*v.serving(item), v.unserved[item]])


def child_starts_where_fed(model: cp_model.CpModel, parent: RunVariables, child: RunVariables) -> None:
    """Ask that a child run starts at the level at which its parent feeds it, or not at all."""
    for level, start in child.start.items():
        model.add(start == sum(parent.feeding(child.graph.run, level)))
    for k in parent.kept:
        for run, level in parent.graph.arcs[k].feeds:
            if run == child.graph.run and level not in child.start:
                model.add(parent.arc[k] == 0)


def large_drains(model: cp_model.CpModel, v: RunVariables, lows: Sequence[LongLow]) -> list[cp_model.IntVar]:
    """Give a literal for each long low section: due if its descent is taken and nothing leaves it in time.

    On a level run descents in a row share a section: only the first one counts.
    """
    due = []
    kept = set(v.kept)
    for low in lows:
        if low.arc not in kept:
            continue
        literal = model.new_bool_var(f"r{v.graph.run}_large_drain_{low.arc}")
        ways = [v.arc[k] for k in v.kept if low.left_by(v.graph, k)]
        if (low.arc, 0) in v.lane:
            model.add(literal >= v.lane[low.arc, 0] - sum(ways))
        due.append(literal)
    return due


def styles_in_use(model: cp_model.CpModel, v: RunVariables) -> None:
    """Ask that a style counts on a run as soon as one takeoff uses it.

    Of those that serve one head only one is taken, so all of them together are
    at most the style: the relaxation then needs no cut to see it.
    """
    using: dict[tuple[str, int], list[cp_model.IntVar]] = defaultdict(list)
    for k in v.kept:
        arc = v.graph.arcs[k]
        if arc.style:
            for item in arc.items:
                using[arc.style, item].append(v.arc[k])
    for (style, _), arcs in using.items():
        model.add(sum(arcs) <= v.style[style])
