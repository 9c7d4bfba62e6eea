"""From a scenario to its alternatives: points, and a handful of judged routes."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from router.alternatives.choose import handful
from router.alternatives.front import trade_off
from router.alternatives.ground import best_at, lay_ground
from router.alternatives.ranked import amounts_of, rest_of
from router.alternatives.records import Alternatives, Point, Weighed
from router.alternatives.sweep import check_used, combinations, weighed
from router.building.progress import Progress
from router.check import check_route
from router.profiles.graph import POINT
from router.route.totals import prices_of
from router.scenario.write import scenario_text

if TYPE_CHECKING:
    from router.alternatives.front import Front
    from router.alternatives.ground import Ground
    from router.alternatives.terms import TradeTerm
    from router.building.assemble import RunPlan
    from router.building.progress import Tell
    from router.building.stop import Stop
    from router.check import Verdict
    from router.route.model import Route
    from router.scenario.model import Scenario

ROUNDING = 1e-5
"""Of a length: a route rounds its pieces one by one."""
OWN = "route_own.json"
"""What the scenario's own weights choose, where it is none of the points."""


@dataclass
class Found:
    """The alternatives, and the routes with the referee's verdicts by file name."""

    record: Alternatives
    routes: dict[str, Route] = field(default_factory=dict)
    verdicts: dict[str, Verdict] = field(default_factory=dict)


def route_name(number: int) -> str:
    """File name of a route, counted from 1."""
    return f"route_{number}.json"


def find_front(
    scenario: Scenario, terms: tuple[TradeTerm, TradeTerm], most: int, stop: Stop, tell: Tell
) -> Found:
    """Find the front of two terms and lay out at most ``most`` routes of it.

    Raises
    ------
    ValueError
        If a tree is too large to hold in memory.
    """
    first, second = terms
    ground = lay_ground(scenario, stop, tell, [t.term for t in terms])
    front = trade_off(ground, first, second, tell)
    maker = _Maker(ground, terms, tell)
    points = sorted(front.points, key=lambda p: p.limited if second == front.axis else p.other)
    own = maker.point(ground.best.plans, proven=ground.best.status == "optimal")
    made = [maker.point(p.plans, proven=p.proven and front.proven) for p in points]
    plans = [p.plans for p in points]
    same = [n for n, p in enumerate(made) if _alike(p, own)]
    for n in same:  # of equals, the one that is also proven at the scenario's own weights
        made[n], plans[n] = own.model_copy(update={"proven": made[n].proven}), ground.best.plans
    chosen = handful([(p.first, p.second) for p in made], most, same)
    for number, n in enumerate(chosen, start=1):
        tell(Progress("routes", number - 1, len(chosen), what="routes"))
        made[n] = maker.laid_out(route_name(number), made[n], plans[n])
    own = next((made[n] for n in same), None) or maker.laid_out(OWN, own, ground.best.plans)
    made = [p.model_copy(update={"chosen_by_own_weights": n in same}) for n, p in enumerate(made)]
    own = own.model_copy(update={"chosen_by_own_weights": True})
    record = maker.record("front", made, own, front.proven and all(p.proven for p in made))
    groups = [[scenario.runs[ground.trees[t].root].id for t in members] for members in front.together]
    return maker.found(
        record.model_copy(update={"together": groups, "claim": _claim(front, first, second, stop.why)})
    )


def find_sweep(
    scenario: Scenario,
    terms: tuple[TradeTerm, TradeTerm],
    weights: dict[str, list[float]],
    stop: Stop,
    tell: Tell,
) -> Found:
    """Route every combination of weights; equal routes are one point.

    Raises
    ------
    ValueError
        If a weight has no say in the scenario.
    """
    check_used(scenario, weights)
    ground = lay_ground(scenario, stop, tell, [*weights, *(t.term for t in terms)])
    maker = _Maker(ground, terms, tell)
    plans: list[dict[int, RunPlan]] = []
    rows: list[Weighed] = []
    proven: list[bool] = []
    every = combinations(weights)
    for n, chosen in enumerate(every):
        tell(Progress("weights", n, len(every), what="sets"))
        best = best_at(ground, prices_of(weighed(scenario, chosen)))
        if best.plans not in plans:
            plans.append(best.plans)
            proven.append(True)
        at = plans.index(best.plans)
        proven[at] &= best.status == "optimal"
        rows.append(Weighed(weights=chosen, point=at, proven=best.status == "optimal"))
    made = []
    for n, plan in enumerate(plans):
        tell(Progress("routes", n, len(plans), what="routes"))
        made.append(maker.laid_out(route_name(n + 1), maker.point(plan, proven=proven[n]), plan))
    own = maker.point(ground.best.plans, proven=ground.best.status == "optimal")
    if ground.best.plans in plans:
        at = plans.index(ground.best.plans)
        made[at] = own = made[at].model_copy(update={"chosen_by_own_weights": True})
    else:
        own = maker.laid_out(OWN, own, ground.best.plans)
        own = own.model_copy(update={"chosen_by_own_weights": True})
    claim = (
        "Each route costs least at its weights, over the candidate set that it names; equal routes are one."
    )
    record = maker.record("sweep", made, own, all(row.proven for row in rows))
    return maker.found(record.model_copy(update={"sweep": rows, "claim": claim}))


