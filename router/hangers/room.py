"""Where on a pipe there is room for a hanger."""

from __future__ import annotations

from math import dist, hypot, sqrt
from typing import TYPE_CHECKING

from router.hangers.fittings import Fittings, seat
from router.trade.hangers import FITTING_CLEARANCE_MM

if TYPE_CHECKING:
    from router.hangers.structure import Floats
    from router.hangers.way import Part, Span, Way
    from router.route.model import Fitting


def allow(way: Way, fittings: Fittings, outlets: list[Fitting], uprights: Floats) -> None:
    """Find where hangers may be: clear of fittings, outlets and upright heads ((n, 2), plan, mm)."""
    least = way.limits.upright().mm + 0.01
    for k, part in enumerate(way.parts):
        if not part.hangs:
            continue
        scale = (part.end - part.start) / dist(part.piece.start, part.piece.end)
        a, b = (covered * scale for covered in fittings.ends(part.piece))
        low, high = part.start + a, part.end - b
        if low > high:
            continue
        clear = FITTING_CLEARANCE_MM
        near, far = (clear if name is not None else 0.0 for name in part.piece.fittings)
        if high - low >= near + far:
            spans = [(low + near, high - far)]
        else:  # no room for both: its middle
            spans = [((low + high) / 2, (low + high) / 2)]
        for outlet in outlets:
            at = seat(outlet, part.piece)
            if at is not None:
                half = fittings.half_outlet(outlet, part.piece.dn) + clear
                spans = _without(spans, part.start + (at - half) * scale, part.start + (at + half) * scale)
        for t, half in _beside(part, uprights, least):
            spans = _without(spans, t - half, t + half)
        way.allowed += [(x, y, k) for x, y in spans]


def _beside(part: Part, uprights: Floats, least: float) -> list[Span]:
    """Return where uprights are nearer than ``least`` in plan: (developed length, half the stretch)."""
    (ax, ay, _), (bx, by, _) = part.piece.start, part.piece.end
    plan = hypot(bx - ax, by - ay)
    if not len(uprights) or plan <= 0.0:
        return []
    ux, uy = (bx - ax) / plan, (by - ay) / plan
    dx, dy = uprights[:, 0] - ax, uprights[:, 1] - ay
    along, off = dx * ux + dy * uy, abs(dy * ux - dx * uy)
    scale = (part.end - part.start) / plan
    near = (off < least) & (along > -least) & (along < plan + least)
    return [
        (part.start + float(t) * scale, sqrt(least**2 - float(d) ** 2) * scale)
        for t, d in zip(along[near], off[near], strict=True)
    ]


def _without(spans: list[Span], low: float, high: float) -> list[Span]:
    out: list[Span] = []
    for a, b in spans:
        if high <= a or low >= b:
            out.append((a, b))
            continue
        out += [(x, y) for x, y in ((a, low), (high, b)) if y >= x]
    return out
