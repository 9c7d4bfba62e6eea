"""A scenario becomes a file: only what differs from the defaults, one item a line."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import yaml

from router.scenario.model import FORMAT, VERSION, Scenario
from router.scenario.whole import replace_file


def scenario_data(scenario: Scenario) -> dict[str, Any]:
    """Give a scenario as plain data, defaults left out, lengths in mm.

    Returns
    -------
    dict
    """
    data = scenario.model_dump(mode="json", exclude_defaults=True)
    top = {"format": FORMAT, "version": VERSION, "name": scenario.name, "units": "mm"}
    rest = {key: value for key, value in data.items() if key not in top}
    return {key: _plain(value) for key, value in {**top, **rest}.items()}


def _plain(value: Any) -> Any:
    """Write whole numbers without a fraction."""
    if isinstance(value, dict):
        return {key: _plain(part) for key, part in value.items()}
    if isinstance(value, list):
        return [_plain(part) for part in value]
    if isinstance(value, float) and value.is_integer() and abs(value) < 1e15:
        return int(value)
    return value


def scenario_text(scenario: Scenario) -> str:
    """Give a scenario as JSON text, the same text for the same scenario.

    Returns
    -------
    str
        Lists of items have one item a line.
    """
    parts = []
    encode = json.JSONEncoder(ensure_ascii=False).encode
    for key, value in scenario_data(scenario).items():
        if isinstance(value, list) and value:
            rows = ",\n".join("    " + encode(item) for item in value)
            text = f"[\n{rows}\n  ]"
        else:
            text = encode(value)
        parts.append(f"  {json.dumps(key)}: {text}")
    return "{\n" + ",\n".join(parts) + "\n}\n"


def dump_scenario(scenario: Scenario, path: str | Path) -> None:
    """Write a scenario file, whole or not at all.

    Parameters
    ----------
    scenario
        In mm, as the reader gives it.
    path
        ``.yaml`` and ``.yml`` are written as YAML, all else as JSON.

    Raises
    ------
    OSError
        If the place cannot be written; an older file is then untouched.
    """
    write_text(Path(path), file_text(scenario, Path(path)))


def file_text(scenario: Scenario, file: Path) -> str:
    """Give a scenario as the text of a file with that name: YAML for ``.yaml`` and ``.yml``, else JSON.

    Returns
    -------
    str
    """
    if file.suffix.lower() in {".yaml", ".yml"}:
        data = scenario_data(scenario)
        return str(yaml.safe_dump(data, sort_keys=False, allow_unicode=True, default_flow_style=None))
    return scenario_text(scenario)


def write_text(file: Path, text: str) -> None:
    """Write UTF-8 text with plain line ends, whole or not at all.

    Raises
    ------
    OSError
        If the place cannot be written.
    """
    write_bytes(file, text.encode("utf-8"))


def write_bytes(file: Path, content: bytes) -> None:
    """Write a file by way of a temporary one beside it, which goes to the disk first.

    Raises
    ------
    OSError
        If the place cannot be written.
    """
    replace_file(file, content)
