"""The process that touches a model: reads one file and writes what it found as JSON.

Run as ``python -m router.readers.ifc.child JOB``; the job file holds paths,
mapping and limits. Progress goes to standard output, one JSON list a line.
"""

from __future__ import annotations

import contextlib
import json
import os
import re
import sys
from dataclasses import asdict
from pathlib import Path
from typing import Any

from router.readers.ifc.found import DAMAGED
from router.readers.ifc.limits import Limits
from router.readers.ifc.mapping import Mapping

_UNKNOWN = re.compile(r"name '(IFC|Ifc)\w+' not found in schema")
"""A class that the standard does not have: only its own elements are lost, which is noted."""


def bound(memory: int) -> None:
    """Bound this process's address space, and give it no core file."""
    try:
        import resource
    except ImportError:  # not on this system
        return
    hard = resource.getrlimit(resource.RLIMIT_AS)[1]
    most = memory if hard == resource.RLIM_INFINITY else min(memory, hard)
    resource.setrlimit(resource.RLIMIT_AS, (most, most))
    resource.setrlimit(resource.RLIMIT_CORE, (0, 0))


def end_with(parent: int) -> None:
    """Let this process be killed with the one that started it, even while native code is busy (on Linux)."""
    if not sys.platform.startswith("linux"):
        return
    import ctypes

    with contextlib.suppress(OSError, AttributeError):
        ctypes.CDLL(None).prctl(1, 9)  # PR_SET_PDEATHSIG, SIGKILL: <sys/prctl.h>
    if os.getppid() != parent:  # it was gone before
        os._exit(1)


def peak_mb() -> int:
    """Give the most memory that this process has held so far, MB.

    Returns
    -------
    int
    """
    try:
        import resource
    except ImportError:
        return 0
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss // 1024


def say(stage: str, done: int, total: int, label: str = "") -> None:
    """Tell the parent how far this is, and what comes next."""
    sys.stdout.write(json.dumps([stage, done, total, label[:120]]) + "\n")
    sys.stdout.flush()


def read(job: dict[str, Any]) -> dict[str, Any]:
    """Read the file of a job.

    Returns
    -------
    dict
        ``found``, or ``fault`` with ``value``.
    """
    from router.readers.ifc.extract import Extract
    from router.readers.ifc.source import Source, opened

    mapping = Mapping.model_validate(job["mapping"])
    limits = Limits(**job["limits"])
    say("opening", 0, 1)
    try:
        model, broken = opened(job["path"], job["statements"])
        if broken and (mapping.broken == "refuse" or not list(model.by_type("IfcProject"))):
            rest = [text for text in broken if not _UNKNOWN.search(text)]
            if rest:
                return {
                    "fault": f"lines that cannot be read, first: {rest[0]}",
                    "value": f"{len(broken)} faults",
                }
        say("relations", 0, 1)
        source = Source(model, limits)
    except ValueError as error:
        return {"fault": f"cannot be read: {error}", "value": ""}
    found = Extract(source, mapping, job["name"], lambda *step: say("elements", *step)).all()
    if broken:
        found.notes.append(f"{job['name']}: {len(broken)} lines could not be read, first: {broken[0]}")
    return {"found": asdict(found), "peak_mb": peak_mb()}


def main(path: str) -> int:
    """Do a job file and write the result beside it.

    Returns
    -------
    int
        0, or 3 if memory ran out.
    """
    job = json.loads(Path(path).read_text(encoding="utf-8"))
    end_with(job["parent"])
    bound(job["limits"]["memory"])
    try:
        result = read(job)
        text = json.dumps(result)
    except MemoryError:
        return 3
    except DAMAGED as error:
        text = json.dumps({"fault": f"is damaged: {type(error).__name__}: {error}", "value": ""})
    Path(job["result"]).write_text(text, encoding="utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1]))
