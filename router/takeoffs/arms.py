"""What all styles with an arm share: rows of stations and levels become candidates."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from router.takeoffs.candidate import Branch, Candidate, Xyz
from router.takeoffs.candidates import CandidateColumns, Candidates
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
) -> Candidates:
    """Candidates for every (station, level) that is ``ok``, the arm at ``z``.

    ``nippled``: the arm stands on a vertical nipple (one elbow more).
    """
    i, level = np.nonzero(ok)
    if not len(i):
        return Candidates.of([])
    horizontal = site.horizontal()
    arm_z, run_z = z[i, level], site.z[i, level]
    fittings = 2 + int(nippled) + site.dogleg[i].astype(np.int64) + site.plugs
    barrel = 0.0 if site.head.dry else np.abs(arm_z - site.at[2])
    pipe, hangers = horizontal[i] + np.abs(arm_z - run_z) + barrel, site.hangers(horizontal)[i]
    columns = CandidateColumns.filled(
        len(i),
        [site.head_index],
        style=style,
        side=side,
        station=site.stations[i],
        level=level,
        half=site.half[i],
        fittings=fittings,
        end_fittings=fittings,
        pipe=pipe,
        hangers=hangers,
        reducers=site.reducers,
        trunk=nippled,
    )

    def make(k: int) -> Candidate:
        at, arm = int(i[k]), float(arm_z[k])
        x, y = float(site.points[at, 0]), float(site.points[at, 1])
        return Candidate(
            run=site.frame.index,
            style=style,
            side=side,
            station=float(site.stations[at]),
            level=int(level[k]),
            outlet=(x, y, float(run_z[k])),
            trunk=((x, y, arm),) if nippled else (),
            branches=(Branch(site.head_index, points_to_head(site, at, arm), bool(site.dogleg[at])),),
            half=float(site.half[at]),
            fittings=int(fittings[k]),
            end_fittings=int(fittings[k]),
            pipe=float(pipe[k]),
            hangers=int(hangers[k]),
            reducers=site.reducers,
        )

    return Candidates(columns, make)


def within_reach(site: HeadSite) -> BoolArray:
    """Stations from which the arm's horizontal length is allowed."""
    return np.asarray(site.horizontal() <= site.makeup.rules.reach + EXACT)
