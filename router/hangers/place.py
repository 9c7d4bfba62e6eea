"""Hangers on a finished route: run pipe, long arms, long sprigs."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections import defaultdict
from math import dist
from typing import TYPE_CHECKING, Literal

import numpy as np

from router.hangers.arms import Heads, level_length, way_to
from router.hangers.fewest import fewest
from router.hangers.fittings import Fittings
from router.hangers.room import allow
from router.hangers.sections import ask_of_run, feeds
from router.hangers.structure import Overhead
from router.hangers.way import Way, make_way
from router.route.model import Hanger, Piece, Route, RunResult, Takeoff
from router.trade.hangers import HangerLimits
from router.trade.tables import Tables

if TYPE_CHECKING:
    from router.hangers.structure import Held
    from router.route.model import Fitting, Xyz
    from router.scenario.model import Scenario

RESTRAINT_BELOW_MM = 150.0
"""How far below the top of a sprig its restraint is (common practice, no source)."""
Kind = Literal["run", "arm", "sprig_restraint"]
Spot = tuple[float, Piece, "Xyz", str, "Held"]
"""Developed length, piece, place, why, what it hangs from."""


def place_hangers(scenario: Scenario, route: Route) -> list[Hanger]:
    """Return the hangers of a route: on its runs, on arms that may not hang free, at long sprigs.

    Fewest first, over all positions clear of fittings and upright heads; of
    equally many those with most under structure, over the candidate positions of
    :meth:`router.hangers.way.Way.positions`; then the least distance from the
    middles. Run by run, parents first: a run that its parent ends in counts its
    first gap from the parent's last hanger.

    Parameters
    ----------
    scenario : Scenario
        In mm.
    route : Route
        Finished: each run's pieces in the order of the flow. It is not changed.

    Returns
    -------
    list of Hanger
        Run by run, each run's own before those of its takeoffs. Where a limit
        cannot be kept (no room between two fittings) the nearest place is taken.
    """
    return _Placing(scenario, route).all()


class _Placing:
    def __init__(self, scenario: Scenario, route: Route) -> None:
        self.route = route
        tables = Tables(scenario.system.standard, scenario.rules.tables)
        self.tables = tables
        self.limits = HangerLimits(tables, scenario.rules)
        self.fittings = Fittings(scenario, route, tables)
        self.overhead = Overhead(scenario.obstructions)
        self.heads = Heads(scenario)
        self.uprights = self.heads.uprights(route.heads)
        self.results = {head.id: head for head in route.heads}
        self.pieces = {piece.id: piece for piece in route.pieces}
        self.run_pieces: dict[str, list[Piece]] = defaultdict(list)
        for piece in route.pieces:
            if piece.kind == "run":
                self.run_pieces[piece.run].append(piece)
        self.takeoffs: dict[str, list[Takeoff]] = defaultdict(list)
        for takeoff in route.takeoffs:
            self.takeoffs[takeoff.run].append(takeoff)
        self.outlets: dict[str, list[Fitting]] = defaultdict(list)
        for fitting in route.fittings:
            if fitting.kind == "outlet":
                self.outlets[fitting.run].append(fitting)
        axes = np.array([[p.start, p.end] for p in route.pieces], dtype=float).reshape(-1, 2, 3)
        spans = self.overhead.crossings(axes)
        self.crossings = {piece.id: each for piece, each in zip(route.pieces, spans, strict=True)}
        self.overhang: dict[str, float] = {}
        self.arms: dict[str, dict[str, list[Spot]]] = {}

    def all(self) -> list[Hanger]:
        found: dict[str, list[tuple[Kind, str, list[Spot]]]] = {}
        feeding = feeds(self.route.takeoffs)
        done: dict[str, RunResult] = {}
        waiting = list(self.route.runs)
        ids = {run.id for run in waiting}
        while waiting:  # parents first; a circle of runs is taken as it comes
            ready = [
                r for r in waiting if (t := feeding.get(r.id)) is None or t.run in done or t.run not in ids
            ]
            for run in ready or waiting[:1]:
                found[run.id] = self._run(run, feeding.get(run.id))
                done[run.id] = run
            waiting = [run for run in waiting if run.id not in done]
        out: list[Hanger] = []
        for run in self.route.runs:
            for kind, _, spots in found[run.id]:
                out += self._hangers(run.id, kind, spots, len(out))
        return out

    def _run(self, run: RunResult, fed_by: Takeoff | None) -> list[tuple[Kind, str, list[Spot]]]:
        takeoffs = self.takeoffs[run.id]
        arms: dict[str, list[Spot]] = {}
        for takeoff in takeoffs:
            for name in takeoff.heads:
                arms[f"{takeoff.id} {name}"] = self._arm(takeoff, name)
        way = make_way(self.run_pieces[run.id], self.limits)
        spots: list[Spot] = []
        if way.parts:
            allow(way, self.fittings, self.outlets[run.id], self.uprights)
            at_end = max(takeoffs, key=lambda t: t.station, default=None)
            least = self._end(way, at_end, arms)
            ask_of_run(way, run.id, takeoffs, fed_by, self.fittings.by_id)
            if fed_by is not None and fed_by.ends_run:
                way.held = -self.overhang.get(fed_by.run, 0.0)
            way.last = least
            spots = self._fewest(way, "DN{dn}: hangers at most {mm:.0f} mm apart")
            end = self.limits.to_end(way.parts[-1].piece.dn)
            if spots and at_end is not None and at_end.heads:
                x, piece, at, _, held = spots[-1]
                high = any(self.heads.short(name) for name in at_end.heads)
                why = f"last hanger to the end head at most {self.limits.to_end(piece.dn, high).mm:.0f} mm"
                spots[-1] = (x, piece, at, why + ("; must stop upward movement" if high else ""), held)
            elif spots:
                x, piece, at, _, held = spots[-1]
                spots[-1] = (x, piece, at, f"at most {end.mm:.0f} mm from the pipe's end", held)
            self.overhang[run.id] = way.length - (spots[-1][0] if spots else way.held)
        made: list[tuple[Kind, str, list[Spot]]] = [("run", run.id, spots)]
        for takeoff in takeoffs:
            for name in takeoff.heads:
                made.append(("arm", takeoff.id, arms[f"{takeoff.id} {name}"]))
            made.append(("sprig_restraint", takeoff.id, self._sprigs(takeoff)))
        return made

    def _end(self, way: Way, takeoff: Takeoff | None, arms: dict[str, list[Spot]]) -> float:
        """Return the position that nothing before it may be the last hanger; hang an end arm if need be."""
        dn = way.parts[-1].piece.dn
        room = max((high for _, high, _ in way.allowed), default=way.length)
        if takeoff is None or not takeoff.heads:
            return way.length - self.limits.to_end(dn).mm
        least = 0.0
        for name in takeoff.heads:
            key = f"{takeoff.id} {name}"
            arm = self._arm_pieces(takeoff, name)
            mine = way.length + level_length(arm) - self.limits.to_end(dn, self.heads.short(name)).mm
            if mine > room and not arms[key]:
                arms[key] = self._arm(takeoff, name, least=1)
            if arms[key]:
                smaller = min(self.limits.spacing(p.dn).mm for p in [way.parts[-1].piece, *arm])
                mine = way.length + arms[key][0][0] - smaller
            least = max(least, mine)
        return least

    def _arm_pieces(self, takeoff: Takeoff, name: str) -> list[Piece]:
        result = self.results.get(name)
        return [] if result is None else way_to(result, takeoff, self.pieces)

    def _arm(self, takeoff: Takeoff, name: str, least: int = 0) -> list[Spot]:
        """Hang the arm to one head so that no more than its limit is left beyond the last hanger."""
        pieces = self._arm_pieces(takeoff, name)
        limit = self.limits.arm(self.heads.short(name))
        way = make_way(pieces, self.limits, flat=True)
        if not way.parts or (way.length <= limit.mm + 1e-3 and not least):
            return []
        way.none = False
        allow(way, self.fittings, [], self.uprights)
        beyond = limit
        if least:
            beyond = self.limits.to_end(pieces[-1].dn, self.heads.short(name))
        way.last = way.length - min(limit.mm, beyond.mm)
        return self._fewest(way, f"at most {min(limit.mm, beyond.mm):.0f} mm of an arm may hang free")

    def _fewest(self, way: Way, why: str) -> list[Spot]:
        """Choose a way's hangers."""
        way.settle()
        found = way.positions([self.crossings[part.piece.id] for part in way.parts])
        if not found:
            return []
        points = [way.parts[k].point(x) for x, k, _ in found]
        radii = [self._radius(part.piece) for part in way.parts]
        radius = np.array([radii[k] for _, k, _ in found])
        holds = self.overhead.above(np.array(points, dtype=float), radius)
        xs = [x for x, _, _ in found]
        under = [each is not None for each in holds]
        off = [each for _, _, each in found]
        chosen = fewest(way.held, xs, under, off, way.reach, way.last, none=way.none)
        out: list[Spot] = []
        inside = [xs[k] for k in chosen]
        # sections with one hanger, by where it is
        single = {inside[at] for low, high in way.need if (at := _only(inside, low, high)) is not None}
        for i in chosen:
            piece = way.parts[found[i][1]].piece
            alone = xs[i] in single
            limit = self.limits.spacing(piece.dn)
            text = "one hanger for each section of pipe" if alone else why.format(dn=piece.dn, mm=limit.mm)
            out.append((xs[i], piece, points[i], text, holds[i]))
        return out

    def _radius(self, piece: Piece) -> float:
        return self.tables.od(piece.dn) / 2 if piece.dn in self.tables.sizes else piece.dn / 2

    def _sprigs(self, takeoff: Takeoff) -> list[Spot]:
        out: list[Spot] = []
        limit = self.limits.sprig()
        for name in takeoff.pieces:
            piece = self.pieces.get(name)
            if piece is None or piece.kind != "sprig":
                continue
            length = dist(piece.start, piece.end)
            if length < limit.mm - 1e-3:
                continue
            low, high = sorted((piece.start, piece.end), key=lambda point: point[2])
            t = max(1.0 - RESTRAINT_BELOW_MM / length, 0.5)
            x, y, z = (round(a + t * (b - a), 3) for a, b in zip(low, high, strict=True))
            why = f"a sprig of {limit.mm:.0f} mm or longer is restrained"
            out.append((t * length, piece, (x, y, z), why, None))
        return out

    def _hangers(self, run: str, kind: Kind, spots: list[Spot], before: int) -> list[Hanger]:
        return [
            Hanger(
                id=f"HG{before + k:04d}",
                kind=kind,
                run=run,
                piece=piece.id,
                at=at,
                structure=None if held is None else held[0],
                rod=None if held is None else round(held[1], 3),
                why=why,
            )
            for k, (_, piece, at, why, held) in enumerate(spots, 1)
        ]


def _only(places: list[float], low: float, high: float) -> int | None:
    """Return which of ascending places is alone between two; ``None`` if none or several are."""
    first, after = bisect_right(places, low), bisect_left(places, high)
    return first if after - first == 1 else None
