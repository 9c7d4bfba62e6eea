"""Straight drop under the line, and its mirror for uprights, the sprig."""

from __future__ import annotations

import numpy as np

from router.takeoffs.candidate import Branch, Candidate
from router.takeoffs.site import EXACT, HeadSite

STYLE = "straight_drop"
SPRIG = "sprig"


def propose(site: HeadSite) -> list[Candidate]:
    """Tee (bottom, or top for an upright). The head stands under (over) the line.

    A pipe out of plumb by up to ``rules.alignment`` counts as straight; its
    clearance is judged with that much added.
    """
    own = np.flatnonzero(site.slide == 0)
    if not len(own) or abs(site.lateral) > site.makeup.rules.alignment + EXACT:
        return []
    i = int(own[0])
    z = site.z[i]
    here = np.array([[*site.at[:2], *site.at[:2]]])
    near = site.solids.without_ceilings(site.near)
    bands = site.solids.bands(here, site.arm_radius + abs(site.lateral), near)
    ok = site.vertical(z) >= site.vertical_least(float(site.outlet_take_out[i])) - EXACT
    ok = ok & bands.clear_span(np.full((1, len(z)), site.at[2]), z[None, :])[0]
    style, side = (SPRIG, "top") if site.upward else (STYLE, "bottom")
    made = []
    for level in np.flatnonzero(ok):
        run_z = float(z[level])
        made.append(
            Candidate(
                run=site.frame.index,
                style=style,
                side=side,
                station=float(site.stations[i]),
                level=int(level),
                outlet=(float(site.points[i, 0]), float(site.points[i, 1]), run_z),
                trunk=(),
                branches=(Branch(site.head_index, (site.at,)),),
                half=float(site.half[i]),
                end_half=float(site.half[i]) if site.head.dry else 0.0,
                fittings=1,
                end_fittings=1 + site.plugs,
                pipe=0.0 if site.head.dry else float(np.hypot(run_z - site.at[2], site.lateral)),
                reducers=site.reducers,
            )
        )
    return made
