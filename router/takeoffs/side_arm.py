"""Side arm-over: out of the side of the line, across, and down (up) to the head."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from router.takeoffs.arms import arm_candidates, arm_clear, legs_long_enough, within_reach
from router.takeoffs.candidates import side_code
from router.takeoffs.sites import EXACT, Sites

if TYPE_CHECKING:
    from router.geometry.solids import BoolArray, IntArray
    from router.takeoffs.candidates import Candidates

STYLE = "side_arm"


def propose(sites: Sites, allowed: BoolArray) -> tuple[IntArray, Candidates]:
    """Tee (side), elbow; one more elbow for a dogleg. ``allowed``: rows that may have it."""
    ok = allowed & ~sites.under & legs_long_enough(sites, sites.first_least) & within_reach(sites)
    fits = ok[:, None] & (sites.vertical(sites.z) >= sites.vertical_least(sites.elbow)[:, None] - EXACT)
    fits = fits & arm_clear(sites, sites.z, sites.z)
    side = np.where(sites.lateral > 0, side_code("left"), side_code("right"))
    return arm_candidates(sites, STYLE, side, sites.z, fits, nippled=False)
