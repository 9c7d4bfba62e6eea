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
from router.takeoffs.site import EXACT, HeadSite

if TYPE_CHECKING:
    from collections.abc import Sequence

    from router.takeoffs.candidate import Candidate

STYLE = "return_bend"
RAISED = "raised_arm"


def propose(site: HeadSite, styles: frozenset[str]) -> list[Sequence[Candidate]]:
    """Tee (top), elbow, elbow; one more elbow for a dogleg. Both styles, as allowed."""
    lowest = site.z + site.rise_least[:, None]
    if not site.upward:
        lowest = np.maximum(lowest, site.at[2] + site.vertical_least(site.elbow))
    made_up = legs_long_enough(site, np.full(len(site.stations), site.elbow_elbow)) & within_reach(site)
    pass_over = 2 * site.arm_radius + site.makeup.rules.piece_clearance
    made: list[Sequence[Candidate]] = []
    z = lowest
    for step in range(2):
        z = _clear_level(site, z)
        rise = z - site.z
        ok = made_up[:, None] & (rise <= site.makeup.rules.rise + EXACT)
        ok = ok & (site.vertical(z) >= site.vertical_least(site.elbow) - EXACT)
        ok = ok & arm_clear(site, z, site.z) & site.riser_bands.clear_span(site.z, z)
        least = rise <= site.rise_least[:, None] + EXACT
        if STYLE in styles and not site.upward and step == 0:
            made.append(arm_candidates(site, STYLE, "top", z, ok & least, nippled=True))
        if RAISED in styles:
            raised = ok if (site.upward or step) else ok & ~least
            made.append(arm_candidates(site, RAISED, "top", z, raised, nippled=True))
        z = z + pass_over
    return made


def _clear_level(site: HeadSite, z: np.ndarray) -> np.ndarray:
    """Lowest level at or above ``z`` where arm and dogleg are both clear."""
    for _ in range(8):
        higher = site.second_bands.next_clear(site.first_bands.next_clear(z, upward=True), upward=True)
        if np.array_equal(higher, z):
            break
        z = higher
    return z
