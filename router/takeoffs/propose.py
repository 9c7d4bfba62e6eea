"""All candidates of a run's heads. A new style is one new file and one line here."""

from __future__ import annotations

import itertools
from functools import partial
from typing import TYPE_CHECKING

import numpy as np

from router.takeoffs import flexible_drop, lowered_arm, pairs, return_bend, side_arm, sidewall, straight_drop
from router.takeoffs.before import SAME, Before
from router.takeoffs.candidates import Candidates, side_code
from router.takeoffs.leaning import leaning
from router.takeoffs.places import places_of, station_options
from router.takeoffs.sites import EXACT, Sites
from router.trade.styles import allowed_styles

if TYPE_CHECKING:
    from collections.abc import Collection, Sequence

    from router.geometry.plan import FloatArray
    from router.geometry.solids import BoolArray, IntArray, Solids
    from router.profiles.frame import RunFrame
    from router.scenario.model import Head, Scenario

MOST_ROWS = 4000
"""About so many stations of heads are looked at together: more would not stay in the processor's cache."""


def _allowed(scenario: Scenario, head: Head) -> set[str]:
    found = allowed_styles(scenario.system, head, scenario.rules)
    return {style for style, why in found.items() if why.allowed}


class Allowed:
    """Styles that system and rules leave to heads, worked out once for all that differ in place only."""

    def __init__(self, scenario: Scenario) -> None:
        self.scenario = scenario
        self._known: dict[tuple[object, ...], set[str]] = {}

    def of(self, head: Head) -> frozenset[str]:
        """Styles that the system, the head, the rules and the pins leave."""
        key = tuple(value for name, value in head if name not in PLACE)
        if key not in self._known:
            self._known[key] = _allowed(self.scenario, head)
        return styles_for(self.scenario, head, self._known[key])


PLACE = ("id", "at", "run")
"""Fields of a head that no rule of styles looks at."""


def styles_for(scenario: Scenario, head: Head, known: Collection[str] | None = None) -> frozenset[str]:
    """Styles that the system, the head, the rules (``known``, if given) and the pins leave."""
    allowed = set(known) if known is not None else _allowed(scenario, head)
    pin = scenario.pins.heads.get(head.id)
    if pin is not None and pin.style is not None:
        allowed &= {pin.style}
    if pin is not None and pin.styles is not None:
        allowed &= set(pin.styles)
    return frozenset(allowed)


def propose_heads(
    frame: RunFrame,
    scenario: Scenario,
    solids: Solids,
    binding: FloatArray,
    before: Before | None = None,
) -> Candidates:
    """Every candidate of the run's heads, alone and in pairs, in a fixed order.

    ``binding``: stations near which something binds (ends of blocked stretches), mm.
    ``before``: what an older route had, to be tried too.
    """
    return _Proposal(frame, scenario, solids, binding, before or Before()).all()


