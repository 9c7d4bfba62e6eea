"""``python -m router`` and the ``branch-router`` command."""

from __future__ import annotations

import contextlib
import io
import sys


def main() -> None:
    """Run the command line; the process's exit code says how it went."""
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):  # a terminal that lacks a character gets a "?" instead
            with contextlib.suppress(OSError, ValueError):
                stream.reconfigure(errors="replace")
    try:
        from router.cli import app
    except KeyboardInterrupt:  # loading takes a moment, and Ctrl-C may come in it
        print("interrupted; nothing was written", file=sys.stderr)
        sys.exit(130)
    app(prog_name="branch-router")


if __name__ == "__main__":
    main()
