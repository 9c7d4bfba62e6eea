"""How far the reading of a large file is: a bar on a terminal, else a line now and then."""

from __future__ import annotations

from time import monotonic
from typing import TYPE_CHECKING, Self

from rich.progress import BarColumn, Progress, TextColumn, TimeElapsedColumn

from router.deliver.ending import console

if TYPE_CHECKING:
    from collections.abc import Callable
    from types import TracebackType

LINE_EVERY_S = 10.0
"""Off a terminal; what is read sooner says nothing."""


class Reading:
    """Shows how many elements of which file are read.

    Parameters
    ----------
    clock
        Seconds, from anywhere.
    """

    def __init__(self, clock: Callable[[], float] = monotonic) -> None:
        self.console = console(error=True)
        self.clock = clock
        self._said = clock()
        columns = (TextColumn("{task.description}"), BarColumn(bar_width=20), TimeElapsedColumn())
        self._bar = Progress(*columns, console=self.console, transient=True)
        self._task = self._bar.add_task("reading", total=None)

    def tell(self, what: str, done: int, total: int) -> None:
        """Take note that ``done`` of ``total`` elements are read; ``total`` 0 is not known yet."""
        if self.console.is_terminal:
            self._bar.update(self._task, description=what, completed=done, total=total or None)
        elif self.clock() - self._said >= LINE_EVERY_S:
            self._said = self.clock()
            of = f"{done:,} of {total:,} elements" if total else "..."
            self.console.print(f"  {what}: {of}", markup=False, highlight=False, soft_wrap=True)

    def __enter__(self) -> Self:
        if self.console.is_terminal:
            self._bar.start()
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        if self.console.is_terminal:
            self._bar.stop()
