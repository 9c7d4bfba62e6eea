"""One head in one route: its takeoff, its pipe, and what breaks a rule there."""

from __future__ import annotations

from math import dist
from typing import TYPE_CHECKING

from router.check.network import Network
from router.check.survey import Survey
from router.compare.records import HeadInRoute

if TYPE_CHECKING:
    from router.check import Finding, Verdict
    from router.route.model import Route, Takeoff
    from router.scenario.model import Scenario


class HeadsOf:
    """Looks heads up in one judged route."""

    def __init__(self, scenario: Scenario, route: Route, verdict: Verdict) -> None:
        self.survey = Survey(scenario, route)
        self.network = Network(self.survey)
        self.takeoff_of = {name: t for t in self.survey.takeoffs.values() for name in t.heads}
        self.said: dict[str, list[Finding]] = {}
        for finding in verdict.breaks:
            for name in dict.fromkeys((finding.element, finding.against)):
                if name is not None:
                    self.said.setdefault(name, []).append(finding)

    def served(self, head: str) -> bool:
        """Whether the route says that it serves the head, and has a takeoff for it."""
        result = self.survey.results.get(head)
        return head in self.takeoff_of and result is not None and result.served

    def of(self, head: str) -> HeadInRoute:
        """Return how the route serves a head."""
        takeoff = self.takeoff_of.get(head)
        if takeoff is None or not self.served(head):
            return HeadInRoute(served=False, breaks=self._breaks([head]))
        fittings = self.survey.takeoff_fittings.get(takeoff.id, [])
        # a shared takeoff's reducer belongs to the head that it stands at
        result = self.survey.results[head]
        reducers = sum(f.kind == "reducer" and self.network.at_inlet(f.at, result) for f in fittings)
        return HeadInRoute(
            served=True,
            style=takeoff.style,
            run=takeoff.run,
            station=takeoff.station,
            level=takeoff.level,
            side=takeoff.side,
            fittings=sum(f.kind != "reducer" for f in fittings),
            reducers=reducers,
            hangers=takeoff.hangers,
            pipe_m=round(self._pipe(head), 4),
            shared_with=[name for name in takeoff.heads if name != head],
            breaks=self._breaks(self._names(head, takeoff)),
        )

    def _pipe(self, head: str) -> float:
        legs = self.network.way_to(head) or []
        return sum(dist(leg.start, leg.end) for leg in legs) / 1000.0

    def _names(self, head: str, takeoff: Takeoff) -> list[str]:
        """Everything on the way to the head that a finding could be about."""
        own = [piece.id for piece in self.survey.takeoff_pieces.get(takeoff.id, [])]
        own += [fitting.id for fitting in self.survey.takeoff_fittings.get(takeoff.id, [])]
        return [head, takeoff.id, *own]

    def _breaks(self, names: list[str]) -> list[str]:
        found = {id(f): f for name in names for f in self.said.get(name, [])}
        return [_words(finding) for finding in found.values()]


def _words(finding: Finding) -> str:
    return f"{finding.rule}: {finding.text}"
