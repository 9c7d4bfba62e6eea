"""How far the work is: runs and heads done, and how far from proven the worst of them is."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from router.building.stop import Stop


@dataclass(frozen=True)
class Progress:
    """One telling. ``gap``: points between value and bound of the worst decided so far, if any is.

    ``what``: what is counted where it is not runs with their heads.
    """

    phase: str
    runs: int = 0
    all_runs: int = 0
    heads: int = 0
    all_heads: int = 0
    gap: float | None = None
    what: str = "runs"


Tell = Callable[[Progress], None]
"""Called whenever something is done; may come from another thread than the caller's."""


def quiet(progress: Progress) -> None:
    """Tell nobody."""


class Tally:
    """Adds up what is done and tells it.

    Parameters
    ----------
    runs, heads
        How many there are in all.
    tell
        Who wants to know.
    stop
        Is told which share of the heads is done.
    """

    def __init__(self, runs: int, heads: int, tell: Tell, stop: Stop | None = None) -> None:
        self.now = Progress("", all_runs=runs, all_heads=heads)
        self.tell, self.stop = tell, stop

    def begin(self, phase: str) -> None:
        """Begin a phase: nothing of it is done."""
        self.now = replace(self.now, phase=phase, runs=0, heads=0)
        self.tell(self.now)

    def add(self, runs: int, heads: int) -> None:
        """So many more are done."""
        self.put(self.now.runs + runs, self.now.heads + heads)

    def put(self, runs: int, heads: int) -> None:
        """So many are done in all."""
        self.now = replace(self.now, runs=runs, heads=heads)
        if self.stop is not None and self.now.all_heads:
            self.stop.done = max(self.stop.done, heads / self.now.all_heads)
        self.tell(self.now)

    def worst(self, gap: float) -> None:
        """Something is decided with so large a gap, points; told with what is done next."""
        self.now = replace(self.now, gap=max(gap, self.now.gap or 0.0))
