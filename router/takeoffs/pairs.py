"""Two opposite heads on one outlet: shared riser nipple and level cross."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from router.takeoffs.arms import arm_clear, legs_long_enough, points_to_head, within_reach
from router.takeoffs.before import READ, not_met
from router.takeoffs.candidate import Branch, Candidate
from router.takeoffs.candidates import CandidateColumns, Candidates
from router.takeoffs.leaning import degrees_off
from router.takeoffs.sites import EXACT, Sites

if TYPE_CHECKING:
    from router.geometry.plan import FloatArray
    from router.geometry.solids import BoolArray, IntArray
    from router.takeoffs.before import Before

SHARED = "shared_nipple"
CROSS = "level_cross"


def propose_shared(a: Sites, b: Sites, allowed: BoolArray) -> tuple[IntArray, Candidates]:
    """Tee (top), tee, then an elbow per head; at most one of the arms has a dogleg.

    Each row of ``a`` and the same row of ``b`` are two heads at one station.
    ``allowed``: rows that may have it.
    """
    z, ok, first = _shared(a, b)
    return _pair(a, b, SHARED, z, ok & allowed[:, None], first)


def propose_shared_before(
    a: Sites, b: Sites, allowed: BoolArray, before: Before
) -> tuple[IntArray, Candidates]:
    """Give the same at the arm level of an older route, where it is another."""
    wanted, other = before.arm_levels(a), before.arm_levels(b)
    if wanted is None or other is None:
        return np.zeros(0, dtype=np.int64), Candidates.of([])
    z, ok, first = _shared(a, b)
    there = not_met(wanted, [(z, ok)]) & (np.abs(wanted - other) <= READ)
    there &= wanted - a.z >= _least_rise(a) - EXACT
    z = np.where(there, wanted, z)
    ok = there & (z - a.z <= a.makeup.rules.rise + EXACT) & a.riser_bands.clear_span(a.z, z)
    return _pair(a, b, SHARED, z, ok & allowed[:, None], first)


def _least_rise(a: Sites) -> FloatArray:
    """Least rise of the nipple's tee over the outlet, mm; shape (rows, 1)."""
    tables = a.makeup.tables
    tee_side = tables.take_out("tee", "outlet", a.arm_dn, a.arm_dn, joining="threaded")
    made = [a.makeup.between(float(outlet), tee_side, a.arm_dn) for outlet in a.outlet_take_out]
    return np.asarray(np.maximum(np.array(made), a.own_clear / a.plumb)[:, None])


def _shared(a: Sites, b: Sites) -> tuple[FloatArray, BoolArray, float]:
    """Lowest clear level of the two arms, where it is possible, and the least first leg of either."""
    tables = a.makeup.tables
    tee = tables.take_out("tee", "run", a.arm_dn, a.arm_dn, joining="threaded")
    z = a.z + _least_rise(a)
    for site in (a, b):
        over_head = site.inlet + site.vertical_least(site.elbow)
        z = np.where(site.upward[:, None], z, np.maximum(z, over_head[:, None]))
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
    return z, np.asarray(ok), a.makeup.between(tee, a.elbow, a.arm_dn)


def propose_cross(a: Sites, b: Sites, allowed: BoolArray) -> tuple[IntArray, Candidates]:
    """Cross at the level of the line, then an elbow per head. ``allowed``: rows that may have it."""
    first = a.per_size(
        "cross_least",
        lambda dn: a.makeup.between(a.frame.outlet_take_out(dn, a.arm_dn, "cross"), a.elbow, a.arm_dn),
    )
    return _pair(a, b, CROSS, a.z, np.broadcast_to(allowed[:, None], a.z.shape), first)


def _lean(site: Sites) -> FloatArray:
    """How far the first leg of each row's arm is out of square, degrees; shape (rows,)."""
    along = np.where(site.slide == 0, np.abs(site.stations - site.own), 0.0)
    return degrees_off(along, np.abs(site.lateral))


def _pair(
    a: Sites, b: Sites, style: str, z: FloatArray, ok: BoolArray, first: float | FloatArray
) -> tuple[IntArray, Candidates]:
    """Candidates of both arms at ``z``, shape (rows, levels)."""
    nippled = style == SHARED
    ok = ok & ~(a.dogleg & b.dogleg | a.under | b.under)[:, None]
    # the two arms are one line, within the tolerance of a right angle
    ok = ok & (_lean(a) + _lean(b) <= a.makeup.rules.square_tolerance_deg)[:, None]
    for site in (a, b):
        ok = ok & (legs_long_enough(site, first) & within_reach(site))[:, None]
        ok = ok & (site.vertical(z) >= site.vertical_least(site.elbow)[:, None] - EXACT)
        ok = ok & arm_clear(site, z, site.z)
    row, level = np.nonzero(ok)
    if not len(row):
        return row, Candidates.of([])
    arm_z, run_z = z[row, level], a.z[row, level]
    kind = "tee" if nippled else "cross"
    half = a.per_size(f"half_{kind}", lambda dn: a.frame.outlet_half(dn, a.arm_dn, kind))
    pipe, hangers = arm_z - run_z, np.zeros(len(row), dtype=np.int64)
    fittings = np.full(len(row), 2 if nippled else 1, dtype=np.int64)
    for site in (a, b):
        pipe = pipe + site.horizontal[row]
        pipe += np.where(site.dry[row], 0.0, np.abs(arm_z - site.inlet[row]))
        hangers += site.hangers(site.horizontal)[row]
        fittings += 1 + site.dogleg[row] + site.plugs[row]
    columns = CandidateColumns.filled(
        len(row),
        np.column_stack([site.indices[site.of[row]] for site in (a, b)]),
        style=style,
        side="top" if nippled else "left",
        station=a.stations[row],
        level=level,
        half=half[row],
        fittings=fittings,
        end_fittings=fittings,
        pipe=pipe,
        hangers=hangers,
        reducers=(a.reducers + b.reducers)[row],
        trunk=nippled,
    )

    def make(k: int) -> Candidate:
        at, arm = int(row[k]), float(arm_z[k])
        x, y = (float(v) for v in a.points[at])
        branches = tuple(
            Branch(int(s.indices[s.of[at]]), points_to_head(s, at, arm), bool(s.dogleg[at])) for s in (a, b)
        )
        trunk = ((x, y, arm),) if nippled else ()
        return columns.candidate(k, a.frame.index, (x, y, float(run_z[k])), trunk, branches)

    return row, Candidates(columns, make)
