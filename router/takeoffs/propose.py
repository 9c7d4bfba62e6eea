"""All candidates of a run's heads. A new style is one new file and one line here."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations
from typing import TYPE_CHECKING

import numpy as np

from router.takeoffs import flexible_drop, lowered_arm, pairs, return_bend, side_arm, sidewall, straight_drop
from router.takeoffs.site import HeadSite
from router.trade.styles import allowed_styles

if TYPE_CHECKING:
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


def styles_for(scenario: Scenario, head: Head) -> frozenset[str]:
    """Styles that the system, the head, the rules and the pins leave."""
    allowed = {s for s, why in allowed_styles(scenario.system, head, scenario.rules).items() if why.allowed}
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


def propose_heads(
    frame: RunFrame, scenario: Scenario, solids: Solids, binding: FloatArray
) -> list[Candidate]:
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
    made: list[Candidate] = []
    for h in frame.heads:
        head = scenario.heads[h]
        styles = styles_for(scenario, head)
        found: list[Candidate] = []
        for place in places[h]:
            for section in place.sections:
                s, d = (float(v) for v in section.local(np.array(place.at[:2]))[0])
                stations = station_options(frame, section, s, extra, d)
                if len(stations):
                    site = HeadSite(frame, section, head, h, place.at, stations, solids)
                    found += _single(site, styles)
        made += _pinned(found, scenario.pins.heads.get(head.id), scenario, frame)
    for a, b in combinations(frame.heads, 2):
        made += _pairs(frame, scenario, solids, places[a], places[b])
    return made


def _single(site: HeadSite, styles: frozenset[str]) -> list[Candidate]:
    if site.head.kind == "sidewall":
        return sidewall.propose(site) if sidewall.STYLE in styles else []
    made: list[Candidate] = []
    done = set()
    for style, function in SINGLE.items():
        if style in styles and style != sidewall.STYLE and function not in done:
            done.add(function)
            made += function(site)
    if styles & {return_bend.STYLE, return_bend.RAISED}:
        made += return_bend.propose(site, styles)
    return made


def _pinned(
    found: list[Candidate], pin: HeadPin | None, scenario: Scenario, frame: RunFrame
) -> list[Candidate]:
    if pin is None:
        return found
    if pin.run is not None and pin.run != frame.run.id:
        return []
    kept = found
    if pin.side is not None:
        kept = [c for c in kept if c.side == pin.side]
    if pin.stations is not None:
        low, high = pin.stations
        kept = [c for c in kept if low <= c.station <= high]
    return kept


def _pairs(
    frame: RunFrame, scenario: Scenario, solids: Solids, first: list[Place], second: list[Place]
) -> list[Candidate]:
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
    for p in (first[0], second[0]):
        pin = scenario.pins.heads.get(scenario.heads[p.head].id)
        made = _pinned(made, pin, scenario, frame)
    return made
