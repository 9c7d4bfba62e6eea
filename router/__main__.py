"""``python -m router`` and the ``branch-router`` command."""

from __future__ import annotations

import contextlib
import io
import sys
from time import monotonic


def main() -> None:
    """Run the command line; the process's exit code says how it went."""
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):  # a terminal that lacks a character gets a "?" instead
            with contextlib.suppress(OSError, ValueError):
                stream.reconfigure(errors="replace")
    try:
        mark = monotonic()
        from router.cli import app, time_runs_from

        time_runs_from(mark)
        app(prog_name="branch-router")
    except KeyboardInterrupt:  # loading takes a moment, and Ctrl-C may come in it
        print("interrupted; nothing was written", file=sys.stderr)
        sys.exit(130)
    except (MemoryError, ImportError) as error:  # commands say it themselves; this is before them
        print(f"cannot start: {_reason(error)}", file=sys.stderr)
        sys.exit(2 if isinstance(error, MemoryError) else 4)


def _reason(error: BaseException) -> str:
    """Say why nothing can be loaded; what a library says is often not the first reason."""
    first = error
    while (before := first.__cause__ or first.__context__) is not None:
        first = before
    return str(first).strip().replace("\n", " ") or "out of memory"


if __name__ == "__main__":
    main()
