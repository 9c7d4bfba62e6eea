"""What an id of a finding stands for: ids in our models, places, and words that outlive a new route."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from typing import TYPE_CHECKING

from router.deliver.guids import guid_of, is_guid

if TYPE_CHECKING:
    from router.route.model import Fitting, Piece, Route, Takeoff, Xyz
    from router.scenario.model import Scenario


@dataclass(frozen=True)
class Thing:
    """One thing: its ids in the models, points on it (mm), and its name by heads and runs.

    ``words`` do not hang on the numbers of pieces and fittings, which a new route gives anew.
    """

    guids: tuple[str, ...]
    points: tuple[Xyz, ...]
    words: str


class Things:
    """All things of a scenario and its route, by id; an id may stand for several."""

    def __init__(self, scenario: Scenario, route: Route) -> None:
        self.scenario, self.route = scenario, route
        self.found: dict[str, list[Thing]] = defaultdict(list)
        self.takeoffs = {takeoff.id: takeoff for takeoff in route.takeoffs}
        self.pieces = {piece.id: piece for piece in route.pieces}
        self.fittings = {fitting.id: fitting for fitting in route.fittings}
        self._of_route()
        self._of_scenario()

    def of(self, name: str | None) -> list[Thing]:
        """Give what an id stands for; nothing for a name of no thing (``objective``)."""
        return self.found.get(name, []) if name else []

    def words(self, name: str | None) -> str:
        """Give the words of an id, or itself."""
        things = self.of(name)
        return things[0].words if things else name or ""

    def _guid(self, kind: str, name: str) -> str:
        return guid_of(self.scenario.name, kind, name)

    def _both(self, kind: str, name: str, source: str | None) -> tuple[str, ...]:
        """Give the identity in a model of ours, and the one in the model that it came from, where known."""
        ours = self._guid(kind, name)
        return (ours,) if source is None or not is_guid(source) else (source, ours)

    def _add(self, name: str, words: str, pieces: list[Piece], fittings: list[Fitting]) -> None:
        guids = [self._guid("piece", one.id) for one in pieces]
        guids += [self._guid("fitting", one.id) for one in fittings]
        points = [point for one in pieces for point in (one.start, one.end)] + [one.at for one in fittings]
        self.found[name].append(Thing(tuple(guids), tuple(points), words))

    def _of_route(self) -> None:
        route = self.route
        for piece in route.pieces:
            self._add(piece.id, f"{piece.kind} {self._owner(piece.owner)}", [piece], [])
        for fitting in route.fittings:
            kind = fitting.kind.replace("_", " ")
            self._add(fitting.id, f"{kind} {self._owner(fitting.owner)}", [], [fitting])
        for takeoff in route.takeoffs:
            self._add(takeoff.id, f"takeoff {self._owner(takeoff.id)}", *self._parts(takeoff))
        for run in route.runs:
            for change in run.level_changes:
                pieces = [self.pieces[name] for name in change.pieces if name in self.pieces]
                fittings = [self.fittings[name] for name in change.fittings if name in self.fittings]
                self._add(change.id, f"change of level on {run.id}", pieces, fittings)
        for hanger in route.hangers:
            guids = (self._guid("piece", hanger.piece),) if hanger.piece in self.pieces else ()
            words = f"hanger on {self.words(hanger.piece)}"
            self.found[hanger.id].append(Thing(guids, (hanger.at,), words))

    def _owner(self, name: str) -> str:
        takeoff = self.takeoffs.get(name)
        if takeoff is None:
            return f"of {name}"
        return f"to {', '.join(takeoff.heads or takeoff.child_runs) or takeoff.run}"

    def _parts(self, takeoff: Takeoff) -> tuple[list[Piece], list[Fitting]]:
        pieces = [self.pieces[name] for name in takeoff.pieces if name in self.pieces]
        return pieces, [self.fittings[name] for name in takeoff.fittings if name in self.fittings]

    def _of_scenario(self) -> None:
        inlets = {result.id: result.inlet for result in self.route.heads}
        for head in self.scenario.heads:
            guids = self._both("heads", head.id, head.guid)
            self.found[head.id].append(Thing(guids, (inlets.get(head.id, head.at),), f"head {head.id}"))
        for run in self.scenario.runs:
            built = [piece for piece in self.route.pieces if piece.owner == run.id]
            # a model of the scenario holds its stretches, one of the route its pieces: both are named
            names = [self._guid("runs", f"{run.id}/{k}") for k in range(len(run.plan) - 1)]
            names += [self._guid("piece", piece.id) for piece in built]
            points = [point for piece in built for point in (piece.start, piece.end)]
            points = points or [(x, y, run.elevation) for x, y in run.plan]
            self.found[run.id].append(Thing(tuple(names), tuple(points), f"run {run.id}"))
        for solid in self.scenario.obstructions:
            low, high = solid.elevations
            words = f"{solid.kind} {solid.id}"
            self._flat("obstructions", solid.id, solid.polygon, (low + high) / 2, words, solid.guid)
        for ceiling in self.scenario.ceilings:
            self._flat("ceilings", ceiling.id, ceiling.polygon, ceiling.elevation, f"ceiling {ceiling.id}")
        for zone in self.scenario.keep_out:
            middle = sum(zone.elevations) / 2 if zone.elevations else 0.0
            self._flat("keep_out", zone.id, zone.polygon, middle, f"keep-out {zone.id}")

    def _flat(
        self,
        kind: str,
        name: str,
        polygon: list[tuple[float, float]],
        z: float,
        words: str,
        source: str | None = None,
    ) -> None:
        points = tuple((x, y, z) for x, y in polygon)
        self.found[name].append(Thing(self._both(kind, name, source), points, words))
