"""Hold the schemas as they are now: ``python tests/schemas/renew.py`` (from the project's folder).

For changes that every older reader and file bear, or after the version was raised: then the
file of the earlier version stays, since files of it are still about.
"""

from __future__ import annotations

import json
import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))
sys.path.insert(0, str(Path(__file__).parents[2]))

from schemas.held import HERE, now


def main() -> None:
    """Write what differs and say what."""
    for name, held in now().items():
        text = json.dumps(held, indent=1, sort_keys=True, ensure_ascii=False) + "\n"
        path = HERE / name
        if not path.exists() or path.read_text(encoding="utf-8") != text:
            path.write_text(text, encoding="utf-8")
            print(f"held: {path.name}; say in CHANGELOG.md what changed")


if __name__ == "__main__":
    main()
