"""What all styles with an arm share: rows of stations and levels become candidates."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from router.takeoffs.candidate import Branch, Candidate, Xyz
from router.takeoffs.candidates import CandidateColumns, Candidates
from router.takeoffs.sites import EXACT, Sites

if TYPE_CHECKING:
    from router.geometry.plan import FloatArray
    from router.geometry.solids import BoolArray, IntArray


def legs_long_enough(sites: Sites, first_least: float | FloatArray) -> BoolArray:
    """Whether square leg and dogleg can be made up, shape (rows,).

    A head under the line (no lateral) has no square leg: the arm runs along the
    line and is that one leg.
    """
    straight = sites.slide == 0
    first, second = np.abs(sites.lateral), sites.slide
    under = ~straight & (second >= first_least - EXACT)
    beside = (first >= first_least - EXACT) & (straight | (second >= sites.elbow_elbow - EXACT))
    return np.asarray(np.where(sites.under, under, beside))


def arm_clear(sites: Sites, z: FloatArray, run_z: FloatArray) -> BoolArray:
    """Whether arm, dogleg and last vertical are clear with the arm at ``z``.

    ``z`` and ``run_z``: shape (rows, levels). Obstructions, ceilings and the
    own run count; pieces attached to the run's outlet do not meet the own run.
    """
    ok = sites.first_bands.clear(z) & sites.second_bands.clear(z) & sites.last_clear(z)
    own, lateral = sites.own_clear[:, None], np.abs(sites.lateral)[:, None]
    over = z - run_z
    # where the head is, a pitched run is higher or lower than at the outlet
    at_head = over - sites.frame.pitch * np.where(sites.slide == 0, 0.0, sites.own - sites.stations)[:, None]
    passes_run = np.where(sites.upward[:, None], at_head <= 0, at_head >= 0)
    beside_head = np.hypot(lateral, sites.plumb * at_head)
    ok &= np.where(passes_run, lateral, beside_head) >= own - EXACT
    least = np.where(over * at_head > 0, np.minimum(np.abs(over), np.abs(at_head)), 0.0)
    beside_arm = np.hypot(np.where(sites.under[:, None], 0.0, lateral), sites.plumb * least)
    ok &= (sites.slide[:, None] == 0) | (beside_arm >= own - EXACT)
    return np.asarray(ok)


def points_to_head(sites: Sites, row: int, z: float) -> tuple[Xyz, ...]:
    """Corners from over (under, beside) a row's station to the head, arm at elevation ``z``."""
    x, y, inlet = (float(v) for v in sites.at[sites.of[row]])
    points: list[Xyz] = []
    if sites.dogleg[row]:
        points.append((float(sites.corners[row, 0]), float(sites.corners[row, 1]), z))
    points += [(x, y, z), (x, y, inlet)]
    return tuple(points)


def arm_candidates(
    sites: Sites, style: str, side: str | IntArray, z: FloatArray, ok: BoolArray, *, nippled: bool
) -> tuple[IntArray, Candidates]:
    """Candidates for every (row, level) that is ``ok``, the arm at ``z``; and the row of each.

    ``side``: one, or a code for each row. ``nippled``: the arm stands on a
    vertical nipple (one elbow more).
    """
    row, level = np.nonzero(ok)
    if not len(row):
        return row, Candidates.of([])
    horizontal = sites.horizontal
    arm_z, run_z = z[row, level], sites.z[row, level]
    fittings = (2 + int(nippled) + sites.dogleg.astype(np.int64) + sites.plugs)[row]
    barrel = np.where(sites.dry[row], 0.0, np.abs(arm_z - sites.inlet[row]))
    pipe, hangers = horizontal[row] + np.abs(arm_z - run_z) + barrel, sites.hangers(horizontal)[row]
    columns = CandidateColumns.filled(
        len(row),
        sites.indices[sites.of[row]][:, None],
        style=style,
        side=side if isinstance(side, str) else side[row],
        station=sites.stations[row],
        level=level,
        half=sites.half[row],
        fittings=fittings,
        end_fittings=fittings,
        pipe=pipe,
        hangers=hangers,
        reducers=sites.reducers[row],
        trunk=nippled,
    )

    def make(k: int) -> Candidate:
        at, arm = int(row[k]), float(arm_z[k])
        x, y = (float(v) for v in sites.points[at])
        branch = Branch(
            int(sites.indices[sites.of[at]]), points_to_head(sites, at, arm), bool(sites.dogleg[at])
        )
        outlet, trunk = (x, y, float(sites.z[at, level[k]])), ((x, y, arm),) if nippled else ()
        return columns.candidate(k, sites.frame.index, outlet, trunk, (branch,))

    return row, Candidates(columns, make)


def within_reach(sites: Sites) -> BoolArray:
    """Rows from which the arm's horizontal length is allowed."""
    return np.asarray(sites.horizontal <= sites.makeup.rules.reach + EXACT)
