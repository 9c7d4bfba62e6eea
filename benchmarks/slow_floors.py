"""Judge the random floors that take too long for the tests: clean, and at the cost that was proven.

Run it as ``.venv/bin/python benchmarks/slow_floors.py``.
"""

from __future__ import annotations

import sys
import time
from pathlib import Path

sys.path[:0] = [str(Path(__file__).parents[1] / "tests" / part) for part in ("oracle", ".")]

from test_random_floors import SLOW, judged  # noqa: E402  (a test's own rules)


def main() -> None:
    """Judge each; a broken rule or another cost raises."""
    for seed in SLOW:
        start = time.monotonic()
        served = judged(seed)
        print(f"seed {seed}: {served} heads served, clean and as proven, {time.monotonic() - start:.0f} s")


if __name__ == "__main__":
    main()
