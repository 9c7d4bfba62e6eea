"""A head that no candidate serves: the nearest attempt of each style, and what it lacks in mm."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from router.geometry.solids import TOUCH, Solids
from router.takeoffs.arms import points_to_head
from router.takeoffs.propose import styles_for
from router.takeoffs.places import places_of, station_options
from router.takeoffs.sites import Sites
from router.trade.styles import STYLES, allowed_styles

if TYPE_CHECKING:
    from collections.abc import Collection

    from router.profiles.frame import RunFrame
    from router.scenario.model import Scenario

ARM_STYLES = ("side_arm", "return_bend", "raised_arm", "lowered_arm", "shared_nipple", "level_cross")
NEAR_STATIONS = 5
"""So many stations nearest to the head's own are tried for each style."""


@dataclass(frozen=True)
class Lack:
    """One thing that an attempt lacks: ``needs`` less ``has``, mm; ``against``: id of what is met."""

    rule: str
    needs: float
    has: float
    against: str | None = None

    @property
    def short(self) -> float:
        """How much is missing, mm."""
        return self.needs - self.has


@dataclass(frozen=True)
class Try:
    """The nearest attempt of one style: where, at which run level, and all it lacks."""

    style: str
    station: float
    level: float
    lacks: tuple[Lack, ...]

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
    at = range(len(frame.levels)) if levels is None else sorted(levels)
    best: dict[str, Try] = {}
    for place in places_of(frame, scenario, [index], 1e9):
        if place.spot:
            continue  # where it may shift to is not spoken of
        section = frame.plan.sections[place.section]
        _, stations = station_options(frame, [section], np.array([place.own]), np.zeros(0))
        nearest = np.argsort(np.abs(stations - place.own), kind="stable")[:most]
        stations = np.sort(stations[nearest])
        site = Sites(
            frame,
            [head],
            np.array([index]),
            np.array([head.at]),
            [section],
            np.zeros(len(stations), dtype=np.int64),
            stations,
            solids,
        )
        for style in allowed:
            for i in range(len(site.stations)):
                for level in at:
                    found = _try(site, style, i, level)
                    if found is None or not found.lacks:
                        continue
                    total = sum(lack.short for lack in found.lacks)
                    if style not in best or total < sum(x.short for x in best[style].lacks) - TOUCH:
                        best[style] = found
    return sorted(best.values(), key=lambda t: (t.worst.short, t.style))


def _try(site: Sites, style: str, i: int, level: int) -> Try | None:
    run_z = float(site.z[i, level])
    x, y = float(site.points[i, 0]), float(site.points[i, 1])
    lateral, inlet = abs(float(site.laterals[0])), float(site.at[0, 2])
    length = float(site.vertical(site.z)[i, level])
    lacks: list[Lack] = []

    def need(rule: str, needs: float, has: float, against: str | None = None) -> None:
        if needs - has > 0.05:
            lacks.append(Lack(rule, needs, has, against))

    if style in ("straight_drop", "sprig"):
        if site.slide[i] > 0:
            return None
        need("alignment", lateral, site.makeup.rules.alignment)
        need(
            "make_up",
            site.vertical_least_of(0, float(site.outlet_take_out[i])),
            length,
        )
        corners = [(x, y, run_z), site.heads[0].at]
    elif style in ARM_STYLES:
        if style in ("shared_nipple", "level_cross"):
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
            need("reach", abs(arm_z - run_z), site.makeup.rules.rise)
        straight = site.slide[i] == 0
        if straight or not site.under[i]:
            need("make_up", first, lateral)
        if not straight:
            need("make_up", site.elbow_elbow, float(site.slide[i]))
        need("make_up", vertical_least, length + (run_z - arm_z) * (1 if site.upward[i] else -1))
        need("reach", float(site.horizontal[i]), site.makeup.rules.reach)
        need("piece_clearance", float(site.own_clear[i]), lateral, site.frame.run.id)
        corners = [(x, y, run_z)]
        if arm_z != run_z:
            corners.append((x, y, arm_z))
        corners += list(points_to_head(site, i, arm_z))
    else:
        return None
    for n, (a, b) in enumerate(pairwise(corners)):
        last = n == len(corners) - 2
        for k in site.solids.without_ceilings(site.near(0)) if last else site.near(0):
            distance = site.solids.segment_distance(np.array(a), np.array(b), int(k))
            rule = "ceiling" if site.solids.ceiling[k] else "clearance"
            gap = float(site.solids.clearance[k])
            need(rule, gap, distance - site.arm_radius, site.solids.ids[k])
    return Try(style, float(site.stations[i]), float(site.frame.levels[level]), tuple(lacks))
