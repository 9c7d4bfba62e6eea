"""All candidates of a run's heads. A new style is one new file and one line here."""

from __future__ import annotations

import itertools
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from router.takeoffs import flexible_drop, lowered_arm, pairs, return_bend, side_arm, sidewall, straight_drop
from router.takeoffs.candidates import Candidates
from router.takeoffs.site import HeadSite
from router.trade.styles import allowed_styles

if TYPE_CHECKING:
    from collections.abc import Collection, Sequence

    from router.geometry.plan import FloatArray, Section
    from router.geometry.solids import Solids
    from router.profiles.frame import RunFrame
    from router.scenario.model import Head, HeadPin, Scenario
    from router.takeoffs.candidate import Candidate

SINGLE = {
    side_arm.STYLE: side_arm.propose,
    lowered_arm.STYLE: lowered_arm.propose,
    straight_drop.STYLE: straight_drop.propose,
    straight_drop.SPRIG: straight_drop.propose,
    flexible_drop.STYLE: flexible_drop.propose,
    sidewall.STYLE: sidewall.propose,
}


@dataclass(frozen=True)
class Place:
    """A head at one of its possible places, with the sections of its run that may serve it."""

    head: int
    at: tuple[float, float, float]
    sections: tuple[Section, ...]


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


def sections_for(frame: RunFrame, at: tuple[float, float, float], reach: float) -> tuple[Section, ...]:
    """Give the at most two sections of a run that are nearest to a head and within reach."""
    ranked = []
    target = np.array(at[:2])
    for i, section in enumerate(frame.plan.sections):
        s, d = section.local(target)[0]
        over = max(section.start - s, s - section.end, 0.0)
        if abs(d) + over <= reach:
            ranked.append((abs(d) + over, i, section))
    return tuple(section for _, _, section in sorted(ranked, key=lambda r: r[:2])[:2])


def places_of(frame: RunFrame, head: Head, index: int, reach: float) -> list[Place]:
    """Give the head's own place; with an allowed shift also under the line and along it.

    A fixed head has one place. A shifted one is tried where it lines up with
    the run and at half and full shift along it: resolution of the claim.
    """
    spots = [head.at]
    if head.shift > 0:
        station, distance = frame.plan.nearest(head.at[:2])
        if distance <= head.shift:
            x, y = frame.plan.point(station)
            spots.append((float(x), float(y), head.at[2]))
        along = frame.plan.section_at(station).along
        for step in (-1.0, -0.5, 0.5, 1.0):
            x, y = np.array(head.at[:2]) + step * head.shift * along
            spots.append((float(x), float(y), head.at[2]))
    return [Place(index, at, sections_for(frame, at, reach)) for at in spots]


