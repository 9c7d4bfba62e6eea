"""When work must end before it is done: at a time limit, or once somebody asks for it.

One object goes down through all that takes long. It is asked between runs,
between rounds and before the model is solved; what is then known becomes the
best route so far.
"""

from __future__ import annotations

from threading import Event
from time import monotonic
from typing import Protocol


class Signal(Protocol):
    """An event of a thread or of a process."""

    def is_set(self) -> bool:
        """Whether it has come."""

    def set(self) -> None:
        """Let it come."""


class NothingDecidedError(Exception):
    """Stopped so soon that not one head is served: there is no route to hand out."""


ALWAYS, EACH, FEEDING = 1.0, 22.0, 13.0
"""Of the time that reading the scenario took: what laying out, judging and writing take, whatever is served.
Of the heads' share in that time: what they take in proportion to the heads that are served (12,000 heads: 20,
measured); what it takes to work out the one run that feeds all others, once these must stop (1,300 lines on
one main: 8 to 12, measured)."""
LEAST_S = 0.1
"""Kept at the least for what comes after the search."""


class Stop:
    """A time limit and a wish to end, in one.

    Parameters
    ----------
    seconds
        From ``began`` on; ``None``: no limit.
    signal
        What says that somebody wants the work to end; default: an event of this process.
    began
        When time began to run, as ``time.monotonic`` says it; default: now.
    pace
        Seconds that reading the scenario took. It tells how fast this machine is now, and so how
        much time must be kept for what comes after the search.

    Attributes
    ----------
    done
        The share of the heads that is decided so far, 0 to 1; whoever decides them tells.
    fed
        The share of the runs that hang on the one run that feeds most, 0 to 1.
    share
        The heads' share among heads and obstructions, 0 to 1.
    """

    def __init__(
        self,
        seconds: float | None = None,
        signal: Signal | None = None,
        began: float | None = None,
        pace: float = 0.0,
    ) -> None:
        self.seconds: float | None = None
        self.deadline: float | None = None
        self.signal: Signal = Event() if signal is None else signal
        self.hit = False
        self.pace, self.done, self.fed, self.share = pace, 0.0, 0.0, 1.0
        if seconds is not None:
            self.limit(seconds, began)

    def limit(self, seconds: float, began: float | None = None) -> None:
        """Let time be up so many seconds from ``began`` (default: now), if it is not sooner already."""
        until = (monotonic() if began is None else began) + seconds
        if self.deadline is None or until < self.deadline:
            self.seconds, self.deadline = seconds, until

    @property
    def reserve(self) -> float:
        """Seconds that must be left for what comes after the search; none where nothing was read."""
        each = self.share * (EACH * self.done + FEEDING * self.fed)
        return self.pace and max(LEAST_S, self.pace * (ALWAYS + each))

    def set(self) -> None:
        """Ask for the end; from any thread, also from a signal handler."""
        self.signal.set()

    @property
    def wanted(self) -> bool:
        """Whether somebody asked for the end, whatever the time; may be looked at from another thread."""
        return self.signal.is_set()

    def asked(self) -> bool:
        """Whether the work must end now; once it must, it stays so."""
        if not self.hit:
            self.hit = self.wanted or self.left() == 0.0
        return self.hit

    def left(self) -> float | None:
        """Seconds until the search must end; ``None`` without a limit."""
        return None if self.deadline is None else max(self.deadline - self.reserve - monotonic(), 0.0)

    @property
    def why(self) -> str:
        """What ended the work, in words."""
        if self.wanted or self.seconds is None:
            return "interrupted"
        return f"the time limit of {self.seconds:g} s was up"
