"""One run: how it goes, and what holds each part of its profile where it is."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from router.building.prepare import prepare
from router.building.stop import Stop
from router.building.tree import build_tree
from router.explain.chosen import best_words
from router.explain.lines import root_down, tree_of
from router.explain.measure import Measured
from router.explain.part import SAME_COST, Setting, unserved_of
from router.explain.profile import Profile, summary
from router.explain.records import RunReasons
from router.explain.unserved import reasons_for_run
from router.explain.words import listed, points
from router.route.totals import prices_of

if TYPE_CHECKING:
    from router.building.tree import Tree
    from router.explain.lines import LineCosts
    from router.route.model import Route, RunResult
    from router.scenario.model import Scenario


MOST_SETTLED = 60
"""Trees of no more heads than this are solved for each other level; of larger ones bounds are told."""


def explain_run(scenario: Scenario, route: Route, run_id: str, stop: Stop | None = None) -> RunReasons:
    """Say what binds each part of a run's profile; of an unbuilt run, what would let it be built.

    Raises
    ------
    ValueError
        If the scenario has no such run.
    """
    setting = Setting(scenario, route, Stop() if stop is None else stop)
    if run_id not in setting.tree_of:
        raise ValueError(f"no run {run_id!r} in the scenario")
    result = next((r for r in route.runs if r.id == run_id), None)
    if result is None:
        conflict, relaxations, text = reasons_for_run(setting, run_id)
        return RunReasons(run=run_id, built=False, text=text, conflict=conflict, relaxations=relaxations)
    roots = [setting.tree_of[run_id]]
    part = setting.cut(roots)
    prices = prices_of(part)
    prepared = prepare(part)
    index = {run.id: i for i, run in enumerate(part.runs)}
    tree = tree_of(prepared, prepared.roots[0], prices, setting.stop)
    if tree is None:
        return RunReasons(run=run_id, built=True, text=f"{run_id}: not worked out, {setting.stop.why}.")
    mine = setting.share(roots)
    line = next(iter(root_down(prepared, tree, prices, [index[run_id]], len(unserved_of(mine)))))
    sure = None
    if len(part.heads) <= MOST_SETTLED:
        sure = build_tree(prepared, prepared.roots[0])
    value = mine.objective.value
    paid = setting.paid(roots[0]) if setting.proven else 0.0
    if setting.proven and (paid > SAME_COST or setting.gave_way(roots[0])):
        # lines beside it would be chosen anew too: a bound is told
        sure, value = None, value + sum(setting.gave_way(roots[0]).values())
    if not setting.proven:  # what other levels cost is then told against the best that there is
        graph = line.built.graph
        none = np.zeros(len(graph.columns), dtype=bool)
        settled = None if sure is None else line.settled(sure, none, graph.level_ok, setting.stop)
        value = line.least()[0] if settled is None else settled
    reasons = profile_reasons(setting, line, result, mine, value, sure)
    text = reasons.text + best_words(setting, run_id)
    if paid > SAME_COST:
        lines, beside = (listed(sorted(setting.runs_of(each))) for each in (roots, setting.beside(roots[0])))
        text += f" By itself {lines} would cost {points(paid)} less: it gives way to {beside}."
    return reasons.model_copy(update={"text": text})


def profile_reasons(
    setting: Setting,
    line: LineCosts,
    result: RunResult,
    mine: Route,
    value: float,
    tree: Tree | None = None,
) -> RunReasons:
    """Say what binds a run's profile.

    ``mine``: the route's share of its tree; ``value``: its points, by the weights
    that ``line`` is worked out with. ``tree``: whole, to decide other levels for sure.
    """
    own = [t for t in mine.takeoffs if t.run == result.id]
    measured = Measured(line.prepared, line.frame, result, own, line.built.room)
    optimal = setting.proven
    tees = [t for t in mine.takeoffs if result.id in t.child_runs]
    profile = Profile(measured, line, value, optimal, tees, tree, setting.stop)
    bindings = profile.bindings()
    return RunReasons(run=result.id, built=True, text=summary(result, bindings), bindings=bindings)