class _Maker:
    """Makes points and routes of choices, and lets the referee judge the routes."""

    def __init__(self, ground: Ground, terms: tuple[TradeTerm, TradeTerm], tell: Tell) -> None:
        self.ground, self.terms, self.tell = ground, terms, tell
        self.routes: dict[str, Route] = {}
        self.verdicts: dict[str, Verdict] = {}

    def point(self, plans: dict[int, RunPlan], *, proven: bool) -> Point:
        """Give a choice as a point, by its amounts alone."""
        ground = self.ground
        amounts = amounts_of(ground.prepared, ground.trees, plans, ground.prices)
        value = rest_of(amounts, ground.prices) / POINT + amounts["unserved"] * ground.prices.unserved
        amounts["pipe"] /= 1000.0
        rounded = {name: round(amount, 4) for name, amount in amounts.items()}
        return self._point(rounded, value, proven=proven)

    def _point(self, amounts: dict[str, float], value: float, *, proven: bool) -> Point:
        first, second = (round(amounts[t.term], 3) for t in self.terms)
        served = len(self.ground.scenario.heads) - round(amounts["unserved"])
        return Point(
            first=first, second=second, served=served, amounts=amounts, value=round(value, 3), proven=proven
        )

    def laid_out(self, name: str, point: Point, plans: dict[int, RunPlan]) -> Point:
        """Make the route of a point; what it counts is what the point says from then on."""
        route = self.ground.route(plans)
        self.routes[name] = route
        amounts = {t.name: t.amount for t in route.objective.terms}
        made = self._point(amounts, route.objective.value, proven=point.proven)
        proven = point.proven and _alike(point, made, ROUNDING) and point.served == made.served
        return made.model_copy(update={"route": name, "proven": proven})

    def record(self, kind: str, points: list[Point], own: Point, proven: bool) -> Alternatives:
        """Put everything together but for what only a front or a sweep has."""
        scenario = self.ground.scenario
        return Alternatives(
            scenario=scenario.name,
            scenario_sha256=hashlib.sha256(scenario_text(scenario).encode()).hexdigest(),
            kind="front" if kind == "front" else "sweep",
            first=self.terms[0].name,
            second=self.terms[1].name,
            units=[t.unit for t in self.terms],
            claim="",
            proven=proven,
            heads=len(scenario.heads),
            points=points,
            own=own,
        )

    def found(self, record: Alternatives) -> Found:
        """Let the referee judge all routes."""
        for n, (name, route) in enumerate(self.routes.items()):
            self.tell(Progress("referee", n, len(self.routes), what="routes"))
            self.verdicts[name] = check_route(self.ground.scenario, route)
        return Found(record, self.routes, self.verdicts)


def _alike(a: Point, b: Point, part: float = 0.0) -> bool:
    """Whether two points have the same amounts of both terms, pipe to the mm and ``part`` of it."""
    pairs = ((a.first, b.first), (a.second, b.second))
    return all(abs(x - y) < 0.0015 + part * abs(x) for x, y in pairs)


def _claim(front: Front, first: TradeTerm, second: TradeTerm, stopped: str) -> str:
    named = f"{first.name.replace('_', ' ')} and {second.name.replace('_', ' ')}"
    text = (
        f"Of all routes over the candidate set that each route names, which serve as many heads as can be "
        f"served: every pair of {named} that no other beats in one without losing in the other; among routes "
        "with the same pair, the one that costs least in everything else at the scenario's weights."
    )
    if front.other.name == "pipe":
        text += " Pipe counts by the mm."
    if front.proven:
        return text
    why = "the scenario is too large for the whole front" if front.cut else stopped
    return f"Not proven, {why}: points may be missing. Aimed at: {text}"
