"""The command line: parse, call, print. Everything else is in the rooms below.

Exit codes: 0 all is well; 1 heads stay unserved (``route``) or rules are broken
(``check``, ``compare``); 2 the input or an output place cannot be used; 3 the referee refused
our own route; 4 a fault of this program; 130 Ctrl-C (``route`` then writes the best route so far).
"""

from __future__ import annotations

from router.cli import explaining, exporting, finding, giving, importing, judging, reading, reporting
from router.cli.app import app, time_runs_from

__all__ = [
    "app",
    "explaining",
    "exporting",
    "finding",
    "giving",
    "importing",
    "judging",
    "reading",
    "reporting",
    "time_runs_from",
]
