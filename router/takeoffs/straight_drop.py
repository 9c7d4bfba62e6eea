"""Straight drop under the line, and its mirror for uprights, the sprig."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from router.takeoffs.candidate import Branch, Candidate
from router.takeoffs.candidates import CandidateColumns, Candidates, side_code, style_code
from router.takeoffs.leaning import leaning
from router.takeoffs.sites import EXACT, Sites

if TYPE_CHECKING:
    from router.geometry.solids import BoolArray, IntArray

STYLE = "straight_drop"
SPRIG = "sprig"


def propose(sites: Sites, allowed: BoolArray) -> tuple[IntArray, Candidates]:
    """Tee (bottom, or top for an upright). The head stands under (over) the line.

    A pipe out of plumb by up to ``rules.alignment``, and by no more degrees than
    anything may be out of square, counts as straight; its clearance is judged
    with that much added. ``allowed``: rows that may have it.
    """
    near = np.abs(sites.lateral) <= sites.makeup.rules.alignment + EXACT
    rows = np.flatnonzero(allowed & near & (sites.slide == 0))
    rows = rows[np.unique(sites.of[rows], return_index=True)[1]]
    if not len(rows):
        return rows, Candidates.of([])
    away = np.zeros(len(sites.of))
    away[rows] = np.abs(sites.lateral[rows])
    least = np.array(
        [
            sites.vertical_least_of(site, take_out)
            for site, take_out in zip(
                sites.of[rows].tolist(), sites.outlet_take_out[rows].tolist(), strict=True
            )
        ]
    )
    ok = np.zeros(sites.z.shape, dtype=bool)
    length = sites.vertical(sites.z)[rows]
    ok[rows] = (length >= least[:, None] - EXACT) & (away[rows, None] <= leaning(sites.makeup.rules, length))
    bands = sites.upright_bands(rows, sites.arm_radius + away)
    ok &= bands.clear_span(sites.inlet[:, None], sites.z)
    row, level = np.nonzero(ok)
    run_z, dry, up = sites.z[row, level], sites.dry[row], sites.upward[row]
    columns = CandidateColumns.filled(
        len(row),
        sites.indices[sites.of[row]][:, None],
        style=np.where(up, style_code(SPRIG), style_code(STYLE)),
        side=np.where(up, side_code("top"), side_code("bottom")),
        station=sites.stations[row],
        level=level,
        half=sites.half[row],
        end_half=np.where(dry, sites.half[row], 0.0),
        fittings=1,
        end_fittings=1 + sites.plugs[row],
        pipe=np.where(dry, 0.0, np.hypot(run_z - sites.inlet[row], sites.lateral[row])),
        reducers=sites.reducers[row],
    )

    def make(k: int) -> Candidate:
        at = int(row[k])
        x, y = (float(v) for v in sites.points[at])
        hx, hy, inlet = (float(v) for v in sites.at[sites.of[at]])
        branch = Branch(int(sites.indices[sites.of[at]]), ((hx, hy, inlet),))
        return columns.candidate(k, sites.frame.index, (x, y, float(run_z[k])), (), (branch,))

    return row, Candidates(columns, make)
