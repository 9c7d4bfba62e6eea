"""Progress of long work on the terminal, and work that Ctrl-C can end at any moment."""

from __future__ import annotations

from threading import Thread
from typing import TYPE_CHECKING, Self, TypeVar

from rich.progress import BarColumn, Progress, SpinnerColumn, TaskID, TextColumn, TimeElapsedColumn

if TYPE_CHECKING:
    from collections.abc import Callable
    from types import TracebackType

    from rich.console import Console

T = TypeVar("T")

PHASES = {
    "candidates": "every way to serve each head",
    "bounds": "least cost of each run",
    "model": "where arms clash or styles mix",
    "front": "the front, tree by tree",
    "weights": "one set of weights after the other",
    "routes": "the routes of the points",
    "referee": "the referee",
}
_LOOK_EVERY_S = 0.1


class Shown:
    """Shows phases as they come: a bar on a terminal, else one line a phase.

    Parameters
    ----------
    console
        Where to (standard error, so that results can be piped).
    quiet
        Show nothing.
    """

    def __init__(self, console: Console, *, quiet: bool = False) -> None:
        self.console, self.quiet = console, quiet
        self._last = ""
        self._task: TaskID | None = None
        self._bar: Progress | None = None
        if console.is_terminal and not quiet:
            columns = (SpinnerColumn(), TextColumn("{task.description}"), BarColumn(), TimeElapsedColumn())
            self._bar = Progress(*columns, console=console, transient=True)

    def tell(self, phase: str, done: int, total: int) -> None:
        """Take note of how far a phase is; may be called from another thread."""
        if self.quiet:
            return
        text = PHASES.get(phase, phase)
        if self._bar is None:
            if text != self._last:
                self.console.print(f"{text} ...", markup=False, highlight=False, soft_wrap=True)
        elif self._task is None or text != self._last:
            if self._task is not None:
                self._bar.remove_task(self._task)
            self._task = self._bar.add_task(text, total=total, completed=done)
        else:
            self._bar.update(self._task, completed=done, total=total)
        self._last = text

    def __enter__(self) -> Self:
        if self._bar is not None:
            self._bar.start()
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        if self._bar is not None:
            self._bar.stop()


def interruptible(work: Callable[[], T]) -> T:
    """Run work beside the main thread, which so stays free to hear Ctrl-C.

    Returns
    -------
    T
        What ``work`` gives; what it raises is raised here.

    Raises
    ------
    KeyboardInterrupt
        At once, even while compiled code is busy; the work is then abandoned.
    """
    results: list[T] = []
    errors: list[BaseException] = []

    def run() -> None:
        try:
            results.append(work())
        except BaseException as error:  # handed on to the waiting thread
            errors.append(error)

    thread = Thread(target=run, daemon=True)
    thread.start()
    while thread.is_alive():
        thread.join(_LOOK_EVERY_S)
    if errors:
        raise errors[0]
    return results[0]
