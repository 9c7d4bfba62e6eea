"""What stands in the way of an unserved head or run, and the least changes that would serve it.

The question is put to as small a part of the scenario as says no: the head
alone on its line, its line with what leaves near it, the whole tree of lines.
What is found to help is always tried on the whole tree.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from itertools import combinations, pairwise
from typing import TYPE_CHECKING

from router.building.prepare import prepare
from router.check import check_route
from router.explain.around import Around
from router.explain.changes import changed
from router.explain.knobs import knobs_around
from router.explain.part import cost_of, cut, decided, served_by, solved, unserved_of
from router.explain.records import Relaxation
from router.explain.things import things_around
from router.explain.words import listed

if TYPE_CHECKING:
    from collections.abc import Collection, Iterable

    from router.explain.knobs import Knob
    from router.explain.part import Setting
    from router.explain.things import Thing
    from router.route.model import Route
    from router.scenario.model import Head, Scenario

MOST_TRIES = 400
"""So many trials at most are made for one head."""
HEADS_A_TRIAL = 8
"""A scenario with more heads than this counts for more than one trial."""
TOLD = 8
"""So many changes are told at the most."""
LARGE = 4
"""A tree that counts for more trials than this is not solved for every amount of a change."""
NEAR_TEE = 1500.0
"""mm. Runs that leave within this of the way to the head are looked at with it."""
NOT_SMALLEST = " None of these can be left out of it; whether fewer others conflict was not looked for."
LATER = {"served", "hangers"}
"""Rules of the referee that other heads may break: unserved before, or to be seen to on site."""


@dataclass
class Budget:
    """How many trials may still be made. ``cut``: whether that ended something.

    ``told``: so many changes are tried on the whole tree, the smallest first;
    ``each``: so many trials at most for one head.
    """

    left: int
    told: int = TOLD
    each: int = MOST_TRIES
    cut: bool = False


def weight_of(scenario: Scenario) -> int:
    """Return for how many trials the solving of a scenario counts: many heads take longer."""
    return 1 + len(scenario.heads) // HEADS_A_TRIAL


@dataclass
class Question:
    """Whether a scenario serves what it should, and takes water from nobody who has it.

    ``any_of``: one of the heads is enough (a run that is not built).
    """

    setting: Setting
    heads: list[str]
    any_of: bool
    served: set[str]
    budget: Budget
    known: dict[str, bool] = field(default_factory=dict)

    def works(self, scenario: Scenario) -> bool:
        """Solve it; false too where the budget or the time is used up."""
        if self.budget.left <= 0 or self.setting.stop.asked():
            self.budget.cut = True
            return False
        key = scenario.model_dump_json(exclude={"story", "name"})
        if key not in self.known:
            self.budget.left -= weight_of(scenario)
            solution = decided(scenario, self.setting.stop)
            self.known[key] = solution is not None and self.holds(served_by(solution), scenario)
        return self.known[key]

    def holds(self, now: set[str], scenario: Scenario) -> bool:
        """Whether these served heads are what is asked for."""
        there = {h.id for h in scenario.heads}
        if (self.served & there) - now:
            return False
        wanted = set(self.heads)
        return bool(wanted & now) if self.any_of else wanted <= now


def reasons_for_head(
    setting: Setting, head: Head, budget: Budget | None = None
) -> tuple[list[str], list[Relaxation], str]:
    """Give what conflicts, what would help, and a sentence on it, for an unserved head."""
    return _reasons(setting, setting.run_of[head.id], [head.id], False, budget)


def reasons_for_run(
    setting: Setting, run: str, budget: Budget | None = None
) -> tuple[list[str], list[Relaxation], str]:
    """Give the same for a run that is not built."""
    around = {r.id: r.supply for r in setting.scenario.runs}

    def below(name: str | None) -> bool:
        while name is not None and name != run:
            name = around[name]
        return name is not None

    heads = [h.id for h in setting.scenario.heads if below(setting.run_of[h.id])]
    if not heads:
        return [], [], f"{run} is not built: it has no heads."
    conflict, relaxations, said = _reasons(setting, run, heads, True, budget)
    return conflict, relaxations, f"{run} is not built.{said}"


def _reasons(
    setting: Setting, run: str, heads: list[str], any_of: bool, budget: Budget | None
) -> tuple[list[str], list[Relaxation], str]:
    roots = [setting.tree_of[run]]
    tree = setting.cut(roots)
    lost = unserved_of(setting.share(roots))
    served = {h.id for h in tree.heads} - lost
    budget = Budget(MOST_TRIES) if budget is None else budget
    given = min(budget.each, budget.left)
    if given <= 0:
        budget.cut = True
        return [], [], " What would help was not looked for here: ask for it alone."
    mine = Budget(given, budget.told, given)
    question = Question(setting, heads, any_of, served, mine)
    if not setting.proven and question.works(tree):
        best = [h for h in heads if h in lost]
        return [], [], f" The best route of its lines serves {listed(best) if not any_of else run}."
    small = _smallest(setting, question, tree, run)
    around = Around(setting, small, run, heads, tree.runs)
    things = things_around(around)
    conflict, text = _conflict(question, small, things)
    met = {t.key for t in conflict} | {t.key for t in things if _alone_helps(question, small, t)}
    near = {t.key for t in things[-20:]}
    relaxations = _relaxations(question, tree, small, knobs_around(around, met or near), lost)
    budget.left -= given - mine.left
    budget.cut |= mine.cut
    if len(conflict) == 1:
        text += " What it conflicts with alone: where the lines lie, and the lengths of fittings and pipe."
    if not relaxations and not mine.cut:
        text += " No single change of those tried would serve it."
    if mine.cut:
        text += f" Not everything was tried: the search was left after {given} trials."
    return [t.says for t in conflict], relaxations, text


def _smallest(setting: Setting, question: Question, tree: Scenario, run: str) -> Scenario:
    """Give the smallest part of the tree that does not serve the heads either."""
    for part in (_alone(setting, tree, run, question.heads), _beside(setting, tree, run)):
        if part is not None and not question.works(part):
            return part
    return tree


def _chain(tree: Scenario, run: str) -> list[str]:
    supply = {r.id: r.supply for r in tree.runs}
    out = [run]
    while supply[out[-1]] is not None:
        out.append(str(supply[out[-1]]))
    return out


def _sized(setting: Setting, tree: Scenario, part: Scenario, fixed: Collection[str], at: str) -> Scenario:
    """Give runs that lost heads the size that they have at the run ``at``: no larger than they would be."""
    prepared = prepare(tree)
    frames = {f.run.id: f for f in prepared.frames}
    runs = []
    for r in part.runs:
        if r.id in fixed and r.size == "schedule":
            child = next((c for c in _chain(tree, at) if frames[c].run.supply == r.id), None)
            station = frames[child].parent_station if child is not None else 0.0
            runs.append(r.model_copy(update={"size": frames[r.id].stretch_at(station).dn}))
        else:
            runs.append(r)
    return part.model_copy(update={"runs": runs})


def _alone(setting: Setting, tree: Scenario, run: str, heads: list[str]) -> Scenario | None:
    """Only the heads, on their run and what feeds it; pipe in the size that it has there."""
    chain = _chain(tree, run)
    mine = {setting.run_of[h] for h in heads}
    runs = set(chain) | mine
    if len(mine - {run}):
        return None
    part = _sized(setting, tree, cut(tree, runs, set(heads)), chain[1:], run)
    if part.runs and len(heads) == 1:
        prepared = prepare(tree)
        frame = next(f for f in prepared.frames if f.run.id == run)
        head = next(h for h in tree.heads if h.id == heads[0])
        station, _ = frame.plan.nearest(head.at[:2])
        dn = frame.stretch_at(station).dn
        given = [
            r.model_copy(update={"size": dn}) if r.id == run and r.size == "schedule" else r
            for r in part.runs
        ]
        part = part.model_copy(update={"runs": given})
    return part


def _beside(setting: Setting, tree: Scenario, run: str) -> Scenario | None:
    """Give the run with all that hangs on it, what feeds it, and runs that leave that near by."""
    chain = _chain(tree, run)
    prepared = prepare(tree, ())
    frames = {f.run.id: f for f in prepared.frames}
    kept = set(chain)
    below = [run]
    while below:
        r = below.pop()
        kept.add(r)
        below += [x.id for x in tree.runs if x.supply == r]
    for child, parent in pairwise(chain):
        here = frames[child].parent_station
        kept |= {
            r.id
            for r in tree.runs
            if r.supply == parent and abs(frames[r.id].parent_station - here) <= NEAR_TEE
        }
    whole = kept - set(chain[1:])
    heads = {h.id for h in tree.heads if setting.run_of[h.id] in whole}
    if len(heads) == len(tree.heads):
        return None
    return _sized(setting, tree, cut(tree, kept, heads), chain[1:], run)


# what conflicts


def _relaxed(scenario: Scenario, things: Iterable[Thing]) -> Scenario:
    for thing in things:
        scenario = thing.away(scenario)
    return scenario


def _alone_helps(question: Question, small: Scenario, thing: Thing) -> bool:
    return question.works(thing.away(small))


def _conflict(question: Question, small: Scenario, things: list[Thing]) -> tuple[list[Thing], str]:
    """Find the smallest set of things that cannot all hold, whatever becomes of all others."""
    if not question.works(_relaxed(small, things)):
        if question.budget.cut:
            return [], ""
        return [], " Even without any of the obstructions, neighbours and limits near it, nothing serves it."
    # what helps alone is part of every conflict
    sure = [t for t in things if _alone_helps(question, small, t)]

    def clash(kept: Collection[Thing]) -> bool:
        keys = {t.key for t in kept}
        return not question.works(_relaxed(small, [t for t in things if t.key not in keys]))

    if sure and clash(sure) and not question.budget.cut:
        return sure, ""
    kept = list(things)
    for thing in things:
        if question.budget.cut:
            break
        if thing in sure:
            continue
        fewer = [t for t in kept if t is not thing]
        if clash(fewer) and not question.budget.cut:
            kept = fewer
    if question.budget.cut:
        return [], ""
    free = [t for t in things if t not in sure]
    for size in range(1, len(kept) - len(sure)):
        for more in combinations(free, size):
            if clash([*sure, *more]) and not question.budget.cut:
                return [*sure, *more], ""
            if question.budget.left < question.budget.each // 2:
                return (
                    kept,
                    " None of these can be left out of it; whether fewer others conflict was not looked for.",
                )
    return kept, ""


# what would help


def _relaxations(
    question: Question, tree: Scenario, small: Scenario, knobs: list[Knob], lost: set[str]
) -> list[Relaxation]:
    found: list[tuple[Knob, float]] = []
    for knob in knobs:
        if knob.place.endswith(".run") and question.budget.told < TOLD and weight_of(tree) > LARGE:
            continue
        # another run may not be there in the small part
        part = tree if knob.place.endswith(".run") else small
        amount = _least(question, part, knob, 0.0)
        if amount is not None:
            found.append((knob, amount))
    out = []
    found.sort(key=lambda item: item[1])
    for knob, amount in found[: question.budget.told + 2]:
        relaxation = _verified(question, tree, knob, amount, lost)
        if relaxation is None and knob.most is not None and weight_of(tree) <= LARGE:
            more = _least(question, tree, knob, amount)
            relaxation = None if more is None else _verified(question, tree, knob, more, lost)
        if relaxation is not None:
            out.append(relaxation)
    out.sort(key=lambda r: (round(r.costs, 1), r.amount if r.amount is not None else 0.0, r.text))
    return out[: question.budget.told]


def _least(question: Question, scenario: Scenario, knob: Knob, fails: float) -> float | None:
    """Find the least whole amount that works: one mm less does not. 0 for yes or no."""
    if knob.most is None:
        return 0.0 if question.works(changed(scenario, knob.change(0.0))) else None

    def works(amount: float) -> bool:
        return question.works(changed(scenario, knob.change(amount)))

    tries = [knob.most]
    if not knob.steady:  # too much of it may serve less than enough
        tries = [knob.most / 16, knob.most / 8, knob.most / 4, knob.most / 2, knob.most]
    high = next((x for x in (float(int(t)) for t in tries) if x > fails and works(x)), None)
    if high is None and knob.most != int(knob.most) and works(knob.most):
        return knob.most
    if high is None:
        return None
    low = float(int(fails))
    while high - low > 1:
        middle = float((low + high) // 2)
        if works(middle):
            high = middle
        else:
            low = middle
    return high


def _verified(
    question: Question, tree: Scenario, knob: Knob, amount: float, lost: set[str]
) -> Relaxation | None:
    """Route the whole tree with the change, let the referee look at it; ``None`` if it does not do."""
    if question.budget.left <= 0 or question.setting.stop.asked():
        question.budget.cut = True
        return None
    question.budget.left -= weight_of(tree)
    change = knob.change(amount)
    scenario = changed(tree, change)
    route = solved(scenario, question.setting.stop)
    if route is None or not _fine(question, scenario, route):
        return None
    return Relaxation(
        text=knob.text(amount),
        change=change,
        amount=amount if knob.most is not None else None,
        serves=sorted(lost - unserved_of(route)),
        costs=cost_of(route),
    )


def _fine(question: Question, scenario: Scenario, route: Route) -> bool:
    now = {h.id for h in route.heads if h.served}
    if not question.holds(now, scenario):
        return False
    if any(f.rule not in LATER for f in check_route(scenario, route).breaks):
        return False
    roots = {question.setting.tree_of[r.id] for r in scenario.runs}
    return not question.setting.too_near(route, roots)
