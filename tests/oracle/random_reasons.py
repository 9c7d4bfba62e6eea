"""Whether the reasons of unserved heads are true: what is named is thought away, and looked at again.

Either the head is then served, or what is said next is something else. A reason that stays
although what it names is gone was not the reason.
"""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING, Any

import shapely
from random_judge import WrongError

from router.building.route import route_scenario
from router.building.stop import Stop
from router.explain.changes import changed
from router.explain.part import Setting, cut
from router.explain.unserved import Budget, reasons_for_head
from router.trade.styles import allowed_styles

if TYPE_CHECKING:
    from random_judge import Judged

    from router.route.model import Attempt, HeadResult, Route
    from router.scenario.model import Head, Scenario

WIDE = 2000.0
"""mm. A band that is thought away goes so far beyond its ends."""
SECONDS = 5.0
"""For routing a scenario again; a head that is not served by then says nothing."""
NEVER_SAME = {"style", "run", "rule", "against", "short"}


def verify(judged: Judged, most: int = 3) -> Counter[str]:
    """Verify the first reason of each unserved head, of so many heads; what was found, counted by outcome."""
    found: Counter[str] = Counter()
    heads = {h.id: h for h in judged.scenario.heads}
    unserved = [h for h in judged.route.heads if not h.served and h.stopped_by]
    for result in unserved[:most]:
        rules_say_so(judged.scenario, heads[result.id], result)
        found[one(judged.scenario, result)] += 1
    return found


def rules_say_so(scenario: Scenario, head: Head, result: HeadResult) -> None:
    """Ask the table of styles whether a style that is said to be refused is, and whether all are."""
    why = allowed_styles(scenario.system, head, scenario.rules)
    said = [a for a in result.stopped_by if a.rule == "allowed_styles"]
    for attempt in said:
        if why[attempt.style].allowed:
            raise WrongError("reason: allowed style", f"{result.id}: {attempt.text}")
    allowed = [style for style, reason in why.items() if reason.allowed]
    if said and len(said) == len(result.stopped_by) and allowed:
        text = f"{result.id}: only refused styles are named, but {', '.join(allowed)} is allowed by the rules"
        raise WrongError("reason: allowed style is not mentioned", text)


def one(scenario: Scenario, result: HeadResult) -> str:
    """Think away what the nearest attempt names; what became of the head."""
    attempt = result.stopped_by[0]
    if attempt.rule == "allowed_styles":
        return "allowed_styles: the rules refuse it"
    if scenario.weights.unserved is not None:
        free = scenario.weights.model_copy(update={"unserved": None})
        route = routed(scenario.model_copy(update={"weights": free}))
        if route is not None and route.counts.served == route.counts.heads:
            words = " ".join(a.text for a in result.stopped_by)
            named = any(word in words for word in ("cost", "weight", "point"))
            if not named:
                text = f"{result.id} is left out because it costs more than it is worth; said: {attempt.text}"
                raise WrongError("reason: its cost is not named", text)
            return "cost: served once a head is worth more"
    if attempt.short and (attempt.rule == "make_up" or attempt.against == attempt.run):
        return _moved(scenario, result.id, attempt)
    less = without(scenario, result.id, attempt)
    if less is None:
        return f"{attempt.rule}: nothing to take away"
    route = routed(less)
    if route is None:
        return f"{attempt.rule}: not routed in time"
    now = next(h for h in route.heads if h.id == result.id)
    if now.served:
        return f"{attempt.rule}: served without it"
    same = any(_same(attempt, other) for other in now.stopped_by)
    if same and attempt.rule == "band":  # a level that the run cannot have there, perhaps for its tee's sake
        return "band: the same with wider bands"
    if same:
        raise WrongError(f"reason stays: {attempt.rule}", f"{result.id}: {attempt.text}")
    return f"{attempt.rule}: next reason without it"


def _same(a: Attempt, b: Attempt) -> bool:
    # make-up and the like may be lacking to another amount at another place: that is another reason
    return all(getattr(a, name) == getattr(b, name) for name in NEVER_SAME)


def _moved(scenario: Scenario, head: str, attempt: Attempt) -> str:
    """Move a head by what is short, up or down and away from its run."""
    short = (attempt.short or 0.0) + 1.0
    run = next(r for r in scenario.runs if r.id == attempt.run)
    line = shapely.LineString(run.plan)
    x, y, z = next(h.at for h in scenario.heads if h.id == head)
    near = line.interpolate(line.project(shapely.Point(x, y)))
    off = max(near.distance(shapely.Point(x, y)), 1e-9)
    share = (off + short) / off
    away = (near.x + (x - near.x) * share, near.y + (y - near.y) * share, z)
    for place in ((x, y, z - short), (x, y, z + short), away):
        heads = [h.model_copy(update={"at": place}) if h.id == head else h for h in scenario.heads]
        route = routed(scenario.model_copy(update={"heads": heads}))
        if route is not None and next(h for h in route.heads if h.id == head).served:
            return f"{attempt.rule}: served once moved by what is short"
    return f"{attempt.rule}: moving by what is short alone does not do"


