from __future__ import annotations

import copy
import json
from typing import TYPE_CHECKING, Any

import pytest

from router.scenario import Fault, ScenarioError, parse_scenario

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

SMALL: dict[str, Any] = {
    "name": "small",
    "runs": [
        {"id": "M", "kind": "main", "plan": [[0, 0], [9000, 0]], "elevation": 3000, "size": 80},
        {"id": "B", "plan": [[3000, 0], [3000, 8000]], "elevation": 3000, "size": "1-1/4", "supply": "M"},
    ],
    "heads": [
        {"id": "H1", "at": [2500, 2000, 2700], "run": "B"},
        {"id": "H2", "at": [3500, 5000, 2700]},
    ],
    "obstructions": [
        {
            "id": "D",
            "kind": "duct",
            "polygon": [[1000, 3000], [4000, 3000], [4000, 3500], [1000, 3500]],
            "elevations": [2900, 3200],
        }
    ],
    "ceilings": [{"id": "C", "polygon": [[0, 0], [9000, 0], [9000, 9000], [0, 9000]], "elevation": 2650}],
}


@pytest.fixture
def small() -> dict[str, Any]:
    """Give two runs, two heads, a duct and a ceiling, as a file would hold them."""
    return copy.deepcopy(SMALL)


@pytest.fixture
def small_file(tmp_path: Path) -> Path:
    file = tmp_path / "small.json"
    file.write_text(json.dumps(SMALL, indent=1))
    return file


@pytest.fixture
def faults_of() -> Callable[[Any], list[Fault]]:
    """Give a function that reads data which must be faulty, and hands back its faults."""

    def read(data: Any) -> list[Fault]:
        with pytest.raises(ScenarioError) as caught:
            parse_scenario(data, "test")
        return caught.value.faults

    return read