class _Proposal:
    """What is proposed for the heads of one run."""

    def __init__(
        self, frame: RunFrame, scenario: Scenario, solids: Solids, binding: FloatArray, before: Before
    ) -> None:
        self.frame, self.scenario, self.solids, self.before = frame, scenario, solids, before
        rules = scenario.rules
        allowed = Allowed(scenario)
        self.styles = {h: allowed.of(scenario.heads[h]) for h in frame.heads}
        self.places = places_of(frame, scenario, frame.heads, rules.reach, before.spots)
        spacing = 2 * frame.outlet_half(max(s.dn for s in frame.stretches), rules.arm_size)
        own = np.array([place.own for place in self.places])
        self.extra = np.unique(np.round(np.concatenate([own - spacing, own + spacing, binding]), 3))

    def all(self) -> Candidates:
        """Give them all."""
        if not self.places:
            return Candidates.of([])
        sections = [self.frame.plan.sections[place.section] for place in self.places]
        owns = np.array([place.own for place in self.places])
        of, stations = station_options(self.frame, sections, owns, self.extra)
        of, stations = self._with_stations_of_before(of, stations)
        made: list[Candidates] = []
        begin = 0
        while begin < len(of):
            # whole sites only
            end = int(np.searchsorted(of, of[min(begin + MOST_ROWS, len(of)) - 1], side="right"))
            made += self._single(of[begin:end], stations[begin:end])
            begin = end
        made += self._pairs()
        return self._pinned(Candidates.join(made))

    def _with_stations_of_before(self, of: IntArray, stations: FloatArray) -> tuple[IntArray, FloatArray]:
        if not self.before.stations:
            return of, stations
        of, stations = self.before.more_stations([p.head for p in self.places], of, stations)
        start, end = (
            np.array([getattr(self.frame.plan.sections[p.section], name) for p in self.places])
            for name in ("start", "end")
        )
        on = (stations >= start[of]) & (stations <= end[of])
        return of[on], stations[on]

    def _sites(self, which: IntArray, of: IntArray, stations: FloatArray, **more: FloatArray) -> Sites:
        """Sites at some of the places (``which``), with their rows."""
        places = [self.places[k] for k in which.tolist()]
        return Sites(
            self.frame,
            [self.scenario.heads[place.head] for place in places],
            np.array([place.head for place in places], dtype=np.int64),
            np.array([place.at for place in places]),
            [self.frame.plan.sections[place.section] for place in places],
            of,
            stations,
            self.solids,
            **more,
        )

    def _single(self, place: IntArray, stations: FloatArray) -> list[Candidates]:
        """Candidates that serve one head, ordered by place, style, station and level."""
        which, of = np.unique(place, return_inverse=True)
        walls = np.array([self._kind(k) == "sidewall" for k in which.tolist()])
        made: list[tuple[IntArray, Candidates]] = []
        if not walls.all():
            kept = ~walls[of]
            some, of_some = np.unique(of[kept], return_inverse=True)
            sites = self._sites(which[some], of_some, stations[kept])
            made += [(some[sites.of[rows]], found) for rows, found in self._with_arms(sites)]
        for site in np.flatnonzero(walls).tolist():
            here = stations[of == site]
            head = self.places[which[site]].head
            if sidewall.STYLE in self.styles[head]:
                sites = self._sites(which[[site]], np.zeros(len(here), dtype=np.int64), here)
                found = Candidates.of(sidewall.propose(sites))
                made.append((np.full(len(found), site), found))
        return _in_order(made)

    def _kind(self, place: int) -> str:
        return self.scenario.heads[self.places[place].head].kind

    def _with_arms(self, sites: Sites) -> list[tuple[IntArray, Candidates]]:
        """Rows and candidates, style by style."""

        def rows_for(*styles: str) -> BoolArray:
            may = [bool(self.styles[h] & set(styles)) for h in sites.indices.tolist()]
            return np.array(may, dtype=bool)[sites.of]

        made = []
        for function, styles in SINGLE:
            rows = rows_for(*styles)
            if rows.any():
                made.append(function(sites, rows))
        lowered = rows_for(lowered_arm.STYLE)
        if lowered.any() and self.before.arms:
            made.append(lowered_arm.propose_before(sites, lowered, self.before))
        bend, raised = rows_for(return_bend.STYLE), rows_for(return_bend.RAISED)
        if bend.any() or raised.any():
            made += return_bend.propose(sites, bend, raised, self.before)
        return made

    def _pairs(self) -> list[Candidates]:
        """Shared nipples and crosses for two heads on either side of one section."""
        rules = self.scenario.rules
        rows: list[tuple[int, int, float]] = []
        slide = max(rules.slide, rules.alignment)
        for first, second in self._near_pairs(slide):
            for one, other in itertools.product(first, second):
                pa, pb = self.places[one], self.places[other]
                if pa.section != pb.section or abs(pa.own - pb.own) > slide:
                    continue
                if min(abs(pa.lateral), abs(pb.lateral)) <= EXACT:
                    continue  # a head under the line has no side
                if pa.lateral * pb.lateral >= 0:
                    continue
                section = self.frame.plan.sections[pa.section]
                alike = abs(pa.own - pb.own) <= self._straight_within(pb.lateral)
                tried = [pa.own] if alike else [pa.own, pb.own]
                both = set(self.before.stations.get(pa.head, [])) & set(self.before.stations.get(pb.head, []))
                tried += [s for s in sorted(both) if all(abs(s - t) > SAME for t in tried)]
                for station in tried:
                    if section.start <= station <= section.end:
                        rows.append((one, other, station))
        if not rows:
            return []
        stations = np.array([station for _, _, station in rows])
        of, which = np.arange(len(rows)), np.array([row[:2] for row in rows])
        lateral = np.array([place.lateral for place in self.places])
        a, b = (
            self._sites(k, of, stations, straight_within=self._straight_within(lateral[k]) + EXACT)
            for k in which.T
        )
        made = []
        for style, function in (
            (pairs.SHARED, pairs.propose_shared),
            (pairs.SHARED, partial(pairs.propose_shared_before, before=self.before)),
            (pairs.CROSS, pairs.propose_cross),
        ):
            may = [
                style in self.styles[h] and style in self.styles[j]
                for h, j in zip(a.indices.tolist(), b.indices.tolist(), strict=True)
            ]
            fits = np.array(may, dtype=bool)
            if rules.slide == 0:
                fits &= ~(a.dogleg | b.dogleg)
            if fits.any():
                made.append(function(a, b, fits))
        return _in_order(made)

    def _straight_within(self, lateral: FloatArray | float) -> FloatArray:
        """How far along the line an arm may lean, mm."""
        rules = self.scenario.rules
        return np.minimum(rules.alignment, leaning(rules, np.abs(lateral)))

    def _near_pairs(self, apart: float) -> list[tuple[list[int], list[int]]]:
        """Places of two heads that may share an outlet and come within ``apart`` along a section."""
        spots = sorted((p.section, p.own, p.head) for p in self.places)
        found: set[tuple[int, int]] = set()
        for n, (section, station, h) in enumerate(spots):
            for other, s, j in itertools.islice(spots, n + 1, None):
                if other != section or s - station > apart:
                    break
                if h != j:
                    found.add((min(h, j), max(h, j)))
        by_head: dict[int, list[int]] = {}
        for k, place in enumerate(self.places):
            by_head.setdefault(place.head, []).append(k)
        return [(by_head[h], by_head[j]) for h, j in sorted(found) if self._may_share(h, j)]

    def _may_share(self, h: int, j: int) -> bool:
        one, other = self.scenario.heads[h].kind, self.scenario.heads[j].kind
        both = self.styles[h] & self.styles[j]
        return one == other != "sidewall" and bool(both & {pairs.SHARED, pairs.CROSS})

    def _pinned(self, found: Candidates) -> Candidates:
        """Leave out what the pins of heads exclude."""
        columns, keep = found.columns, np.ones(len(found), dtype=bool)
        for h in self.frame.heads:
            pin = self.scenario.pins.heads.get(self.scenario.heads[h].id)
            if pin is None:
                continue
            fits = np.full(len(found), pin.run is None or pin.run == self.frame.run.id)
            if pin.side is not None:
                fits &= columns.side == side_code(pin.side)
            if pin.stations is not None:
                low, high = pin.stations
                fits &= (low <= columns.station) & (columns.station <= high)
            keep &= fits | ~(columns.heads == h).any(axis=1)
        return found if keep.all() else found.take(keep)


SINGLE = (
    (side_arm.propose, (side_arm.STYLE,)),
    (lowered_arm.propose, (lowered_arm.STYLE,)),
    (straight_drop.propose, (straight_drop.STYLE, straight_drop.SPRIG)),
    (flexible_drop.propose, (flexible_drop.STYLE,)),
)


def _in_order(made: Sequence[tuple[IntArray, Candidates]]) -> list[Candidates]:
    """Join what was made style by style, ordered by what it was made for."""
    kept = [(rows, found) for rows, found in made if len(found)]
    if len(kept) < 2:
        return [found for _, found in kept]
    order = np.argsort(np.concatenate([rows for rows, _ in kept]), kind="stable")
    return [Candidates.join([found for _, found in kept]).take(order)]
