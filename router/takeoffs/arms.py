"""What all styles with an arm share: rows of stations and levels become candidates."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from router.takeoffs.candidate import Branch, Candidate, Xyz
from router.takeoffs.site import EXACT, HeadSite

if TYPE_CHECKING:
    from router.geometry.plan import FloatArray
    from router.geometry.solids import BoolArray


def legs_long_enough(site: HeadSite, first_least: FloatArray) -> BoolArray:
    """Whether square leg and dogleg can be made up, shape (stations,).

    A head under the line (no lateral) has no square leg: the arm runs along the
    line and is that one leg.
    """
    straight = site.slide == 0
    first, second = abs(site.lateral), site.slide
    if site.under:
        return np.asarray(~straight & (second >= first_least - EXACT))
    return np.asarray((first >= first_least - EXACT) & (straight | (second >= site.elbow_elbow - EXACT)))


def arm_clear(site: HeadSite, z: FloatArray, run_z: FloatArray) -> BoolArray:
    """Whether arm, dogleg and last vertical are clear with the arm at ``z``.

    ``z`` and ``run_z``: shape (stations, levels). Obstructions, ceilings and the
    own run count; pieces attached to the run's outlet do not meet the own run.
    """
    ok = site.first_bands.clear(z) & site.second_bands.clear(z) & site.last_clear(z)
    own = site.own_clear[:, None]
    lateral = abs(site.lateral)
    rise = np.abs(z - run_z)
    passes_run = (z >= run_z) if not site.upward else (z <= run_z)
    beside = np.where(passes_run, lateral, np.hypot(lateral, rise))
    ok &= beside >= own - EXACT
    ok &= (site.slide[:, None] == 0) | (np.hypot(lateral, rise) >= own - EXACT)
    return np.asarray(ok)


def points_to_head(site: HeadSite, i: int, z: float) -> tuple[Xyz, ...]:
    """Corners from over (under, beside) station ``i`` to the head, arm at elevation ``z``."""
    x, y, inlet = site.at
    points: list[Xyz] = []
    if site.dogleg[i]:
        points.append((float(site.corners[i, 0]), float(site.corners[i, 1]), z))
    points += [(x, y, z), (x, y, inlet)]
    return tuple(points)


def arm_candidates(
    site: HeadSite, style: str, side: str, z: FloatArray, ok: BoolArray, *, nippled: bool
) -> list[Candidate]:
    """Candidates for every (station, level) that is ``ok``, the arm at ``z``.

    ``nippled``: the arm stands on a vertical nipple (one elbow more).
    """
    horizontal = site.horizontal()
    hangers = site.hangers(horizontal)
    dogleg = site.dogleg
    made = []
    for i, level in np.argwhere(ok):
        arm_z, run_z = float(z[i, level]), float(site.z[i, level])
        x, y = float(site.points[i, 0]), float(site.points[i, 1])
        fittings = 2 + int(nippled) + int(dogleg[i]) + site.plugs
        barrel = abs(arm_z - site.at[2])
        made.append(
            Candidate(
                run=site.frame.index,
                style=style,
                side=side,
                station=float(site.stations[i]),
                level=int(level),
                outlet=(x, y, run_z),
                trunk=((x, y, arm_z),) if nippled else (),
                branches=(Branch(site.head_index, points_to_head(site, i, arm_z), bool(dogleg[i])),),
                half=float(site.half[i]),
                fittings=fittings,
                end_fittings=fittings,
                pipe=float(horizontal[i]) + abs(arm_z - run_z) + (0.0 if site.head.dry else barrel),
                hangers=int(hangers[i]),
                reducers=site.reducers,
            )
        )
    return made


def within_reach(site: HeadSite) -> BoolArray:
    """Stations from which the arm's horizontal length is allowed."""
    return np.asarray(site.horizontal() <= site.makeup.rules.reach + EXACT)
