"""Lowered arm-over: off the bottom, down, across under something, and on to the head."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from router.takeoffs.arms import arm_candidates, arm_clear, legs_long_enough, within_reach
from router.takeoffs.site import EXACT, HeadSite

if TYPE_CHECKING:
    from collections.abc import Sequence

    from router.geometry.plan import FloatArray
    from router.takeoffs.candidate import Candidate

STYLE = "lowered_arm"


def propose(site: HeadSite) -> Sequence[Candidate]:
    """Tee (bottom), elbow, elbow; one more elbow for a dogleg."""
    z = site.z - site.rise_least[:, None]
    if site.upward:
        z = np.minimum(z, site.at[2] - site.vertical_least(site.elbow))
    if not site.upward:
        z = _under_what_stops_the_drop(site, z)
    for _ in range(8):
        lower = site.second_bands.next_clear(site.first_bands.next_clear(z, upward=False), upward=False)
        if np.array_equal(lower, z):
            break
        z = lower
    made_up = legs_long_enough(site, np.full(len(site.stations), site.elbow_elbow)) & within_reach(site)
    ok = made_up[:, None] & (site.z - z <= site.makeup.rules.rise + EXACT)
    ok = ok & (site.vertical(z) >= site.vertical_least(site.elbow) - EXACT)
    ok = ok & arm_clear(site, z, site.z) & site.riser_bands.clear_span(site.z, z)
    return arm_candidates(site, STYLE, "bottom", z, ok, nippled=True)


def _under_what_stops_the_drop(site: HeadSite, z: FloatArray) -> FloatArray:
    """Lower the arm under everything between it and the head that the drop would meet."""
    bands = site.last_bands
    for low, high in zip(bands.low[0], bands.high[0], strict=True):
        between = (high > site.at[2]) & (z > low) & (low > site.at[2])
        z = np.where(between, low, z)
    return z
