"""What the reader of a drawing has to say about it: where, how much, and what was made of it."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

Xyz = tuple[float, float, float]

Kind = Literal[
    "manner",
    "snapped",
    "level",
    "gap",
    "loose_end",
    "overlap",
    "size",
    "no_pipe",
    "off_plan",
    "left_out",
    "head",
    "style",
    "fitting",
    "coupling",
    "cap",
    "loop",
    "supply",
]
"""``manner``: how the whole is drawn. ``snapped`` and ``level``: a place read as its meaning,
within the tolerance. ``gap``, ``loose_end``, ``overlap``, ``size``, ``no_pipe``, ``off_plan``, ``loop``:
faults of the drawing, left as they are. ``left_out``: pipe that serves nothing here. The
others name something that is not in our list of fittings and styles."""


@dataclass(frozen=True)
class Remark:
    """One remark. ``place`` in mm, world frame; ``mm``: the length in question, if there is one."""

    kind: Kind
    element: str
    text: str
    place: Xyz | None = None
    mm: float | None = None


@dataclass
class Remarks:
    """Collects remarks in order."""

    found: list[Remark] = field(default_factory=list)

    def add(
        self, kind: Kind, element: str, text: str, place: Xyz | None = None, mm: float | None = None
    ) -> None:
        """Note one, once; numbers are rounded to 0.001 mm."""
        at = None
        if place is not None:
            at = (round(float(place[0]), 3), round(float(place[1]), 3), round(float(place[2]), 3))
        remark = Remark(kind, element, text, at, None if mm is None else round(float(mm), 3))
        if remark not in self.found:
            self.found.append(remark)
