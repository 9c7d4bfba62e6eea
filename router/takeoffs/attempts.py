"""A head that no candidate serves: the nearest attempt of each style, and what it lacks in mm."""

from __future__ import annotations

from dataclasses import dataclass
from math import dist
from typing import TYPE_CHECKING

import numpy as np
import shapely

from router.geometry.solids import TOUCH, Solids
from router.takeoffs import hose_ways, sidewall_ways
from router.takeoffs.arms import points_to_head
from router.takeoffs.leaning import leaning
from router.takeoffs.places import places_of, station_options
from router.takeoffs.propose import styles_for
from router.takeoffs.sites import Sites
from router.takeoffs.ways import ARM_STYLES, Lack, Way
from router.trade.styles import STYLES, allowed_styles

if TYPE_CHECKING:
    from collections.abc import Collection

    from router.geometry.plan import FloatArray
    from router.profiles.frame import RunFrame
    from router.scenario.model import Scenario
    from router.takeoffs.candidate import Xyz

NEAR_STATIONS = 5
"""So many stations nearest to the head's own are tried for each style."""


@dataclass(frozen=True)
class Try:
    """The nearest attempt of one style: where, at which run level, and all it lacks.

    ``shifted``: how far the head stands from its place in it, mm. ``note``: what
    figures alone do not say.
    """

    style: str
    station: float
    level: float
    lacks: tuple[Lack, ...]
    shifted: float = 0.0
    note: str = ""

    @property
    def total(self) -> float:
        """All that it lacks, mm."""
        return sum(lack.short for lack in self.lacks)

    @property
    def worst(self) -> Lack:
        """The largest lack."""
        return max(self.lacks, key=lambda lack: (lack.short, lack.rule))


def refusals(scenario: Scenario, head: int) -> dict[str, str]:
    """Styles that the rules refuse to a head, with the reason's text and source."""
    found = allowed_styles(scenario.system, scenario.heads[head], scenario.rules)
    return {style: f"{why.text} ({why.source})" for style, why in found.items() if not why.allowed}


def nearest_tries(
    frame: RunFrame,
    scenario: Scenario,
    solids: Solids,
    index: int,
    levels: Collection[int] | None = None,
    most: int = NEAR_STATIONS,
    styles: Collection[str] | None = None,
) -> list[Try]:
    """One attempt per style that rules and pins allow, the one that lacks least, dearest lack last.

    ``levels``: of the run (indices) that are tried, ``most``: stations, ``styles``: only these; default: all.
    """
    head = scenario.heads[index]
    open_styles = styles_for(scenario, head)
    allowed = [s for s in STYLES if s in open_styles and (styles is None or s in styles)]
    every = range(len(frame.levels)) if levels is None else levels
    # of equal attempts the one nearest to the run's nominal level is told
    at = sorted(every, key=lambda k: (abs(float(frame.levels[k]) - frame.run.elevation), k))
    best: dict[str, Try] = {}
    for place in places_of(frame, scenario, [index], 1e9):
        section = frame.plan.sections[place.section]
        _, stations = station_options(frame, [section], np.array([place.own]), np.zeros(0))
        nearest = np.argsort(np.abs(stations - place.own), kind="stable")[:most]
        stations = np.sort(stations[nearest])
        site = Sites(
            frame,
            [head],
            np.array([index]),
            np.array([place.at]),
            [section],
            np.zeros(len(stations), dtype=np.int64),
            stations,
            solids,
        )
        ways = [way for style in allowed for level in at for way in _ways(site, style, level)]
        shifted = dist(place.at[:2], head.at[:2])
        for way, met in zip(ways, _met(site, ways), strict=True):
            lacks = (*way.lacks, *met, *zone_lacks(scenario, way.corners[0]))
            station = float(stations[way.row]) if way.station is None else way.station
            found = Try(way.style, station, float(frame.levels[way.level]), lacks, shifted, way.note)
            known = best.get(way.style)
            if lacks and (known is None or found.total < known.total - TOUCH):
                best[way.style] = found
    return sorted(best.values(), key=lambda t: (t.worst.short, t.style))


def _ways(site: Sites, style: str, level: int) -> list[Way]:
    """Give every way of a style at one level of the run."""
    if style == sidewall_ways.STYLE:
        return sidewall_ways.ways(site, level)
    if style == hose_ways.STYLE:
        return hose_ways.ways(site, level)
    found = (_way(site, style, i, level) for i in range(len(site.stations)))
    return [way for way in found if way is not None]


