"""Clashes between the pieces of chosen plans, across all trees."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from typing import TYPE_CHECKING

from router.building.assemble import RunPlan
from router.building.shapes import Axes, Shapes, clash_pairs

if TYPE_CHECKING:
    from router.building.prepare import Prepared
    from router.building.tree import Tree


@dataclass(frozen=True)
class Part:
    """One element of a plan: an arc of a run (``arc``), or level run pipe (``arc`` is -1)."""

    tree: int
    run: int
    arc: int


def path_axes(shapes: Shapes, run: int, plan: RunPlan) -> list[tuple[int, Axes]]:
    """(arc or -1, axes) of all arcs of a plan and of the level pipe between them."""
    arcs = shapes.graphs[run].graph.arcs
    out: list[tuple[int, Axes]] = []
    at, level = 0, plan.level
    for k in plan.arcs:
        arc = arcs[k]
        if arc.a > at:
            out.append((-1, shapes.stay(run, at, arc.a, level)))
        out.append((k, shapes.arc(run, k)))
        at, level = arc.b, arc.lb
    return out


def plan_clashes(prepared: Prepared, trees: list[Tree], plans: dict[int, RunPlan]) -> list[tuple[Part, Part]]:
    """Return the pairs of parts of the plans that are too near to each other."""
    shapes = Shapes(prepared, {r: tree.graphs[r] for tree in trees for r in tree.order})
    parts: list[Part] = []
    axes: list[Axes] = []
    for t, tree in enumerate(trees):
        for r in tree.order:
            if r not in plans:
                continue
            for k, made in path_axes(shapes, r, plans[r]):
                parts.append(Part(t, r, k))
                axes.append(made)
    parents: list[int | None] = [frame.parent for frame in prepared.frames]
    pairs = clash_pairs(axes, axes, prepared.scenario.rules.piece_clearance, parents)
    return [(parts[i], parts[j]) for i, j in zip(*pairs, strict=True) if i < j]


def without_clashes(prepared: Prepared, trees: list[Tree], plans: dict[int, RunPlan]) -> dict[int, RunPlan]:
    """Return the plans less the takeoffs that clash: what is left when time runs out.

    Of two clashing parts the takeoff goes (of two takeoffs the one with more
    clashes, else the later one); a child run that is no longer fed goes with it.
    """
    left = dict(plans)
    while True:
        pairs = plan_clashes(prepared, trees, left)
        if not pairs:
            return left
        clashes = Counter(part for pair in pairs for part in pair)
        for one, other in sorted(pairs, key=lambda pair: -max(clashes[part] for part in pair)):
            if not (_is_there(left, one) and _is_there(left, other)):
                continue
            order = (one, other) if clashes[one] > clashes[other] else (other, one)
            loser = next((p for p in order if p.arc >= 0 and _is_takeoff(trees, p)), None)
            if loser is None:
                left.pop(other.run)  # two runs' own pipe: one run is not built
            else:
                _drop(trees, left, loser)
        _prune(prepared, trees, left)


def _is_there(plans: dict[int, RunPlan], part: Part) -> bool:
    return part.run in plans and (part.arc < 0 or part.arc in plans[part.run].arcs)


def _is_takeoff(trees: list[Tree], part: Part) -> bool:
    return trees[part.tree].graphs[part.run].graph.arcs[part.arc].kind == "takeoff"


def _drop(trees: list[Tree], plans: dict[int, RunPlan], part: Part) -> None:
    """Take one arc out of a plan; the one before it ends the run if the last one goes."""
    graph = trees[part.tree].graphs[part.run].graph
    plan = plans.pop(part.run)
    arcs = [k for k in plan.arcs if k != part.arc]
    while arcs and not graph.arcs[arcs[-1]].ends:
        last = graph.arcs[arcs.pop()]
        if last.kind != "takeoff":
            continue
        ending = [
            k
            for k, arc in enumerate(graph.arcs)
            if arc.ends and arc.kind == "takeoff" and arc.ref == last.ref and arc.la == last.la
        ]
        before = graph.arcs[arcs[-1]].b if arcs else 0
        if ending and graph.arcs[ending[0]].a >= before:
            arcs.append(ending[0])
    if arcs:
        plans[part.run] = RunPlan(plan.level, tuple(arcs))


def _prune(prepared: Prepared, trees: list[Tree], plans: dict[int, RunPlan]) -> None:
    """Remove runs that nothing feeds any more, and takeoffs to runs that are no longer built."""
    changed = True
    while changed:
        changed = False
        for t, tree in enumerate(trees):
            fed = {
                child
                for r in tree.order
                if r in plans
                for k in plans[r].arcs
                for child, _ in tree.graphs[r].graph.arcs[k].feeds
            }
            for r in tree.order:
                if r not in plans:
                    continue
                if prepared.frames[r].parent is not None and r not in fed:
                    plans.pop(r)
                    changed = True
                    break
                graph = tree.graphs[r].graph
                idle = next(
                    (
                        k
                        for k in plans[r].arcs
                        if graph.arcs[k].feeds and not all(c in plans for c, _ in graph.arcs[k].feeds)
                    ),
                    None,
                )
                if idle is not None:
                    _drop(trees, plans, Part(t, r, idle))
                    changed = True
                    break
