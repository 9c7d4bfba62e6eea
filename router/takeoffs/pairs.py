"""Two opposite heads on one outlet: shared riser nipple and level cross."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from router.takeoffs.arms import arm_clear, legs_long_enough, points_to_head, within_reach
from router.takeoffs.candidate import Branch, Candidate
from router.takeoffs.site import EXACT, HeadSite

if TYPE_CHECKING:
    from router.geometry.plan import FloatArray

SHARED = "shared_nipple"
CROSS = "level_cross"


def propose_shared(a: HeadSite, b: HeadSite) -> list[Candidate]:
    """Tee (top), tee, then an elbow per head; at most one of the arms has a dogleg.

    Both sites hold the same single station.
    """
    tables = a.makeup.tables
    tee = tables.take_out("tee", "run", a.arm_dn, a.arm_dn, joining="threaded")
    tee_side = tables.take_out("tee", "outlet", a.arm_dn, a.arm_dn, joining="threaded")
    rise = max(a.makeup.between(float(a.outlet_take_out[0]), tee_side, a.arm_dn), float(a.own_clear[0]))
    first = np.array([a.makeup.between(tee, a.elbow, a.arm_dn)])
    z = a.z + rise
    if not a.upward:
        z = np.maximum(z, max(site.at[2] + site.vertical_least(site.elbow) for site in (a, b)))
    for _ in range(12):
        higher = z
        for site in (a, b):
            higher = site.second_bands.next_clear(
                site.first_bands.next_clear(higher, upward=True), upward=True
            )
        if np.array_equal(higher, z):
            break
        z = higher
    ok = (z - a.z <= a.makeup.rules.rise + EXACT) & a.riser_bands.clear_span(a.z, z)
    return _pair(a, b, SHARED, z, ok, first, tee_fittings=2)


def propose_cross(a: HeadSite, b: HeadSite) -> list[Candidate]:
    """Cross at the level of the line, then an elbow per head."""
    dn = int(a.dns[0])
    take_out = a.frame.outlet_take_out(dn, a.arm_dn, "cross")
    first = np.array([a.makeup.between(take_out, a.elbow, a.arm_dn)])
    ok = np.ones(a.z.shape, dtype=bool)
    return _pair(a, b, CROSS, a.z, ok, first, tee_fittings=1)


def _pair(
    a: HeadSite, b: HeadSite, style: str, z: FloatArray, ok: np.ndarray, first: FloatArray, tee_fittings: int
) -> list[Candidate]:
    """Candidates of both arms at ``z`` from the sites' one station."""
    if a.dogleg[0] and b.dogleg[0]:
        return []
    for site in (a, b):
        ok = ok & (legs_long_enough(site, first) & within_reach(site))[:, None]
        ok = ok & (site.vertical(z) >= site.vertical_least(site.elbow) - EXACT) & arm_clear(site, z, site.z)
    made = []
    for level in np.flatnonzero(ok[0]):
        arm_z, run_z = float(z[0, level]), float(a.z[0, level])
        x, y = float(a.points[0, 0]), float(a.points[0, 1])
        nippled = style == SHARED
        pipe, hangers, fittings = arm_z - run_z, 0, tee_fittings
        for site in (a, b):
            horizontal = site.horizontal()
            pipe += float(horizontal[0]) + (0.0 if site.head.dry else abs(arm_z - site.at[2]))
            hangers += int(site.hangers(horizontal)[0])
            fittings += 1 + int(site.dogleg[0]) + site.plugs
        kind = "tee" if nippled else "cross"
        made.append(
            Candidate(
                run=a.frame.index,
                style=style,
                side="top" if nippled else "left",
                station=float(a.stations[0]),
                level=int(level),
                outlet=(x, y, run_z),
                trunk=((x, y, arm_z),) if nippled else (),
                branches=tuple(
                    Branch(s.head_index, points_to_head(s, 0, arm_z), bool(s.dogleg[0])) for s in (a, b)
                ),
                half=a.frame.outlet_half(int(a.dns[0]), a.arm_dn, kind),
                fittings=fittings,
                end_fittings=fittings,
                pipe=pipe,
                hangers=hangers,
                reducers=a.reducers + b.reducers,
            )
        )
    return made