def station_options(
    frame: RunFrame, section: Section, own: float, extra: FloatArray, lateral: float
) -> FloatArray:
    """Stations worth trying for one head: its own, a slide either way, and where something binds.

    ``extra``: stations a spacing away from other heads, and beside blocked
    stretches. A head beyond the section's end slides in from that end.
    """
    rules = frame.makeup.rules
    steps = np.arange(-int(rules.slide // rules.station_step), int(rules.slide // rules.station_step) + 1)
    anchor = float(np.clip(own, section.start, section.end))
    around = anchor + steps * rules.station_step
    near = extra[np.abs(extra - anchor) <= rules.slide]
    options = np.concatenate([[anchor], around, near]) if rules.slide > 0 else np.array([anchor])
    options = options[(options >= section.start) & (options <= section.end)]
    options = np.unique(np.round(options, 3))
    if section.start <= own <= section.end:
        options = options[np.abs(options - own) > 0.5]
        options = np.sort(np.append(options, own))
    return options


def propose_heads(frame: RunFrame, scenario: Scenario, solids: Solids, binding: FloatArray) -> Candidates:
    """Every candidate of the run's heads, alone and in pairs, in a fixed order.

    ``binding``: stations near which something binds (ends of blocked stretches), mm.
    """
    rules = scenario.rules
    places = {h: places_of(frame, scenario.heads[h], h, rules.reach) for h in frame.heads}
    own = np.array(
        [s.local(np.array(p.at[:2]))[0, 0] for ps in places.values() for p in ps for s in p.sections]
    )
    spacing = 2 * frame.outlet_half(max(s.dn for s in frame.stretches), rules.arm_size)
    extra = np.unique(np.round(np.concatenate([own - spacing, own + spacing, binding]), 3))
    made: list[Sequence[Candidate]] = []
    allowed = Allowed(scenario)
    for h in frame.heads:
        head = scenario.heads[h]
        styles = allowed.of(head)
        found: list[Sequence[Candidate]] = []
        for place in places[h]:
            for section in place.sections:
                s, d = (float(v) for v in section.local(np.array(place.at[:2]))[0])
                stations = station_options(frame, section, s, extra, d)
                if len(stations):
                    site = HeadSite(frame, section, head, h, place.at, stations, solids)
                    found += _single(site, styles)
        pin = scenario.pins.heads.get(head.id)
        made += found if pin is None else [_pinned(Candidates.join(found), pin, frame)]
    for a, b in _near_pairs(places, max(rules.slide, rules.alignment)):
        made.append(_pairs(frame, scenario, solids, places[a], places[b]))
    return Candidates.join(made)


def _near_pairs(places: dict[int, list[Place]], apart: float) -> list[tuple[int, int]]:
    """Heads that have places within ``apart`` of each other along one section, in the order of the heads."""
    spots = sorted(
        (section.start, float(section.local(np.array(p.at[:2]))[0, 0]), h)
        for h, ps in places.items()
        for p in ps
        for section in p.sections
    )
    found: set[tuple[int, int]] = set()
    for n, (start, station, h) in enumerate(spots):
        for other, s, j in itertools.islice(spots, n + 1, None):
            if other != start or s - station > apart:
                break
            if h != j:
                found.add((min(h, j), max(h, j)))
    return sorted(found)


def _single(site: HeadSite, styles: frozenset[str]) -> list[Sequence[Candidate]]:
    if site.head.kind == "sidewall":
        return [sidewall.propose(site)] if sidewall.STYLE in styles else []
    made: list[Sequence[Candidate]] = []
    done = set()
    for style, function in SINGLE.items():
        if style in styles and style != sidewall.STYLE and function not in done:
            done.add(function)
            made.append(function(site))
    if styles & {return_bend.STYLE, return_bend.RAISED}:
        made += return_bend.propose(site, styles)
    return made


def _pinned(found: Candidates, pin: HeadPin | None, frame: RunFrame) -> Candidates:
    if pin is None:
        return found
    columns = found.columns
    keep = np.full(len(found), pin.run is None or pin.run == frame.run.id)
    if pin.side is not None:
        keep &= columns.side == pin.side
    if pin.stations is not None:
        low, high = pin.stations
        keep &= (low <= columns.station) & (columns.station <= high)
    return found.take(keep)


def _pairs(
    frame: RunFrame, scenario: Scenario, solids: Solids, first: list[Place], second: list[Place]
) -> Sequence[Candidate]:
    """Shared nipples and crosses for two heads on either side of one section."""
    rules = scenario.rules
    a_head, b_head = scenario.heads[first[0].head], scenario.heads[second[0].head]
    if "sidewall" in (a_head.kind, b_head.kind) or (a_head.kind != b_head.kind):
        return []
    both = styles_for(scenario, a_head) & styles_for(scenario, b_head)
    if not both & {pairs.SHARED, pairs.CROSS}:
        return []
    made: list[Candidate] = []
    for pa in first:
        for pb in second:
            for section in pa.sections:
                if section not in pb.sections:
                    continue
                (sa, da), (sb, db) = (section.local(np.array(p.at[:2]))[0] for p in (pa, pb))
                if min(abs(da), abs(db)) <= rules.alignment + 0.05:
                    continue  # a head under the line has no side
                if da * db >= 0 or abs(sa - sb) > max(rules.slide, rules.alignment):
                    continue
                stations = [sa] if abs(sa - sb) <= rules.alignment else [sa, sb]
                for s in stations:
                    if not section.start <= s <= section.end:
                        continue
                    sites = [
                        HeadSite(
                            frame,
                            section,
                            scenario.heads[p.head],
                            p.head,
                            p.at,
                            np.array([float(s)]),
                            solids,
                            straight_within=rules.alignment + 0.05,
                        )
                        for p in (pa, pb)
                    ]
                    if rules.slide == 0 and any(site.dogleg[0] for site in sites):
                        continue
                    if pairs.SHARED in both:
                        made += pairs.propose_shared(sites[0], sites[1])
                    if pairs.CROSS in both:
                        made += pairs.propose_cross(sites[0], sites[1])
    kept = Candidates.of(made)
    for p in (first[0], second[0]):
        kept = _pinned(kept, scenario.pins.heads.get(scenario.heads[p.head].id), frame)
    return kept
