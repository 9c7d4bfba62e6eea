"""What becomes a topic: broken rules, heads that are not served, on request what is near a limit."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from typing import TYPE_CHECKING

from router.deliver.bcf.camera import Views
from router.deliver.bcf.things import Things
from router.deliver.guids import uuid_of
from router.route.model import CAUTION
from router.scenario.errors import number_text

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from router.check import Finding, Verdict
    from router.deliver.bcf.camera import Camera
    from router.deliver.bcf.things import Thing
    from router.route.model import Attempt, HeadResult, Route, Xyz
    from router.scenario.model import Scenario

BROKEN, UNSERVED, NEAR = "Rule broken", "Head not served", "Near a limit"
TYPES = (BROKEN, UNSERVED, NEAR)
PRIORITY = {BROKEN: "High", UNSERVED: "High", NEAR: "Low"}
STATUS = "Open"
MOST_SELECTED = 200
"""A run of a hundred pieces need not be listed in every topic about it."""


@dataclass(frozen=True)
class Topic:
    """One topic with its one viewpoint."""

    guid: str
    viewpoint: str
    kind: str
    title: str
    description: str
    labels: tuple[str, ...]
    camera: Camera
    selected: tuple[str, ...]


def topics(scenario: Scenario, route: Route, verdict: Verdict, near: bool) -> list[Topic]:
    """Give all topics: unserved heads, then broken rules, then what is near a limit.

    Returns
    -------
    list of Topic
        Each with an id that stays while the matter is the same (rule, thing by heads and runs, the other
        thing), even if pieces have other numbers in a new route.
    """
    maker = _Maker(scenario, route)
    found = [maker.unserved(result) for result in route.heads if not result.served]
    wanted = [(BROKEN, finding) for finding in verdict.breaks]
    wanted += [(NEAR, finding) for finding in verdict.findings if near and finding.severity == "near"]
    return found + [maker.finding(kind, finding) for kind, finding in wanted]


class _Maker:
    def __init__(self, scenario: Scenario, route: Route) -> None:
        self.scenario = scenario
        self.things = Things(scenario, route)
        self.views = Views(scenario)
        self.seen: Counter[str] = Counter()

    def unserved(self, result: HeadResult) -> Topic:
        """Tell of a head that is not served: its nearest attempts, and by how much each fails."""
        lines = [f"Head {result.id} has no connection in this route."]
        for k, attempt in enumerate(result.stopped_by, 1):
            lines.append(f"{k}. {_attempt(attempt)}")
        if not result.stopped_by:
            lines.append("No attempt is on record: no run that could serve it is near enough, or built.")
        selected = [*self.things.of(result.id)]
        for attempt in result.stopped_by:
            selected += self.things.of(attempt.against)
        rules = tuple(dict.fromkeys(attempt.rule for attempt in result.stopped_by))
        title = f"Head {result.id} is not served"
        if result.stopped_by:
            title += f": {_first(result.stopped_by[0].text)}"
        key = f"unserved\x1f{result.id}"
        return self._topic(UNSERVED, key, title, lines, rules, selected, result.inlet, {result.id})

    def finding(self, kind: str, finding: Finding) -> Topic:
        """Tell of a finding: what was measured, the limit, its source."""
        element, against = self.things.of(finding.element), self.things.of(finding.against)
        words, other = self.things.words(finding.element), self.things.words(finding.against)
        lines = [f"{finding.text}."]
        lines.append(f"Rule: {finding.rule}. About: {words}{f', against {other}' if other else ''}.")
        if finding.measured is not None:
            limit = "" if finding.limit is None else f", limit {_number(finding.limit)} {finding.unit}"
            lines.append(f"Measured: {_number(finding.measured)} {finding.unit}{limit}.")
        lines.append(f"Source of the limit: {finding.source} (grade {finding.grade}).")
        if finding.place:
            x, y, z = (number_text(round(value)) for value in finding.place)
            lines.append(f"Place: x {x}, y {y}, z {z} mm.")
        key = "\x1f".join((finding.severity, finding.rule, words, other))
        names = {finding.element, finding.against or ""}
        return self._topic(
            kind, key, finding.text, lines, (finding.rule,), [*element, *against], finding.place, names
        )

    def _topic(
        self,
        kind: str,
        key: str,
        title: str,
        lines: list[str],
        labels: tuple[str, ...],
        selected: Sequence[Thing],
        place: Xyz | None,
        names: set[str],
    ) -> Topic:
        self.seen[key] += 1
        name = f"{key}\x1f{self.seen[key]}"
        guids = tuple(dict.fromkeys(guid for thing in selected for guid in thing.guids))
        points = [point for thing in selected for point in thing.points]
        return Topic(
            guid=str(uuid_of(self.scenario.name, "topic", name)),
            viewpoint=str(uuid_of(self.scenario.name, "viewpoint", name)),
            kind=kind,
            title=title,
            description="\n".join([*lines, "", CAUTION]),
            labels=labels,
            camera=self._camera(place, points, names),
            selected=guids[:MOST_SELECTED],
        )

    def _camera(self, place: Xyz | None, points: list[Xyz], names: set[str]) -> Camera:
        """Look at the place, else at the middle of the things, else at the middle of all heads."""
        if place is None:
            points = points or [head.at for head in self.scenario.heads]
            place = _middle(points)
        return self.views.at(place, points, self._along(place, names))

    def _along(self, place: Xyz, names: set[str]) -> tuple[float, float]:
        """Give the plan direction of the run pipe concerned, else of the run nearest in plan."""
        pieces = self.things.pieces
        own = [pieces[name] for name in sorted(names) if name in pieces]
        for piece in own:
            along = (piece.end[0] - piece.start[0], piece.end[1] - piece.start[1])
            if abs(along[0]) + abs(along[1]) > 1.0:
                return along
        best = min(self._legs(), key=lambda leg: _off(place, *leg), default=None)
        return (0.0, 0.0) if best is None else (best[1][0] - best[0][0], best[1][1] - best[0][1])

    def _legs(self) -> Iterator[tuple[tuple[float, float], tuple[float, float]]]:
        for run in self.scenario.runs:
            yield from zip(run.plan, run.plan[1:], strict=False)


def _off(place: Xyz, a: tuple[float, float], b: tuple[float, float]) -> float:
    """Give the plan distance (squared) from a place to a leg of a run."""
    dx, dy = b[0] - a[0], b[1] - a[1]
    square = dx * dx + dy * dy
    share = ((place[0] - a[0]) * dx + (place[1] - a[1]) * dy) / square if square else 0.0
    share = min(max(share, 0.0), 1.0)
    return (place[0] - a[0] - share * dx) ** 2 + (place[1] - a[1] - share * dy) ** 2


def _middle(points: Sequence[Xyz]) -> Xyz:
    low = [min(point[k] for point in points) for k in range(3)]
    high = [max(point[k] for point in points) for k in range(3)]
    return ((low[0] + high[0]) / 2, (low[1] + high[1]) / 2, (low[2] + high[2]) / 2)


def _attempt(attempt: Attempt) -> str:
    text = f"{attempt.text} (rule {attempt.rule}"
    for word, value in (("has", attempt.has), ("needs", attempt.needs), ("short", attempt.short)):
        if value is not None:
            text += f", {word} {_number(value)} mm"
    return f"{text})"


def _number(value: float) -> str:
    return number_text(round(value, 1))


def _first(text: str, most: int = 120) -> str:
    return text if len(text) <= most else text[: most - 1].rstrip() + "…"
