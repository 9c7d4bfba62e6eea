"""Run the command with Ctrl-C coming at a given moment; to be started as a process of its own group.

``interrupted.py PHASE COUNT TIMES PROCESSES ARGUMENTS...``: at the COUNT-th
telling of PHASE, SIGINT goes TIMES times to the whole group, as a terminal does it.
"""

from __future__ import annotations

import os
import signal
import sys
import time
from typing import TYPE_CHECKING

from router import cli
from router.building import apart
from router.deliver.progress import Shown

if TYPE_CHECKING:
    from router.building.progress import Progress


def main() -> None:
    phase, count, times, processes = sys.argv[1], *(int(arg) for arg in sys.argv[2:5])
    os.cpu_count = lambda: processes
    if processes > 1:
        apart.WORTH_HEADS = apart.CHUNK_HEADS = apart.PROCESS_HEADS = 8
    heard = 0
    before = Shown.tell

    def tell(self: Shown, told: Progress) -> None:
        nonlocal heard
        before(self, told)
        heard += told.phase == phase
        if told.phase == phase and heard == count:
            for _ in range(times):
                os.killpg(0, signal.SIGINT)
                time.sleep(0.5)  # two that come at once are one

    Shown.tell = tell  # type: ignore[method-assign]
    cli.app(sys.argv[5:], prog_name="branch-router")


if __name__ == "__main__":
    main()