def routed(scenario: Scenario) -> Route | None:
    """Route a changed scenario; ``None`` where time was up."""
    route, solution = route_scenario(scenario, stop=Stop(SECONDS))
    return None if solution.stopped is not None else route


def without(scenario: Scenario, head: str, attempt: Attempt) -> Scenario | None:
    """Give the scenario without what an attempt names; ``None``: that cannot be taken away."""
    rule, against = attempt.rule, attempt.against or ""
    rules = scenario.rules
    if rule in ("clearance", "ceiling"):
        kept = [o for o in scenario.obstructions if o.id != against]
        ceilings = [c for c in scenario.ceilings if c.id != against]
        if len(kept) + len(ceilings) < len(scenario.obstructions) + len(scenario.ceilings):
            return scenario.model_copy(update={"obstructions": kept, "ceilings": ceilings})
        return None
    if rule == "pins":
        pins = {k: v for k, v in scenario.pins.heads.items() if k != head}
        return scenario.model_copy(update={"pins": scenario.pins.model_copy(update={"heads": pins})})
    numbers: dict[str, dict[str, Any]] = {
        "reach": {"reach": rules.reach + 5000},
        "rise": {"rise": rules.rise + WIDE},
    }
    if rule in numbers:
        return scenario.model_copy(update={"rules": rules.model_copy(update=numbers[rule])})
    if rule == "alignment":
        return _under(scenario, head, attempt.run)
    if rule == "band" or "within the two bands" in attempt.text:
        return _wider(scenario)
    if rule in ("outlet_spacing", "piece_clearance"):
        return _fewer(scenario, head, against, attempt.run)
    return None


def _wider(scenario: Scenario) -> Scenario:
    runs = []
    for run in scenario.runs:
        low, high = run.band or (run.elevation - 300.0, run.elevation + 300.0)
        runs.append(run.model_copy(update={"band": (low - WIDE, high + WIDE), "supply_elevation": None}))
    pins = scenario.pins.model_copy(update={"runs": {}})
    return scenario.model_copy(update={"runs": runs, "pins": pins})


def _under(scenario: Scenario, head: str, run: str) -> Scenario | None:
    """Give it with a head moved right over or under its run."""
    line = shapely.LineString(next(r.plan for r in scenario.runs if r.id == run))
    at = next(h.at for h in scenario.heads if h.id == head)
    place = line.interpolate(line.project(shapely.Point(at[:2])))
    there = (place.x, place.y, at[2])
    heads = [h.model_copy(update={"at": there}) if h.id == head else h for h in scenario.heads]
    return scenario.model_copy(update={"heads": heads})


def _fewer(scenario: Scenario, head: str, against: str, attempt_run: str) -> Scenario | None:
    """Give it without the neighbours that are named: heads, or runs with all that they feed."""
    names = {name.strip() for name in against.split(",")}
    if against == "pieces of its neighbours":
        names = {h.id for h in scenario.heads} - {head}
    heads = {h.id for h in scenario.heads if h.id in names} - {head}
    runs = {r.id for r in scenario.runs if r.id in names}
    while more := {r.id for r in scenario.runs if r.supply in runs} - runs:
        runs |= more
    mine = next(h for h in scenario.heads if h.id == head)
    if not heads and not runs:
        return None
    if runs & {mine.run, attempt_run} or any(p.run in runs for p in scenario.pins.heads.values()):
        return None
    left = {h.id for h in scenario.heads if h.id not in heads and h.run not in runs}
    return cut(scenario, {r.id for r in scenario.runs} - runs, left)


def explained(judged: Judged, trials: int = 40) -> Counter[str]:
    """Ask ``router.explain`` of the first unserved head; every change that it names must serve it."""
    found: Counter[str] = Counter()
    scenario = judged.scenario
    result = next(h for h in judged.route.heads if not h.served)
    head = next(h for h in scenario.heads if h.id == result.id)
    setting = Setting(scenario, judged.route, Stop(2 * SECONDS))
    conflict, relaxations, _ = reasons_for_head(setting, head, Budget(trials, 2, trials))
    found["conflict named"] += bool(conflict)
    for relaxation in relaxations:
        less = changed(scenario, relaxation.change)
        route = routed(less)
        if route is None:
            found["change not routed in time"] += 1
            continue
        now = next(h for h in route.heads if h.id == head.id)
        if not now.served and scenario.weights.unserved is None:
            raise WrongError("explain: the change does not serve it", f"{head.id}: {relaxation.text}")
        found["change serves it" if now.served else "change does not pay"] += 1
    return found
