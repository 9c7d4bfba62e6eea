"""Lowered arm-over: off the bottom, down, across under something, and on to the head."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from router.takeoffs.arms import arm_candidates, arm_clear, legs_long_enough, within_reach
from router.takeoffs.before import not_met
from router.takeoffs.candidates import Candidates
from router.takeoffs.sites import EXACT, Sites

if TYPE_CHECKING:
    from router.geometry.plan import FloatArray
    from router.geometry.solids import BoolArray, IntArray
    from router.takeoffs.before import Before

STYLE = "lowered_arm"


def propose(sites: Sites, allowed: BoolArray) -> tuple[IntArray, Candidates]:
    """Tee (bottom), elbow, elbow; one more elbow for a dogleg. ``allowed``: rows that may have it."""
    z = _levels(sites)
    return arm_candidates(sites, STYLE, "bottom", z, _possible(sites, allowed, z), nippled=True)


def propose_before(sites: Sites, allowed: BoolArray, before: Before) -> tuple[IntArray, Candidates]:
    """Give the same at the arm levels of an older route, where they are others."""
    wanted, z = before.arm_levels(sites), _levels(sites)
    if wanted is None:
        return np.zeros(0, dtype=np.int64), Candidates.of([])
    there = not_met(wanted, [(z, _possible(sites, allowed, z))])
    there &= sites.z - wanted >= sites.rise_least[:, None] - EXACT
    z = np.where(there, wanted, z)
    return arm_candidates(sites, STYLE, "bottom", z, there & _possible(sites, allowed, z), nippled=True)


def _levels(sites: Sites) -> FloatArray:
    """Highest clear level of the arm, shape (rows, levels)."""
    vertical_least = sites.vertical_least(sites.elbow)
    z = sites.z - sites.rise_least[:, None]
    under_head = (sites.inlet - vertical_least)[:, None]
    lowered = _under_what_stops_the_drop(sites, z)
    z = np.where(sites.upward[:, None], np.minimum(z, under_head), lowered)
    for _ in range(8):
        lower = sites.second_bands.next_clear(sites.first_bands.next_clear(z, upward=False), upward=False)
        if np.array_equal(lower, z):
            break
        z = lower
    return np.asarray(z)


def _possible(sites: Sites, allowed: BoolArray, z: FloatArray) -> BoolArray:
    """Whether the arm can be at ``z``, shape (rows, levels)."""
    vertical_least = sites.vertical_least(sites.elbow)
    made_up = allowed & legs_long_enough(sites, sites.elbow_elbow) & within_reach(sites)
    ok = made_up[:, None] & (sites.z - z <= sites.makeup.rules.rise + EXACT)
    ok = ok & (sites.vertical(z) >= vertical_least[:, None] - EXACT)
    return np.asarray(ok & arm_clear(sites, z, sites.z) & sites.riser_bands.clear_span(sites.z, z))


def _under_what_stops_the_drop(sites: Sites, z: FloatArray) -> FloatArray:
    """Lower the arm under everything between it and the head that the drop would meet."""
    out = z.copy()
    for row, low, high in sites.last_bands.layers:
        inlet, here = sites.inlet[row], out[row]
        between = ((high > inlet) & (low > inlet))[:, None] & (here > low[:, None])
        out[row] = np.where(between, low[:, None], here)
    return out
