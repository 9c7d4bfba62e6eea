"""A run that leaves another: tee at one level, riser nipple, or from the parent's end."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from router.profiles.changes import coupling_half
from router.takeoffs.candidate import Candidate, Feed
from router.takeoffs.candidates import RUN_TAKEOFF
from router.takeoffs.sites import EXACT

if TYPE_CHECKING:
    from collections.abc import Sequence

    from router.geometry.plan import FloatArray
    from router.geometry.solids import BoolArray, Solids
    from router.profiles.frame import RunFrame

STYLE = RUN_TAKEOFF
AT_END = 1.0
"""mm. A child that starts this near to the parent's end leaves from the end itself."""
STRAIGHT_ON_DEG = 3.0
"""A run that leaves another's last fitting over or under it, within this of its direction, goes
straight on: the two elbows are a change of level, as within one run. Whatever the tolerance."""


@dataclass(frozen=True)
class Start:
    """How a child run begins on its parent, in the parent's frame.

    ``square``: within the rule's tolerance of a right angle; ``straight``: goes
    on in the parent's direction; ``at_end``: from the parent's last point.
    ``onward``: it is a change of level of one line where it begins at another level.
    """

    child: RunFrame
    station: float
    dn: int
    side: str
    square: bool
    straight: bool
    at_end: bool
    direction: FloatArray
    onward: bool = False


def start_of(parent: RunFrame, child: RunFrame) -> Start:
    """Work out how ``child`` leaves ``parent``."""
    station = child.parent_station
    along = parent.stretch_at(station).section.along
    direction = child.plan.sections[0].along
    cross = float(along[0] * direction[1] - along[1] * direction[0])
    tolerance = parent.makeup.rules.square_tolerance_deg
    angle = float(np.degrees(np.arctan2(abs(cross), float(along @ direction))))
    return Start(
        child=child,
        station=station,
        dn=child.stretches[0].dn,
        side="left" if cross > 0 else "right",
        square=abs(angle - 90.0) <= tolerance,
        straight=angle <= tolerance,
        at_end=station >= parent.plan.length - AT_END,
        direction=direction,
        onward=angle <= STRAIGHT_ON_DEG,
    )


def start_room(parent: RunFrame, start: Start, beside: Sequence[Start] = ()) -> float:
    """Stations of the child that its first fitting and make-up occupy, mm.

    ``beside``: the parent's children. With one that leaves opposite it may have one
    fitting, which has the take-out of the larger of the two.
    """
    parent_dn = parent.stretch_at(start.station).dn
    child = start.child
    if start.at_end and start.straight:
        return 0.0 if parent_dn == start.dn else coupling_half(child, parent_dn, start.dn)
    elbow = child.makeup.tables.take_out("elbow_90", "run", start.dn, start.dn, joining=child.elbow_joining)
    outlet = parent.outlet_take_out(parent_dn, start.dn)
    largest = start.dn
    pairs = [other.dn for other in beside if _opposite(parent, start, other)]
    if pairs:
        largest = max(largest, *pairs)
        tee = child.makeup.tables.take_out("tee", "run", largest, largest, joining=child.elbow_joining)
        outlet = max(outlet, tee)
    if parent.makeup.rules.allow_cross:
        outlet = max(outlet, parent.outlet_take_out(parent_dn, largest, "cross"))
    room = child.makeup.half(max(outlet, elbow), start.dn, child.elbow_joining)
    return room + child.given_excess(start.dn)


def nipple_rise(parent: RunFrame, start: Start, top_fitting: str) -> float:
    """Least rise of a nipple from the parent to the child's elbow or tee, mm."""
    parent_dn = parent.stretch_at(start.station).dn
    child = start.child
    port = "outlet" if top_fitting == "tee" else "run"
    top = child.makeup.tables.take_out(top_fitting, port, start.dn, start.dn, joining=child.elbow_joining)
    bottom = parent.outlet_take_out(parent_dn, start.dn)
    made = child.makeup.between(bottom, top, start.dn)
    tables = child.makeup.tables
    radii = (tables.od(parent_dn) + tables.od(start.dn)) / 2
    return max(made, radii + child.makeup.rules.piece_clearance)


def propose(parent: RunFrame, starts: list[Start], solids: Solids) -> list[Candidate]:
    """Every way the children at one station may leave: singly, and two opposite ones together."""
    made: list[Candidate] = []
    for start in starts:
        made += _alone(parent, start, solids)
    for i, a in enumerate(starts):
        for b in starts[i + 1 :]:
            if _opposite(parent, a, b):
                made += _together(parent, a, b, solids)
    return made


