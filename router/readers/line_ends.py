"""Where a line that is drawn to the face of its last fitting really ends: at that fitting's centre."""

from __future__ import annotations

from math import hypot
from typing import TYPE_CHECKING

from shapely import STRtree
from shapely.geometry import Point

from router.readers.links import ASIDE_MM, reach_of

if TYPE_CHECKING:
    from router.readers.drawn import DrawnPipe, Xy, Xyz

LEAST_MM = 1.0


class LineEnds:
    """Knows the ends of arms, to be asked where a line's end meets one of them.

    Parameters
    ----------
    arms
        Pipes between lines and heads, mm.
    """

    def __init__(self, arms: list[DrawnPipe]) -> None:
        self.ends: list[tuple[DrawnPipe, Xyz, Xyz]] = []
        for arm in arms:
            self.ends += [(arm, arm.a, arm.b), (arm, arm.b, arm.a)]
        self.tree = STRtree([Point(tip[:2]) for _, tip, _ in self.ends])

    def beyond(self, before: Xy, end: Xy, level: float, dn: int) -> Xy:
        """Give the end of a line, moved on to the axis of the arm that its last fitting turns into.

        Parameters
        ----------
        before, end
            The last two points of its plan, mm.
        level
            Of its end, mm.
        dn
            Of its last pipe.

        Returns
        -------
        (float, float)
            ``end`` itself where no arm begins a fitting's length beyond it.
        """
        length = hypot(end[0] - before[0], end[1] - before[1])
        if length < LEAST_MM:
            return end
        way = ((end[0] - before[0]) / length, (end[1] - before[1]) / length)
        reach = reach_of(dn)
        found = []
        for k in sorted(self.tree.query(Point(end).buffer(2 * reach)).tolist()):
            arm, tip, other = self.ends[k]
            off = (tip[0] - end[0], tip[1] - end[1])
            on, aside = off[0] * way[0] + off[1] * way[1], off[1] * way[0] - off[0] * way[1]
            along = (other[0] - tip[0]) * way[0] + (other[1] - tip[1]) * way[1]
            across = (other[1] - tip[1]) * way[0] - (other[0] - tip[0]) * way[1]
            far = hypot(along, across)
            if far < LEAST_MM:  # upright: its foot or top over the line's axis
                meets, gap = on, abs(tip[2] - level)
                square = abs(aside) <= ASIDE_MM
            else:  # level: where the two axes cross
                square = abs(along) <= 0.05 * far and abs(tip[2] - level) <= ASIDE_MM
                meets, gap = on - along / far * abs(aside), abs(aside)
            if square and LEAST_MM < meets <= reach and gap <= reach_of(arm.dn):
                found.append(meets)
        if not found:
            return end
        return (end[0] + min(found) * way[0], end[1] + min(found) * way[1])
