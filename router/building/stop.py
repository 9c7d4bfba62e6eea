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


class Stop:
    """A time limit and a wish to end, in one.

    Parameters
    ----------
    seconds
        From now on; ``None``: no limit.
    signal
        What says that somebody wants the work to end; default: an event of this process.
    """

    def __init__(self, seconds: float | None = None, signal: Signal | None = None) -> None:
        self.seconds: float | None = None
        self.deadline: float | None = None
        self.signal: Signal = Event() if signal is None else signal
        self.hit = False
        if seconds is not None:
            self.limit(seconds)

    def limit(self, seconds: float) -> None:
        """Let time be up so many seconds from now, if it is not sooner already."""
        until = monotonic() + seconds
        if self.deadline is None or until < self.deadline:
            self.seconds, self.deadline = seconds, until

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
            self.hit = self.wanted or (self.deadline is not None and monotonic() >= self.deadline)
        return self.hit

    def left(self) -> float | None:
        """Seconds until time is up; ``None`` without a limit."""
        return None if self.deadline is None else max(self.deadline - monotonic(), 0.0)

    @property
    def why(self) -> str:
        """What ended the work, in words."""
        if self.wanted or self.seconds is None:
            return "interrupted"
        return f"the time limit of {self.seconds:g} s was up"
