"""The oracle's helpers and the small lines serve here too."""

from __future__ import annotations

import sys
from pathlib import Path

for room in ("oracle", "takeoffs"):
    sys.path.append(str(Path(__file__).parents[1] / room))
