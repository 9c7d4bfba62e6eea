"""The sections of a run: which need a hanger of their own."""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from router.hangers.way import Way
    from router.route.model import Fitting, Takeoff

ROUNDING_MM = 0.01


def feeds(takeoffs: list[Takeoff]) -> dict[str, Takeoff]:
    """Return, by child run, the takeoff that feeds it."""
    return {child: takeoff for takeoff in takeoffs for child in takeoff.child_runs}


def ask_of_run(
    way: Way, run: str, takeoffs: list[Takeoff], fed_by: Takeoff | None, fittings: dict[str, Fitting]
) -> None:
    """Fill in the sections of a run that need a hanger, and those too short for one.

    A section is the pipe between two fittings in which the run's pipe ends;
    outlets on an uncut pipe part nothing. From the listed length on it needs a
    hanger, and so does what lies between two takeoffs, whatever offsets, bends
    and changes of size part it. The first section of the last line of a main that is fed
    from one side needs one at any length.
    """
    limits = way.limits
    own = {takeoff.id for takeoff in takeoffs}
    cuts, outer = [0.0], [0.0]
    for part in way.parts:
        fitting = fittings.get(part.piece.fittings[1] or "")
        if fitting is not None and fitting.kind != "outlet":
            cuts.append(part.end)
            if fitting.owner in own:
                outer.append(part.end)
    for marks in (cuts, outer):
        if marks[-1] < way.length - ROUNDING_MM:
            marks.append(way.length)
    first = True
    starter = limits.starter().mm
    if ends_line(fed_by) and way.parts and way.parts[0].piece.fittings[0] is not None:
        starter = 0.0
    for low, high in pairwise(cuts):
        least = starter if first else limits.close_heads().mm
        if high - low >= least - ROUNDING_MM:
            way.need.append((low, high))
        elif not first:
            way.close.append((low, high))
        first = False
    for low, high in pairwise(outer):
        least = starter if low == 0.0 else limits.close_heads().mm
        if high - low >= least - ROUNDING_MM and (low, high) not in way.need:
            way.need.append((low, high))


def ends_line(fed_by: Takeoff | None) -> bool:
    """Whether a takeoff ends a main in one single line: the end line of a side-fed system."""
    return fed_by is not None and fed_by.ends_run and len(fed_by.child_runs) == 1 and not fed_by.heads
