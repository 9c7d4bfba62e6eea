"""Return bend and raised arm-over: off the top, up, across, and down to the head.

A return bend takes the least rise; where something is in the way of its arm,
the raised arm-over takes the lowest level that passes over it. One more level
above either is proposed, so that crossing arms can pass each other. A head that
stands higher than the line has its arm raised as far as its own drop asks.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from router.takeoffs.arms import arm_candidates, arm_clear, legs_long_enough, within_reach
from router.takeoffs.before import not_met
from router.takeoffs.sites import EXACT, Sites

if TYPE_CHECKING:
    from router.geometry.plan import FloatArray
    from router.geometry.solids import BoolArray, IntArray
    from router.takeoffs.before import Before
    from router.takeoffs.candidates import Candidates

STYLE = "return_bend"
RAISED = "raised_arm"


def propose(
    sites: Sites, bend: BoolArray, raised: BoolArray, before: Before | None = None
) -> list[tuple[IntArray, Candidates]]:
    """Tee (top), elbow, elbow; one more elbow for a dogleg. ``bend``, ``raised``: rows that may have it.

    ``before``: an older route, whose arm levels are tried too.
    """
    least = sites.rise_least[:, None]
    vertical_least = sites.vertical_least(sites.elbow)
    lowest = sites.z + least
    over_head = (sites.inlet + vertical_least)[:, None]
    lowest = np.where(sites.upward[:, None], lowest, np.maximum(lowest, over_head))
    made_up = (bend | raised) & legs_long_enough(sites, sites.elbow_elbow) & within_reach(sites)
    pass_over = 2 * sites.arm_radius + sites.makeup.rules.piece_clearance
    bend = bend & ~sites.upward

    def possible(z: FloatArray) -> BoolArray:
        ok = made_up[:, None] & (z - sites.z <= sites.makeup.rules.rise + EXACT)
        ok = ok & (sites.vertical(z) >= vertical_least[:, None] - EXACT)
        return np.asarray(ok & arm_clear(sites, z, sites.z) & sites.riser_bands.clear_span(sites.z, z))

    made = []
    met: list[tuple[FloatArray, BoolArray]] = []
    z = lowest
    for step in range(2):
        z = _clear_level(sites, z)
        ok = possible(z)
        met.append((z, ok))
        if step == 0:
            bends = ok & (z - sites.z <= least + EXACT)
            made.append(arm_candidates(sites, STYLE, "top", z, bends & bend[:, None], nippled=True))
            ok = np.where(sites.upward[:, None], ok, ok & ~bends)
        made.append(arm_candidates(sites, RAISED, "top", z, ok & raised[:, None], nippled=True))
        z = z + pass_over
    wanted = None if before is None else before.arm_levels(sites)
    if wanted is not None:
        there = not_met(wanted, met)
        z = np.where(there, wanted, lowest)
        ok = there & possible(z) & (z - sites.z >= least - EXACT)
        bends = ok & (z - sites.z <= least + EXACT) & bend[:, None]
        made.append(arm_candidates(sites, STYLE, "top", z, bends, nippled=True))
        made.append(arm_candidates(sites, RAISED, "top", z, ok & ~bends & raised[:, None], nippled=True))
    return made


def _clear_level(sites: Sites, z: FloatArray) -> FloatArray:
    """Lowest level at or above ``z`` where arm and dogleg are both clear."""
    for _ in range(8):
        higher = sites.second_bands.next_clear(sites.first_bands.next_clear(z, upward=True), upward=True)
        if np.array_equal(higher, z):
            break
        z = higher
    return z
