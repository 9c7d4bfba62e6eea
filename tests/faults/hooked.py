"""Run the command line with faults built in: processes that are really killed, limits that are really set.

Started without arguments, it loads the command line once and then forks a process for every case that
comes in on standard input, a JSON object a line: loading takes longer than most cases. Each is the leader
of a session of its own, sets its hooks and ends as any process of Python ends.

``faults`` of a case is a list of ``NAME`` or ``NAME=VALUE`` with spaces between; a hook only says when.
Processes that the command spawns import this file too, so hooks for them (``worker-*``) work there.

- ``processes=N``: so many are used, however small the scenario.
- ``at=PLACE``, with ``do=SIGNAL``: at that place in the code the process sends itself the signal.
  ``at=PLACE:3``: the third time that it comes there.
  ``do=ORPHAN``: it is killed, and its children stand still, so that none ends by itself.
  ``do=HOG``: it asks for more memory than it may have.
- ``worker-dies=begin|task|after|all``: a worker is killed at its first moment, in its first task, or once it
  has handed its task over; only one worker, but for ``all``: all of them, in their first task.
- ``worker-memory=N``: the first task of one worker may take N bytes more of address space.
- ``no-process=K``: the K-th process cannot be started, for want of processes.
- ``memory=MB``: so much more address space than now.
- ``compiled=1``: compiled code is used from the first arc on.
- ``closed=1``: standard input, output and error are closed.
- ``cache-full=1``: no file can be written while compiled code is saved.
- ``size=BYTES``: of the largest file that can be written: the disk is full.
"""

from __future__ import annotations

import errno
import gc
import importlib
import json
import multiprocessing.popen_spawn_posix
import os
import resource
import signal
import sys
import threading
from contextlib import suppress
from typing import Any

FAULTS: dict[str, str] = {}


def read_faults() -> None:
    """Take the hooks from the environment, where spawned processes find them too."""
    for word in os.environ.get("FAULTS", "").split():
        name, _, value = word.partition("=")
        FAULTS[name] = value


def hook_place(place: str, what: str) -> None:
    """Let it happen when this process comes to ``module:name[:count]``; Ctrl-C comes to the whole group."""
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
            if what == "HOG":
                limit_memory(64 << 20)
                bytearray(1 << 30)
            elif what == "ORPHAN":
                for child in children():
                    os.kill(child, signal.SIGSTOP)
                kill_me()
            elif what == "SIGINT":
                os.killpg(0, signal.SIGINT)
            else:
                os.kill(os.getpid(), getattr(signal, what))
        return before(*args, **kwargs)

    setattr(owner, last, hit)


def children() -> list[int]:
    """Give the processes that this one started."""
    found = []
    for entry in os.listdir("/proc"):
        with suppress(OSError, ValueError), open(f"/proc/{int(entry)}/stat", encoding="utf-8") as stream:
            if int(stream.read().rpartition(")")[2].split()[1]) == os.getpid():
                found.append(int(entry))
    return found


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


def hook_cache() -> None:
    """Let files have no room while compiled code is saved."""
    files: Any = importlib.import_module("numba.core.caching").IndexDataCacheFile
    before = files.save
    signal.signal(signal.SIGXFSZ, signal.SIG_IGN)

    def save(self: Any, *args: Any) -> None:
        limits = resource.getrlimit(resource.RLIMIT_FSIZE)
        resource.setrlimit(resource.RLIMIT_FSIZE, (0, limits[1]))
        try:
            before(self, *args)
        finally:
            resource.setrlimit(resource.RLIMIT_FSIZE, limits)

    files.save = save


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
        hook_place(FAULTS["at"], FAULTS["do"])
    if "compiled" in FAULTS:
        from router.bounds import compiled

        compiled.WORTH_ARCS = 0
    if "cache-full" in FAULTS:
        hook_cache()
    if "closed" in FAULTS:
        os.closerange(0, 3)
        sys.stdin = sys.stdout = sys.stderr = None
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
    # also what somebody else, as whom a case is run, may perhaps not read
    for name in ("router.model.choice", "xlsxwriter", "reportlab.pdfgen.canvas", "encodings.utf_8_sig"):
        importlib.import_module(name)
    for name in ("ifcopenshell.guid", "ezdxf"):  # extras
        with suppress(ImportError):
            importlib.import_module(name)
    gc.collect()
    gc.freeze()  # or every process copies all of it
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