def _way(site: Sites, style: str, i: int, level: int) -> Way | None:
    run_z = float(site.z[i, level])
    x, y = float(site.points[i, 0]), float(site.points[i, 1])
    lateral, inlet = abs(float(site.laterals[0])), float(site.at[0, 2])
    length = float(site.vertical(site.z)[i, level])
    rules = site.makeup.rules
    made = Way(style, i, level, [], [])
    need = made.need
    if style in ("straight_drop", "sprig"):
        if site.slide[i] > 0:
            return None
        least = site.vertical_least_of(0, float(site.outlet_take_out[i]))
        need("alignment", min(rules.alignment, float(leaning(rules, max(least, length)))), lateral)
        need("make_up", least, length)
        hx, hy, hz = (float(v) for v in site.at[0])
        made.corners = [(x, y, run_z), (hx, hy, hz)]
        return made
    if style not in ARM_STYLES or style in ("shared_nipple", "level_cross"):
        return None
    arm_z, vertical_least = run_z, site.vertical_least_of(0, site.elbow)
    first = float(site.first_least[i])
    if style in ("return_bend", "raised_arm", "lowered_arm"):
        arm_z += float(site.rise_least[i]) * (-1 if style == "lowered_arm" else 1)
        first = site.elbow_elbow
        own = inlet + (-1 if site.upward[i] else 1) * vertical_least
        if style == "lowered_arm" and site.upward[i]:
            arm_z = min(arm_z, own)
        elif style != "lowered_arm" and not site.upward[i]:
            arm_z = max(arm_z, own)
        need("rise", rules.rise, abs(arm_z - run_z))
    straight = site.slide[i] == 0
    if straight or not site.under[i]:
        need("make_up", first, lateral)
    if not straight:  # under the line the arm along it is the only leg
        need("make_up", first if site.under[i] else site.elbow_elbow, float(site.slide[i]))
    need("make_up", vertical_least, length + (run_z - arm_z) * (1 if site.upward[i] else -1))
    need("reach", rules.reach, float(site.horizontal[i]))
    apart = float(np.hypot(lateral, arm_z - run_z))
    passes_run = arm_z <= run_z if site.upward[i] else arm_z >= run_z
    beside = lateral if passes_run else apart
    need(
        "piece_clearance",
        float(site.own_clear[i]),
        beside if straight else min(beside, apart),
        site.frame.run.id,
    )
    made.corners = [(x, y, run_z)]
    if arm_z != run_z:
        made.corners.append((x, y, arm_z))
    made.corners += points_to_head(site, i, arm_z)
    return made


def _met(site: Sites, ways: list[Way]) -> list[list[Lack]]:
    """Say for each way what its pieces and its plug meet, each obstruction once, where it is worst."""
    out: list[list[Lack]] = [[] for _ in ways]
    pieces: list[tuple[int, str, Xyz, Xyz]] = []
    for w, way in enumerate(ways):
        pieces += [(w, "last" * last, a, b) for last, a, b in way.axes()]
        pieces += [(w, "plug", a, b) for a, b in way.plug(float(site.plug_reaches[0]))]
    prisms = site.near(0)
    if not pieces or not len(prisms):
        return out
    solids, radius = site.solids, site.arm_radius
    a, b = np.array([p[2] for p in pieces]), np.array([p[3] for p in pieces])
    reach = radius + solids.clearance[prisms]
    low, high = np.minimum(a, b)[:, None, :], np.maximum(a, b)[:, None, :]
    box = solids.bounds[prisms]
    near = (low[..., 0] <= box[:, 2] + reach) & (high[..., 0] >= box[:, 0] - reach)
    near &= (low[..., 1] <= box[:, 3] + reach) & (high[..., 1] >= box[:, 1] - reach)
    near &= (low[..., 2] <= solids.high[prisms] + reach) & (high[..., 2] >= solids.low[prisms] - reach)
    verticals = np.array([p[1] == "last" for p in pieces])
    near &= ~(verticals[:, None] & solids.ceiling[prisms])
    piece, column = np.nonzero(near)
    prism = prisms[column]
    away = solids.segment_distances(a[piece], b[piece], prism)
    worst: dict[tuple[int, int], Lack] = {}
    for n, k, distance in zip(piece.tolist(), prism.tolist(), away.tolist(), strict=True):
        gap = float(solids.clearance[k])
        if gap - (distance - radius) <= 0.05:
            continue
        if distance <= 0.0:
            distance = -way_out(solids, a[n], b[n], k)
        rule = "ceiling" if solids.ceiling[k] else "clearance"
        lack = Lack(rule, gap, distance - radius, solids.ids[k], pieces[n][1] == "plug")
        key = pieces[n][0], k
        if key not in worst or lack.short > worst[key].short:
            worst[key] = lack
    for (w, _), lack in sorted(worst.items()):
        out[w].append(lack)
    return out


def zone_lacks(scenario: Scenario, outlet: Xyz) -> list[Lack]:
    """Say how deep an outlet stands in zones without outlets."""
    x, y, z = outlet
    out = []
    for zone in scenario.keep_out:
        low, high = zone.elevations or (-np.inf, np.inf)
        polygon, point = shapely.Polygon(zone.polygon), shapely.Point(x, y)
        if zone.of == "outlets" and polygon.contains(point) and low < z < high:
            deep = min(float(polygon.exterior.distance(point)), z - low, high - z)
            if deep > TOUCH:
                out.append(Lack("zone", 0.0, -deep, zone.id))
    return out


def way_out(solids: Solids, a: FloatArray, b: FloatArray, k: int) -> float:
    """Return how far the axis a-b that meets prism ``k`` must move to touch it no more, mm.

    Up, down, or sideways in plan, whatever is least; of a ceiling only up.
    """
    low, high = float(solids.low[k]), float(solids.high[k])
    ups = high - min(a[2], b[2])
    if solids.ceiling[k]:
        return float(ups)
    ways = [ups, max(a[2], b[2]) - low]
    ring, along = solids.rings[k] - a[:2], b[:2] - a[:2]
    length = float(np.hypot(*along))
    if length < TOUCH:  # upright: to the nearest side
        edge = shapely.distance(shapely.Point(a[:2]), shapely.boundary(solids.polygons[k]))
        ways.append(float(edge))
    else:
        aside = ring @ np.array([-along[1], along[0]]) / length
        ways += [float(aside.max()), float(-aside.min())]
    return float(min(ways))
