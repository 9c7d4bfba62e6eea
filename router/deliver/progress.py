"""Progress of long work on the terminal, and work that Ctrl-C ends with what is known so far."""

from __future__ import annotations

import multiprocessing
import signal
from contextlib import contextmanager
from threading import Thread, current_thread, main_thread
from time import monotonic
from typing import TYPE_CHECKING, Any, Self, TypeVar

from rich.progress import BarColumn, Progress, SpinnerColumn, TaskID, TextColumn, TimeElapsedColumn

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from types import TracebackType

    from rich.console import Console

    from router.building.progress import Progress as Told
    from router.building.stop import Stop

T = TypeVar("T")

PHASES = {
    "candidates": "every way to serve each head, and the least cost of each run",
    "again": "a process died or could not start, perhaps for want of memory: its part is done here",
    "model": "where arms clash or styles mix",
    "front": "the front, tree by tree",
    "weights": "one set of weights after the other",
    "routes": "the routes of the points",
    "second look": "once more, in two other ways, at heads that are unserved",
    "referee": "the referee",
}
LINE_EVERY_S = 10.0
"""Off a terminal, a phase that takes long says so often how far it is."""
LEAST_S = 1.0
"""No guess of the time left before so much of it is spent."""
_LOOK_EVERY_S = 0.1


class Shown:
    """Shows phases as they come: a bar on a terminal, else a line a phase and one now and then.

    Parameters
    ----------
    console
        Where to (standard error, so that results can be piped).
    quiet
        Show nothing.
    clock
        Seconds, from anywhere.
    """

    def __init__(
        self, console: Console, *, quiet: bool = False, clock: Callable[[], float] = monotonic
    ) -> None:
        self.console, self.quiet, self.clock = console, quiet, clock
        self._phase = ""
        self._began = self._said = 0.0
        self._task: TaskID | None = None
        self._bar: Progress | None = None
        if console.is_terminal and not quiet:
            columns = (
                SpinnerColumn(),
                TextColumn("{task.description}"),
                BarColumn(bar_width=20),
                TextColumn("{task.fields[far]}"),
                TimeElapsedColumn(),
            )
            self._bar = Progress(*columns, console=console, transient=True)

    def tell(self, told: Told) -> None:
        """Take note of how far the work is; may be called from another thread."""
        if self.quiet:
            return
        now = self.clock()
        text = PHASES.get(told.phase, told.phase)
        new = told.phase != self._phase
        if new:
            self._phase, self._began, self._said = told.phase, now, now
        if self._bar is not None:
            if new and self._task is not None:
                self._bar.remove_task(self._task)
            total = told.all_heads or None
            if new or self._task is None:
                self._task = self._bar.add_task(text, total=total, far="")
            far = how_far(told, now - self._began)
            self._bar.update(self._task, completed=told.heads, total=total, far=far)
        elif new:
            self._print(f"{text} ...")
        elif now - self._said >= LINE_EVERY_S:
            self._said = now
            self._print(f"  {how_far(told, now - self._began)}")

    def say(self, text: str) -> None:
        """Print a line beside the progress, even where that is not shown."""
        self._print(text, style="bold yellow")

    def _print(self, text: str, style: str = "") -> None:
        self.console.print(text, style=style or None, markup=False, highlight=False, soft_wrap=True)

    def __enter__(self) -> Self:
        if self._bar is not None:
            self._bar.start()
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        if self._bar is not None:
            self._bar.stop()


def how_far(told: Told, seconds: float) -> str:
    """Say how many runs and heads are done, the worst gap, and about how long the rest takes.

    Parameters
    ----------
    told
        What is done.
    seconds
        That it took.

    Returns
    -------
    str
        Empty where nothing is counted.
    """
    parts = []
    if told.all_runs:
        parts.append(f"{told.runs:,} of {told.all_runs:,} {told.what}")
    if told.all_heads:
        parts.append(f"{told.heads:,} of {told.all_heads:,} heads")
    if told.gap is not None:
        parts.append(f"worst gap {told.gap:,.0f} points")
    if seconds >= LEAST_S and 0 < told.heads < told.all_heads:
        left = seconds * (told.all_heads - told.heads) / told.heads
        parts.append(f"about {left:,.0f} s left")
    return ", ".join(parts)


def interruptible(work: Callable[[], T], stop: Stop, say: Callable[[str], None]) -> T:
    """Run work beside the main thread, which so stays free to hear Ctrl-C.

    The first one asks ``stop`` for the end, the second ends at once.

    Returns
    -------
    T
        What ``work`` gives; what it raises is raised here.

    Raises
    ------
    KeyboardInterrupt
        At the second Ctrl-C, even while compiled code is busy; the work is then
        abandoned, and the processes that it started are ended.
    """
    results: list[T] = []
    errors: list[BaseException] = []

    def run() -> None:
        try:
            results.append(work())
        except BaseException as error:  # handed on to the waiting thread
            errors.append(error)

    thread = Thread(target=run, daemon=True)
    said = False
    with _first_asks(stop):
        thread.start()
        while thread.is_alive():
            thread.join(_LOOK_EVERY_S)
            if stop.wanted and not said:
                said = True
                say("interrupted: finishing with the best route so far; Ctrl-C once more ends at once")
    if errors:
        raise errors[0]
    return results[0]


@contextmanager
def _first_asks(stop: Stop) -> Iterator[None]:
    """Let the first Ctrl-C ask for the end; only the second is an interrupt."""
    if current_thread() is not main_thread():
        yield
        return

    def heard(number: int, frame: Any) -> None:
        if stop.wanted:
            for process in multiprocessing.active_children():
                process.kill()
            raise KeyboardInterrupt
        stop.set()

    before = signal.signal(signal.SIGINT, heard)
    try:
        yield
    finally:
        signal.signal(signal.SIGINT, before)
