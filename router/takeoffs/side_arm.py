"""Side arm-over: out of the side of the line, across, and down (up) to the head."""

from __future__ import annotations

from typing import TYPE_CHECKING

from router.takeoffs.arms import arm_candidates, arm_clear, legs_long_enough, within_reach
from router.takeoffs.site import EXACT, HeadSite

if TYPE_CHECKING:
    from collections.abc import Sequence

    from router.takeoffs.candidate import Candidate

STYLE = "side_arm"


def propose(site: HeadSite) -> Sequence[Candidate]:
    """Tee (side), elbow; one more elbow for a dogleg."""
    if site.under:
        return []
    ok = (legs_long_enough(site, site.first_least) & within_reach(site))[:, None]
    ok = ok & (site.vertical(site.z) >= site.vertical_least(site.elbow) - EXACT)
    ok = ok & arm_clear(site, site.z, site.z)
    return arm_candidates(site, STYLE, site.side, site.z, ok, nippled=False)
