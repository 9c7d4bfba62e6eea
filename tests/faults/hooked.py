"""Run the command line with faults built in: processes that are really killed, limits that are really set.

Started without arguments, it loads the command line once and then forks a process for every case that
comes in on standard input, a JSON object a line: loading takes longer than most cases. Each is the leader
of a session of its own, sets its hooks and ends as any process of Python ends.

``faults`` of a case is a list of ``NAME`` or ``NAME=VALUE`` with spaces between; a hook only says when.
Processes that the command spawns import this file too, so hooks for them (``worker-*``) work there.

- ``processes=N``: so many are used, however small the scenario.
- ``at=PLACE``, with ``do=SIGNAL``: at that place in the code the process sends itself the signal.
  ``at=PLACE:3``: the third time that it comes there.
- ``worker-dies=begin|task|after|all``: a worker is killed at its first moment, in its first task, or once it
  has handed its task over; only one worker, but for ``all``: all of them, in their first task.
- ``worker-memory=N``: the first task of one worker may take N bytes more of address space.
- ``no-process=K``: the K-th process cannot be started, for want of processes.
- ``memory=MB``: so much more address space than now.
- ``size=BYTES``: of the largest file that can be written: the disk is full.
"""

from __future__ import annotations

import errno
import importlib
import json
import multiprocessing.popen_spawn_posix
import os
import resource
import signal
import sys
import threading
from typing import Any

FAULTS: dict[str, str] = {}


def read_faults() -> None:
    """Take the hooks from the environment, where spawned processes find them too."""
    for word in os.environ.get("FAULTS", "").split():
        name, _, value = word.partition("=")
        FAULTS[name] = value


def signal_at(place: str, number: int) -> None:
    """Send a signal to this process (Ctrl-C: to its group) when it comes to ``module:name[:count]``."""
    module, name, *count = place.split(":")
    owner: Any = importlib.import_module(module)
    *path, last = name.split(".")
    for part in path:
        owner = getattr(owner, part)
    before, left = getattr(owner, last), int(count[0]) if count else 1

    def hit(*args: Any, **kwargs: Any) -> Any:
        nonlocal left
        left -= 1
        if left == 0:
            if number == signal.SIGINT:
                os.killpg(0, number)
            else:
                os.kill(os.getpid(), number)
        return before(*args, **kwargs)

    setattr(owner, last, hit)


def first(name: str) -> bool:
    """Whether this process is the first of all that asks."""
    try:
        os.close(os.open(os.path.join(os.environ["TOKENS"], name), os.O_CREAT | os.O_EXCL))
    except FileExistsError:
        return False
    return True


def limit_memory(more: int) -> None:
    """Bound this process's address space: so much more than it has."""
    with open("/proc/self/statm", encoding="ascii") as stream:
        now = int(stream.read().split()[0]) * resource.getpagesize()
    resource.setrlimit(resource.RLIMIT_AS, (now + more, resource.RLIM_INFINITY))


def kill_me() -> None:
    """Die as the kernel lets die what takes too much memory."""
    os.kill(os.getpid(), signal.SIGKILL)


def hook_worker(when: str) -> None:
    """Let a worker die."""
    if when == "begin":
        if first("worker"):
            kill_me()
        return
    from router.building import apart

    before = apart._solve_chunk

    def work(k: int) -> Any:
        if when in ("all", "task") and (when == "all" or first("worker")):
            kill_me()
        found = before(k)
        if when == "after" and first("worker"):
            threading.Timer(0.3, kill_me).start()
        return found

    apart._solve_chunk = work
    work.__module__, work.__qualname__ = before.__module__, before.__qualname__


def hook_worker_memory(more: int) -> None:
    """Let the first task of one worker run out of memory."""
    from router.building import apart

    before = apart._alone

    def alone(*args: Any) -> Any:
        if first("worker"):
            limit_memory(more)
        return before(*args)

    apart._alone = alone  # type: ignore[assignment]


def hook_start(count: int) -> None:
    """Let a process not be started."""
    before = multiprocessing.popen_spawn_posix.Popen.__init__
    started = 0

    def start(self: Any, process: Any) -> None:
        nonlocal started
        started += 1
        if started == count:
            raise OSError(errno.EAGAIN, os.strerror(errno.EAGAIN))
        before(self, process)

    multiprocessing.popen_spawn_posix.Popen.__init__ = start  # type: ignore[assignment,method-assign]


def hook_here() -> None:
    """Set what holds for the process that a person starts."""
    if "processes" in FAULTS:
        from router.building import apart

        number = int(FAULTS["processes"])
        os.cpu_count = lambda: number
        apart.WORTH_HEADS = apart.CHUNK_HEADS = apart.PROCESS_HEADS = 4
    if "no-process" in FAULTS:
        hook_start(int(FAULTS["no-process"]))
    if "at" in FAULTS:
        signal_at(FAULTS["at"], getattr(signal, FAULTS["do"]))
    if "size" in FAULTS:
        signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
        resource.setrlimit(resource.RLIMIT_FSIZE, (int(FAULTS["size"]),) * 2)
    if "memory" in FAULTS:
        limit_memory(int(float(FAULTS["memory"]) * (1 << 20)))


def begin(case: dict[str, Any]) -> None:
    """Become the process of a case."""
    os.setsid()
    for number, path in enumerate((os.devnull, case["stdout"], case["stderr"])):
        handle = os.open(path, os.O_RDONLY if number == 0 else os.O_WRONLY | os.O_CREAT, 0o644)
        os.dup2(handle, number)
        os.close(handle)
    os.environ.update(case["env"], FAULTS=case["faults"], TOKENS=case["tokens"])
    os.umask(case["umask"])
    read_faults()
    hook_here()
    if case["uid"] is not None:
        os.setgroups([])
        os.setgid(case["uid"])
        os.setuid(case["uid"])
    sys.argv = ["branch-router", *case["args"]]


def main() -> None:
    """Serve cases; a forked process returns from here into the command."""
    from router import __main__ as started
    from router.cli import app

    assert app
    for name in ("router.model.choice", "xlsxwriter", "reportlab.pdfgen.canvas"):
        importlib.import_module(name)
    for line in sys.stdin:
        case = json.loads(line)
        pid = case.get("wait") or os.fork()
        if pid == 0:
            begin(case)
            started.main()
            return
        status = None
        if not case.get("go_on"):
            status = os.waitpid(pid, os.WUNTRACED)[1]
        print(json.dumps([pid, status]), flush=True)


if __name__ == "__main__":
    main()
elif __name__ == "__mp_main__":
    read_faults()
    if "worker-dies" in FAULTS:
        hook_worker(FAULTS["worker-dies"])
    if "worker-memory" in FAULTS:
        hook_worker_memory(int(FAULTS["worker-memory"]))