def _opposite(parent: RunFrame, a: Start, b: Start) -> bool:
    """Whether two children may leave by one fitting."""
    opposite = float(a.direction @ b.direction) < -np.cos(
        np.radians(parent.makeup.rules.square_tolerance_deg)
    )
    return opposite and abs(a.station - b.station) <= AT_END


def _alone(parent: RunFrame, start: Start, solids: Solids) -> list[Candidate]:
    made = []
    least = nipple_rise(parent, start, "elbow_90")
    clear = _nipple_clear(parent, start, solids)
    for level, run_z in enumerate(_elevations(parent, start)):
        for child_level, child_z in enumerate(start.child.levels):
            rise = float(child_z) - run_z
            if abs(rise) < EXACT:
                if start.at_end and start.straight:
                    # one pipe goes on; where its size changes, a coupling stands between
                    coupling = int(parent.stretch_at(start.station).dn != start.dn)
                    made.append(_candidate(parent, [start], level, run_z, [child_level], "end", coupling, 0))
                elif start.square:
                    made.append(_candidate(parent, [start], level, run_z, [child_level], start.side, 1, 0))
            elif abs(rise) >= least - EXACT and clear[level, child_level]:
                side = "top" if rise > 0 else "bottom"
                made.append(_candidate(parent, [start], level, run_z, [child_level], side, 2, rise))
    return made


def _together(parent: RunFrame, a: Start, b: Start, solids: Solids) -> list[Candidate]:
    """Two opposite children: one nipple with a tee on it, or a cross where allowed."""
    made = []
    allow_cross = parent.makeup.rules.allow_cross
    bigger = a if a.dn >= b.dn else b
    least = nipple_rise(parent, bigger, "tee")
    clear = _nipple_clear(parent, bigger, solids)
    for level, run_z in enumerate(_elevations(parent, a)):
        for la, za in enumerate(a.child.levels):
            same = np.flatnonzero(np.abs(b.child.levels - za) < EXACT)
            if not len(same):
                continue
            lb, rise = int(same[0]), float(za) - run_z
            if abs(rise) < EXACT:
                if allow_cross and a.square and b.square:
                    made.append(_candidate(parent, [a, b], level, run_z, [la, lb], a.side, 1, 0))
            else:
                if abs(rise) >= least - EXACT and clear[level, la if bigger is a else lb]:
                    side = "top" if rise > 0 else "bottom"
                    made.append(_candidate(parent, [a, b], level, run_z, [la, lb], side, 2, rise))
    return made


def _elevations(parent: RunFrame, start: Start) -> list[float]:
    return [float(parent.z(level, start.station)) for level in parent.levels]


def _nipple_clear(parent: RunFrame, start: Start, solids: Solids) -> BoolArray:
    """Whether a nipple from each level of the parent to each of the child is clear; (levels, levels)."""
    x, y = parent.plan.point(start.station)
    radius = parent.makeup.tables.od(start.dn) / 2
    near = solids.near(x, y, x, y, radius + solids.widest)
    bands = solids.bands(np.array([[x, y, x, y]]), radius, near)
    below, above = parent.z(parent.levels, start.station), start.child.levels
    z0, z1 = np.broadcast_arrays(below[:, None], above[None, :])
    clear: BoolArray = bands.clear_span(z0[None], z1[None])[0]
    return clear


def _candidate(
    parent: RunFrame,
    starts: list[Start],
    level: int,
    run_z: float,
    child_levels: list[int],
    side: str,
    fittings: int,
    rise: float,
) -> Candidate:
    start = starts[0]
    x, y = (float(v) for v in parent.plan.point(start.station))
    child_z = run_z + rise
    dn = max(s.dn for s in starts)
    kind = "cross" if len(starts) == 2 and not rise else "tee"
    stretch = parent.stretch_at(start.station)
    half = parent.outlet_half(stretch.dn, dn, kind) if fittings else 0.0
    if fittings and side == "end":
        half = coupling_half(parent, stretch.dn, dn)
    return Candidate(
        run=parent.index,
        style=STYLE,
        side=side,
        station=start.station,
        level=level,
        outlet=(x, y, run_z),
        trunk=((x, y, child_z),) if rise else (),
        branches=(),
        half=half,
        fittings=fittings,
        end_fittings=fittings,
        pipe=abs(rise),
        steps=int(len(starts) == 1 and start.onward and rise != 0),
        drains=int(rise < 0 and (parent.dry or not any(s.child.pendents_below for s in starts))),
        may_pass=not start.at_end,
        feeds=tuple(
            Feed(s.child.index, lvl, float(s.child.levels[lvl]))
            for s, lvl in zip(starts, child_levels, strict=True)
        ),
    )
