"""What a case of the corpus is, and the sound files that cases are broken copies of."""

from __future__ import annotations

import copy
import json
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Callable

ROOT = Path(__file__).parents[2]
MINIMAL: dict[str, Any] = json.loads((ROOT / "scenarios" / "minimal.json").read_text(encoding="utf-8"))
TREE: dict[str, Any] = {
    "name": "tree",
    "runs": [
        {"id": "M", "kind": "main", "plan": [[0, 0], [9000, 0]], "elevation": 3000, "size": 80},
        {"id": "B", "plan": [[3000, 0], [3000, 8000]], "elevation": 3000, "size": "1-1/4", "supply": "M"},
        {"id": "C", "plan": [[6000, 0], [6000, 8000]], "elevation": 3000, "size": "1-1/4", "supply": "M"},
    ],
    "heads": [
        {"id": "H1", "at": [2500, 2000, 2700], "run": "B"},
        {"id": "H2", "at": [3500, 5000, 2700]},
        {"id": "H3", "at": [6500, 5000, 2700], "kind": "sidewall", "facing": 90},
    ],
    "obstructions": [
        {
            "id": "D",
            "kind": "duct",
            "polygon": [[1000, 3000], [4000, 3000], [4000, 3500], [1000, 3500]],
            "elevations": [2900, 3200],
        }
    ],
    "ceilings": [{"id": "K", "polygon": [[0, 0], [9000, 0], [9000, 9000], [0, 9000]], "elevation": 2650}],
    "keep_out": [{"id": "Z", "polygon": [[0, 6000], [900, 6000], [900, 9000]], "elevations": [2000, 4000]}],
    "prices": {"pipe": {"25": {"price": 4}}, "fittings": {"tee": {"25": {"price": 3}}}},
}
"""A main, two branch lines, one thing of every list."""


@dataclass(frozen=True)
class Case:
    """One broken input.

    ``kind``: which commands read it (a key of ``KINDS`` in ``commands.py``).
    ``make``: writes it into a folder and gives its path. ``says``: what the message must hold: place,
    item, value, unit, what is expected.
    """

    name: str
    kind: str
    make: Callable[[Path], Path]
    says: tuple[str, ...]


def written(file: str, content: str | bytes) -> Callable[[Path], Path]:
    """Make a builder of one file."""

    def make(folder: Path) -> Path:
        path = folder / file
        path.write_bytes(content if isinstance(content, bytes) else content.encode("utf-8", "surrogatepass"))
        return path

    return make


def put(data: Any, path: str, value: Any) -> None:
    """Set a value at a path such as ``runs.0.id``; ``+`` appends, the value ``GONE`` removes."""
    *way, last = path.split(".")
    here = data
    for part in way:
        here = here[int(part)] if isinstance(here, list) else here.setdefault(part, {})
    if last == "+":
        here.append(value)
    elif value is GONE:
        del here[int(last) if isinstance(here, list) else last]
    else:
        here[int(last) if isinstance(here, list) else last] = value


GONE = object()


def changed(data: Any, *changes: tuple[str, Any]) -> Any:
    """Give a copy with changes at paths."""
    data = copy.deepcopy(data)
    for path, value in changes:
        put(data, path, value)
    return data


def as_json(file: str, data: Any) -> Callable[[Path], Path]:
    """Make a builder of a JSON file, a line for each value."""
    return written(file, json.dumps(data, indent=1))
