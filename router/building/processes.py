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
from math import inf
from multiprocessing.connection import wait as wait_for_any
from threading import Thread
from time import monotonic
from typing import TYPE_CHECKING, Any, TypeVar

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator, Sequence

T = TypeVar("T")

LOOK_S = 0.1
"""So often the processes are looked at, and told to stop."""
GRACE_S = 0.5
"""So long they may take to end once they are told; what one still holds then is lost."""
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
    try:
        # spawned, not forked: the libraries beneath hold threads and locks
        pool = ProcessPoolExecutor(
            processes,
            multiprocessing.get_context("spawn"),
            initializer=_begin,
            initargs=(begin, given, shared),
        )
    except (OSError, RuntimeError, MemoryError) as error:
        if not _no_room(error):
            raise
        return found
    parts: dict[Future[T], int] = {}
    failed: list[BaseException] = []

    def start() -> None:
        try:
            with _deaf_to_ctrl_c():
                for task in range(tasks):
                    parts[pool.submit(work, task)] = task
        except BaseException as error:  # handed on to the waiting thread
            failed.append(error)

    # beside this thread: a process takes what it is given when it has loaded, and that may take seconds
    starter = Thread(target=start, daemon=True)
    try:
        starter.start()
        for _ in meanwhile:
            look()
        while starter.is_alive():
            look()
            if shared.is_set():
                _end(before)
            starter.join(LOOK_S)
        if failed:
            if not (_no_room(failed[0]) or shared.is_set()):
                raise failed[0]
            _end(before)  # those that did start wait for a word that nobody is there to say
            return found
        _gather(parts, found, shared, before, look)
    except BaseException:
        shared.set()
        raise
    finally:
        if shared.is_set():
            _end(before)
        pool.shutdown(wait=not failed, cancel_futures=True)
    look()
    return found


def _gather(
    parts: dict[Future[T], int],
    found: dict[int, T],
    shared: Shared,
    before: set[Any],
    look: Callable[[], None],
) -> None:
    """Put what is done into ``found`` as it comes, until nothing is waited for any more."""
    waiting, until = set(parts), inf
    while waiting:
        look()
        if shared.is_set() and until == inf:
            until = monotonic() + GRACE_S
            for part in waiting:
                part.cancel()
        if monotonic() > until:
            _end(before)  # perhaps not even begun, and nobody waits for it any more
        finished, waiting = wait(waiting, LOOK_S)
        for part in finished:
            try:
                found[parts[part]] = part.result()
            except (BrokenProcessPool, CancelledError, MemoryError):
                pass  # died, was never started, or found no room; others may do
            except RuntimeError as error:
                if not _no_room(error):
                    raise


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
