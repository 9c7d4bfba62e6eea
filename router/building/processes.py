"""Work handed to processes, any of which may be killed, run out of memory or never start.

What is not done then is named, for the caller to do himself: nothing hangs and nothing is lost.
"""

from __future__ import annotations

import gc
import multiprocessing
import os
import signal
from concurrent.futures import CancelledError, Future, ProcessPoolExecutor, wait
from concurrent.futures.process import BrokenProcessPool
from contextlib import contextmanager
from multiprocessing.connection import wait as wait_for_any
from threading import Thread
from typing import TYPE_CHECKING, Any, TypeVar

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator, Sequence

T = TypeVar("T")

LOOK_S = 0.1
"""So often the processes are looked at, and told to stop."""
_FIELDS = 3


class Shared:
    """What the processes and the one that started them know of each other: plain memory, no locks.

    Whoever is killed while he holds a lock stops all others for good. So each task has
    a row of its own, which one process writes, and the flag is only ever set.

    Parameters
    ----------
    tasks
        How many there are.
    """

    def __init__(self, tasks: int) -> None:
        context = multiprocessing.get_context("spawn")
        self._flag: Any = context.RawValue("b", 0)
        self._rows: Any = context.RawArray("q", _FIELDS * tasks)

    def set(self) -> None:
        """Ask all processes for the end."""
        self._flag.value = 1

    def is_set(self) -> bool:
        """Whether the end is asked for."""
        return bool(self._flag.value)

    def add(self, task: int, runs: int, heads: int, gap: int) -> None:
        """So much more of a task is done, and so large is the gap of what was decided."""
        at = _FIELDS * task
        self._rows[at] += runs
        self._rows[at + 1] += heads
        self._rows[at + 2] = max(self._rows[at + 2], gap)

    def clear(self, task: int) -> None:
        """Nothing of a task is done."""
        self._rows[_FIELDS * task : _FIELDS * (task + 1)] = [0] * _FIELDS

    def counts(self) -> tuple[int, int, int]:
        """Give runs, heads and the worst gap of all tasks."""
        rows = self._rows[:]
        return sum(rows[::_FIELDS]), sum(rows[1::_FIELDS]), max(rows[2::_FIELDS], default=0)


def in_processes(
    work: Callable[[int], T],
    begin: Callable[..., None],
    given: Sequence[object],
    shared: Shared,
    tasks: int,
    processes: int,
    meanwhile: Iterable[object],
    look: Callable[[], None],
) -> dict[int, T]:
    """Do ``work(0)`` to ``work(tasks - 1)`` in processes.

    Parameters
    ----------
    work, begin
        Functions of a module. ``begin(*given, shared)`` is called once in each process.
    meanwhile
        Is gone through here while they start.
    look
        Called often.

    Returns
    -------
    dict
        By task. Those are missing whose process died or had no memory left for them.

    Raises
    ------
    Exception
        What else ``work`` raises; all processes are gone then.
    """
    found: dict[int, T] = {}
    before = set(multiprocessing.active_children())
    pool = None
    try:
        # spawned, not forked: the libraries beneath hold threads and locks
        pool = ProcessPoolExecutor(
            processes,
            multiprocessing.get_context("spawn"),
            initializer=_begin,
            initargs=(begin, given, shared),
        )
        with _deaf_to_ctrl_c():
            parts: dict[Future[T], int] = {pool.submit(work, task): task for task in range(tasks)}
    except (OSError, RuntimeError, MemoryError) as error:
        _end(before)  # those that did start wait for a word that nobody is there to say
        if pool is not None:
            pool.shutdown(wait=False)
        if not _no_room(error):
            raise
        return found
    try:
        for _ in meanwhile:
            look()
        waiting = set(parts)
        while waiting:
            look()
            finished, waiting = wait(waiting, LOOK_S)
            for part in finished:
                try:
                    found[parts[part]] = part.result()
                except (BrokenProcessPool, CancelledError, MemoryError):
                    pass  # died, was never started, or found no room; others may do
                except RuntimeError as error:
                    if not _no_room(error):
                        raise
    except BaseException:
        shared.set()
        raise
    finally:
        pool.shutdown(cancel_futures=True)
    look()
    return found


def _no_room(error: BaseException) -> bool:
    """Whether processes, threads, memory or places for them are used up."""
    if isinstance(error, OSError | MemoryError | BrokenProcessPool):
        return True
    return "start new thread" in str(error)


def _end(before: set[Any]) -> None:
    for process in set(multiprocessing.active_children()) - before:
        process.kill()
        process.join()


@contextmanager
def _deaf_to_ctrl_c() -> Iterator[None]:
    """Keep Ctrl-C from processes that are started here: it comes to all, and the first one tells the others.

    They do not hear it from their first moment on, when no handler of theirs is there yet.
    """
    if not hasattr(signal, "pthread_sigmask"):
        yield
        return
    before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)


def _begin(begin: Callable[..., None], given: Sequence[object], shared: Shared) -> None:
    gc.disable()  # for the reasons that building.collector gives: this process does nothing else
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    try:
        Thread(target=_end_with_parent, daemon=True).start()
        begin(*given, shared)
    except (MemoryError, RuntimeError) as error:
        if _no_room(error):
            os._exit(1)  # quietly: the parent does what this process cannot
        raise


def _end_with_parent() -> None:
    """End this process when the one that started it is gone, however that came."""
    parent = multiprocessing.parent_process()
    assert parent is not None
    wait_for_any([parent.sentinel])
    os._exit(1)
