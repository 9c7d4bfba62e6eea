"""Prices of everything that a run can do, where the user's price table is part of the objective.

The parts of a takeoff are those that the route will really have: they are made
by the same code (``takeoff_parts``) with the sizes that the run has there while
heads leave it in the order in which they stand along it. Run pipe is priced by
position, its sizes changing at each head's own station; a takeoff that leaves
elsewhere carries the difference. If the chosen route serves heads in another
order its price can differ a little from the model's: ``building.solution`` compares
the two and claims no proof that it has not.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, cast

import numpy as np

from router.building.sizes import least_for
from router.building.takeoff_parts import TakeoffParts
from router.profiles.columns import KINDS
from router.profiles.graph import TERMS, Arc
from router.route.parts import Workshop
from router.trade.prices import PriceBook

if TYPE_CHECKING:
    from collections.abc import Sequence

    from router.building.prepare import Prepared
    from router.geometry.plan import FloatArray
    from router.profiles.changes import Change
    from router.profiles.columns import ArcColumns
    from router.profiles.frame import RunFrame
    from router.takeoffs.candidate import Candidate

PRICE = TERMS.index("price")


class _Sizes:
    """Sizes of a run along it while everything leaves it in order; stands in for the assembler."""

    def __init__(self, prepared: Prepared, frame: RunFrame) -> None:
        self.prepared, self.frame = prepared, frame
        self.served = {f.index: prepared.heads_below(f.index) for f in prepared.frames}
        self.own: dict[tuple[str, int], float] = {}
        weights: list[tuple[float, tuple[str, int], int]] = []
        for h in frame.heads:
            at = frame.plan.nearest(prepared.scenario.heads[h].at[:2])[0]
            weights.append((at, ("head", h), 1))
        for child in frame.children:
            weights.append((prepared.frames[child].parent_station, ("run", child), self.served[child]))
        weights.sort()
        left = sum(n for _, _, n in weights)
        self.stops: list[tuple[float, int]] = []
        self.before: dict[tuple[str, int], tuple[int, int]] = {}
        for station, key, n in weights:
            first = self._dn(left, station)
            left -= n
            self.before[key] = (first, self._dn(left, station + 1e-3) if left else first)
            self.own[key] = station
            self.stops.append((station, first))

    def _dn(self, heads: int, station: float) -> int:
        frame, prepared = self.frame, self.prepared
        if isinstance(frame.run.size, int) or frame.uncut:
            return frame.stretch_at(station).dn
        beyond = [
            self.start_of(c) for c in frame.children if prepared.frames[c].parent_station > station - 1e-6
        ]
        return max([least_for(prepared.scenario, prepared.tables, frame.run, heads), *beyond])

    def start_of(self, run: int) -> int:
        """Size of another run at its supply end."""
        return self.prepared.frames[run].stretches[0].dn

    def at(self, station: float) -> int:
        """Size of the run's pipe at a station."""
        frame = self.frame
        if isinstance(frame.run.size, int) or frame.uncut or not self.stops:
            return frame.stretch_at(station).dn
        return next((dn for s, dn in self.stops if station <= s + 1e-6), self.stops[-1][1])

    def size(self, frame: RunFrame, heads: int, station: float) -> int:
        """Answer what ``takeoff_parts`` asks the assembler."""
        return self.at(station) if frame.index == self.frame.index else self.start_of(frame.index)


class ArcPrices:
    """Puts prices on the arcs of one run's graph."""

    def __init__(self, prepared: Prepared, frame: RunFrame) -> None:
        assert prepared.scenario.prices is not None
        self.prepared, self.frame = prepared, frame
        self.book = PriceBook.of(prepared.scenario.prices)
        self.sizes = _Sizes(prepared, frame)

    def pipe(self, stations: FloatArray) -> FloatArray:
        """Price of run pipe from the supply to each station (mm)."""
        edges = np.array(
            sorted({0.0, *(s for s, _ in self.sizes.stops), *(s.end for s in self.frame.stretches)})
        )
        rates = np.array([self.book.pipe(self.sizes.at(e)) for e in edges[1:]])
        sums = np.concatenate([[0.0], np.cumsum(np.diff(edges) / 1000.0 * rates)])
        return np.asarray(np.interp(stations, edges, sums))

    def put(self, arcs: ArcColumns, candidates: Sequence[Candidate]) -> None:
        """Put the price of every arc into its amounts."""
        price = self.pipe(arcs.b / 1000.0) - self.pipe(arcs.a / 1000.0)
        for name in ("drain", "large_drain", "wet_drain"):
            price += arcs.amounts[:, TERMS.index(name)] * getattr(self.book, name)
        own: dict[tuple[int, bool], float] = {}
        for k in range(len(arcs)):
            kind, ref = KINDS[arcs.kind[k]], int(arcs.ref[k])
            if kind == "takeoff":
                key = (ref, bool(arcs.ends[k]))
                if key not in own:
                    own[key] = self._takeoff(candidates[ref], key[1])
                price[k] += own[key]
            elif ref >= 0:
                price[k] += self._change(arcs.arc(k), cast("Change", arcs.changes[ref]))
        arcs.amounts[:, PRICE] = price

    def _change(self, arc: Arc, change: Change) -> float:
        dn = self.sizes.at(change.first)
        elbow = self.book.fitting(change.elbow, dn)
        if arc.la == arc.lb:
            return elbow
        rise = abs(float(self.frame.levels[arc.la] - self.frame.levels[arc.lb]))
        run = change.second - change.first
        more = float(np.hypot(rise, run)) - run
        return 2 * elbow + more / 1000.0 * self.book.pipe(dn)

    def _takeoff(self, candidate: Candidate, ends: bool) -> float:
        sizes = self.sizes
        keys = [("head", b.head) for b in candidate.branches] + [("run", f.run) for f in candidate.feeds]
        before = max(sizes.before[k][0] for k in keys)
        shop = Workshop(self.prepared.tables)
        parts = TakeoffParts(cast("Assembler", sizes), self.frame, shop, "T", candidate, ends)
        joint, port = parts.outlet()
        if joint is not None and joint.kind == "outlet":
            joint.seat = before
        elif joint is not None:
            joint.ports.append(((0.0, 0.0, 0.0), before, port))
        parts.make()
        for run, fed, way in parts.feeding:
            if fed is not None:
                fed.ports.append(((0.0, 0.0, 0.0), sizes.start_of(run), way))
        made = sum(self._draft(d) for d in shop.drafts)
        made += sum(self.book.fitting(j.kind, max(dn for _, dn, _ in j.ports)) for j in shop.joints)
        made += candidate.hoses * self.book.hose + candidate.hangers * self.book.hanger
        for key in keys:
            first, after = sizes.before[key]
            away = (candidate.station - sizes.own[key]) / 1000.0
            made += away * (self.book.pipe(first) - self.book.pipe(after))
        return made

    def _draft(self, draft: Draft) -> float:
        if draft.kind in ("hose", "barrel"):
            return 0.0
        return float(np.linalg.norm(np.subtract(draft.end, draft.start))) / 1000.0 * self.book.pipe(draft.dn)


if TYPE_CHECKING:
    from router.building.assemble import Assembler
    from router.route.parts import Draft
